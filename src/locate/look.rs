//! How the vertebrae of a film look, each in its own frame.

use super::chain::Chain;
use super::path::COARSE;
use super::scatter::unit;
use crate::film::{GreyPlane, local_contrast};
use crate::landmark::Level;
use nalgebra::Vector2;

/// Neighbourhood by which the coarse films are levelled, mm each way.
const LEVEL: f64 = 16.0;
/// What is compared about a vertebra: reach along the spine, mm, and to the side, half widths; distance
/// of the samples, mm.
const REACH: f64 = 24.0;
const ASIDE: f64 = 2.5;
const SAMPLE: f64 = 4.0;

/// How one vertebra looks on a film.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Look {
    pub(super) level: Level,
    /// Its middle, mm.
    pub(super) middle: Vector2<f64>,
    /// Unit vector from its plates' first ends to their second.
    pub(super) across: Vector2<f64>,
    /// Half its width, mm.
    pub(super) half: f64,
    /// Grey of its [`samples`], less their mean, their squares summing to one.
    pub(super) grey: Vec<f32>,
}

impl Look {
    /// A vertebra's look from the grey at a place of its frame: mm to the side and toward the feet.
    pub(super) fn of(
        level: Level,
        middle: Vector2<f64>,
        across: Vector2<f64>,
        half: f64,
        grey: impl Fn(Vector2<f64>) -> f32,
    ) -> Look {
        let mut grey: Vec<f32> = samples(half).into_iter().map(grey).collect();
        unit(&mut grey);
        Look {
            level,
            middle,
            across,
            half,
            grey,
        }
    }
}

/// A coarse film levelled.
pub(super) fn levelled(coarse: &GreyPlane) -> GreyPlane {
    local_contrast(coarse, (LEVEL / COARSE) as usize)
}

/// The samples' places in a vertebra's frame: to the side and toward the feet, mm.
pub(super) fn samples(half: f64) -> Vec<Vector2<f64>> {
    let (nu, nv) = ((ASIDE * half / SAMPLE) as i32, (REACH / SAMPLE) as i32);
    (-nv..=nv)
        .flat_map(|v| (-nu..=nu).map(move |u| Vector2::new(f64::from(u), f64::from(v)) * SAMPLE))
        .collect()
}

/// How a chain's vertebrae look on a film, from the head down.
pub(super) fn looks(film: &GreyPlane, chain: &Chain) -> Vec<Look> {
    chain
        .plates
        .chunk_by(|a, b| a.level == b.level)
        .map(|plates| {
            let n = plates.len() as f64;
            let middle = plates.iter().map(|p| p.middle).sum::<Vector2<f64>>() / n;
            let tilt = plates.iter().map(|p| p.tilt).sum::<f64>() / n;
            let half = plates.iter().map(|p| p.half).sum::<f64>() / n;
            let across = Vector2::new(tilt.cos(), tilt.sin());
            let feet = chain.feet(tilt);
            Look::of(plates[0].level, middle, across, half, |s| {
                let p = (middle + across * s.x + feet * s.y) / COARSE;
                film.sample(p.x, p.y)
            })
        })
        .collect()
}
