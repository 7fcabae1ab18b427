//! Rods and screws on a film: found, and taken out of the picture before anything is looked for in it.

use super::chain::Steps;
use super::thin::{Part, thin};
use crate::film::{GreyPlane, box_mean};
use crate::landmark::LandmarkSet;
use crate::units::FilmPx;
use image::{GrayImage, Luma};
use imageproc::distance_transform::Norm;
use imageproc::morphology::dilate;
use imageproc::region_labelling::{Connectivity, connected_components};
use nalgebra::Vector2;
use rayon::prelude::*;

/// Metal is a line that stands out by this many times what nine tenths of the film's places fall short of, and
/// what is joined to it by more than [`JOINED`] of that, over [`LENGTH`] mm and with [`AREA`] mm² of it at
/// least. Found by trial, docs/PERFORMANCE.md: ribs and jaws reach it on films without metal, so that only
/// films after an operation are looked at.
const USUAL: f64 = 0.9;
const STANDS_OUT: f32 = 3.0;
const JOINED: f32 = 0.7;
const LENGTH: f64 = 60.0;
const AREA: usize = 60;
/// Pieces this near each other are one, mm.
const GAP: u8 = 3;
/// About what is found metal is all that is connected and stands out of its surroundings (within [`AROUND`] mm
/// and without metal) by this share of what metal does within [`NEAR`] mm. It is found anew so often.
const SHARE: f32 = 0.5;
const AROUND: usize = 12;
const NEAR: usize = 35;
const ROUNDS: usize = 3;
/// How far about lines metal is left out of its surroundings at first, mm.
const SEED_EDGE: u8 = 2;
/// Edge about metal that is taken out with it, mm, and directions and reach, mm, of what fills it.
const EDGE: u8 = 1;
const RAYS: usize = 16;
const REACH: usize = 40;
/// How far about marks it is looked for, mm.
const ABOUT: f64 = 60.0;
/// No film is larger, mm²: one that seems so has no scale, and rods of no known width.
const LARGEST: f64 = 2e6;

/// Metal on a film.
#[derive(Clone, Debug, PartialEq)]
pub struct Metal {
    steps: Steps,
    corner: Vector2<f64>,
    /// The part with what lies about metal in its place, and where that is.
    filled: GreyPlane,
    covered: Vec<bool>,
}

impl Metal {
    /// Looks for metal over a whole film on which it is bright.
    #[must_use]
    pub fn on(film: &GreyPlane, steps: Steps) -> Option<Metal> {
        let end = steps.mm(FilmPx::new(film.width as f64, film.height as f64));
        Metal::within(film, steps, (Vector2::zeros(), end))
    }

    /// Looks for metal about marks.
    #[must_use]
    pub fn about(film: &GreyPlane, steps: Steps, marks: &LandmarkSet) -> Option<Metal> {
        let mut places = marks
            .iter()
            .flat_map(|(_, points)| points)
            .map(|p| steps.mm(*p));
        let first = places.next()?;
        let (low, high) = places.fold((first, first), |(l, h), p| (l.inf(&p), h.sup(&p)));
        let margin = Vector2::repeat(ABOUT);
        Metal::within(film, steps, (low - margin, high + margin))
    }

    fn within(
        film: &GreyPlane,
        steps: Steps,
        corners: (Vector2<f64>, Vector2<f64>),
    ) -> Option<Metal> {
        let size = steps.mm(FilmPx::new(film.width as f64, film.height as f64));
        if size.x * size.y > LARGEST {
            return None;
        }
        let Part { plane, corner } = Part::of(film, steps, corners);
        let seeds = mask(plane.width, plane.height, &thin(&plane));
        if !seeds.contains(&true) {
            return None;
        }
        let covered = grown(&plane, &seeds);
        Some(Metal {
            steps,
            corner,
            filled: filled(&plane, &covered),
            covered,
        })
    }

