//! Pelvic obliquity by the method the case chose, and L4 tilt.

use super::balance::{left_high, plate_tilt};
use super::context::Context;
use super::{Measured, ObliquityMethod};
use crate::geometry::{PlaneMarks, directed_difference};
use crate::landmark::{Edge, Landmark, Level, Pair};
use crate::units::{Dual, Unit};

pub(super) const KEYS: &[&str] = &["pelvic_obliquity", "l4_tilt"];

pub(super) fn measure(context: &Context<'_>, out: &mut Vec<Measured>) {
    out.push(obliquity(context));
    out.push(plate_tilt(context, "l4_tilt", Level::L4));
}

/// Positive = left side high. The methods disagree on the same film (Karkenny 2021), so the method is
/// always named; the geometry of all but the horizontal one is from memory.
fn obliquity(context: &Context<'_>) -> Measured {
    let method = context.settings.pelvic_obliquity;
    let pair = if method == ObliquityMethod::SacralAla {
        Pair::SacralAla
    } else {
        Pair::Iliac
    };
    let mut names = PlaneMarks::pair_names(pair).to_vec();
    let result = Measured::new("pelvic_obliquity", Unit::Degree).by(method.words());
    let pelvis = context
        .plane
        .point(names[0])
        .zip(context.plane.point(names[1]));
    // Direction that counts as level for the method; degrees, like a plate's tilt.
    let level: Option<Dual> = match method {
        ObliquityMethod::Horizontal | ObliquityMethod::SacralAla => Some(Dual::constant(0.0)),
        ObliquityMethod::Spine => {
            names.extend(context.plane.plate_names(Level::T1, Edge::Upper));
            names.extend(context.plane.plate_names(Level::S1, Edge::Upper));
            context
                .plate(Level::T1, Edge::Upper)
                .zip(context.plate(Level::S1, Edge::Upper))
                .map(|(t1, s1)| s1.middle().direction_to(&t1.middle()).offset(-90.0))
        }
        ObliquityMethod::LowestLumbar => {
            let lowest = Level::all()
                .rfind(|l| l.lumbar_number().is_some() && context.tilt(*l, Edge::Lower).is_some());
            let lowest = lowest.unwrap_or(Level::L4);
            names.extend(context.plane.plate_names(lowest, Edge::Lower));
            context.tilt(lowest, Edge::Lower).cloned()
        }
    };
    match (pelvis, level) {
        (Some((left, right)), Some(level)) if context.plane.side_known() => {
            let tilt = directed_difference(&left.direction_to(&right), &level);
            left_high(
                result
                    .of_marks(names)
                    .unscaled(tilt.scale(-1.0), context.sd()),
            )
        }
        _ => result.missing(
            missing(context, &names)
                .into_iter()
                .chain(context.side_needs()),
        ),
    }
}

fn missing(context: &Context<'_>, names: &[Landmark]) -> Vec<String> {
    context.plane.missing(names)
}
