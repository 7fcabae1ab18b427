//! How well a line at an offset and a turn agrees with the film, plate by plate.

use super::chain::{Chain, Guess, Steps};
use crate::film::GreyPlane;
use crate::landmark::Edge;

/// Offsets, turns and openings tried. The opening is half the height, mm, of the ellipse that a plate
/// tilted to the beam shows: nought for one seen edge-on.
#[derive(Clone, Copy, Debug)]
pub(super) struct Grid {
    /// Offsets each way, and their step, mm.
    pub(super) offsets: (i32, f64),
    /// Turns each way, and their step, radians.
    pub(super) turns: (i32, f64),
    /// Openings from nought, and their step, mm.
    pub(super) openings: (usize, f64),
}

impl Grid {
    pub(super) fn rows(&self) -> usize {
        2 * self.offsets.0 as usize + 1
    }

    pub(super) fn columns(&self) -> usize {
        2 * self.turns.0 as usize + 1
    }

    pub(super) fn layers(&self) -> usize {
        self.openings.0 + 1
    }

    pub(super) fn states(&self) -> usize {
        self.rows() * self.columns() * self.layers()
    }

    pub(super) fn offset(&self, row: usize) -> f64 {
        (row as f64 - f64::from(self.offsets.0)) * self.offsets.1
    }

    pub(super) fn turn(&self, column: usize) -> f64 {
        (column as f64 - f64::from(self.turns.0)) * self.turns.1
    }

    pub(super) fn opening(&self, layer: usize) -> f64 {
        layer as f64 * self.openings.1
    }

    /// Place of a state: opening by opening, row by row.
    pub(super) fn at(&self, layer: usize, row: usize, column: usize) -> usize {
        (layer * self.rows() + row) * self.columns() + column
    }
}

/// Sampling step across and along a plate, mm.
const ACROSS: f64 = 0.35;
pub(super) const ALONG: f64 = 0.9;
/// Reach of the two sides of an edge, mm.
const SIDE: f64 = 0.9;

/// Agreement of each state, in units of the patch's own scatter.
pub(super) fn evidence(
    plane: &GreyPlane,
    steps: Steps,
    chain: &Chain,
    plate: &Guess,
    grid: &Grid,
    width: f64,
) -> Vec<f32> {
    let half = plate.half * width;
    let widest = grid.opening(grid.layers() - 1);
    let most = f64::from(grid.offsets.0) * grid.offsets.1 + widest;
    let lean = half * (f64::from(grid.turns.0) * grid.turns.1).tan();
    let reach = ((most + lean + SIDE + 1.0) / ACROSS).ceil() as i32;
    let wide = (half / ALONG).ceil().max(3.0) as i32;
    let (n, m) = ((2 * reach + 1) as usize, (2 * wide + 1) as usize);
    let (along, feet) = (plate.along(), chain.feet(plate.tilt));
    let place = |u: usize| (u as i32 - wide) as f64 * half / f64::from(wide);
    // Column by column: each is read along its own course.
    let mut patch = vec![0f32; n * m];
    for u in 0..m {
        for r in 0..n {
            let a = (r as i32 - reach) as f64 * ACROSS;
            let p = steps.film(plate.middle + feet * a + along * place(u));
            patch[u * n + r] = plane.sample(p.x, p.y);
        }
    }
    let response = respond(&patch, n, m, plate.edge);
    let mut out = vec![0f32; grid.states()];
    let (rows, step) = (grid.rows(), grid.offsets.1 / ACROSS);
    let mut line = vec![0f32; rows];
    for column in 0..grid.columns() {
        let slope = grid.turn(column).tan();
        for layer in 0..grid.layers() {
            line.fill(0.0);
            for u in 0..m {
                // Toward the feet a turn of the plate's direction goes with the sign of that side.
                let lean = chain.down * place(u) * slope;
                let across = place(u) / plate.half;
                let open = grid.opening(layer) * (1.0 - across * across).max(0.0).sqrt();
                let own = &response[u * n..(u + 1) * n];
                for side in [-1.0, 1.0] {
                    let first = (grid.offset(0) + lean + side * open) / ACROSS + f64::from(reach);
                    for (row, value) in line.iter_mut().enumerate() {
                        let y = (first + row as f64 * step).clamp(0.0, (n - 2) as f64);
                        let (k, t) = (y as usize, y.fract() as f32);
                        *value += own[k] + (own[k + 1] - own[k]) * t;
                    }
                    if layer == 0 {
                        break;
                    }
                }
            }
            let many = m as f32 * if layer == 0 { 1.0 } else { 2.0 };
            for (row, value) in line.iter().enumerate() {
                out[grid.at(layer, row, column)] = value / many;
            }
        }
    }
    out
}

/// Edge and ridge: brighter on the body's side than on the disc's, brightest on the line itself;
/// in units of the response's own scatter, and bounded so that one crossing rib does not decide.
fn respond(patch: &[f32], n: usize, m: usize, edge: Edge) -> Vec<f32> {
    let k = (SIDE / ACROSS).round() as usize;
    let sign = if edge == Edge::Upper { 1.0f32 } else { -1.0 };
    let mut out = vec![0f32; n * m];
    let mut sums = vec![0f32; n + 1];
    for u in 0..m {
        let own = &patch[u * n..(u + 1) * n];
        for r in 0..n {
            sums[r + 1] = sums[r] + own[r];
        }
        let mean = |from: usize, to: usize| (sums[to] - sums[from]) / (to - from).max(1) as f32;
        for r in 1..n - 1 {
            let (a, b) = (r.saturating_sub(k), (r + 1 + k).min(n));
            let (above, below) = (mean(a, r), mean(r + 1, b));
            let line = mean(r - 1, r + 2);
            let step = sign * (below - above);
            let ridge = line - 0.5 * (above + below);
            out[u * n + r] = 0.4 * step + 1.2 * ridge;
        }
    }
    let mut size: Vec<f32> = out.iter().map(|v| v.abs()).collect();
    let middle = size.len() / 2;
    size.select_nth_unstable_by(middle, f32::total_cmp);
    let scale = size[middle].max(1e-6) * 1.5;
    for v in &mut out {
        *v = (*v / scale).clamp(-2.5, 2.5);
    }
    out
}
