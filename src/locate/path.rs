//! The spine looked for over a whole film: a cheapest path over what looks like a column of bone.

use super::chain::Steps;
use super::reduce::reduced;
use super::scatter::scatter;
use crate::film::{GreyPlane, box_mean};
use nalgebra::Vector2;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Pixel of the coarse film, mm.
pub(super) const COARSE: f64 = 2.0;
/// Half width of the column looked for, and of its surroundings, mm.
const COLUMN: f64 = 9.0;
const AROUND: f64 = 26.0;

/// A film at [`COARSE`] mm a pixel.
pub(super) fn coarse(plane: &GreyPlane, steps: Steps) -> GreyPlane {
    let (w, h) = (
        plane.width as f64 * steps.column,
        plane.height as f64 * steps.row,
    );
    let (width, height) = (
        ((w / COARSE).floor() as usize).max(1),
        ((h / COARSE).floor() as usize).max(1),
    );
    // Smoothed first, so that every pixel of the film has its part.
    let (small, steps) = reduced(plane, steps);
    let reach = (COARSE / steps.column.max(steps.row) / 2.0)
        .round()
        .max(1.0) as usize;
    let smooth = box_mean(&small, reach);
    let mut data = Vec::with_capacity(width * height);
    for y in 0..height {
        for x in 0..width {
            let p = steps.film(Vector2::new(
                (x as f64 + 0.5) * COARSE,
                (y as f64 + 0.5) * COARSE,
            ));
            data.push(smooth.sample(p.x, p.y));
        }
    }
    GreyPlane {
        width,
        height,
        data,
    }
}

/// How much brighter a place is than its surroundings, in the film's own scatter.
fn columns(film: &GreyPlane) -> Vec<f32> {
    let near = box_mean(film, (COLUMN / COARSE) as usize);
    let far = box_mean(film, (AROUND / COARSE) as usize);
    let raw: Vec<f32> = near
        .data
        .iter()
        .zip(&far.data)
        .map(|(a, b)| a - b)
        .collect();
    let scale = scatter(&raw);
    raw.iter().map(|v| (v / scale).clamp(-2.0, 2.0)).collect()
}

/// The cheapest path from one place to another, mm; cost falls where a column of bone may be and rises
/// with the distance from `guide`, a line it is expected near (empty for none).
pub(super) fn path(
    film: &GreyPlane,
    from: Vector2<f64>,
    to: Vector2<f64>,
    guide: &[Vector2<f64>],
) -> Vec<Vector2<f64>> {
    let bone = columns(film);
    let far = |p: Vector2<f64>| {
        guide
            .iter()
            .map(|g| (g - p).norm_squared())
            .fold(f64::INFINITY, f64::min)
            .sqrt()
    };
    cheapest(film, from, to, |i, place| {
        let own = (-1.3 * f64::from(bone[i])).exp();
        let off = if guide.is_empty() {
            0.0
        } else {
            far(place) / 25.0
        };
        0.15 + own * (1.0 + off * off)
    })
}

/// The cheapest path from one place to another of a coarse film, mm, by the cost of a mm at each pixel and place.
pub(super) fn cheapest(
    film: &GreyPlane,
    from: Vector2<f64>,
    to: Vector2<f64>,
    cost: impl Fn(usize, Vector2<f64>) -> f64,
) -> Vec<Vector2<f64>> {
    let (w, h) = (film.width, film.height);
    let cell = |p: Vector2<f64>| {
        let x = ((p.x / COARSE) as usize).min(w - 1);
        let y = ((p.y / COARSE) as usize).min(h - 1);
        y * w + x
    };
    let place = |i: usize| {
        Vector2::new(
            ((i % w) as f64 + 0.5) * COARSE,
            ((i / w) as f64 + 0.5) * COARSE,
        )
    };
    let cost: Vec<f64> = (0..w * h).map(|i| cost(i, place(i))).collect();
    let (start, end) = (cell(from), cell(to));
    let mut best = vec![f64::INFINITY; w * h];
    let mut before = vec![usize::MAX; w * h];
    let mut heap = BinaryHeap::new();
    best[start] = 0.0;
    heap.push(Reverse((0u64, start)));
    // Sixteen directions, so that slanted paths are not longer than they are.
    let around: Vec<(isize, isize)> = (-2isize..=2)
        .flat_map(|y| (-2isize..=2).map(move |x| (x, y)))
        .filter(|(x, y)| {
            matches!(
                (x.abs(), y.abs()),
                (0, 1) | (1, 0) | (1, 1) | (1, 2) | (2, 1)
            )
        })
        .collect();
    while let Some(Reverse((_, i))) = heap.pop() {
        if i == end {
            break;
        }
        let (x, y) = ((i % w) as isize, (i / w) as isize);
        for (dx, dy) in &around {
            let (u, v) = (x + dx, y + dy);
            if u < 0 || v < 0 || u >= w as isize || v >= h as isize {
                continue;
            }
            let j = v as usize * w + u as usize;
            let step = ((dx * dx + dy * dy) as f64).sqrt() * 0.5 * (cost[i] + cost[j]);
            if best[i] + step < best[j] {
                best[j] = best[i] + step;
                before[j] = i;
                heap.push(Reverse(((best[j] * 1e6) as u64, j)));
            }
        }
    }
    let mut out = vec![to];
    let mut i = before[end];
    while i != usize::MAX && i != start {
        out.push(place(i));
        i = before[i];
    }
    out.push(from);
    out.reverse();
    smoothed(&out)
}

/// The path without its steps: means over about 14 mm.
fn smoothed(points: &[Vector2<f64>]) -> Vec<Vector2<f64>> {
    const REACH: usize = 4;
    let n = points.len();
    (0..n)
        .map(|i| {
            let r = REACH.min(i).min(n - 1 - i);
            let window = &points[i - r..=i + r];
            window.iter().sum::<Vector2<f64>>() / window.len() as f64
        })
        .collect()
}
