//! The chain inferred as one: each plate's states weighed by its own evidence and by its
//! neighbours', forward and backward.

use super::evidence::Grid;
use rayon::prelude::*;

/// A plate's states: log weight by opening (layer), offset (row) and turn (column).
pub(super) struct Node {
    pub(super) log: Vec<f32>,
    /// How far each state's evidence stands out of what noise alone would give, in its SDs.
    pub(super) distinct: Vec<f32>,
}

/// A coupling to the next plate: expected difference of offset (mm) and turn (radians) less what
/// the base chain already holds, and standard deviations.
#[derive(Clone, Copy, Debug)]
pub(super) struct Link {
    pub(super) offset: (f64, f64),
    pub(super) turn: (f64, f64),
    /// SD of the difference of opening, mm.
    pub(super) opening_sd: f64,
}

/// Mean and standard deviation of offset and turn.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Belief {
    pub(super) offset: f64,
    pub(super) turn: f64,
    pub(super) offset_sd: f64,
    pub(super) turn_sd: f64,
    /// Mean distinctness of the evidence.
    pub(super) distinct: f64,
}

fn kernel(step: f64, n: usize, (mean, sd): (f64, f64)) -> Vec<f32> {
    // Indexed by difference plus n − 1.
    (0..2 * n - 1)
        .map(|k| {
            let d = (k as f64 - (n - 1) as f64) * step - mean;
            // A heavier tail than the normal one: a wedged body is rare, not impossible.
            (0.97 * (-0.5 * (d / sd).powi(2)).exp()
                + 0.03 * (-0.5 * (d / (3.0 * sd)).powi(2)).exp()) as f32
        })
        .collect()
}

fn scaled(values: &mut [f32]) {
    let top = values.iter().copied().fold(0f32, f32::max).max(1e-30);
    values.iter_mut().for_each(|v| *v = (*v / top).max(1e-12));
}

/// A message through a coupling; `forward` from the upper to the lower plate. The coupling is a product
/// over offset, turn and opening, so each is passed on by itself.
fn message(weights: &[f32], grid: &Grid, link: &Link, forward: bool) -> Vec<f32> {
    let (n, m, l) = (grid.rows(), grid.columns(), grid.layers());
    let flip = |(mean, sd): (f64, f64)| if forward { (mean, sd) } else { (-mean, sd) };
    let a = kernel(grid.offsets.1, n, flip(link.offset));
    let b = kernel(grid.turns.1, m, flip(link.turn));
    let c = kernel(grid.openings.1, l, (0.0, link.opening_sd));
    let mut by_opening = vec![0f32; weights.len()];
    for to in 0..l {
        for from in 0..l {
            let w = c[to + l - 1 - from];
            if w < 1e-6 {
                continue;
            }
            let (source, target) = (from * n * m, to * n * m);
            for k in 0..n * m {
                by_opening[target + k] += w * weights[source + k];
            }
        }
    }
    let mut by_offset = vec![0f32; weights.len()];
    for layer in 0..l {
        for to in 0..n {
            for from in 0..n {
                let w = a[to + n - 1 - from];
                if w < 1e-6 {
                    continue;
                }
                let (source, target) = (grid.at(layer, from, 0), grid.at(layer, to, 0));
                for k in 0..m {
                    by_offset[target + k] += w * by_opening[source + k];
                }
            }
        }
    }
    // By where it comes from, so that a row is a plain product.
    let turned: Vec<f32> = (0..m * m).map(|k| b[k % m + m - 1 - k / m]).collect();
    let mut out = vec![0f32; weights.len()];
    for row in 0..l * n {
        let own = &by_offset[row * m..(row + 1) * m];
        let target = &mut out[row * m..(row + 1) * m];
        for (from, x) in own.iter().enumerate() {
            let kernel = &turned[from * m..(from + 1) * m];
            for (t, w) in target.iter_mut().zip(kernel) {
                *t += x * w;
            }
        }
    }
    scaled(&mut out);
    out
}

/// The beliefs of a chain.
pub(super) fn infer(nodes: &[Node], links: &[Option<Link>], grid: &Grid) -> Vec<Belief> {
    let own: Vec<Vec<f32>> = nodes
        .par_iter()
        .map(|node| {
            let top = node.log.iter().copied().fold(f32::MIN, f32::max);
            node.log
                .iter()
                .map(|l| (l - top).exp().max(1e-12))
                .collect()
        })
        .collect();
    let count = nodes.len();
    let size = grid.states();
    let mut down = vec![vec![1f32; size]; count];
    let mut up = vec![vec![1f32; size]; count];
    let times =
        |a: &[f32], b: &[f32]| -> Vec<f32> { a.iter().zip(b).map(|(a, b)| a * b).collect() };
    rayon::join(
        || {
            for i in 1..count {
                if let Some(link) = &links[i - 1] {
                    down[i] = message(&times(&own[i - 1], &down[i - 1]), grid, link, true);
                }
            }
        },
        || {
            for i in (0..count.saturating_sub(1)).rev() {
                if let Some(link) = &links[i] {
                    up[i] = message(&times(&own[i + 1], &up[i + 1]), grid, link, false);
                }
            }
        },
    );
    (0..count)
        .into_par_iter()
        .map(|i| {
            let mut sums = [0f64; 6];
            for layer in 0..grid.layers() {
                for row in 0..grid.rows() {
                    for column in 0..grid.columns() {
                        let k = grid.at(layer, row, column);
                        let w = f64::from(own[i][k] * down[i][k] * up[i][k]);
                        let (o, t) = (grid.offset(row), grid.turn(column));
                        sums[0] += w;
                        sums[1] += w * o;
                        sums[2] += w * t;
                        sums[3] += w * o * o;
                        sums[4] += w * t * t;
                        sums[5] += w * f64::from(nodes[i].distinct[k]);
                    }
                }
            }
            let (o, t) = (sums[1] / sums[0], sums[2] / sums[0]);
            Belief {
                offset: o,
                turn: t,
                distinct: sums[5] / sums[0],
                offset_sd: (sums[3] / sums[0] - o * o).max(0.0).sqrt(),
                turn_sd: (sums[4] / sums[0] - t * t).max(0.0).sqrt(),
            }
        })
        .collect()
}
