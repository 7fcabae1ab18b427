//! Whether bone is bright or dark on a film that does not say.

use super::chain::{Chain, Steps};
use crate::film::GreyPlane;
use crate::landmark::LandmarkSet;

/// What is read of a plate, in half widths from its middle: its inner part, and what lies beside it.
const INSIDE: f64 = 0.9;
const BESIDE: (f64, f64) = (1.3, 2.5);
/// Samples of each part.
const SAMPLES: i32 = 12;

/// Whether bone is dark about the plates marked on a film: whether more of them are darker than what lies
/// beside them. Where bone is bright they are brighter: from the front lungs and flanks lie on both sides; on a
/// lateral film lung and belly lie before them (behind them stand processes as bright as bodies). Seen so on
/// the films of tests/polarity.rs (common practice, no source). Not dark with fewer than two complete plates.
#[must_use]
pub fn bone_is_dark(plane: &GreyPlane, steps: Steps, marks: &LandmarkSet, lateral: bool) -> bool {
    let Some(chain) = Chain::of(marks, lateral, steps, 0.0) else {
        return false;
    };
    let sides: &[f64] = if lateral { &[1.0] } else { &[-1.0, 1.0] };
    let brighter = chain.plates.iter().map(|plate| {
        let mean = |from: f64, to: f64| {
            let at = |k: i32| from + (to - from) * (f64::from(k) + 0.5) / f64::from(SAMPLES);
            let grey = (0..SAMPLES).map(|k| {
                let p = steps.film(plate.middle + plate.along() * plate.half * at(k));
                f64::from(plane.sample(p.x, p.y))
            });
            grey.sum::<f64>() / f64::from(SAMPLES)
        };
        let beside = sides
            .iter()
            .map(|side| mean(side * BESIDE.0, side * BESIDE.1));
        let beside = beside.sum::<f64>() / sides.len() as f64;
        (mean(-INSIDE, INSIDE) - beside).signum()
    });
    brighter.sum::<f64>() < 0.0
}