    /// What lies about the metal that covers a place of the film, mm.
    pub(super) fn filled(&self, p: Vector2<f64>) -> f32 {
        let p = p - self.corner;
        self.filled.sample(p.x, p.y)
    }

    /// Whether a place of the film, mm, is covered.
    pub(super) fn covers(&self, p: Vector2<f64>) -> bool {
        let p = p - self.corner;
        let (x, y) = (p.x.floor(), p.y.floor());
        x >= 0.0
            && y >= 0.0
            && (x as usize) < self.filled.width
            && (y as usize) < self.filled.height
            && self.covered[y as usize * self.filled.width + x as usize]
    }

    /// The film with what lies about the metal in its place.
    #[must_use]
    pub fn taken_out(&self, mut film: GreyPlane) -> GreyPlane {
        let steps = self.steps;
        let width = film.width;
        film.data
            .par_chunks_mut(width.max(1))
            .enumerate()
            .for_each(|(y, row)| {
                let at = |x: f64| steps.mm(FilmPx::new(x, y as f64 + 0.5));
                if at(0.0).y < self.corner.y {
                    return;
                }
                for (x, grey) in row.iter_mut().enumerate() {
                    let p = at(x as f64 + 0.5);
                    if self.covers(p) {
                        *grey = self.filled(p);
                    }
                }
            });
        film
    }

    /// The share of the line between two places of the film that metal covers, 0 to 1.
    #[must_use]
    pub fn over(&self, ends: [FilmPx; 2]) -> f64 {
        const SAMPLES: usize = 40;
        let [a, b] = ends.map(|e| self.steps.mm(e));
        let covered = (0..SAMPLES)
            .filter(|k| self.covers(a + (b - a) * ((*k as f64 + 0.5) / SAMPLES as f64)))
            .count();
        covered as f64 / SAMPLES as f64
    }
}

fn image(width: usize, height: usize, on: impl Iterator<Item = bool>) -> GrayImage {
    let data = on.map(|v| if v { 255 } else { 0 }).collect();
    GrayImage::from_vec(width as u32, height as u32, data).unwrap_or_default()
}

/// Long lines that stand out as no bone does.
fn mask(width: usize, height: usize, lines: &[f32]) -> Vec<bool> {
    let mut sizes: Vec<f32> = lines.iter().map(|v| v.abs()).filter(|v| *v > 0.0).collect();
    if sizes.len() < AREA {
        return vec![false; lines.len()];
    }
    let usual = (USUAL * sizes.len() as f64) as usize;
    sizes.select_nth_unstable_by(usual, f32::total_cmp);
    let high = STANDS_OUT * sizes[usual];
    let low = JOINED * high;
    if lines.iter().filter(|v| **v > high).count() < AREA {
        return vec![false; lines.len()];
    }
    let near = dilate(
        &image(width, height, lines.iter().map(|v| *v > low)),
        Norm::LInf,
        GAP,
    );
    let pieces = connected_components(&near, Connectivity::Eight, Luma([0u8]));
    let many = pieces.iter().max().map_or(0, |n| *n as usize) + 1;
    // Of each piece: how much stands out highly, and its extent.
    let mut seen = vec![(0usize, [usize::MAX, 0, usize::MAX, 0]); many];
    for (i, (piece, value)) in pieces.iter().zip(lines).enumerate() {
        if *value > low {
            let (area, [x0, x1, y0, y1]) = &mut seen[*piece as usize];
            let (x, y) = (i % width, i / width);
            *area += usize::from(*value > high);
            (*x0, *x1) = ((*x0).min(x), (*x1).max(x));
            (*y0, *y1) = ((*y0).min(y), (*y1).max(y));
        }
    }
    let long = |(area, [x0, x1, y0, y1]): &(usize, [usize; 4])| {
        *area >= AREA && ((x1 - x0) as f64).hypot((y1 - y0) as f64) >= LENGTH
    };
    let long: Vec<bool> = seen
        .iter()
        .enumerate()
        .map(|(piece, s)| piece > 0 && long(s))
        .collect();
    let pieces = pieces.iter().zip(lines);
    pieces
        .map(|(piece, value)| *value > low && long[*piece as usize])
        .collect()
}

