//! A film as plates are looked for on it: whole or the part about them, past its metal or as it is.

use super::chain::{Chain, Guess, Steps};
use super::metal::Metal;
use super::reduce::reduced_about;
use crate::film::GreyPlane;
use crate::units::FilmPx;
use nalgebra::Vector2;
use rayon::prelude::*;
use std::borrow::Cow;

/// A film on which plates are looked for, bone bright, and the metal that was found on it.
#[derive(Clone, Copy)]
pub(super) struct Seen<'a> {
    plane: &'a GreyPlane,
    steps: Steps,
    /// Where the plane begins on the film, mm.
    corner: Vector2<f64>,
    pub(super) metal: Option<&'a Metal>,
}

impl<'a> Seen<'a> {
    pub(super) fn new(plane: &'a GreyPlane, steps: Steps, metal: Option<&'a Metal>) -> Seen<'a> {
        Seen {
            plane,
            steps,
            corner: Vector2::zeros(),
            metal,
        }
    }

    /// The same past other metal.
    pub(super) fn past(self, metal: Option<&'a Metal>) -> Seen<'a> {
        Seen { metal, ..self }
    }

    /// A place of the film, mm, in pixels of the plane.
    pub(super) fn pixel(&self, p: Vector2<f64>) -> FilmPx {
        self.steps.film(p - self.corner)
    }

    /// The greys from a place on, mm, so far apart, as the film is.
    pub(super) fn greys(&self, from: Vector2<f64>, by: Vector2<f64>, out: &mut [f32]) {
        let (from, by) = (self.pixel(from), self.steps.film(by));
        self.plane.sample_line([from.x, from.y], [by.x, by.y], out);
    }

    /// The greys from a place on, mm, so far apart, and which of them metal covers: there what lies about it.
    pub(super) fn line(
        &self,
        from: Vector2<f64>,
        by: Vector2<f64>,
        out: &mut [f32],
        covered: &mut [bool],
    ) {
        self.greys(from, by, out);
        covered.fill(false);
        let Some(metal) = self.metal else { return };
        for (k, (grey, covered)) in out.iter_mut().zip(covered).enumerate() {
            let p = from + by * k as f64;
            if metal.covers(p) {
                (*grey, *covered) = (metal.filled(p), true);
            }
        }
    }
}

/// The part of a film about a chain, each pixel the mean of as many as fit into a size.
pub(super) struct Part<'a> {
    plane: Cow<'a, GreyPlane>,
    steps: Steps,
    corner: Vector2<f64>,
}

impl<'a> Part<'a> {
    /// So many half widths along each plate and across it as `reach` says, and `more` mm each way, of pixels of `size` mm
    /// at most; the film itself where its pixels are that large.
    pub(super) fn about(
        film: Seen<'a>,
        chain: &Chain,
        size: f64,
        (reach, more): ([f64; 2], f64),
    ) -> Part<'a> {
        if 2.0 * film.steps.column.min(film.steps.row) > size {
            return Part {
                plane: Cow::Borrowed(film.plane),
                steps: film.steps,
                corner: film.corner,
            };
        }
        // Each plate with the next: what lies between them is looked at too.
        let rectangle = |p: &Guess| {
            let (along, across) = (p.along(), Vector2::new(p.along().y, p.along().x));
            let far = (along.abs() * reach[0] + across.abs() * reach[1]) * p.half;
            let far = far.add_scalar(more);
            [p.middle - far, p.middle + far].map(|corner| corner - film.corner)
        };
        let plates: Vec<_> = chain.plates.iter().map(rectangle).collect();
        let pairs: Vec<_> = (0..plates.len())
            .map(|i| {
                let ([low, high], [a, b]) = (plates[i], plates[(i + 1).min(plates.len() - 1)]);
                [low.inf(&a), high.sup(&b)]
            })
            .collect();
        let (plane, steps, corner) = reduced_about(film.plane, film.steps, &pairs, size);
        Part {
            plane: Cow::Owned(plane),
            steps,
            corner: film.corner + corner,
        }
    }

    pub(super) fn seen<'b>(&'b self, metal: Option<&'b Metal>) -> Seen<'b> {
        Seen {
            plane: &self.plane,
            steps: self.steps,
            corner: self.corner,
            metal,
        }
    }

    /// The same with what metal covers filled.
    pub(super) fn past(self, metal: &Metal) -> Part<'a> {
        let Part {
            plane,
            steps,
            corner,
        } = self;
        let mut plane = plane.into_owned();
        let width = plane.width.max(1);
        plane.data.par_iter_mut().enumerate().for_each(|(i, v)| {
            let pixel = FilmPx::new((i % width) as f64 + 0.5, (i / width) as f64 + 0.5);
            let place = corner + steps.mm(pixel);
            if metal.covers(place) {
                *v = metal.filled(place);
            }
        });
        Part {
            plane: Cow::Owned(plane),
            steps,
            corner,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::landmark::{Edge, Level};

    #[test]
    fn a_place_shows_the_same_grey_on_the_film_on_a_part_and_on_a_part_of_that() {
        // A ramp: its value tells the place.
        let (width, height) = (1200usize, 900usize);
        let plane = GreyPlane {
            width,
            height,
            data: (0..width * height)
                .map(|i| (i % width) as f32 + 2.0 * (i / width) as f32)
                .collect(),
        };
        let steps = Steps {
            column: 0.1,
            row: 0.12,
        };
        let film = Seen::new(&plane, steps, None);
        let plate = |y: f64| Guess {
            level: Level::S1,
            edge: Edge::Upper,
            middle: Vector2::new(60.0, y),
            tilt: 0.1,
            half: 8.0,
        };
        let chain = Chain::new(vec![plate(50.0), plate(60.0)], 1.0, false, 2.0);
        let fine = Part::about(film, &chain, 0.25, ([2.0; 2], 15.0));
        let coarse = Part::about(fine.seen(None), &chain, 0.5, ([2.0; 2], 0.0));
        // 2 half widths along the plate and across it lie 17.5 mm to the sides of this one.
        assert!(fine.plane.width < 330 && coarse.plane.width < fine.plane.width / 2);
        for at in [[60.0, 50.0], [45.3, 44.4], [70.1, 73.9]].map(Vector2::from) {
            let [a, b, c] = [film, fine.seen(None), coarse.seen(None)].map(|seen| {
                let mut grey = [0f32];
                seen.greys(at, Vector2::zeros(), &mut grey);
                grey[0]
            });
            assert!((a - b).abs() < 0.05 && (a - c).abs() < 0.05, "{a} {b} {c}");
        }
        // What is as coarse already stays.
        let same = Part::about(film, &chain, 0.19, ([2.0; 2], 15.0));
        assert!(matches!(same.plane, Cow::Borrowed(_)));
    }
}
