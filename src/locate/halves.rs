//! A vertebra's two halves show the same things at the same height: corners, pedicles, rims, however
//! obliquely the plates are seen. The turn at which they agree is the vertebra's own.

use super::evidence::{ACROSS, Grid};
use super::patch::Patch;

/// Share of the half width about the middle that belongs to neither half: the spinous process.
const MIDDLE: f64 = 0.25;
/// Share of the body looked at, and how far beyond the plate, mm: the next body has a tilt of its own.
const BODY: f64 = 0.85;
const BEYOND: f64 = 1.0;

/// Correlation of the two halves' steps down the body for each turn of the grid. `disc` is the side of
/// the disc, −1 toward the head; `down` as the chain's.
pub(super) fn halves(
    patch: &Patch,
    rise: &[f32],
    down: f64,
    grid: &Grid,
    (disc, body): (f64, f64),
) -> Vec<f32> {
    let reach = BODY * body;
    let from = if disc < 0.0 { -BEYOND } else { -reach };
    let count = ((reach + BEYOND) / ACROSS) as usize;
    let inner = patch.place(patch.columns - 1) * MIDDLE;
    (0..grid.columns())
        .map(|column| {
            let slope = grid.turn(column).tan() * down;
            let mut sides = [vec![0f32; count], vec![0f32; count]];
            for u in 0..patch.columns {
                let x = patch.place(u);
                if x.abs() < inner {
                    continue;
                }
                let (k, t) = patch.sample(from + x * slope);
                let own = &rise[patch.column(u)];
                let side = &mut sides[usize::from(x > 0.0)];
                for (v, w) in side.iter_mut().zip(own[k..].windows(2)) {
                    *v += w[0] + (w[1] - w[0]) * t;
                }
            }
            let [a, b] = &sides;
            dot(a, b) / (dot(a, a) * dot(b, b)).sqrt().max(1e-6)
        })
        .collect()
}

fn dot(a: &[f32], b: &[f32]) -> f32 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
