//! The spine to be laid on a film: last film's, or a usual one's.

use super::chain::{Chain, Guess, Steps};
use super::expected::Expected;
use super::likeness::Levelled;
use super::look::{Look, levelled, looks};
use super::overview::Overview;
use super::path::coarse;
use crate::film::GreyPlane;
use crate::landmark::{Edge, Landmark, LandmarkSet, Level};
use crate::units::FilmPx;
use nalgebra::{Rotation2, Vector2};

/// A spine's plates in order with their heights and half widths, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct Pattern {
    pub(super) plates: Vec<Spaced>,
    /// Whether it is seen from the side.
    pub(super) lateral: bool,
    /// The line through the middles on the film it comes from, mm; empty for a usual spine.
    pub(super) course: Vec<Vector2<f64>>,
    /// How each plate looks there; empty when it is not to be used.
    pub(super) pieces: Vec<Vec<f32>>,
    /// Unit vectors along the plates there, from their first ends to their second.
    pub(super) faces: Vec<Vector2<f64>>,
    /// Middle of that film, mm.
    pub(super) middle: Vector2<f64>,
    /// How each vertebra looks there.
    pub(super) looks: Vec<Look>,
    /// What the overview is expected to tell of each; empty where looks are.
    pub(super) expected: Vec<Expected>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Spaced {
    pub(super) level: Level,
    pub(super) edge: Edge,
    /// Distance along the spine from the first plate.
    pub(super) along: f64,
    pub(super) half: f64,
    /// Tilt against the plate above, radians; nought where it is not known.
    pub(super) lean: f64,
}

/// Adult body heights and discs below, and half widths, mm, C7 to L5 and S1: one CT, measured (to L2),
/// below it remembered from Panjabi 1992; T13 and L6 assumed like their neighbours; only their proportions are used.
const USUAL: [(&str, f64, f64, f64); 21] = [
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
    ("T13", 23.7, 6.4, 20.6),
    ("L1", 24.1, 6.7, 20.8),
    ("L2", 25.0, 9.3, 21.5),
    ("L3", 23.8, 10.3, 23.0),
    ("L4", 24.1, 10.9, 24.0),
    ("L5", 22.9, 10.0, 24.2),
    ("L6", 22.9, 10.0, 24.5),
    ("S1", 0.0, 0.0, 25.0),
];

