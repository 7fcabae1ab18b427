//! Shoulders: clavicle angle, shoulder and coracoid height. All + = left side high.

use super::Measured;
use super::balance::left_high;
use super::context::Context;
use crate::geometry::PlaneMarks;
use crate::landmark::Pair;
use crate::units::Unit;

pub(super) const KEYS: &[&str] = &["clavicle_angle", "shoulder_height", "coracoid_height"];

pub(super) fn measure(context: &Context<'_>, out: &mut Vec<Measured>) {
    out.push(angle(context, "clavicle_angle", Pair::Clavicle));
    out.push(height(context, "shoulder_height", Pair::Shoulder));
    out.push(height(context, "coracoid_height", Pair::Coracoid));
}

/// Angle of the line through a pair of marks with the horizontal, + = left side high
/// (clavicle angle: Ono, Bastrom and Newton 2012).
pub(super) fn angle(context: &Context<'_>, key: &'static str, pair: Pair) -> Measured {
    let names = PlaneMarks::pair_names(pair);
    let result = Measured::new(key, Unit::Degree).of_marks(names);
    match (context.plane.point(names[0]), context.plane.point(names[1])) {
        (Some(left), Some(right)) if context.plane.side_known() => {
            left_high(result.unscaled(left.direction_to(&right).scale(-1.0), context.sd()))
        }
        _ => result.missing(
            context
                .plane
                .missing(&names)
                .into_iter()
                .chain(context.side_needs()),
        ),
    }
}

/// Height of the left mark above the right one.
fn height(context: &Context<'_>, key: &'static str, pair: Pair) -> Measured {
    let names = PlaneMarks::pair_names(pair);
    let result = Measured::new(key, Unit::Millimetre).of_marks(names);
    match (context.plane.point(names[0]), context.plane.point(names[1])) {
        (Some(left), Some(right)) if context.plane.side_known() => {
            left_high(result.scaled(&left.y - &right.y, &context.plane.scale, context.sd()))
        }
        _ => result.missing(
            context
                .plane
                .missing(&names)
                .into_iter()
                .chain(context.side_needs()),
        ),
    }
}