/// What is metal about lines of it, with its edge.
fn grown(grey: &GreyPlane, seeds: &[bool]) -> Vec<bool> {
    let (w, h) = (grey.width, grey.height);
    let plane = |data: Vec<f32>| GreyPlane {
        width: w,
        height: h,
        data,
    };
    let share = |on: &[bool], r: usize| {
        let ones = on.iter().map(|v| f32::from(u8::from(*v))).collect();
        box_mean(&plane(ones), r).data
    };
    let widened = |on: &[bool], by: u8| -> Vec<bool> {
        let image = dilate(&image(w, h, on.iter().copied()), Norm::LInf, by);
        image.iter().map(|v| *v > 0).collect()
    };
    let near = share(seeds, NEAR);
    let mut metal = widened(seeds, SEED_EDGE);
    for _ in 0..ROUNDS {
        let free: Vec<bool> = metal.iter().map(|m| !m).collect();
        let without = grey.data.iter().zip(&free);
        let without = without.map(|(v, f)| if *f { *v } else { 0.0 }).collect();
        let about = box_mean(&plane(without), AROUND).data;
        let free = share(&free, AROUND);
        let out: Vec<f32> = (0..w * h)
            .map(|i| grey.data[i] - about[i] / free[i].max(1e-3))
            .collect();
        let of_seeds = out.iter().zip(seeds);
        let of_seeds = of_seeds.map(|(v, s)| if *s { *v } else { 0.0 }).collect();
        let usual = box_mean(&plane(of_seeds), NEAR).data;
        let candidate =
            |i: usize| seeds[i] || near[i] > 1e-3 && out[i] > SHARE * usual[i] / near[i];
        let candidates = image(w, h, (0..w * h).map(candidate));
        let pieces = connected_components(&candidates, Connectivity::Eight, Luma([0u8]));
        let mut joined = vec![false; pieces.iter().max().map_or(0, |n| *n as usize) + 1];
        for (piece, seed) in pieces.iter().zip(seeds) {
            joined[*piece as usize] |= *seed;
        }
        metal = pieces
            .iter()
            .map(|p| *p > 0 && joined[*p as usize])
            .collect();
    }
    widened(&metal, EDGE)
}

/// The film with covered pixels filled from what lies about them, the nearest most: across a rod the two
/// sides of a plate meet.
fn filled(plane: &GreyPlane, covered: &[bool]) -> GreyPlane {
    let (w, h) = (plane.width as isize, plane.height as isize);
    let rays: Vec<(f64, f64)> = (0..RAYS)
        .map(|k| (std::f64::consts::TAU * k as f64 / RAYS as f64).sin_cos())
        .collect();
    let fill = |i: usize| {
        let (x, y) = ((i as isize % w) as f64, (i as isize / w) as f64);
        let (mut sum, mut weights) = (0f32, 0f32);
        for (dy, dx) in &rays {
            let free = (1..=REACH).find_map(|s| {
                let p = (x + dx * s as f64, y + dy * s as f64);
                let (c, r) = (p.0.round() as isize, p.1.round() as isize);
                let at = (r.clamp(0, h - 1) * w + c.clamp(0, w - 1)) as usize;
                (!covered[at]).then_some((s, at))
            });
            if let Some((s, at)) = free {
                let weight = 1.0 / (s * s) as f32;
                sum += weight * plane.data[at];
                weights += weight;
            }
        }
        if weights > 0.0 {
            sum / weights
        } else {
            plane.data[i]
        }
    };
    let data = (0..plane.data.len())
        .into_par_iter()
        .map(|i| if covered[i] { fill(i) } else { plane.data[i] })
        .collect();
    GreyPlane { data, ..*plane }
}