impl Pattern {
    /// The spine marked on a film, with how its plates look there; none with fewer than four complete
    /// plates.
    #[must_use]
    pub fn of(
        plane: &GreyPlane,
        marks: &LandmarkSet,
        lateral: bool,
        steps: Steps,
    ) -> Option<Pattern> {
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
                lean: last.map_or(0.0, |last| p.tilt - last.tilt),
            });
            last = Some(p);
        }
        let film = coarse(plane, steps);
        let looks = looks(&levelled(&film), &chain);
        let feet = looks.last()?.middle - looks.first()?.middle;
        let overview = Overview::of(&film, lateral, feet);
        let expected = looks
            .iter()
            .map(|l| Expected::before(overview.at(l.middle)));
        Some(Pattern {
            expected: expected.collect(),
            looks,
            plates,
            lateral,
            course: chain.plates.iter().map(|p| p.middle).collect(),
            pieces: Levelled::of(plane, steps).pieces(&chain),
            middle: steps.middle(plane),
            faces: chain.plates.iter().map(Guess::along).collect(),
        })
    }

    /// The same spine seen from the other side: films hung the other way round.
    #[must_use]
    pub fn mirrored(mut self) -> Pattern {
        self.each_vector(|v| v.x = -v.x);
        self.plates.iter_mut().for_each(|p| p.lean = -p.lean);
        self
    }

    /// The same spine on a film lying another way: the head toward `to` that lay toward `from`, directions of
    /// columns and rows.
    #[must_use]
    pub fn turned(mut self, from: (f64, f64), to: (f64, f64)) -> Pattern {
        let [from, to] = [from, to].map(|v| Vector2::new(v.0, v.1));
        let turn = Rotation2::rotation_between(&from, &to);
        self.each_vector(|v| *v = turn * *v);
        self
    }

    /// Changes every place and direction of the film it comes from.
    fn each_vector(&mut self, change: impl Fn(&mut Vector2<f64>)) {
        self.course.iter_mut().for_each(&change);
        self.faces.iter_mut().for_each(&change);
        change(&mut self.middle);
        for look in &mut self.looks {
            change(&mut look.middle);
            change(&mut look.across);
        }
    }

    /// Without what lies beyond the levels of the hints: nothing is proposed off them.
    #[must_use]
    pub fn between(mut self, hints: &[(Landmark, FilmPx)]) -> Pattern {
        let levels: Vec<Level> = hints.iter().filter_map(|h| h.0.level()).collect();
        if let (Some(first), Some(last)) = (levels.iter().min(), levels.iter().max()) {
            self.plates
                .retain(|p| p.level >= *first && p.level <= *last);
        }
        self
    }

    /// Whether a mark names a place of the spine that is laid.
    #[must_use]
    pub fn names(&self, mark: Landmark) -> bool {
        self.along_of(mark).is_some()
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
        // Both ends of a plate are its middle.
        let mut middles = places.chunk_by(|a, b| b.0 - a.0 < 1e-9).map(|own| {
            let sum: Vector2<f64> = own.iter().map(|p| p.1).sum();
            (own[0].0, sum / own.len() as f64)
        });
        let first = middles.next()?;
        let last = middles.next_back()?;
        let chord = (last.1 - first.1).norm();
        (chord > 0.0).then(|| 0.93 * (last.0 - first.0) / chord)
    }

    /// A usual spine from C7 to S1, without the levels the patient lacks, and with T13 or L6 where `more` names them.
    /// On a lateral film plates are about as deep as they are wide in the thorax and less in the lumbar spine.
    #[must_use]
    pub fn usual(absent: &[Level], more: &[Level], lateral: bool) -> Pattern {
        let mut plates = Vec::new();
        let mut along = 0.0;
        for (name, body, disc, half) in USUAL {
            let Ok(level) = name.parse::<Level>() else {
                continue;
            };
            if absent.contains(&level) || !(level.is_usual() || more.contains(&level)) {
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
                        lean: 0.0,
                    });
                }
            }
            along += body + disc;
        }
        Pattern {
            plates,
            expected: Vec::new(),
            lateral,
            course: Vec::new(),
            faces: Vec::new(),
            middle: Vector2::zeros(),
            pieces: Vec::new(),
            looks: Vec::new(),
        }
    }

    /// A usual spine as if on a film: of another size, straight, its plates facing as `hand` says, with its
    /// looks.
    pub(super) fn drawn(&self, size: f64, hand: f64) -> Pattern {
        let mut out = self.clone();
        for p in &mut out.plates {
            p.along *= size;
            p.half *= size;
        }
        let down = out.plates.iter().map(|p| Vector2::new(0.0, p.along));
        out.course = down.collect();
        out.faces = vec![Vector2::x() * hand; out.plates.len()];
        out.looks = super::usual::usual_looks(&out);
        out.expected = out.usually_told();
        out
    }

    /// The place at a distance along the spine on the film it comes from, mm.
    pub(super) fn at(&self, along: f64) -> Vector2<f64> {
        let last = self.plates.len() - 1;
        let k = self
            .plates
            .partition_point(|p| p.along <= along)
            .clamp(1, last);
        let (a, b) = (&self.plates[k - 1], &self.plates[k]);
        let t = (along - a.along) / (b.along - a.along).max(1e-6);
        self.course[k - 1] + (self.course[k] - self.course[k - 1]) * t
    }

    /// What the overview usually tells of each vertebra.
    pub(super) fn usually_told(&self) -> Vec<Expected> {
        let levels = self.plates.chunk_by(|a, b| a.level == b.level);
        levels
            .map(|own| Expected::usual(own[0].level, own.iter().map(|p| p.edge), self.lateral))
            .collect()
    }

    /// The distance along the spine of what a mark names.
    pub(super) fn along_of(&self, name: Landmark) -> Option<f64> {
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

    /// From the first plate to the last, mm along the spine.
    pub(super) fn length(&self) -> f64 {
        let ends = self.plates.first().zip(self.plates.last());
        ends.map_or(0.0, |(first, last)| last.along - first.along)
    }

    /// Half width of the plate next to a place along the spine, mm.
    pub(super) fn half_at(&self, along: f64) -> f64 {
        let off = |p: &&Spaced| (p.along - along).abs();
        let near = self.plates.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        near.map_or(14.0, |p| p.half)
    }

    /// Size against the usual spine: its length by that of the usual one between the same plates.
    fn size(&self) -> f64 {
        let levels: Vec<Level> = self.plates.iter().map(|p| p.level).collect();
        let usual = Pattern::usual(&[], &levels, self.lateral);
        let same = |p: &Spaced| {
            let own = |q: &&Spaced| q.level == p.level && q.edge == p.edge;
            usual.plates.iter().find(own).map(|q| q.along)
        };
        let ends = self.plates.first().and_then(same);
        let length = ends.zip(self.plates.last().and_then(same));
        match length.map(|(first, last)| last - first) {
            Some(usual) if usual > 0.0 => self.length() / usual,
            _ => 1.0,
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// A mirrored spine is the spine of the mirrored marks: the sacrum's angle to L5 stayed as it was.
    #[test]
    fn a_mirrored_spine_is_that_of_mirrored_marks() {
        let mut marks = [LandmarkSet::new(), LandmarkSet::new()];
        for (i, level) in ["L3", "L4", "L5", "S1"].iter().enumerate() {
            let (x, y) = (100.0 + 9.0 * i as f64, 60.0 * i as f64);
            for (end, dx, dy) in [
                ("posterior", -20.0, 0.0),
                ("anterior", 20.0, 9.0 * i as f64),
            ] {
                let name: Landmark = format!("{level}.upper.{end}").parse().unwrap();
                marks[0].place(name, FilmPx::new(x + dx, y + dy));
                marks[1].place(name, FilmPx::new(-x - dx, y + dy));
            }
        }
        let plane = GreyPlane {
            width: 1,
            height: 1,
            data: vec![0.0],
        };
        let steps = Steps {
            column: 1.0,
            row: 1.0,
        };
        let [there, here] = marks.map(|m| Pattern::of(&plane, &m, true, steps).unwrap());
        let mirrored = there.mirrored();
        let same = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a} is not {b}");
        for (a, b) in mirrored.plates.iter().zip(&here.plates) {
            same(a.lean, b.lean);
            same(a.along, b.along);
            same(a.half, b.half);
        }
        for (a, b) in mirrored.course.iter().zip(&here.course) {
            same(a.x, b.x);
            same(a.y, b.y);
        }
        assert!(here.plates.iter().any(|p| p.lean.abs() > 0.1));
    }
}
