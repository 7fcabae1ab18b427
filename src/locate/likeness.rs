//! Where a plate's surroundings look as they did on another film of the child.

use super::chain::{Chain, Guess, Steps};
use super::evidence::Grid;
use super::infer::{Link, Node, infer};
use super::reduce::reduced;
use super::scatter::unit;
use crate::film::{GreyPlane, local_contrast};
use nalgebra::Vector2;
use rayon::prelude::*;

/// Reach across the plate, mm, and samples along and across.
const REACH: f64 = 11.0;
const ACROSS: i32 = 11;
const ALONG: i32 = 8;
/// Share of the plate's width looked at: beyond its ends, for the borders tell where it lies sideways.
const WIDTH: f64 = 1.5;

/// Neighbourhood by which it is levelled, mm each way: lung, shoulder and belly differ from film to film
/// far more than what the bones show.
const LEVEL: f64 = 14.0;

/// A film reduced to what is compared, its broad brightness and contrast taken out.
pub(super) struct Levelled {
    plane: GreyPlane,
    steps: Steps,
}

impl Levelled {
    pub(super) fn of(plane: &GreyPlane, steps: Steps) -> Levelled {
        let (small, steps) = reduced(plane, steps);
        let pixel = (steps.column * steps.row).sqrt();
        Levelled {
            plane: local_contrast(&small, (LEVEL / pixel) as usize),
            steps,
        }
    }

    /// The grey about a plate moved and turned, along it and across it, less its mean and divided by its
    /// scatter.
    fn about(
        &self,
        chain: &Chain,
        plate: &Guess,
        (offset, side, turn): (f64, f64, f64),
    ) -> Vec<f32> {
        let tilt = plate.tilt + turn;
        let along = Vector2::new(tilt.cos(), tilt.sin());
        let feet = chain.feet(tilt);
        let middle = plate.middle + chain.feet(plate.tilt) * offset + plate.along() * side;
        // From sample to sample, in pixels.
        let down = self.steps.film(feet * (REACH / f64::from(ACROSS)));
        let side = self
            .steps
            .film(along * (plate.half * WIDTH / f64::from(ALONG)));
        let middle = self.steps.film(middle);
        let mut out = Vec::with_capacity(((2 * ACROSS + 1) * (2 * ALONG + 1)) as usize);
        for a in (-ACROSS..=ACROSS).map(f64::from) {
            let (x, y) = (middle.x + down.x * a, middle.y + down.y * a);
            out.extend((-ALONG..=ALONG).map(|u| {
                let u = f64::from(u);
                self.plane.sample(x + side.x * u, y + side.y * u)
            }));
        }
        unit(&mut out);
        out
    }

    /// How a chain's plates look.
    pub(super) fn pieces(&self, chain: &Chain) -> Vec<Vec<f32>> {
        let plates = chain.plates.iter();
        plates
            .map(|p| self.about(chain, p, (0.0, 0.0, 0.0)))
            .collect()
    }
}

/// A film and how the plates looked on the film before.
pub(super) struct Likeness<'a> {
    film: Levelled,
    pieces: &'a [Vec<f32>],
}

/// Places tried along the spine and, as the grid's turns, to the side, mm.
const PLACES: Grid = Grid {
    offsets: (8, 1.5),
    turns: (7, 2.0),
    openings: (0, 1.0),
};
/// Weight of likeness among them.
const WEIGHT: f64 = 14.0;
/// SDs of a plate's place along the spine and to the side about where it was laid, and of a neighbour's
/// about its own, mm.
const PLACE_SD: [f64; 2] = [6.0, 8.0];
const STEP_SD: [f64; 2] = [1.5, 1.2];

impl<'a> Likeness<'a> {
    pub(super) fn of(plane: &GreyPlane, steps: Steps, pieces: &'a [Vec<f32>]) -> Self {
        Likeness {
            film: Levelled::of(plane, steps),
            pieces,
        }
    }

    /// How alike plate i is at a place, −1 to 1.
    fn at(&self, chain: &Chain, i: usize, at: (f64, f64, f64)) -> f32 {
        let here = self.film.about(chain, &chain.plates[i], at);
        here.iter().zip(&self.pieces[i]).map(|(a, b)| a * b).sum()
    }

    /// How alike plate i is at each offset and turn of a grid, row by row: it changes slowly, so every second of both
    /// is looked at, and between them is the mean of the neighbours.
    pub(super) fn over(&self, chain: &Chain, i: usize, grid: &Grid) -> Vec<f32> {
        let (rows, columns) = (grid.rows(), grid.columns());
        let mut out = vec![0f32; rows * columns];
        for row in (0..rows).step_by(2) {
            let own = &mut out[row * columns..(row + 1) * columns];
            for column in (0..columns).step_by(2) {
                own[column] = self.at(chain, i, (grid.offset(row), 0.0, grid.turn(column)));
            }
            for column in (1..columns).step_by(2) {
                own[column] = (own[column - 1] + own[column + 1]) / 2.0;
            }
        }
        for k in columns..rows * columns {
            if k / columns % 2 == 1 {
                out[k] = (out[k - columns] + out[k + columns]) / 2.0;
            }
        }
        out
    }

    /// Moves a chain's plates along and to the side to where they look as before, neighbours together.
    pub(super) fn place(&self, chain: &mut Chain) {
        let grid = &PLACES;
        let nodes: Vec<Node> = (0..chain.plates.len())
            .into_par_iter()
            .map(|i| {
                let held = chain.held_at(i);
                let (expected, sd) = held.map_or(([0.0; 2], PLACE_SD), |(off, sd)| (off, [sd; 2]));
                let mut log = vec![0f32; grid.states()];
                for row in 0..grid.rows() {
                    for column in 0..grid.columns() {
                        let (offset, side) = (grid.offset(row), grid.turn(column));
                        let like = f64::from(self.at(chain, i, (offset, side, 0.0)));
                        let o = (offset - expected[0]) / sd[0];
                        let s = (side - expected[1]) / sd[1];
                        let prior = -0.5 * (o * o + s * s);
                        log[grid.at(0, row, column)] = (WEIGHT * like + prior) as f32;
                    }
                }
                Node {
                    log,
                    distinct: vec![0.0; grid.states()],
                }
            })
            .collect();
        let step = Link {
            offset: (0.0, STEP_SD[0]),
            turn: (0.0, STEP_SD[1]),
            opening_sd: 1.0,
        };
        let links = vec![Some(step); chain.plates.len() - 1];
        let beliefs = infer(&nodes, &links, grid);
        let feet: Vec<_> = chain.plates.iter().map(|p| chain.feet(p.tilt)).collect();
        for ((plate, b), feet) in chain.plates.iter_mut().zip(&beliefs).zip(feet) {
            plate.middle += feet * b.offset + plate.along() * b.turn;
        }
    }
}
