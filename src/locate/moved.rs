//! The spine of a film before, moved to where its vertebrae are found on another.

use super::anchors::spanned;
use super::chain::{Guess, unwrapped};
use super::pattern::Pattern;
use super::sought::{Reading, Sighting, Sought, turned};
use crate::film::GreyPlane;
use nalgebra::{Rotation2, Vector2};

/// How the film before is moved onto another for a start: so that the hints lie on each other, or the
/// middles of both films.
#[derive(Clone, Copy, Debug)]
pub(super) struct Moved {
    old: Vector2<f64>,
    new: Vector2<f64>,
    /// Turn and scale in one: a complex number.
    by: Vector2<f64>,
}

impl Moved {
    /// By the outermost of the hints (places along the pattern and on the film) where they lie far apart, else by
    /// their mean, or by the film's middle.
    pub(super) fn onto(
        pattern: &Pattern,
        hints: &[(f64, Vector2<f64>)],
        middle: Vector2<f64>,
    ) -> Moved {
        let as_it_is = |old, new| Moved {
            old,
            new,
            by: Vector2::x(),
        };
        match hints {
            [] => as_it_is(pattern.middle, middle),
            [first, .., last] if spanned(pattern, hints) => {
                let start = pattern.at(first.0);
                let (old, new) = (pattern.at(last.0) - start, last.1 - first.1);
                let d = old.norm_squared().max(1e-9);
                Moved {
                    old: start,
                    new: first.1,
                    by: Vector2::new(old.dot(&new) / d, (old.x * new.y - old.y * new.x) / d),
                }
            }
            _ => {
                let many = hints.len() as f64;
                let old: Vector2<f64> = hints.iter().map(|h| pattern.at(h.0)).sum();
                let new: Vector2<f64> = hints.iter().map(|h| h.1).sum();
                as_it_is(old / many, new / many)
            }
        }
    }

    fn place(&self, p: Vector2<f64>) -> Vector2<f64> {
        self.new + self.vector(p - self.old)
    }

    fn vector(&self, v: Vector2<f64>) -> Vector2<f64> {
        turned(self.by, v)
    }
}

/// What was found of a spine.
pub(super) struct Found {
    pub(super) plates: Vec<Guess>,
    /// Distances from each plate to the next, mm: those of the film before, as much longer as the spine is.
    pub(super) heights: Vec<f64>,
    /// How alike the vertebrae on the film are in the mean, 1 for the same.
    pub(super) alike: f64,
    /// How likely all is together.
    pub(super) score: f64,
    /// Whether the film was read as it is (+1) or as its negative (−1).
    pub(super) sign: f64,
}

/// Where the pattern's plates lie when its vertebrae are looked for on a levelled coarse film about where they
/// are moved to.
pub(super) fn found(
    film: &GreyPlane,
    pattern: &Pattern,
    moved: &Moved,
    hints: &[(f64, Vector2<f64>)],
    hand: f64,
    readings: &[Reading],
) -> Found {
    let mut looks = pattern.looks.clone();
    for l in &mut looks {
        l.middle = moved.place(l.middle);
        l.across = moved.vector(l.across).normalize();
    }
    let sized = spanned(pattern, hints);
    let hints: Vec<_> = hints
        .iter()
        .map(|(along, at)| (moved.place(pattern.at(*along)), *at))
        .collect();
    let scale = moved.by.norm();
    let chosen = Sought {
        looks: &looks,
        expected: &pattern.expected,
        film,
        down: hand,
        scale,
        hints: &hints,
        sized,
    }
    .seek(readings);
    let sightings = chosen.sightings;
    let mut before: Option<f64> = None;
    let plates: Vec<Guess> = pattern
        .plates
        .iter()
        .zip(pattern.course.iter().zip(&pattern.faces))
        .filter_map(|(p, (middle, face))| {
            let i = looks.iter().position(|l| l.level == p.level)?;
            let Sighting {
                middle: at, turn, ..
            } = sightings[i];
            let by = moved.vector(middle - pattern.looks[i].middle) / scale;
            let along = Rotation2::new(turn) * moved.vector(*face);
            let tilt = along.y.atan2(along.x);
            let tilt = before.map_or(tilt, |before| unwrapped(tilt, before));
            before = Some(tilt);
            Some(Guess {
                level: p.level,
                edge: p.edge,
                middle: at + Rotation2::new(turn) * by,
                tilt,
                half: p.half,
            })
        })
        .collect();
    let old = pattern.plates.windows(2).map(|w| w[1].along - w[0].along);
    let new = plates
        .windows(2)
        .map(|w| (w[1].middle - w[0].middle).norm());
    let longer = new.sum::<f64>() / old.clone().sum::<f64>().max(1e-6);
    let seen: Vec<f64> = sightings.iter().filter_map(|s| s.alike).collect();
    Found {
        heights: old.map(|h| h * longer).collect(),
        alike: seen.iter().sum::<f64>() / seen.len().max(1) as f64,
        plates,
        score: chosen.score,
        sign: chosen.sign,
    }
}
