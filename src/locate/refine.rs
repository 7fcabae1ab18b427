//! Rough end-plate marks moved onto the end-plates that the film shows.

use super::chain::{Chain, Steps};
use super::evidence::{Grid, evidence};
use super::infer::{Belief, Link, Node, infer};
use crate::film::GreyPlane;
use crate::landmark::{Edge, LandmarkSet, Level};
use crate::units::FilmPx;
use rayon::prelude::*;

/// Quality below which a mark stays where the reader put it.
pub const THRESHOLD: f64 = 0.25;

/// A plate after refinement.
#[derive(Clone, Debug, PartialEq)]
pub struct Refined {
    /// Level.
    pub level: Level,
    /// Upper or lower.
    pub edge: Edge,
    /// Its ends: left and right, or posterior and anterior.
    pub ends: [FilmPx; 2],
    /// How far the answer is to be trusted, 0 to 1, from its spread.
    pub quality: f64,
    /// Whether it was moved; else it stands where it stood.
    pub refined: bool,
}

/// Placement SD of the starts, mm in each coordinate (assumption: marks placed quickly).
const START_SD: f64 = 2.0;
/// Weight of a unit of evidence.
const TRUST: f64 = 5.0;
/// SD of the tilt about the base chain, radians.
const TILT_SD: f64 = 0.06;
/// SD of the difference of tilt of a body's two plates, radians (assumed: bodies wedge by 2°).
const BODY_SD: f64 = 0.03;
/// SD of the difference across a disc about the base chain's, radians.
const DISC_SD: f64 = 0.07;

/// What differs from round to round: how finely and how far the answer is looked for.
#[derive(Clone, Copy, Debug)]
struct Round {
    grid: Grid,
    /// Share of the plate's width looked at.
    width: f64,
    /// SD of the place about the base chain, mm.
    place_sd: f64,
    /// SD of the height between neighbours, mm.
    height_sd: f64,
}

const ROUNDS: [Round; 2] = [
    Round {
        grid: Grid {
            offsets: (12, 0.5),
            turns: (12, 0.021),
        },
        width: 0.8,
        place_sd: 1.1,
        height_sd: 1.0,
    },
    Round {
        grid: Grid {
            offsets: (10, 0.25),
            turns: (12, 0.0105),
        },
        width: 0.85,
        place_sd: 0.6,
        height_sd: 0.9,
    },
];

/// Refines the complete plates among the marks. Bone must be bright in `plane`. Empty when fewer
/// than two plates are complete.
///
/// Method (own): the plates are fitted as one chain; see docs/METHODS.md, refinement.
#[must_use]
pub fn refine(plane: &GreyPlane, steps: Steps, marks: &LandmarkSet, lateral: bool) -> Vec<Refined> {
    let Some(rough) = Chain::of(marks, lateral, steps, START_SD) else {
        return Vec::new();
    };
    let (mut chain, mut heights) = rough.smoothed();
    let mut beliefs = Vec::new();
    for round in &ROUNDS {
        beliefs = step(plane, steps, &mut chain, &heights, round);
        heights = chain.expected_heights();
    }
    finish(&rough, &chain, &beliefs, steps)
}

/// One round: evidence, inference, the chain moved to the mean of the belief.
fn step(
    plane: &GreyPlane,
    steps: Steps,
    chain: &mut Chain,
    heights: &[f64],
    round: &Round,
) -> Vec<Belief> {
    let grid = &round.grid;
    let nodes: Vec<Node> = chain
        .plates
        .par_iter()
        .map(|plate| {
            let mut log = evidence(plane, steps, chain, plate, grid, round.width);
            for row in 0..grid.rows() {
                let o = grid.offset(row) / round.place_sd;
                for column in 0..grid.columns() {
                    let t = grid.turn(column) / TILT_SD;
                    let l = &mut log[row * grid.columns() + column];
                    *l = (TRUST * f64::from(*l) - 0.5 * (o * o + t * t)) as f32;
                }
            }
            Node { log }
        })
        .collect();
    let links: Vec<Option<Link>> = (0..chain.plates.len() - 1)
        .map(|i| {
            let (body, many) = chain.step(i);
            // The two plates of a body are drawn together; across a disc the base chain's own
            // difference is expected.
            let difference = if body {
                chain.plates[i].tilt - chain.plates[i + 1].tilt
            } else {
                0.0
            };
            let turn_sd = if body { BODY_SD } else { DISC_SD };
            if many > 3 {
                return None;
            }
            let (a, b) = (&chain.plates[i], &chain.plates[i + 1]);
            let feet = chain.feet((a.tilt + b.tilt) / 2.0);
            let height = (b.middle - a.middle).dot(&feet);
            let loose = (many as f64).sqrt();
            Some(Link {
                offset: (heights[i] - height, round.height_sd * loose),
                turn: (difference, turn_sd * loose),
            })
        })
        .collect();
    let beliefs = infer(&nodes, &links, grid);
    let feet: Vec<_> = chain.plates.iter().map(|p| chain.feet(p.tilt)).collect();
    for ((p, b), feet) in chain.plates.iter_mut().zip(&beliefs).zip(feet) {
        p.middle += feet * b.offset;
        p.tilt += b.turn;
    }
    beliefs
}

/// Quality from the spread of the belief: 1 for a sharp one, 0.5 at 2.5° or 1.2 mm.
fn quality(b: &Belief) -> f64 {
    let t = b.turn_sd.to_degrees() / 2.5;
    let o = b.offset_sd / 1.2;
    1.0 / (1.0 + t * t + o * o)
}

fn finish(rough: &Chain, chain: &Chain, beliefs: &[Belief], steps: Steps) -> Vec<Refined> {
    rough
        .plates
        .iter()
        .zip(&chain.plates)
        .zip(beliefs)
        .map(|((start, plate), belief)| {
            let quality = quality(belief);
            let refined = quality >= THRESHOLD;
            // A plate left alone stands where it stood.
            let stands = if refined { plate } else { start };
            Refined {
                level: start.level,
                edge: start.edge,
                ends: stands.ends().map(|e| steps.film(e)),
                quality,
                refined,
            }
        })
        .collect()
}
