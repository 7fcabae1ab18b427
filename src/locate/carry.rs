//! Marks laid on a film that has none: last film's vertebrae, or those of a usual spine, along the
//! spine found on the film.

use super::chain::{Chain, Guess, Steps};
use super::evidence::Grid;
use super::midline::{Place, nearest, resampled, trace};
use super::path::{coarse, find_piece, path};
use super::refine::{Refined, Round, fit};
use crate::film::GreyPlane;
use crate::landmark::{Edge, Landmark, LandmarkSet, Level};
use crate::units::FilmPx;
use nalgebra::Vector2;

/// A spine's plates in order with their heights and half widths, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Pattern {
    plates: Vec<Spaced>,
    /// The line through the middles on the film it comes from, mm; empty for a usual spine.
    course: Vec<Vector2<f64>>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Spaced {
    level: Level,
    edge: Edge,
    /// Distance along the spine from the first plate.
    along: f64,
    half: f64,
}

/// Adult body heights and discs below, and half widths, mm, C7 to L5 and S1: one CT, measured (to L2),
/// below it remembered from Panjabi 1992; only their proportions are used.
const USUAL: [(&str, f64, f64, f64); 19] = [
    ("C7", 13.1, 5.9, 11.5),
    ("T1", 15.6, 3.4, 13.5),
    ("T2", 16.2, 3.4, 13.2),
    ("T3", 16.6, 2.4, 12.6),
    ("T4", 17.4, 2.8, 12.4),
    ("T5", 17.7, 2.4, 12.7),
    ("T6", 18.1, 3.0, 13.0),
    ("T7", 18.6, 3.3, 14.0),
    ("T8", 16.9, 4.3, 14.7),
    ("T9", 18.0, 3.8, 15.5),
    ("T10", 19.6, 3.9, 17.0),
    ("T11", 21.6, 6.1, 18.4),
    ("T12", 23.4, 6.2, 20.5),
    ("L1", 24.1, 6.7, 20.8),
    ("L2", 25.0, 9.3, 21.5),
    ("L3", 23.8, 10.3, 23.0),
    ("L4", 24.1, 10.9, 24.0),
    ("L5", 22.9, 10.0, 24.2),
    ("S1", 0.0, 0.0, 25.0),
];

impl Pattern {
    /// The spine marked on a film; none with fewer than four complete plates.
    #[must_use]
    pub fn of(marks: &LandmarkSet, lateral: bool, steps: Steps) -> Option<Pattern> {
        let chain = Chain::of(marks, lateral, steps, 1.0)?;
        if chain.plates.len() < 4 {
            return None;
        }
        let mut along = 0.0;
        let mut plates = Vec::new();
        let mut last: Option<&Guess> = None;
        for p in &chain.plates {
            if let Some(last) = last {
                along += (p.middle - last.middle).norm();
            }
            plates.push(Spaced {
                level: p.level,
                edge: p.edge,
                along,
                half: p.half,
            });
            last = Some(p);
        }
        Some(Pattern {
            plates,
            course: chain.plates.iter().map(|p| p.middle).collect(),
        })
    }

    /// The same spine seen from the other side: films hung the other way round.
    #[must_use]
    pub fn mirrored(mut self) -> Pattern {
        self.course.iter_mut().for_each(|p| p.x = -p.x);
        self
    }

    /// Without what lies beyond the hints by more than a level: nothing is proposed off the hints.
    #[must_use]
    pub fn between(mut self, hints: &[(Landmark, FilmPx)]) -> Pattern {
        let levels: Vec<Level> = hints.iter().filter_map(|h| h.0.level()).collect();
        if let (Some(first), Some(last)) = (levels.iter().min(), levels.iter().max()) {
            self.plates
                .retain(|p| p.level >= *first && p.level <= *last);
        }
        self
    }

    /// How much longer a pixel must be than taken, for the hints to lie as far apart as the pattern is
    /// long (a spine's chord is a little shorter than its course). None without two hints.
    #[must_use]
    pub fn stretch(&self, hints: &[(Landmark, FilmPx)], steps: Steps) -> Option<f64> {
        let mut places: Vec<(f64, Vector2<f64>)> = hints
            .iter()
            .filter_map(|h| Some((self.along_of(h.0)?, steps.mm(h.1))))
            .collect();
        places.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (first, last) = (places.first()?, places.last()?);
        let chord = (last.1 - first.1).norm();
        (chord > 0.0 && last.0 > first.0).then(|| 0.93 * (last.0 - first.0) / chord)
    }

