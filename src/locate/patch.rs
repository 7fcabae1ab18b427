//! The film about a plate, read in the plate's own directions.

use super::chain::{Chain, Guess};
use super::evidence::{ACROSS, ALONG, Grid};
use super::seen::Seen;

/// Grey values about a plate, column by column: along the plate from its first end, and down each column
/// toward the feet.
pub(super) struct Patch {
    pub(super) grey: Vec<f32>,
    /// Which of them metal covers.
    pub(super) covered: Vec<bool>,
    /// Samples down a column and columns.
    pub(super) rows: usize,
    pub(super) columns: usize,
    /// Samples from a column's start to the plate.
    reach: f64,
    half: f64,
}

impl Patch {
    /// What the grid may ask for, with the body on its one side.
    pub(super) fn of(
        film: Seen<'_>,
        chain: &Chain,
        plate: &Guess,
        grid: &Grid,
        body: f64,
    ) -> Patch {
        let half = plate.half;
        let widest = grid.opening(grid.layers() - 1);
        let most = f64::from(grid.offsets.0) * grid.offsets.1 + widest;
        let lean = half * (f64::from(grid.turns.0) * grid.turns.1).tan();
        let reach = ((most.max(body) + lean + 3.0) / ACROSS).ceil();
        let wide = (half / ALONG).ceil().max(3.0);
        let (rows, columns) = (2 * reach as usize + 1, 2 * wide as usize + 1);
        let mut patch = Patch {
            grey: vec![0.0; rows * columns],
            covered: vec![false; rows * columns],
            rows,
            columns,
            reach,
            half,
        };
        let (along, feet) = (plate.along(), chain.feet(plate.tilt));
        // Across the film's rows last: they lie far apart in memory.
        let (mut line, mut covered) = (vec![0f32; columns], vec![false; columns]);
        let step = along * (patch.place(1) - patch.place(0));
        for r in 0..rows {
            let across = feet * ((r as f64 - reach) * ACROSS);
            let first = plate.middle + across + along * patch.place(0);
            film.line(first, step, &mut line, &mut covered);
            for (u, (grey, covered)) in line.iter().zip(&covered).enumerate() {
                let i = u * rows + r;
                (patch.grey[i], patch.covered[i]) = (*grey, *covered);
            }
        }
        patch
    }

    /// Distance of a column from the plate's middle, mm.
    pub(super) fn place(&self, column: usize) -> f64 {
        let wide = (self.columns / 2) as f64;
        (column as f64 - wide) * self.half / wide
    }

    /// Where a column's samples lie.
    pub(super) fn column(&self, column: usize) -> std::ops::Range<usize> {
        column * self.rows..(column + 1) * self.rows
    }

    /// The sample before a distance from the plate, mm, and the share of the next.
    pub(super) fn sample(&self, across: f64) -> (usize, f32) {
        let y = (across / ACROSS + self.reach).max(0.0);
        ((y as usize).min(self.rows - 1), y.fract() as f32)
    }
}
