//! Whether bone is bright or dark on a film that does not say.

use super::chain::{Chain, Steps};
use crate::film::GreyPlane;
use crate::landmark::LandmarkSet;
use nalgebra::Vector2;

/// What is read at a place of the spine: its inner part, in half widths, and the flanks, mm to each side.
const INSIDE: f64 = 0.9;
const FLANK: (f64, f64) = (60.0, 120.0);
/// Samples of the inner part and of each flank.
const SAMPLES: i32 = 12;
/// Places read along the line between two hints, and their half width, mm.
const PLACES: i32 = 60;
const HALF: f64 = 20.0;

/// A place of the spine: its middle, mm, a unit vector across the spine, and its half width, mm.
struct Across {
    middle: Vector2<f64>,
    along: Vector2<f64>,
    half: f64,
}

/// Whether bone is dark about the plates marked on a film. Not dark with fewer than two complete plates.
#[must_use]
pub fn bone_is_dark(plane: &GreyPlane, steps: Steps, marks: &LandmarkSet, lateral: bool) -> bool {
    let Some(chain) = Chain::of(marks, lateral, steps, 0.0) else {
        return false;
    };
    let plates = chain.plates.iter().map(|p| Across {
        middle: p.middle,
        along: p.along(),
        half: p.half,
    });
    darker(plane, steps, plates)
}

/// Whether bone is dark along the straight line between two places of a spine, mm.
pub(super) fn dark_between(
    plane: &GreyPlane,
    steps: Steps,
    first: Vector2<f64>,
    last: Vector2<f64>,
) -> bool {
    let chord = last - first;
    let along = Vector2::new(-chord.y, chord.x).normalize();
    let places = (0..=PLACES).map(|k| Across {
        middle: first + chord * (f64::from(k) / f64::from(PLACES)),
        along,
        half: HALF,
    });
    darker(plane, steps, places)
}

/// Whether the spine is darker than the flanks at most of its places. The beam passes most of the patient
/// where the spine is: beside it lie lungs and thinner flanks, and beyond the skin nothing (common practice, no
/// source; tried on the films of tests/polarity.rs and docs/PERFORMANCE.md). What lies next to it does not
/// tell: before the bodies heart and liver may be as bright as they are.
fn darker(plane: &GreyPlane, steps: Steps, places: impl Iterator<Item = Across>) -> bool {
    let votes = places.map(|place| {
        let mean = |from: f64, to: f64| {
            let at = |k: i32| from + (to - from) * (f64::from(k) + 0.5) / f64::from(SAMPLES);
            let grey = (0..SAMPLES).map(|k| {
                // Off the film its border is repeated.
                let p = steps.film(place.middle + place.along * at(k));
                f64::from(plane.sample(p.x, p.y))
            });
            grey.sum::<f64>() / f64::from(SAMPLES)
        };
        let inside = mean(-INSIDE * place.half, INSIDE * place.half);
        let beside = mean(-FLANK.1, -FLANK.0) + mean(FLANK.0, FLANK.1);
        (inside - beside / 2.0).signum()
    });
    votes.sum::<f64>() < 0.0
}
