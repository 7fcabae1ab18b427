//! A body's two walls run along its axis, across its plates: the turn at which its rows show the same
//! steps at the same places is the body's own.

use super::chain::{Chain, Guess};
use super::evidence::Grid;
use super::scatter::bound;
use super::seen::Seen;

/// Share of the half width looked at: beyond the walls.
const WIDTH: f64 = 1.4;
/// Part of the body, from the plate, whose rows are compared.
const FROM: f64 = 0.1;
const TO: f64 = 0.9;
/// Sampling steps along and across the plate, mm.
const ALONG: f64 = 0.5;
const ACROSS: f64 = 1.0;
/// Reach of the two sides of a step, in samples.
const REACH: usize = 2;

/// Mean correlation of the rows' steps for each turn of the grid, 0 to 1; `body` is the distance to the
/// body's other plate, mm, and `axis` how much more than the plate its body is expected to be turned, radians.
pub(super) fn walls(
    film: Seen<'_>,
    chain: &Chain,
    plate: &Guess,
    grid: &Grid,
    body: f64,
    axis: f64,
) -> Vec<f32> {
    let inward = -plate.disc();
    let n = 2 * ((WIDTH * plate.half / ALONG).ceil() as usize).max(REACH + 1) + 1;
    let count = (((TO - FROM) * body / ACROSS) as usize).max(3);
    let (along, feet) = (plate.along(), chain.feet(plate.tilt) * inward);
    let depth = |r: usize| body * (FROM + (TO - FROM) * r as f64 / (count - 1) as f64);
    let mut rises = vec![0f32; count * n];
    let mut sums = vec![0f32; n + 1];
    let (mut line, mut covered) = (vec![0f32; n], vec![false; n]);
    for (r, row) in rises.chunks_mut(n).enumerate() {
        let first = plate.middle + feet * depth(r) - along * ((n / 2) as f64 * ALONG);
        film.line(first, along * ALONG, &mut line, &mut covered);
        for k in 0..n {
            sums[k + 1] = sums[k] + line[k];
        }
        for k in REACH..n - REACH - 1 {
            // Rods have walls of their own, which need not run along the body.
            if covered[k - REACH..=k + REACH].contains(&true) {
                continue;
            }
            row[k] = (sums[k + 1 + REACH] - sums[k + 1]) - (sums[k] - sums[k - REACH]);
        }
    }
    bound(&mut rises);
    let own: f32 = rises.iter().map(|v| v * v).sum();
    (0..grid.columns())
        .map(|column| {
            let slope = (grid.turn(column) + axis).sin() * chain.down * inward / ALONG;
            let mut sum = vec![0f32; n];
            for (r, row) in rises.chunks(n).enumerate() {
                let shift = -slope * depth(r);
                let whole = shift.floor();
                let (k, t) = (whole as isize, (shift - whole) as f32);
                for (x, s) in sum.iter_mut().enumerate() {
                    let i = x as isize + k;
                    if i >= 0 && i + 1 < n as isize {
                        let i = i as usize;
                        *s += row[i] + (row[i + 1] - row[i]) * t;
                    }
                }
            }
            sum.iter().map(|s| s * s).sum::<f32>() / (own * count as f32).max(1e-6)
        })
        .collect()
}
