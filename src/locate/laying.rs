//! A film made ready for marks to be laid on it, and their laying.

use super::anchors::spanned;
use super::answer::looked_again;
use super::carry::{Laid, LayError, Unmarked};
use super::chain::{Chain, Guess};
use super::evidence::Grid;
use super::likeness::Likeness;
use super::look::levelled;
use super::metal::Metal;
use super::midline::{Place, borders, nearest, place_at, resampled, trace};
use super::moved::{Found, Moved, found};
use super::overview::Overview;
use super::path::{cheapest, coarse, path};
use super::pattern::Pattern;
use super::refine::{LAID, Refined, Round, fit, near};
use super::seen::Seen;
use super::smooth::across;
use super::sought::Reading;
use super::told::{centred, seen, told_along};
use crate::film::GreyPlane;
use crate::landmark::Level;
use nalgebra::Vector2;
use std::borrow::Cow;

/// How much longer than the straight line between its ends a usual spine is tried to be.
const OVER_CHORD: [f64; 4] = [1.0, 1.1, 1.22, 1.35];
/// Vertebrae less alike than this in the mean are not taken for those of the film before.
const ALIKE: f64 = 0.5;
/// SD of a place that a hint gives, mm.
const HELD_SD: f64 = 1.5;
/// The overview is followed where it is so sure of the spine, in the mean.
const SEEN: f64 = 0.3;
/// How many times more plates must stand out of noise along another line, to be laid there instead.
const CLEARLY: f64 = 1.2;

const FIRST: Round = Round {
    grid: Grid {
        offsets: (16, 0.75),
        turns: (4, 0.06),
        openings: (3, 3.0),
    },
    body: 0.0,
    place_sd: 5.0,
    height_sd: 1.5,
    tilt_sd: 0.06,
};

/// A film on which a pattern is laid: with bone bright, and without metal where that is looked past.
pub(super) struct Laying<'a> {
    film: Unmarked<'a>,
    pattern: &'a Pattern,
    /// Hints: places along the pattern and on the film, mm, from the head down.
    anchors: &'a [(f64, Vector2<f64>)],
    plane: Cow<'a, GreyPlane>,
    /// Whether it is the negative of the film.
    dark: bool,
    metal: Option<Metal>,
    /// The film at 2 mm a pixel, and the same levelled.
    coarse: GreyPlane,
    levelled: GreyPlane,
}

