//! How well a line at an offset and a turn agrees with the film, plate by plate.

use super::chain::{Chain, Guess};
use super::halves::halves;
use super::patch::Patch;
use super::scatter::bound;
use super::seen::Seen;
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

/// Sampling step across a plate, mm; steps of offset are whole multiples of it. Along it about [`ALONG`].
pub(super) const ACROSS: f64 = 0.25;
pub(super) const ALONG: f64 = 0.9;
/// Reaches of the two sides of an edge, in samples, each with that of the line between them: a fine scale
/// for clear films and a coarse one that noise disturbs less. Both count alike.
const SCALES: [(usize, usize); 2] = [(2, 1), (4, 2)];
/// Depth of a plate's hollow as a share of its half width (assumed: 1 mm for 40 mm), and where its flat
/// rim begins.
const HOLLOW: f64 = 0.05;
const RIM_FROM: f64 = 0.85;
/// Weights of the two rims of a plate seen as an ellipse: the one toward the disc, where bone begins, and
/// the one in the body's shadow, where the plate's shell ends; and of either as a bright line.
const OUTER: f32 = 1.0;
const INNER: f32 = 0.3;
const LINE: f32 = 0.2;

/// What the film says about a plate's states.
pub(super) struct Evidence {
    /// Agreement of each state, in units of the patch's own scatter.
    pub(super) own: Vec<f32>,
    /// The same, as SDs of what noise alone would give.
    pub(super) distinct: Vec<f32>,
    /// For each turn, how alike the two halves of the plate's body are, −1 to 1.
    pub(super) halves: Vec<f32>,
}

/// Agreement of each state; `body` is the distance to the body's other plate, mm.
pub(super) fn evidence(
    film: Seen<'_>,
    chain: &Chain,
    plate: &Guess,
    grid: &Grid,
    body: f64,
) -> Evidence {
    let patch = Patch::of(film, chain, plate, grid, body);
    let response = respond(&patch, plate.edge);
    let stride = (grid.offsets.1 / ACROSS).round() as usize;
    let [closed, outer, inner] = [&response.closed, &response.outer, &response.inner]
        .map(|of| Combed::of(of, patch.rows, stride));
    let disc = plate.disc();
    let mut own = vec![0f32; grid.states()];
    let mut line = vec![0f32; grid.rows()];
    let add = |line: &mut [f32], of: &Combed, u: usize, at: f64| {
        let (k, t) = patch.sample(grid.offset(0) + at);
        let (before, after) = (of.from(u, k), of.from(u, k + 1));
        for ((value, a), b) in line.iter_mut().zip(before).zip(after) {
            *value += a + (b - a) * t;
        }
    };
    for column in 0..grid.columns() {
        let slope = grid.turn(column).tan() * chain.down;
        for layer in 0..grid.layers() {
            line.fill(0.0);
            for u in 0..patch.columns {
                // Toward the feet a turn of the plate's direction goes with the sign of that side.
                let lean = patch.place(u) * slope;
                let across = patch.place(u) / plate.half;
                if layer == 0 {
                    let rim = (across / RIM_FROM).abs().min(1.0);
                    let hollow = HOLLOW * plate.half * (1.0 - rim * rim);
                    add(&mut line, &closed, u, lean - disc * hollow);
                    continue;
                }
                let open = grid.opening(layer) * (1.0 - across * across).max(0.0).sqrt();
                add(&mut line, &outer, u, lean + disc * open);
                add(&mut line, &inner, u, lean - disc * open);
            }
            for (row, value) in line.iter().enumerate() {
                own[grid.at(layer, row, column)] = value / patch.columns as f32;
            }
        }
    }
    // In noise the mean of n places across the plate has an SD of about 1 / √n.
    let places = (patch.columns as f32).sqrt();
    Evidence {
        distinct: own.iter().map(|l| l * places).collect(),
        own,
        halves: halves(&patch, &response.rise, chain.down, grid, (disc, body)),
    }
}

