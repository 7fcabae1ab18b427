//! How well a line at an offset and a turn agrees with the film, plate by plate.

use super::chain::{Chain, Guess, Steps};
use crate::film::GreyPlane;
use crate::landmark::Edge;

/// Offsets and turns tried.
#[derive(Clone, Copy, Debug)]
pub(super) struct Grid {
    /// Offsets each way, and their step, mm.
    pub(super) offsets: (i32, f64),
    /// Turns each way, and their step, radians.
    pub(super) turns: (i32, f64),
}

impl Grid {
    pub(super) fn rows(&self) -> usize {
        2 * self.offsets.0 as usize + 1
    }

    pub(super) fn columns(&self) -> usize {
        2 * self.turns.0 as usize + 1
    }

    pub(super) fn offset(&self, row: usize) -> f64 {
        (row as f64 - f64::from(self.offsets.0)) * self.offsets.1
    }

    pub(super) fn turn(&self, column: usize) -> f64 {
        (column as f64 - f64::from(self.turns.0)) * self.turns.1
    }
}

/// Sampling step across and along a plate, mm.
const ACROSS: f64 = 0.35;
const ALONG: f64 = 0.8;
/// Reach of the two sides of an edge, mm.
const SIDE: f64 = 0.9;

/// Half distance of the two rims tried, mm, and how much a pair counts beside a single line.
const RIM: f64 = 4.0;
const PAIR: f32 = 1.0;

/// Agreement of each offset (row) and turn (column), in units of the patch's own scatter.
pub(super) fn evidence(
    plane: &GreyPlane,
    steps: Steps,
    chain: &Chain,
    plate: &Guess,
    grid: &Grid,
    width: f64,
) -> Vec<f32> {
    let half = plate.half * width;
    let rims = (RIM / grid.offsets.1).round() as usize;
    let most = f64::from(grid.offsets.0) * grid.offsets.1 + RIM;
    let lean = half * (f64::from(grid.turns.0) * grid.turns.1).tan();
    let reach = ((most + lean + SIDE + 1.0) / ACROSS).ceil() as i32;
    let wide = (half / ALONG).ceil().max(3.0) as i32;
    let (n, m) = ((2 * reach + 1) as usize, (2 * wide + 1) as usize);
    let (along, feet) = (plate.along(), chain.feet(plate.tilt));
    let mut patch = vec![0f32; n * m];
    for r in 0..n {
        for u in 0..m {
            let a = (r as i32 - reach) as f64 * ACROSS;
            let b = (u as i32 - wide) as f64 * half / f64::from(wide);
            let p = steps.film(plate.middle + feet * a + along * b);
            patch[r * m + u] = plane.sample(p.x, p.y);
        }
    }
    let response = respond(&patch, n, m, plate.edge);
    let mut out = vec![0f32; grid.rows() * grid.columns()];
    let rows = grid.rows() + 2 * rims;
    let mut line = vec![0f32; rows];
    for column in 0..grid.columns() {
        let slope = grid.turn(column).tan();
        // Toward the feet a turn of the plate's direction goes with the sign of that side.
        let shift: Vec<f64> = (0..m)
            .map(|u| {
                let b = (u as i32 - wide) as f64 * half / f64::from(wide);
                chain.down * b * slope / ACROSS
            })
            .collect();
        for (row, value) in line.iter_mut().enumerate() {
            let offset = grid.offset(row) - rims as f64 * grid.offsets.1;
            let at = offset / ACROSS + f64::from(reach);
            let mut sum = 0f32;
            for (u, s) in shift.iter().enumerate() {
                let y = (at + s).clamp(0.0, (n - 2) as f64);
                let (k, t) = (y as usize, y.fract() as f32);
                let (a, b) = (response[k * m + u], response[(k + 1) * m + u]);
                sum += a + (b - a) * t;
            }
            *value = sum / m as f32;
        }
        // A plate tilted to the beam shows its front and back rims as two lines about the mark.
        for row in 0..grid.rows() {
            let at = row + rims;
            let mut best = line[at];
            for e in 1..=rims {
                let pair = PAIR * 0.5 * (line[at - e] + line[at + e]);
                best = best.max(pair);
            }
            out[row * grid.columns() + column] = best;
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
    // Running sums down each column.
    let mut sums = vec![0f32; (n + 1) * m];
    for r in 0..n {
        for u in 0..m {
            sums[(r + 1) * m + u] = sums[r * m + u] + patch[r * m + u];
        }
    }
    let mean = |from: usize, to: usize, u: usize| {
        (sums[to * m + u] - sums[from * m + u]) / (to - from).max(1) as f32
    };
    for r in 1..n - 1 {
        for u in 0..m {
            let (a, b) = (r.saturating_sub(k), (r + 1 + k).min(n));
            let above = mean(a, r, u);
            let below = mean(r + 1, b, u);
            let line = mean(r - 1, r + 2, u);
            let step = sign * (below - above);
            let ridge = line - 0.5 * (above + below);
            out[r * m + u] = 0.4 * step + 1.2 * ridge;
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