impl<'a> Laying<'a> {
    /// The film, or its negative where bone is `dark`.
    pub(super) fn on(
        film: Unmarked<'a>,
        dark: bool,
        pattern: &'a Pattern,
        anchors: &'a [(f64, Vector2<f64>)],
    ) -> Laying<'a> {
        let mut plane = Cow::Borrowed(film.plane);
        if dark {
            plane = Cow::Owned(plane.negative());
        }
        let metal = film
            .past_metal
            .then(|| Metal::on(&plane, film.steps))
            .flatten();
        if let Some(metal) = &metal {
            plane = Cow::Owned(metal.taken_out(plane.into_owned()));
        }
        let coarse = coarse(&plane, film.steps);
        Laying {
            levelled: levelled(&coarse),
            film,
            pattern,
            anchors,
            plane,
            dark,
            metal,
            coarse,
        }
    }

    fn seen<'b>(&'b self, metal: Option<&'b Metal>) -> Seen<'b> {
        Seen::new(&self.plane, self.film.steps, metal)
    }

    /// Fits plates to the film: them with their quality, and how far in all they stand out of noise.
    fn fitted(
        &self,
        mut chain: Chain,
        heights: &[f64],
        before: Option<&Likeness>,
    ) -> (Vec<Refined>, f64) {
        let part = near(self.seen(None), &chain, LAID);
        let film = part.seen(self.metal.as_ref());
        let beliefs = fit(film, &mut chain, heights, &FIRST, before);
        let distinct = beliefs.iter().map(|b| b.distinct).sum();
        // None has a place to fall back to.
        let laid = chain.clone();
        (
            looked_again(film, self.film.steps, &laid, chain, &beliefs),
            distinct,
        )
    }

    /// The chain of plates laid, those that a hint names held there.
    fn chain(&self, plates: Vec<Guess>) -> Chain {
        let held = self.pattern.plates.iter().enumerate().filter_map(|(i, p)| {
            let anchor = self.anchors.iter().find(|a| (a.0 - p.along).abs() < 1e-6)?;
            Some((i, anchor.1, HELD_SD))
        });
        Chain {
            held: held.collect(),
            ..Chain::new(plates, self.film.hand, self.pattern.lateral, 2.0)
        }
    }

    /// Where the feet lie: by the outermost hints where they lie far apart, else as on the film before.
    fn feet(&self) -> Vector2<f64> {
        match (self.anchors, &self.pattern.course[..]) {
            ([first, .., last], _) if spanned(self.pattern, self.anchors) => last.1 - first.1,
            (_, [first, .., last]) => last - first,
            _ => Vector2::y(),
        }
    }

    /// The film as it is, or its negative.
    fn reading(&self, negative: bool) -> Reading {
        let (sign, film) = if negative {
            (-1.0, Cow::Owned(self.coarse.negative()))
        } else {
            (1.0, Cow::Borrowed(&self.coarse))
        };
        Reading {
            sign,
            overview: Overview::of(&film, self.pattern.lateral, self.feet()),
        }
    }

    /// Whether bone is dark: on the film or on its negative the overview sees more of a spine. None where on neither.
    pub(super) fn dark(&self) -> Option<bool> {
        let [as_it_is, negative] = [false, true].map(|negative| {
            let overview = self.reading(negative).overview;
            seen(&overview, &self.told_course(&overview))
        });
        (as_it_is.max(negative) >= SEEN).then_some(negative > as_it_is)
    }

    /// The pattern's vertebrae looked for over the film; with `either`, or over its negative.
    pub(super) fn sought(&self, either: bool) -> Found {
        let mut readings = vec![self.reading(false)];
        if either {
            readings.push(self.reading(true));
        }
        let middle = self.film.steps.middle(&self.plane);
        let moved = Moved::onto(self.pattern, self.anchors, middle);
        found(
            &self.levelled,
            self.pattern,
            &moved,
            self.anchors,
            self.film.hand,
            &readings,
        )
    }

    /// The pattern's vertebrae where they were found to look as they did on the film before.
    pub(super) fn carried(self, found: Found) -> Result<Laid, LayError> {
        if !spanned(self.pattern, self.anchors) && found.alike < ALIKE {
            return Err(LayError::Unlike);
        }
        let likeness = Likeness::of(&self.plane, self.film.steps, &self.pattern.pieces);
        let mut chain = self.chain(found.plates);
        likeness.place(&mut chain);
        let (plates, _) = self.fitted(chain, &found.heights, Some(&likeness));
        Ok(Laid {
            plates,
            dark: self.dark,
            alike: Some(found.alike),
            metal: self.metal,
        })
    }

    /// A usual spine laid where the overview tells the spine and its levels; on a film from front or back unless it
    /// stands out clearly more where vertebrae look as they usually do. Where the overview does not see a spine, along
    /// those or along the path of what is bright: it leaves the spine where a mediastinum, or on a lateral film what
    /// lies behind the bodies, is brighter than they are.
    pub(super) fn proposed(self, first: &(f64, Vector2<f64>), last: &(f64, Vector2<f64>)) -> Laid {
        let along = |chain: Chain| {
            // Bodies keep their heights from film to film: the laid ones hold throughout.
            let heights = chain.heights();
            self.fitted(chain, &heights, None)
        };
        let reading = self.reading(false);
        let course = self.told_course(&reading.overview);
        let sees = seen(&reading.overview, &course) >= SEEN;
        let (mut plates, distinct) = if sees {
            along(self.told(&reading.overview, &course))
        } else {
            along(self.along_line(&self.path(first.1, last.1)))
        };
        if !(sees && self.pattern.lateral) {
            let clearly = if sees { CLEARLY } else { 1.0 };
            let other = along(self.along_line(&self.usual_middles(first, last, &reading)));
            if other.1 > clearly * distinct {
                plates = other.0;
            }
        }
        // Once more from where they were found: across a line down the spine is where few plates lie.
        let (plates, _) = along(self.chain_of(&plates));
        Laid {
            plates,
            dark: self.dark,
            alike: None,
            metal: self.metal,
        }
    }

    /// The chain of plates that were found.
    fn chain_of(&self, found: &[Refined]) -> Chain {
        let mut plates: Vec<Guess> = Vec::new();
        for x in found {
            let ends = x.ends.map(|e| self.film.steps.mm(e));
            plates.push(Guess::between(x.level, x.edge, ends, plates.last()));
        }
        self.chain(plates)
    }

    /// The path of what is bright from hint to hint.
    fn path(&self, first: Vector2<f64>, last: Vector2<f64>) -> Vec<Vector2<f64>> {
        // A spine is expected near the straight line, very loosely.
        let guide: Vec<Vector2<f64>> = (0..=20)
            .map(|i| first + (last - first) * f64::from(i) / 20.0)
            .collect();
        self.between_hints(|from, to| path(&self.coarse, from, to, &guide))
    }

    /// The points of a line found between each hint and the next.
    fn between_hints(
        &self,
        line: impl Fn(Vector2<f64>, Vector2<f64>) -> Vec<Vector2<f64>>,
    ) -> Vec<Vector2<f64>> {
        let mut points: Vec<Vector2<f64>> = Vec::new();
        for pair in self.anchors.windows(2) {
            let part = line(pair[0].1, pair[1].1);
            points.extend(part.iter().skip(usize::from(!points.is_empty())));
        }
        points
    }

    /// The middles of plates where the film shows what usually looks like vertebrae.
    fn usual_middles(
        &self,
        first: &(f64, Vector2<f64>),
        last: &(f64, Vector2<f64>),
        reading: &Reading,
    ) -> Vec<Vector2<f64>> {
        let readings = std::slice::from_ref(reading);
        let chord = (last.1 - first.1).norm() / (last.0 - first.0).max(1e-6);
        let of_size = |longer: f64| {
            let size = chord * longer;
            let pattern = self.pattern.drawn(size, self.film.hand);
            let anchors: Vec<_> = self.anchors.iter().map(|a| (a.0 * size, a.1)).collect();
            let moved = Moved::onto(&pattern, &anchors, Vector2::zeros());
            found(
                &self.levelled,
                &pattern,
                &moved,
                &anchors,
                self.film.hand,
                readings,
            )
        };
        let best = OVER_CHORD[1..]
            .iter()
            .fold(of_size(OVER_CHORD[0]), |best, longer| {
                let other = of_size(*longer);
                if other.score > best.score {
                    other
                } else {
                    best
                }
            });
        best.plates.iter().map(|p| p.middle).collect()
    }

    /// The pattern's plates along a line down the spine on the film.
    fn along_line(&self, points: &[Vector2<f64>]) -> Chain {
        let found = self.guide(points);
        let by = borders(self.pattern.lateral, self.film.hand);
        let mut course = trace(self.seen(None), &found, by);
        if !self.pattern.lateral {
            // Once more about where it was found: the path may run beside the spine. On a lateral film that
            // leads further off it.
            for (place, guide) in course.iter_mut().zip(&found) {
                place.half = guide.half;
            }
            course = trace(self.seen(None), &course, by);
        }
        self.along_course(&course, &self.held_on(&course))
    }

    /// The course of the spine from hint to hint where the overview tells it.
    fn told_course(&self, overview: &Overview) -> Vec<Place> {
        let points = self.between_hints(|from, to| {
            cheapest(&self.coarse, from, to, |_, p| overview.at(p).cost())
        });
        centred(overview, self.guide(&points))
    }

    /// The pattern's plates along that course, where the overview tells their levels.
    fn told(&self, overview: &Overview, course: &[Place]) -> Chain {
        let (told, held) = (|p| overview.at(p), self.held_on(course));
        let on = told_along(told, course, self.pattern, &held);
        self.along_course(course, &on)
    }

    /// A line down the spine as places with half widths at the film's own scale, so far beyond its ends as the
    /// pattern goes.
    fn guide(&self, points: &[Vector2<f64>]) -> Vec<Place> {
        let (pattern, anchors) = (self.pattern, self.anchors);
        let (first, last) = (anchors[0], anchors[anchors.len() - 1]);
        let scale = length(points) / (last.0 - first.0).max(1.0);
        let halves: Vec<f64> = (0..points.len())
            .map(|i| {
                let s = first.0 + (last.0 - first.0) * i as f64 / (points.len() - 1).max(1) as f64;
                pattern.half_at(s) * scale
            })
            .collect();
        let beyond = ((pattern.plates.last().map_or(0.0, |p| p.along) - last.0)
            .max(first.0 - pattern.plates[0].along)
            .max(0.0)
            * scale)
            + 8.0;
        resampled(points, &halves, beyond)
    }

    /// The hints as distances along the pattern and along a course on the film.
    fn held_on(&self, course: &[Place]) -> Vec<(f64, f64)> {
        self.anchors
            .iter()
            .filter_map(|(along, p)| Some((*along, nearest(course, *p)?.along)))
            .collect()
    }

    /// The pattern's plates along a course, stretched evenly between places given as distances along both.
    fn along_course(&self, course: &[Place], on: &[(f64, f64)]) -> Chain {
        let pattern = self.pattern;
        let at = |along: f64| {
            let k = on.partition_point(|a| a.0 <= along).clamp(1, on.len() - 1);
            let (a, b) = (on[k - 1], on[k]);
            a.1 + (along - a.0) * (b.1 - a.1) / (b.0 - a.0).max(1e-6)
        };
        let scale = (on[on.len() - 1].1 - on[0].1) / (on[on.len() - 1].0 - on[0].0).max(1e-6);
        let mut tilt_before: Option<f64> = None;
        let plates = pattern
            .plates
            .iter()
            .map(|p| {
                let s = at(p.along);
                let (middle, toward) = place_at(course, s);
                let mut tilt = across(toward, self.film.hand, tilt_before.unwrap_or(0.0));
                if let Some(before) = tilt_before.filter(|_| p.level == Level::S1) {
                    tilt = before + p.lean;
                }
                tilt_before = Some(tilt);
                Guess {
                    level: p.level,
                    edge: p.edge,
                    middle,
                    tilt,
                    half: p.half * scale,
                }
            })
            .collect();
        self.chain(plates)
    }
}

fn length(points: &[Vector2<f64>]) -> f64 {
    points.windows(2).map(|w| (w[1] - w[0]).norm()).sum()
}
