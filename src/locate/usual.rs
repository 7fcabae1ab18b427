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
    [-4, -6, -8, -4, 11, 9, 0, 9, 11, -4, -8, -6, -4],
    [-2, -4, -7, -4, 7, 4, -4, 4, 7, -4, -7, -4, -2],
    [-3, -5, -6, -5, 9, 6, -1, 6, 9, -5, -6, -5, -3],
    [-3, -6, -6, -5, 17, 14, 5, 14, 17, -5, -6, -6, -3],
    [-4, -6, -7, -6, 20, 13, 5, 13, 20, -6, -7, -6, -4],
    [-3, -6, -7, -6, 13, 7, -4, 7, 13, -6, -7, -6, -3],
    [-3, -5, -7, -6, 8, 4, -6, 4, 8, -6, -7, -5, -3],
    [-3, -5, -7, -5, 12, 5, 0, 5, 12, -5, -7, -5, -3],
    [-3, -6, -7, -5, 18, 13, 5, 13, 18, -5, -7, -6, -3],
    [-3, -6, -8, -5, 19, 13, 5, 13, 19, -5, -8, -6, -3],
    [-2, -5, -7, -7, 13, 7, -4, 7, 13, -7, -7, -5, -2],
    [-2, -4, -7, -6, 8, 4, -6, 4, 8, -6, -7, -4, -2],
    [-4, -5, -7, -3, 9, 4, -1, 4, 9, -3, -7, -5, -4],
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

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::film::{density, load};
    use crate::landmark::{LandmarkSet, Level};
    use crate::locate::chain::{Chain, Steps};
    use crate::locate::look::{levelled, looks};
    use crate::locate::path::{COARSE, coarse};
    use crate::locate::scatter::unit;
    use crate::units::FilmPx;
    use std::path::Path;

    /// The mean of the levelled surroundings of T3 to L1 on a projection, in hundredths.
    fn mean_look(lateral: bool) -> Vec<f32> {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/films");
        let name = if lateral { "lateral" } else { "ap" };
        let film = load(&folder.join(format!("ct_drr_{name}.png"))).unwrap();
        let text = std::fs::read_to_string(folder.join("ct_drr_truth.json")).unwrap();
        let json: serde_json::Value = serde_json::from_str(&text).unwrap();
        let mut marks = LandmarkSet::new();
        let of = &json[format!("{name}_parallel_0p5mm.png")]["landmarks"];
        for (name, p) in of.as_object().unwrap() {
            let [x, y] = [0, 1].map(|k| p[k].as_f64().unwrap());
            marks.place(name.parse().unwrap(), FilmPx::new(x, y));
        }
        let steps = Steps {
            column: 0.5,
            row: 0.5,
        };
        let film = levelled(&coarse(&density(&film), steps));
        let chain = Chain::of(&marks, lateral, steps, 0.0).unwrap();
        let all = looks(&film, &chain);
        let cell = |k: usize| 2.0 * k as f64 / (SIZE - 1) as f64 - 1.0;
        let mut sum = vec![0f32; SIZE * SIZE];
        for w in all.windows(3) {
            let (above, look, below) = (&w[0], &w[1], &w[2]);
            let [first, last] = ["T3", "L1"].map(|l| l.parse::<Level>().unwrap());
            if look.level < first || look.level > last {
                continue;
            }
            let pitch = (below.middle - above.middle).norm() / 2.0;
            let feet = Vector2::new(-look.across.y, look.across.x) * chain.down;
            let mut own: Vec<f32> = (0..SIZE * SIZE)
                .map(|i| {
                    let side = look.across * (cell(i % SIZE) * ASIDE * look.half);
                    let p = (look.middle + side + feet * (cell(i / SIZE) * REACH * pitch)) / COARSE;
                    film.sample(p.x, p.y)
                })
                .collect();
            unit(&mut own);
            sum.iter_mut().zip(&own).for_each(|(s, v)| *s += v);
        }
        if !lateral {
            for row in sum.chunks_mut(SIZE) {
                let mirrored: Vec<f32> = row.iter().rev().copied().collect();
                row.iter_mut().zip(mirrored).for_each(|(v, m)| *v += m);
            }
        }
        unit(&mut sum);
        sum.iter().map(|v| 100.0 * v).collect()
    }

    /// The tables are what the projections show, to a hundredth: they are rounded.
    #[test]
    fn usual_looks_are_those_of_the_projections() {
        for (table, lateral) in [(LATERAL, true), (FRONTAL, false)] {
            let seen = mean_look(lateral);
            for (k, (t, v)) in table.iter().flatten().zip(&seen).enumerate() {
                let off = (f32::from(*t) - v).abs();
                assert!(off <= 1.0, "lateral {lateral}, cell {k}: {t}, {v:.1}");
            }
        }
    }
}
