//! A film whose grey is kept within what its surroundings show: rods, screws, letters and markers outshine
//! bones, and without bounds the search and the fit follow them.

use super::chain::Steps;
use super::path::{COARSE, coarse};
use super::reduce::reduced;
use crate::film::{GreyPlane, box_mean};
use crate::units::FilmPx;
use nalgebra::Vector2;
use rayon::prelude::*;
use std::borrow::Cow;

/// Surroundings, mm each way.
const AROUND: f64 = 20.0;
/// SDs of its surroundings by which a grey may lie off their mean; what lies further out counts as far in
/// both, found in this many rounds (chosen on films of other origin, see docs/PERFORMANCE.md).
const WITHIN: f32 = 1.5;
const ROUNDS: usize = 6;
/// Share of the film's mean SD that every place is allowed: plain parts are not noise.
const LEAST: f32 = 0.2;
/// Samples each way within a coarse pixel.
const SAMPLES: usize = 3;

/// A film and the bounds of its grey, at [`COARSE`] mm a pixel.
#[derive(Clone)]
pub(super) struct Tempered<'a> {
    plane: Cow<'a, GreyPlane>,
    steps: Steps,
    mean: GreyPlane,
    reach: GreyPlane,
}

impl<'a> Tempered<'a> {
    pub(super) fn of(plane: &'a GreyPlane, steps: Steps) -> Tempered<'a> {
        let own = sketch(plane, steps);
        let radius = (AROUND / COARSE) as usize;
        let mut kept = own.clone();
        let (mut mean, mut sd) = around(&kept, radius);
        for _ in 1..ROUNDS {
            for (i, v) in kept.data.iter_mut().enumerate() {
                *v = within(own.data[i], mean.data[i], WITHIN * sd.data[i]);
            }
            (mean, sd) = around(&kept, radius);
        }
        let least = LEAST * sd.data.iter().sum::<f32>() / sd.data.len().max(1) as f32;
        sd.data.iter_mut().for_each(|s| *s = WITHIN * (*s + least));
        Tempered {
            plane: Cow::Borrowed(plane),
            steps,
            mean,
            reach: sd,
        }
    }

    /// Grey at a place, mm.
    pub(super) fn grey(&self, at: Vector2<f64>) -> f32 {
        let p = self.steps.film(at);
        self.bounded(self.plane.sample(p.x, p.y), at)
    }

    fn bounded(&self, grey: f32, at: Vector2<f64>) -> f32 {
        let p = at / COARSE;
        within(
            grey,
            self.mean.sample(p.x, p.y),
            self.reach.sample(p.x, p.y),
        )
    }

    /// The film's negative, within the same bounds.
    pub(super) fn negative(&self) -> Tempered<'static> {
        Tempered {
            plane: Cow::Owned(self.plane.negative()),
            mean: self.mean.negative(),
            reach: self.reach.clone(),
            ..*self
        }
    }

    /// The film at [`COARSE`] mm a pixel.
    pub(super) fn coarse(&self) -> GreyPlane {
        let steps = Steps {
            column: COARSE,
            row: COARSE,
        };
        self.bound(coarse(&self.plane, self.steps), steps)
    }

    /// The film reduced, and its pixels.
    pub(super) fn reduced(&self) -> (GreyPlane, Steps) {
        let (small, steps) = reduced(&self.plane, self.steps);
        (self.bound(small, steps), steps)
    }

    fn bound(&self, mut small: GreyPlane, steps: Steps) -> GreyPlane {
        let width = small.width.max(1);
        small
            .data
            .par_chunks_mut(width)
            .enumerate()
            .for_each(|(y, row)| {
                for (x, v) in row.iter_mut().enumerate() {
                    let at = steps.mm(FilmPx::new(x as f64 + 0.5, y as f64 + 0.5));
                    *v = self.bounded(*v, at);
                }
            });
        small
    }
}

/// A grey brought within `reach` of a mean.
fn within(grey: f32, mean: f32, reach: f32) -> f32 {
    grey.max(mean - reach).min(mean + reach)
}

/// Mean and SD about each place.
fn around(film: &GreyPlane, radius: usize) -> (GreyPlane, GreyPlane) {
    let mean = box_mean(film, radius);
    let mut squares = film.clone();
    for (v, m) in squares.data.iter_mut().zip(&mean.data) {
        *v = (*v - m) * (*v - m);
    }
    let mut sd = box_mean(&squares, radius);
    // A running mean of squares may come out a little below nought.
    sd.data.iter_mut().for_each(|v| *v = v.max(0.0).sqrt());
    (mean, sd)
}

/// The film at [`COARSE`] mm a pixel from a few samples of each.
fn sketch(plane: &GreyPlane, steps: Steps) -> GreyPlane {
    let cells = |n: usize, step: f64| ((n as f64 * step / COARSE).ceil() as usize).max(1);
    let (width, height) = (
        cells(plane.width, steps.column),
        cells(plane.height, steps.row),
    );
    let part = |i: usize, k: usize| (i as f64 + (k as f64 + 0.5) / SAMPLES as f64) * COARSE;
    let mut data = vec![0f32; width * height];
    data.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        for (x, v) in row.iter_mut().enumerate() {
            let mut sum = 0.0;
            for j in 0..SAMPLES {
                for i in 0..SAMPLES {
                    let p = steps.film(Vector2::new(part(x, i), part(y, j)));
                    sum += plane.at(p.x as isize, p.y as isize);
                }
            }
            *v = sum / (SAMPLES * SAMPLES) as f32;
        }
    });
    GreyPlane {
        width,
        height,
        data,
    }
}
