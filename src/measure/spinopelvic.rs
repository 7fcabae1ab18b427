//! Pelvic incidence, tilt and sacral slope, and the proximal junctional angle, on a lateral film.

use super::Measured;
use super::context::Context;
use crate::geometry::{PlaneMarks, Point, circle_centre, directed_difference};
use crate::landmark::{Edge, Landmark, Level};
use crate::units::Unit;

pub(super) const KEYS: &[&str] = &[
    "pelvic_incidence",
    "pelvic_tilt",
    "sacral_slope",
    "proximal_junctional_angle",
    "rib_hump",
];

pub(super) fn measure(context: &Context<'_>, out: &mut Vec<Measured>) {
    pelvis(context, out);
    out.push(junction(context));
    out.push(hump(context));
}

/// A femoral head's centre: the mark, or the circle through three or more rim points.
fn head(context: &Context<'_>, name: Landmark) -> Option<Point> {
    let points = context.plane.line(name);
    match points.len() {
        0 | 2 => None,
        1 => points.into_iter().next(),
        _ => circle_centre(&points),
    }
}

fn pelvis(context: &Context<'_>, out: &mut Vec<Measured>) {
    let heads = [Landmark::LateralHead(false), Landmark::LateralHead(true)];
    let plate_names = context.plane.plate_names(Level::S1, Edge::Upper);
    let front = context.side_needs();
    let plate = context
        .plate(Level::S1, Edge::Upper)
        .filter(|_| front.is_empty());
    let axis = match (head(context, heads[0]), head(context, heads[1])) {
        (Some(a), Some(b)) => Point::mean([&a, &b]),
        _ => None,
    };
    let mut all = plate_names.to_vec();
    all.extend(heads);
    let needs = || -> Vec<String> {
        let mut needs = context.plane.missing(&all);
        needs.extend(
            heads
                .iter()
                .filter(|h| context.plane.marks.points(**h).len() == 2)
                .map(|h| format!("{h} a third rim point")),
        );
        needs.extend(front.clone());
        needs
    };
    let blank = |key| {
        Measured::new(key, Unit::Degree)
            .from_reference("middle of the femoral heads")
            .of_marks(all.clone())
    };
    if let (Some(plate), Some(axis)) = (plate, &axis) {
        let middle = plate.middle();
        // Line from the hip axis to the middle of S1; its lean from the vertical, + to the back.
        let line = axis.direction_to(&middle);
        let tilt = line.offset(-90.0);
        // Perpendicular of the plate, toward the pelvis, against the line to the hip axis.
        let incidence =
            directed_difference(&plate.tilt().offset(-90.0), &middle.direction_to(axis))
                .scale(-1.0);
        out.push(blank("pelvic_incidence").unscaled(incidence, context.sd()));
        out.push(blank("pelvic_tilt").unscaled(tilt, context.sd()));
    } else {
        out.push(blank("pelvic_incidence").missing(needs()));
        out.push(blank("pelvic_tilt").missing(needs()));
    }
    let slope = Measured::new("sacral_slope", Unit::Degree).of_marks(plate_names);
    out.push(match plate {
        Some(plate) => slope.unscaled(plate.tilt().scale(-1.0), context.sd()),
        None => slope.missing(
            context
                .plane
                .missing(&plate_names)
                .into_iter()
                .chain(front.clone()),
        ),
    });
}

/// A proximal junctional angle is abnormal at this size and with this much more than before the
/// operation: both (Glattes 2005).
pub const JUNCTION_DEG: f64 = 10.0;

/// Lower plate of the uppermost instrumented vertebra to the upper plate two above (Glattes 2005).
/// Abnormal needs both: 10° at least, and 10° more than before the operation.
fn junction(context: &Context<'_>) -> Measured {
    let result = Measured::new("proximal_junctional_angle", Unit::Degree);
    let Some(upper) = context.settings.upper_instrumented() else {
        return result.missing(["uppermost instrumented vertebra".to_owned()]);
    };
    let two_above = Level::all()
        .filter(|l| *l < upper && !context.settings.is_absent(*l))
        .nth_back(1);
    let Some(two_above) = two_above else {
        return result.not_applicable("no two levels above the uppermost instrumented vertebra");
    };
    let plates = [(two_above, Edge::Upper), (upper, Edge::Lower)];
    let (names, tilts) = context.both_tilts(plates);
    let result = result.at(format!("{two_above}-{upper}")).of_marks(names);
    match tilts {
        Ok([above, below]) => {
            let result = result.unscaled(directed_difference(below, above), context.sd());
            let first = result.value.as_ref().is_some_and(|v| v.v >= JUNCTION_DEG);
            result.noting(if first {
                "10° or more; abnormal only if also 10° more than before surgery"
            } else {
                "below 10°: not abnormal"
            })
        }
        Err(needs) => result.missing(needs),
    }
}

/// Horizontal distance of the two posterior rib prominences (Sun 2013).
fn hump(context: &Context<'_>) -> Measured {
    let names = PlaneMarks::pair_names(crate::landmark::Pair::RibProminence);
    let result = Measured::new("rib_hump", Unit::Millimetre).of_marks(names);
    match (context.plane.point(names[0]), context.plane.point(names[1])) {
        (Some(l), Some(r)) => {
            result.scaled((&l.x - &r.x).abs(), &context.plane.scale, context.sd())
        }
        _ => result.missing(context.plane.missing(&names)),
    }
}
