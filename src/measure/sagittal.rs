//! Kyphosis, lordosis and sagittal balance.

use super::Measured;
use super::context::Context;
use crate::geometry::directed_difference;
use crate::landmark::{Edge, Landmark, Level, Levels, PlateEnd};
use crate::units::{Dual, Toward, Unit, wrap_degrees};

pub(super) const KEYS: &[&str] = &[
    "kyphosis",
    "kyphosis_max",
    "lordosis",
    "sagittal_vertical_axis",
];

const KYPHOSIS: [&str; 6] = ["T5-T12", "T2-T12", "T1-T12", "T4-T12", "T2-T5", "T10-L2"];

/// Lordosis pairs and the plate of the lower level.
const LORDOSIS: [(&str, Edge); 3] = [
    ("L1-S1", Edge::Upper),
    ("T12-S1", Edge::Upper),
    ("L1-L5", Edge::Lower),
];

pub(super) fn measure(context: &Context<'_>, out: &mut Vec<Measured>) {
    for pair in KYPHOSIS {
        out.extend(segment(context, "kyphosis", pair, Edge::Lower));
    }
    out.push(kyphosis_max(context));
    for (pair, edge) in LORDOSIS {
        out.extend(segment(context, "lordosis", pair, edge));
    }
    out.push(vertical_axis(context));
}

/// tilt(lower plate) − tilt(upper plate): > 0 kyphosis.
fn segment(context: &Context<'_>, key: &'static str, pair: &str, edge: Edge) -> Option<Measured> {
    let levels: Levels = pair.parse().ok()?;
    let (names, tilts) = context.both_tilts([(levels.upper, Edge::Upper), (levels.lower, edge)]);
    let result = Measured::new(key, Unit::Degree).at(levels).of_marks(names);
    Some(match tilts {
        Ok([upper, lower]) => result.unscaled(directed_difference(lower, upper), context.sd()),
        Err(needs) => result.missing(needs),
    })
}

/// The largest kyphosis between any two marked levels (unconstrained, Mac-Thiong 2007).
fn kyphosis_max(context: &Context<'_>) -> Measured {
    let result = Measured::new("kyphosis_max", Unit::Degree).by("most tilted end-plates");
    let levels: Vec<Level> = Level::all()
        .filter(|l| *l >= Level::C2 && *l <= Level::L6)
        .collect();
    let tilt = |level: Level, edge: Edge| -> Option<(Edge, &Dual)> {
        let standing = context.standing_plate(level, edge)?;
        Some((standing, context.tilt(level, standing)?))
    };
    let mut best: Option<(f64, Levels, Edge, Edge)> = None;
    for (i, upper) in levels.iter().enumerate() {
        let Some((upper_edge, a)) = tilt(*upper, Edge::Upper) else {
            continue;
        };
        for lower in &levels[i + 1..] {
            let Some((lower_edge, b)) = tilt(*lower, Edge::Lower) else {
                continue;
            };
            let size = wrap_degrees(b.v - a.v);
            if best.is_none_or(|b| size > b.0) {
                best = Some((
                    size,
                    Levels {
                        upper: *upper,
                        lower: *lower,
                    },
                    upper_edge,
                    lower_edge,
                ));
            }
        }
    }
    let Some((size, found, upper, lower)) = best else {
        return result.missing(
            ["end-plates of two vertebrae".to_owned()]
                .into_iter()
                .chain(context.side_needs()),
        );
    };
    if !context.plane.side_known() {
        return result.missing(context.side_needs());
    }
    if size <= 0.0 {
        return result.not_applicable("no two marked levels are kyphotic");
    }
    let marks = [
        context.plane.plate_names(found.upper, upper),
        context.plane.plate_names(found.lower, lower),
    ]
    .concat();
    match (
        context.tilt(found.upper, upper),
        context.tilt(found.lower, lower),
    ) {
        (Some(a), Some(b)) => result
            .at(found)
            .of_marks(marks)
            .unscaled(directed_difference(b, a), context.sd()),
        _ => result.missing(context.plane.missing(&marks)),
    }
}

/// C7's centre − posterior end of S1's upper plate, + anterior.
fn vertical_axis(context: &Context<'_>) -> Measured {
    let corner = Landmark::Plate(Level::S1, Edge::Upper, PlateEnd::Posterior);
    let result = Measured::new("sagittal_vertical_axis", Unit::Millimetre)
        .from_reference("posterior end of S1's upper plate")
        .of_marks(context.plane.centre_marks(Level::C7))
        .of_marks([corner]);
    match (context.centre(Level::C7), context.plane.point(corner)) {
        (Some(c7), Some(s1)) if context.plane.side_known() => {
            let offset = &c7.x - &s1.x;
            result
                .scaled(offset, &context.plane.scale, context.sd())
                .pointing(Toward::Posterior, Toward::Anterior)
        }
        _ => result.missing(
            context
                .centre_needs(Level::C7)
                .into_iter()
                .chain(context.plane.missing(&[corner]))
                .chain(context.side_needs()),
        ),
    }
}
