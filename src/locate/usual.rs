//! How a vertebra usually looks: for a film without one of the same child before it.

use super::look::Look;
use super::pattern::{Pattern, Spaced};
use nalgebra::Vector2;

/// Reach of the pictures to each side, half widths, and toward head and feet, distances of neighbouring
/// vertebrae.
const ASIDE: f64 = 2.5;
const REACH: f64 = 1.2;
const SIZE: usize = 13;

/// Mean of the levelled surroundings of T3 to L1 on the lateral projection of one CT (fixtures/SOURCES.md), the
/// back on the left; in hundredths, its squares summing to one.
const LATERAL: [[i8; SIZE]; SIZE] = [
    [13, 6, -3, -5, -7, -8, -6, 2, 6, -3, -6, -3, -4],
    [15, 4, -7, -9, -9, -9, -7, -2, 1, -7, -6, -4, 1],
    [17, 9, -9, -6, -5, -5, -5, 0, 3, -8, -5, -3, 2],
    [22, 13, -7, -2, 4, 3, 4, 12, 12, -4, -3, -2, 0],
    [21, 13, -3, 0, 1, 2, 1, 10, 18, -3, -4, -2, -2],
    [16, 7, -5, -6, -10, -10, -6, 1, 8, -5, -5, -2, -2],
    [14, 2, -7, -8, -11, -10, -5, 0, 3, -7, -4, -5, -1],
    [10, 4, -11, -6, -7, -7, -4, 3, 10, -8, -5, 0, 0],
    [20, 11, -11, -5, 4, 4, 5, 14, 18, -3, -5, -1, 1],
    [21, 13, -3, -3, 2, 1, 1, 6, 16, 10, -4, 0, 3],
    [11, 13, -1, -4, -8, -11, -8, -2, 5, 2, -4, -4, -1],
    [8, 11, -1, -5, -11, -11, -9, -3, 2, -4, -4, -5, -3],
    [6, 8, -1, -6, -9, -10, -8, -2, 6, 3, -6, -3, -3],
];

/// The same on its AP projection, left and right taken together.
const FRONTAL: [[i8; SIZE]; SIZE] = [
    [-5, -6, -7, -3, 10, 9, -2, 9, 10, -3, -7, -6, -5],
    [-3, -4, -6, -3, 6, 5, -8, 5, 6, -3, -6, -4, -3],
    [-3, -5, -5, -4, 9, 7, -4, 7, 9, -4, -5, -5, -3],
    [-4, -6, -5, -4, 15, 17, 6, 17, 15, -4, -5, -6, -4],
    [-6, -6, -6, -5, 18, 15, 6, 15, 18, -5, -6, -6, -6],
    [-4, -6, -6, -5, 12, 7, -8, 7, 12, -5, -6, -6, -4],
    [-3, -4, -7, -5, 8, 4, -11, 4, 8, -5, -7, -4, -3],
    [-3, -5, -6, -5, 11, 6, -2, 6, 11, -5, -6, -5, -3],
    [-4, -6, -7, -4, 18, 15, 7, 15, 18, -4, -7, -6, -4],
    [-4, -5, -8, -5, 19, 15, 7, 15, 19, -5, -8, -5, -4],
    [-1, -5, -7, -6, 12, 8, -8, 8, 12, -6, -7, -5, -1],
    [-1, -4, -6, -5, 7, 3, -10, 3, 7, -5, -6, -4, -1],
    [-4, -5, -7, -3, 8, 4, -4, 4, 8, -3, -7, -5, -4],
];

/// The grey of a usual vertebra at a place in its frame: half widths to the side, neighbours' distances
/// toward the feet.
fn grey(table: &[[i8; SIZE]; SIZE], side: f64, along: f64) -> f32 {
    let cell = |t: f64, reach: f64| {
        let last = (SIZE - 1) as f64;
        let k = ((t / reach + 1.0) / 2.0 * last).clamp(0.0, last - 1e-9);
        (k as usize, k.fract() as f32)
    };
    let ((u, fu), (v, fv)) = (cell(side, ASIDE), cell(along, REACH));
    let row = |v: usize| {
        let (a, b) = (f32::from(table[v][u]), f32::from(table[v][u + 1]));
        a + (b - a) * fu
    };
    row(v) + (row(v + 1) - row(v)) * fv
}

/// The looks of a usual spine's vertebrae, where the pattern has them.
pub(super) fn usual_looks(pattern: &Pattern) -> Vec<Look> {
    let table = if pattern.lateral { &LATERAL } else { &FRONTAL };
    let levels: Vec<(&[Spaced], f64, Vector2<f64>)> = pattern
        .plates
        .chunk_by(|a, b| a.level == b.level)
        .scan(0, |start, plates| {
            let across = pattern.faces[*start];
            *start += plates.len();
            let along = plates.iter().map(|p| p.along).sum::<f64>() / plates.len() as f64;
            Some((plates, along, across))
        })
        .collect();
    let last = levels.len() - 1;
    levels
        .iter()
        .enumerate()
        .map(|(k, (plates, along, across))| {
            let (a, b) = (k.saturating_sub(1), (k + 1).min(last));
            let pitch = (levels[b].1 - levels[a].1) / (b - a).max(1) as f64;
            let half = plates[0].half;
            let middle = pattern.at(*along);
            Look::of(plates[0].level, middle, *across, half, |s| {
                grey(table, s.x / half, s.y / pitch)
            })
        })
        .collect()
}
