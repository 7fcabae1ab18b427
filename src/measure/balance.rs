//! Coronal balance, trunk shift and T1 tilt.

use super::Measured;
use super::context::Context;
use crate::geometry::{PlaneMarks, Point};
use crate::landmark::{Edge, Level, Pair};
use crate::units::{Toward, Unit};

pub(super) const KEYS: &[&str] = &["coronal_balance", "trunk_shift", "t1_tilt"];

pub(super) fn measure(context: &Context<'_>, out: &mut Vec<Measured>) {
    out.push(coronal_balance(context));
    out.push(trunk_shift(context));
    out.push(plate_tilt(context, "t1_tilt", Level::T1));
}

/// A horizontal offset of `point` from the CSVL, + toward the patient's right.
fn from_csvl(
    context: &Context<'_>,
    result: Measured,
    point: Option<Point>,
    needs: Vec<String>,
) -> Measured {
    let (Some(line), Some(point), true) = (context.csvl(), point, context.plane.side_known())
    else {
        return result.from_reference("CSVL").missing(
            needs
                .into_iter()
                .chain(context.csvl_needs())
                .chain(context.side_needs()),
        );
    };
    let offset = line.offset(&point);
    result
        .from_reference(line.name)
        .by(line.construction)
        .of_marks(line.marks)
        .scaled(offset, &context.plane.scale, context.sd())
        .pointing(Toward::Left, Toward::Right)
}

/// C7 plumb − CSVL (handbook §1; sign confirmed by the glossaries cited there).
fn coronal_balance(context: &Context<'_>) -> Measured {
    let result = Measured::new("coronal_balance", Unit::Millimetre)
        .of_marks(context.plane.centre_marks(Level::C7));
    from_csvl(
        context,
        result,
        context.centre(Level::C7).cloned(),
        context.centre_needs(Level::C7),
    )
}

/// Middle of the rib cage − CSVL (handbook §1).
fn trunk_shift(context: &Context<'_>) -> Measured {
    let names = PlaneMarks::pair_names(Pair::Ribcage);
    let middle = match (context.plane.point(names[0]), context.plane.point(names[1])) {
        (Some(left), Some(right)) => Point::mean([&left, &right]),
        _ => None,
    };
    let result = Measured::new("trunk_shift", Unit::Millimetre).of_marks(names);
    from_csvl(context, result, middle, context.plane.missing(&names))
}

/// Tilt of a level's upper plate against the horizontal, + = left side high.
pub(super) fn plate_tilt(context: &Context<'_>, key: &'static str, level: Level) -> Measured {
    tilt_of(context, key, level, Edge::Upper)
}

/// Tilt of an end-plate against the horizontal, + = left side high.
pub(super) fn tilt_of(
    context: &Context<'_>,
    key: &'static str,
    level: Level,
    edge: Edge,
) -> Measured {
    let names = context.plane.plate_names(level, edge);
    let result = Measured::new(key, Unit::Degree).at(level).of_marks(names);
    match (context.tilt(level, edge), context.plane.side_known()) {
        (Some(tilt), true) => left_high(result.unscaled(tilt.scale(-1.0), context.sd())),
        _ => result.missing(
            context
                .plane
                .missing(&names)
                .into_iter()
                .chain(context.side_needs()),
        ),
    }
}

/// Points a result whose plus is "left side high" toward the high side.
pub(super) fn left_high(result: Measured) -> Measured {
    result.pointing(Toward::Right, Toward::Left)
}