    /// A usual spine from C7 to S1, without the levels the patient lacks. On a lateral film plates are
    /// about as deep as they are wide in the thorax and less in the lumbar spine.
    #[must_use]
    pub fn usual(absent: &[Level], lateral: bool) -> Pattern {
        let mut plates = Vec::new();
        let mut along = 0.0;
        for (name, body, disc, half) in USUAL {
            let Ok(level) = name.parse::<Level>() else {
                continue;
            };
            if absent.contains(&level) {
                continue;
            }
            let half = if lateral { half.min(17.0) * 0.95 } else { half };
            for (edge, at) in [(Edge::Upper, along), (Edge::Lower, along + body)] {
                if body > 0.0 || edge == Edge::Upper {
                    plates.push(Spaced {
                        level,
                        edge,
                        along: at,
                        half,
                    });
                }
            }
            along += body + disc;
        }
        Pattern {
            plates,
            course: Vec::new(),
        }
    }

    /// The distance along the spine of what a mark names.
    fn along_of(&self, name: Landmark) -> Option<f64> {
        let at = |level: Level, edge: Edge| {
            let p = self
                .plates
                .iter()
                .find(|p| p.level == level && p.edge == edge)?;
            Some(p.along)
        };
        match name {
            Landmark::Plate(level, edge, _) => at(level, edge),
            Landmark::Center(level) => match (at(level, Edge::Upper), at(level, Edge::Lower)) {
                (Some(a), Some(b)) => Some((a + b) / 2.0),
                // The sacrum has no lower plate here: its middle lies a body's half below the upper one.
                (Some(a), None) => Some(a + 12.0 * self.size()),
                _ => None,
            },
            _ => None,
        }
    }

    /// Size against an adult spine, from the mean body height where it is known.
    fn size(&self) -> f64 {
        let first = self.plates.first().map_or(0.0, |p| p.along);
        let last = self.plates.last().map_or(1.0, |p| p.along);
        ((last - first) / 430.0).max(0.2)
    }
}

/// Why marks cannot be laid.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LayError {
    /// A hint names nothing of the spine that is laid.
    #[error("the hint {0} is no end-plate or centre of the spine that is laid")]
    Hint(Landmark),
    /// Both ends are needed.
    #[error("{0}")]
    Ends(&'static str),
}

/// The hints as places along the pattern and on the film, from the head down. Both ends of one plate
/// count as its middle.
fn anchors(
    pattern: &Pattern,
    hints: &[(Landmark, Vector2<f64>)],
) -> Result<Vec<(f64, Vector2<f64>)>, LayError> {
    let mut out: Vec<(f64, Vector2<f64>, f64)> = Vec::new();
    for (name, at) in hints {
        let along = pattern.along_of(*name).ok_or(LayError::Hint(*name))?;
        match out.iter_mut().find(|a| (a.0 - along).abs() < 1e-9) {
            Some(a) => {
                a.1 += at;
                a.2 += 1.0;
            }
            None => out.push((along, *at, 1.0)),
        }
    }
    out.sort_by(|a, b| a.0.total_cmp(&b.0));
    Ok(out.into_iter().map(|a| (a.0, a.1 / a.2)).collect())
}

/// Finds the two ends of a marked film on another by how their surroundings look: the pelvis about the
/// sacrum and the neck about the first plate.
#[must_use]
pub fn find_ends(
    from: (&GreyPlane, Steps, &LandmarkSet),
    to: (&GreyPlane, Steps),
    lateral: bool,
) -> Vec<(Landmark, FilmPx, f64)> {
    let Some(chain) = Chain::of(from.2, lateral, from.1, 1.0) else {
        return Vec::new();
    };
    let (a, b) = (coarse(from.0, from.1), coarse(to.0, to.1));
    let flat = |g: &GreyPlane| crate::film::local_contrast(g, 20);
    let (a, b) = (flat(&a), flat(&b));
    let size = |g: &GreyPlane| Vector2::new(g.width as f64, g.height as f64) * super::path::COARSE;
    let shift = (size(&b) - size(&a)) / 2.0;
    let ends = [chain.plates.first(), chain.plates.last()];
    ends.into_iter()
        .flatten()
        .zip([(46.0, 34.0), (64.0, 46.0)])
        .filter_map(|(plate, half)| {
            let (at, alike) =
                find_piece(&a, plate.middle, half, &b, (plate.middle + shift, 110.0))?;
            let name = Landmark::plate_ends(plate.level, plate.edge, lateral)[0];
            Some((name, to.1.film(at), alike))
        })
        .collect()
}

const FIRST: Round = Round {
    grid: Grid {
        offsets: (16, 0.75),
        turns: (4, 0.06),
        openings: (3, 3.0),
    },
    width: 0.8,
    place_sd: 5.0,
    height_sd: 1.3,
    tilt_sd: 0.06,
};

