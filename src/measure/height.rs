//! Heights and lengths of the spine between T1 and T12 or S1.

use super::Measured;
use super::context::Context;
use crate::landmark::{Edge, Level};
use crate::units::Unit;

pub(super) const KEYS: &[&str] = &[
    "t1_t12_height",
    "t1_s1_height",
    "t1_t12_length",
    "t1_s1_length",
];

/// The twelfth thoracic level.
fn t12() -> Level {
    Level::thoracic(12).unwrap_or(Level::T1)
}

pub(super) fn measure(context: &Context<'_>, out: &mut Vec<Measured>) {
    let ends = [(t12(), Edge::Lower), (Level::S1, Edge::Upper)];
    for (index, key) in KEYS.iter().enumerate() {
        let (level, edge) = ends[index % 2];
        let straight = index >= 2;
        let mut names = context.plane.plate_names(Level::T1, Edge::Upper).to_vec();
        names.extend(context.plane.plate_names(level, edge));
        let result = Measured::new(key, Unit::Millimetre)
            .at(crate::landmark::Levels {
                upper: Level::T1,
                lower: level,
            })
            .by(if straight { "straight" } else { "vertical" })
            .of_marks(names.iter().copied());
        out.push(
            match (
                context.plate(Level::T1, Edge::Upper),
                context.plate(level, edge),
            ) {
                (Some(top), Some(bottom)) => {
                    let (top, bottom) = (top.middle(), bottom.middle());
                    let value = if straight {
                        top.distance(&bottom)
                    } else {
                        &top.y - &bottom.y
                    };
                    result.scaled(value, &context.plane.scale, context.sd())
                }
                _ => result.missing(context.plane.missing(&names)),
            },
        );
    }
}
