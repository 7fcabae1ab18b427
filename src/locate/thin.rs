//! What is thin and long and bright on a film: rods, and fainter the borders of bones.

use super::chain::Steps;
use crate::film::GreyPlane;
use crate::units::FilmPx;
use nalgebra::Vector2;
use rayon::prelude::*;

/// Directions looked in, and over what length, mm.
const DIRECTIONS: usize = 8;
const LENGTH: i32 = 9;
/// A line reaches as far as this from its middle to each side, and its surroundings are read there, mm: rods
/// are 3.5 to 6.5 mm wide.
const INSIDE: f64 = 1.0;
const OUTSIDE: f64 = 5.5;

/// A part of a film with square pixels of one millimetre, each the mean of the film's that it covers.
pub(super) struct Part {
    pub(super) plane: GreyPlane,
    /// Its corner on the film, mm.
    pub(super) corner: Vector2<f64>,
}

impl Part {
    /// The part of a film between two corners, mm, as far as it lies on the film.
    pub(super) fn of(
        film: &GreyPlane,
        steps: Steps,
        (low, high): (Vector2<f64>, Vector2<f64>),
    ) -> Part {
        let end = steps.mm(FilmPx::new(film.width as f64, film.height as f64));
        let low = low.map(|v| v.max(0.0).floor());
        let high = high.inf(&end);
        let size = (high - low).map(|v| v.max(1.0) as usize);
        let span = |from: f64, step: f64, most: usize| {
            let first = (from / step).round() as usize;
            let last = ((from + 1.0) / step).round() as usize;
            let first = first.min(most - 1);
            first..last.clamp(first + 1, most)
        };
        let columns: Vec<_> = (0..size.x)
            .map(|x| span(low.x + x as f64, steps.column, film.width))
            .collect();
        let mut data = vec![0f32; size.x * size.y];
        data.par_chunks_mut(size.x)
            .enumerate()
            .for_each(|(y, out)| {
                let rows = span(low.y + y as f64, steps.row, film.height);
                let many = rows.len() as f32;
                for line in rows.map(|r| &film.data[r * film.width..(r + 1) * film.width]) {
                    for (o, c) in out.iter_mut().zip(&columns) {
                        let own = &line[c.clone()];
                        *o += own.iter().sum::<f32>() / (own.len() as f32 * many);
                    }
                }
            });
        Part {
            plane: GreyPlane {
                width: size.x,
                height: size.y,
                data,
            },
            corner: low,
        }
    }
}

/// How much brighter each pixel is, as the middle of a line, than both sides of it, in the direction in which
/// it is most. Below nought where it is not.
pub(super) fn thin(plane: &GreyPlane) -> Vec<f32> {
    let (w, h) = (plane.width, plane.height);
    let along: Vec<Vector2<f64>> = (0..DIRECTIONS)
        .map(|k| {
            let angle = std::f64::consts::PI * k as f64 / DIRECTIONS as f64;
            Vector2::new(angle.cos(), angle.sin())
        })
        .collect();
    let step = |v: Vector2<f64>| (v.x.round() as isize, v.y.round() as isize);
    let means: Vec<GreyPlane> = along
        .par_iter()
        .map(|d| {
            let at: Vec<_> = (-LENGTH / 2..=LENGTH / 2)
                .map(|s| step(d * f64::from(s)))
                .collect();
            GreyPlane {
                width: w,
                height: h,
                data: shifted_mean(plane, &at),
            }
        })
        .collect();
    let mut out = vec![f32::MIN; w * h];
    out.par_chunks_mut(w).enumerate().for_each(|(y, out)| {
        for (mean, d) in means.iter().zip(&along) {
            let aside = Vector2::new(-d.y, d.x);
            let [a, b, c, e] = [-INSIDE, INSIDE, -OUTSIDE, OUTSIDE].map(|s| step(aside * s));
            for (x, most) in out.iter_mut().enumerate() {
                let at = |(dx, dy): (isize, isize)| mean.at(x as isize + dx, y as isize + dy);
                let inside = at((0, 0)).min(at(a)).min(at(b));
                *most = most.max(inside - at(c).max(at(e)));
            }
        }
    });
    out
}

/// Mean of a plane's values at some steps from each pixel, its border repeated.
fn shifted_mean(plane: &GreyPlane, at: &[(isize, isize)]) -> Vec<f32> {
    let (w, h) = (plane.width as isize, plane.height as isize);
    let share = 1.0 / at.len() as f32;
    let mut out = vec![0f32; plane.data.len()];
    for (y, out) in out.chunks_mut(plane.width).enumerate() {
        for (dx, dy) in at {
            let row = (y as isize + dy).clamp(0, h - 1) as usize * plane.width;
            let line = &plane.data[row..row + plane.width];
            for (x, o) in out.iter_mut().enumerate() {
                *o += share * line[(x as isize + dx).clamp(0, w - 1) as usize];
            }
        }
    }
    out
}
