//! What the last look sees of a plate and is told of it. The same in benches/trained/plates.py; change both.

use super::chain::{Chain, Guess};
use super::net::Maps;
use super::seen::{Part, Seen};
use super::standard::{local, standard};
use nalgebra::Vector2;
use rayon::prelude::*;

/// What is seen of a plate: samples along it and across it, and how far they reach, in half widths.
pub(super) struct View {
    pub(super) columns: usize,
    pub(super) rows: usize,
    reach: [f32; 2],
}

impl View {
    pub(super) fn maps(&self, data: Vec<f32>) -> Maps {
        Maps {
            rows: self.rows,
            columns: self.columns,
            data,
        }
    }
}

pub(super) const NEAR: View = View {
    columns: 64,
    rows: 96,
    reach: [1.5, 1.8],
};
pub(super) const WIDE: View = View {
    columns: 48,
    rows: 64,
    reach: [3.3, 3.96],
};
/// Numbers that are told besides: the bends to four neighbours, the side of the body, the half width, the
/// quality.
pub(super) const TOLD: usize = 7;
const BENDS: usize = 4;

/// What is seen and told of a plate.
pub(super) struct Views {
    pub(super) near: Maps,
    pub(super) wide: Maps,
    pub(super) told: [f32; TOLD],
}

impl Views {
    /// As the plate's mirror image is seen: where bone lies left and right alike, a second look.
    pub(super) fn mirrored(&self) -> Views {
        let turned = |maps: &Maps| Maps {
            data: maps
                .data
                .chunks_exact(maps.columns)
                .flat_map(|row| row.iter().rev().copied())
                .collect(),
            ..*maps
        };
        let mut told = self.told;
        told[..BENDS].iter_mut().for_each(|v| *v = -*v);
        Views {
            near: turned(&self.near),
            wide: turned(&self.wide),
            told,
        }
    }
}

/// Pixel of the film that is looked at, at most, mm.
const PIXEL: f64 = 0.5;

/// How far a view's corner moves between the first look and the last, mm: 3 mm and 8° at most, mostly far less.
const MOVES: f64 = 6.0;

/// The film about a chain, past its metal.
pub(super) fn about<'a>(seen: Seen<'a>, chain: &Chain) -> Part<'a> {
    let part = Part::about(seen, chain, PIXEL, (WIDE.reach.map(f64::from), MOVES));
    match seen.metal {
        Some(metal) => part.past(metal),
        None => part,
    }
}

/// What is seen and told of each plate of a chain.
pub(super) fn views(film: Seen<'_>, chain: &Chain, quality: &[f64]) -> Vec<Views> {
    (0..chain.plates.len())
        .into_par_iter()
        .map(|i| {
            let near = samples(film, chain, &chain.plates[i], &NEAR);
            let wide = samples(film, chain, &chain.plates[i], &WIDE);
            let mut both = standard(&near);
            both.extend(local(&near, NEAR.columns, NEAR.rows));
            Views {
                near: NEAR.maps(both),
                wide: WIDE.maps(local(&wide, WIDE.columns, WIDE.rows)),
                told: told(chain, i, quality[i]),
            }
        })
        .collect()
}

/// What is told of a plate besides what is seen of it.
fn told(chain: &Chain, i: usize, quality: f64) -> [f32; TOLD] {
    let (plates, last) = (&chain.plates, chain.plates.len() as isize - 1);
    let bend = |k: isize| {
        let near = &plates[(i as isize + k).clamp(0, last) as usize];
        ((near.tilt - plates[i].tilt).to_degrees() * chain.down / 10.0) as f32
    };
    let p = &plates[i];
    [
        bend(-2),
        bend(-1),
        bend(1),
        bend(2),
        -p.disc() as f32,
        (p.half / 15.0) as f32,
        quality as f32,
    ]
}

/// The film about a plate, row by row, the body below.
fn samples(film: Seen<'_>, chain: &Chain, p: &Guess, view: &View) -> Vec<f32> {
    let feet = chain.feet(p.tilt) * (-p.disc() * p.half);
    // From column to column and from row to row, mm.
    let by = |way: Vector2<f64>, many: usize, reach: f32| {
        way * (2.0 * f64::from(reach) / (many - 1) as f64)
    };
    let across = by(p.along() * p.half, view.columns, view.reach[0]);
    let down = by(feet, view.rows, view.reach[1]);
    let [columns, rows] = [view.columns, view.rows].map(|n| (n - 1) as f64 / 2.0);
    let first = p.middle - across * columns - down * rows;
    let mut out = vec![0f32; view.rows * view.columns];
    for (row, line) in out.chunks_exact_mut(view.columns).enumerate() {
        film.greys(first + down * row as f64, across, line);
    }
    out
}