/// Columns of a patch, each in so many parts of every so manieth sample: the samples of neighbouring offsets lie side
/// by side.
struct Combed {
    data: Vec<f32>,
    rows: usize,
    stride: usize,
}

impl Combed {
    fn of(data: &[f32], rows: usize, stride: usize) -> Combed {
        let mut out = Vec::with_capacity(data.len());
        for column in data.chunks_exact(rows) {
            for first in 0..stride {
                out.extend(column[first.min(rows)..].iter().step_by(stride));
            }
        }
        Combed {
            data: out,
            rows,
            stride,
        }
    }

    /// Sample `k` of a column, and every `stride`th after it.
    fn from(&self, column: usize, k: usize) -> &[f32] {
        let (part, first) = (k % self.stride, k / self.stride);
        let many = |part: usize| (self.rows - part).div_ceil(self.stride);
        let before: usize = (0..part).map(many).sum();
        let start = column * self.rows + before;
        &self.data[start + first.min(many(part))..start + many(part)]
    }
}

/// What each place of a patch says for a line through it: a plate seen edge-on, and the two rims of one
/// seen as an ellipse; `rise` is the step toward the body alone.
struct Response {
    closed: Vec<f32>,
    outer: Vec<f32>,
    inner: Vec<f32>,
    rise: Vec<f32>,
}

/// Edge and ridge: brighter on the body's side than on the disc's, brightest on the line itself;
/// in units of the response's own scatter, and bounded so that one crossing rib does not decide.
fn respond(patch: &Patch, edge: Edge) -> Response {
    let sign = if edge == Edge::Upper { 1.0f32 } else { -1.0 };
    let size = patch.grey.len();
    let (mut closed, mut rise) = (vec![0f32; size], vec![0f32; size]);
    let n = patch.rows;
    let mut sums = vec![0f32; n + 1];
    for (side, line) in SCALES {
        let (mut edges, mut steps) = (vec![0f32; size], vec![0f32; size]);
        for u in 0..patch.columns {
            let own = &patch.grey[patch.column(u)];
            for r in 0..n {
                sums[r + 1] = sums[r] + own[r];
            }
            let mean = |from: usize, to: usize| (sums[to] - sums[from]) / (to - from) as f32;
            for r in side..n.saturating_sub(side + 1) {
                let (above, below) = (mean(r - side, r), mean(r + 1, r + 1 + side));
                let step = sign * (below - above);
                let ridge = mean(r - line, r + 1 + line) - 0.5 * (above + below);
                edges[u * n + r] = 0.4 * step + 1.2 * ridge;
                steps[u * n + r] = step;
            }
        }
        add_bounded(&mut closed, &mut edges);
        add_bounded(&mut rise, &mut steps);
    }
    // Metal says nothing of plates.
    for i in (0..size).filter(|i| patch.covered[*i]) {
        (closed[i], rise[i]) = (0.0, 0.0);
    }
    let rim = |weight: f32| {
        let both = rise.iter().zip(&closed);
        both.map(|(step, line)| weight * step + LINE * line)
            .collect()
    };
    Response {
        outer: rim(OUTER),
        inner: rim(-INNER),
        closed,
        rise,
    }
}

/// Adds a scale's share in units of its own scatter, bounded.
fn add_bounded(sum: &mut [f32], own: &mut [f32]) {
    bound(own);
    let share = 1.0 / SCALES.len() as f32;
    for (s, v) in sum.iter_mut().zip(own) {
        *s += share * *v;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn combed_columns_give_every_so_manieth_sample_from_any_on() {
        let rows = 11;
        let data: Vec<f32> = (0..3 * rows).map(|v| v as f32).collect();
        for stride in 1..5 {
            let combed = Combed::of(&data, rows, stride);
            for column in 0..3 {
                for k in 0..rows {
                    let own = &data[column * rows + k..(column + 1) * rows];
                    let every: Vec<f32> = own.iter().step_by(stride).copied().collect();
                    assert_eq!(combed.from(column, k), every);
                }
                assert!(combed.from(column, rows + stride).is_empty());
            }
        }
    }
}
