//! The chain inferred as one: each plate's states weighed by its own evidence and by its
//! neighbours', forward and backward.

use super::evidence::Grid;

/// A plate's states: log weight by offset (row) and turn (column).
pub(super) struct Node {
    pub(super) log: Vec<f32>,
}

/// A coupling to the next plate: expected difference of offset (mm) and turn (radians) less what
/// the base chain already holds, and standard deviations.
#[derive(Clone, Copy, Debug)]
pub(super) struct Link {
    pub(super) offset: (f64, f64),
    pub(super) turn: (f64, f64),
}

/// Mean and standard deviation of offset and turn.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Belief {
    pub(super) offset: f64,
    pub(super) turn: f64,
    pub(super) offset_sd: f64,
    pub(super) turn_sd: f64,
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

/// A message through a coupling; `forward` from the upper to the lower plate.
fn message(weights: &[f32], grid: &Grid, link: &Link, forward: bool) -> Vec<f32> {
    let (n, m) = (grid.rows(), grid.columns());
    let flip = |(mean, sd): (f64, f64)| if forward { (mean, sd) } else { (-mean, sd) };
    let a = kernel(grid.offsets.1, n, flip(link.offset));
    let b = kernel(grid.turns.1, m, flip(link.turn));
    let mut half = vec![0f32; n * m];
    for to in 0..n {
        for from in 0..n {
            let w = a[to + n - 1 - from];
            if w < 1e-9 {
                continue;
            }
            for c in 0..m {
                half[to * m + c] += w * weights[from * m + c];
            }
        }
    }
    let mut out = vec![0f32; n * m];
    for row in 0..n {
        for to in 0..m {
            let mut sum = 0f32;
            for from in 0..m {
                sum += b[to + m - 1 - from] * half[row * m + from];
            }
            out[row * m + to] = sum;
        }
    }
    scaled(&mut out);
    out
}

/// The beliefs of a chain.
pub(super) fn infer(nodes: &[Node], links: &[Option<Link>], grid: &Grid) -> Vec<Belief> {
    let own: Vec<Vec<f32>> = nodes
        .iter()
        .map(|node| {
            let top = node.log.iter().copied().fold(f32::MIN, f32::max);
            node.log
                .iter()
                .map(|l| (l - top).exp().max(1e-12))
                .collect()
        })
        .collect();
    let count = nodes.len();
    let size = grid.rows() * grid.columns();
    let mut down = vec![vec![1f32; size]; count];
    let mut up = vec![vec![1f32; size]; count];
    for i in 1..count {
        if let Some(link) = &links[i - 1] {
            let w: Vec<f32> = own[i - 1]
                .iter()
                .zip(&down[i - 1])
                .map(|(a, b)| a * b)
                .collect();
            down[i] = message(&w, grid, link, true);
        }
    }
    for i in (0..count.saturating_sub(1)).rev() {
        if let Some(link) = &links[i] {
            let w: Vec<f32> = own[i + 1]
                .iter()
                .zip(&up[i + 1])
                .map(|(a, b)| a * b)
                .collect();
            up[i] = message(&w, grid, link, false);
        }
    }
    (0..count)
        .map(|i| {
            let mut sums = [0f64; 5];
            for row in 0..grid.rows() {
                for column in 0..grid.columns() {
                    let k = row * grid.columns() + column;
                    let w = f64::from(own[i][k] * down[i][k] * up[i][k]);
                    let (o, t) = (grid.offset(row), grid.turn(column));
                    sums[0] += w;
                    sums[1] += w * o;
                    sums[2] += w * t;
                    sums[3] += w * o * o;
                    sums[4] += w * t * t;
                }
            }
            let (o, t) = (sums[1] / sums[0], sums[2] / sums[0]);
            Belief {
                offset: o,
                turn: t,
                offset_sd: (sums[3] / sums[0] - o * o).max(0.0).sqrt(),
                turn_sd: (sums[4] / sums[0] - t * t).max(0.0).sqrt(),
            }
        })
        .collect()
}
