//! Rough end-plate marks moved onto the end-plates that the film shows.

use super::chain::{Chain, Guess, Steps};
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

/// How one round looks and how much it believes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Round {
    pub(super) grid: Grid,
    /// Weight of a unit of evidence.
    pub(super) trust: f64,
    /// Share of the plate's width looked at.
    pub(super) width: f64,
    /// SD of offset and turn about the base chain, mm and radians.
    pub(super) free: (f64, f64),
    /// SD of the height between neighbours, mm.
    pub(super) height: f64,
    /// SD of the difference of tilt of a body's two plates, radians (assumed: bodies wedge by 2°).
    pub(super) body: f64,
    /// SD of the difference across a disc about the base chain's, radians.
    pub(super) disc: f64,
}

const ROUNDS: [Round; 2] = [
    Round {
        grid: Grid {
            offsets: (12, 0.5),
            turns: (12, 0.021),
        },
        trust: 5.0,
        width: 0.8,
        free: (1.1, 0.06),
        height: 1.0,
        body: 0.03,
        disc: 0.07,
    },
    Round {
        grid: Grid {
            offsets: (10, 0.25),
            turns: (12, 0.0105),
        },
        trust: 5.0,
        width: 0.85,
        free: (0.6, 0.06),
        height: 0.9,
        body: 0.03,
        disc: 0.07,
    },
];

/// Refines the complete plates among the marks. `noise` is the placement SD of the starts, mm in
/// each coordinate. Bone must be bright in `plane`. Empty when fewer than two plates are complete.
///
/// Method (own): the plates are fitted as one chain; see docs/METHODS.md, refinement.
#[must_use]
pub fn refine(plane: &GreyPlane, steps: Steps, marks: &LandmarkSet, lateral: bool) -> Vec<Refined> {
    refine_with(plane, steps, marks, lateral, 2.0)
}

/// As [`refine`], the placement SD of the starts stated, mm.
#[must_use]
pub fn refine_with(
    plane: &GreyPlane,
    steps: Steps,
    marks: &LandmarkSet,
    lateral: bool,
    noise: f64,
) -> Vec<Refined> {
    let Some(rough) = Chain::of(marks, lateral, steps, noise) else {
        return Vec::new();
    };
    let (mut chain, mut heights) = rough.smoothed();
    let mut beliefs = Vec::new();
    for (k, round) in ROUNDS.iter().enumerate() {
        beliefs = step(plane, steps, &mut chain, &heights, round);
        if k == 0 {
            heights = chain.expected_heights();
        }
    }
    finish(&rough, &chain, &beliefs, steps, lateral, marks)
}

/// One round: evidence, inference, the chain moved to the mean of the belief.
pub(super) fn step(
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
                let o = grid.offset(row) / round.free.0;
                for column in 0..grid.columns() {
                    let t = grid.turn(column) / round.free.1;
                    let l = &mut log[row * grid.columns() + column];
                    *l = (round.trust * f64::from(*l) - 0.5 * (o * o + t * t)) as f32;
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
            let turn_sd = if body { round.body } else { round.disc };
            if many > 3 {
                return None;
            }
            let (a, b) = (&chain.plates[i], &chain.plates[i + 1]);
            let feet = chain.feet((a.tilt + b.tilt) / 2.0);
            let height = (b.middle - a.middle).dot(&feet);
            let loose = (many as f64).sqrt();
            Some(Link {
                offset: (heights[i] - height, round.height * loose),
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
pub(super) fn quality(b: &Belief) -> f64 {
    let t = b.turn_sd.to_degrees() / 2.5;
    let o = b.offset_sd / 1.2;
    1.0 / (1.0 + t * t + o * o)
}

fn finish(
    rough: &Chain,
    chain: &Chain,
    beliefs: &[Belief],
    steps: Steps,
    lateral: bool,
    marks: &LandmarkSet,
) -> Vec<Refined> {
    rough
        .plates
        .iter()
        .zip(&chain.plates)
        .zip(beliefs)
        .map(|((start, plate), belief): ((&Guess, &Guess), &Belief)| {
            let quality = quality(belief);
            let refined = quality >= THRESHOLD;
            let ends = if refined {
                plate.ends().map(|e| steps.film(e))
            } else {
                marks
                    .plate(start.level, start.edge, lateral)
                    .map_or_else(|| start.ends().map(|e| steps.film(e)), |(a, b)| [a, b])
            };
            Refined {
                level: start.level,
                edge: start.edge,
                ends,
                quality,
                refined,
            }
        })
        .collect()
}