/// Lays a pattern along the spine of a film between hints and fits it to what the film shows. `hand` is
/// +1 when a plate's first end (left, or posterior) lies on the left with the head up, else −1.
///
/// # Errors
/// A hint that names nothing of the pattern, fewer than two places along it.
pub fn lay(
    plane: &GreyPlane,
    steps: Steps,
    pattern: &Pattern,
    hints: &[(Landmark, FilmPx)],
    hand: f64,
) -> Result<Vec<Refined>, LayError> {
    let hints: Vec<(Landmark, Vector2<f64>)> =
        hints.iter().map(|(n, p)| (*n, steps.mm(*p))).collect();
    let anchors = anchors(pattern, &hints)?;
    let [first, .., last] = &anchors[..] else {
        return Err(LayError::Ends(
            "the spine needs a hint near each end, as C7.center=X,Y and S1.center=X,Y",
        ));
    };
    let guide = warped(&pattern.course, pattern, first, last);
    let film = coarse(plane, steps);
    let mut points: Vec<Vector2<f64>> = Vec::new();
    for pair in anchors.windows(2) {
        let part = path(&film, pair[0].1, pair[1].1, &guide);
        points.extend(part.iter().skip(usize::from(!points.is_empty())));
    }
    // Half widths at the film's own scale.
    let scale = length(&points) / (last.0 - first.0).max(1.0);
    let halves: Vec<f64> = (0..points.len())
        .map(|i| {
            let s = first.0 + (last.0 - first.0) * i as f64 / (points.len() - 1).max(1) as f64;
            let near = pattern
                .plates
                .iter()
                .min_by(|a, b| (a.along - s).abs().total_cmp(&(b.along - s).abs()));
            near.map_or(14.0, |p| p.half) * scale
        })
        .collect();
    let beyond = ((pattern.plates.last().map_or(0.0, |p| p.along) - last.0)
        .max(first.0 - pattern.plates[0].along)
        .max(0.0)
        * scale)
        + 8.0;
    let course = trace(plane, steps, &resampled(&points, &halves, beyond));
    let mut chain = along_course(pattern, &course, &anchors, hand);
    let beliefs = fit(plane, steps, &mut chain, &FIRST);
    Ok(super::refine::finished(chain, &beliefs, steps))
}

fn length(points: &[Vector2<f64>]) -> f64 {
    points.windows(2).map(|w| (w[1] - w[0]).norm()).sum()
}

/// The old course moved, turned and stretched so that its ends lie on the new ones: where the path is
/// expected, loosely.
fn warped(
    course: &[Vector2<f64>],
    pattern: &Pattern,
    first: &(f64, Vector2<f64>),
    last: &(f64, Vector2<f64>),
) -> Vec<Vector2<f64>> {
    if course.is_empty() {
        // A usual spine is expected near the straight line, very loosely.
        return (0..=20)
            .map(|i| first.1 + (last.1 - first.1) * f64::from(i) / 20.0)
            .collect();
    }
    let nearest = |along: f64| {
        let k = pattern.plates.iter().enumerate().min_by(|a, b| {
            (a.1.along - along)
                .abs()
                .total_cmp(&(b.1.along - along).abs())
        });
        course[k.map_or(0, |k| k.0)]
    };
    let (a, b) = (nearest(first.0), nearest(last.0));
    let (old, new) = (b - a, last.1 - first.1);
    // Complex ratio new / old: turn and scale in one.
    let d = old.norm_squared().max(1e-9);
    let (re, im) = (old.dot(&new) / d, (old.x * new.y - old.y * new.x) / d);
    course
        .iter()
        .map(|p| {
            let v = p - a;
            first.1 + Vector2::new(re * v.x - im * v.y, im * v.x + re * v.y)
        })
        .collect()
}

/// The pattern's plates along a course, stretched evenly between the anchors.
fn along_course(
    pattern: &Pattern,
    course: &[Place],
    anchors: &[(f64, Vector2<f64>)],
    hand: f64,
) -> Chain {
    let on: Vec<(f64, f64)> = anchors
        .iter()
        .filter_map(|(along, p)| Some((*along, nearest(course, *p)?.along)))
        .collect();
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
            let k = course
                .partition_point(|c| c.along <= s)
                .clamp(1, course.len() - 1);
            let (a, b) = (&course[k - 1], &course[k]);
            let t = (s - a.along) / (b.along - a.along).max(1e-6);
            let middle = a.middle + (b.middle - a.middle) * t;
            let toward = (a.toward + (b.toward - a.toward) * t.clamp(0.0, 1.0)).normalize();
            let across = Vector2::new(toward.y, -toward.x) * hand;
            let mut tilt = across.y.atan2(across.x);
            if let Some(before) = tilt_before {
                let turn = std::f64::consts::TAU;
                tilt -= ((tilt - before) / turn).round() * turn;
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
    Chain {
        plates,
        down: hand,
        noise: 2.0,
    }
}
