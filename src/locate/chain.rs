//! The end-plates of a film as one chain, smoothed by what spines have in common.
//!
//! Adjacent plates are nearly parallel, lie across the line through their middles, and heights of
//! bodies and discs change slowly from level to level. All lengths are millimetres of the film
//! (columns and rows scaled separately, y down), so unequal pixels do not bend angles.

use super::midline::{Place, nearest, resampled};
use super::smooth::{across, over_course};
use crate::film::GreyPlane;
use crate::landmark::{Edge, LandmarkSet, Level};
use crate::units::FilmPx;
use nalgebra::Vector2;

/// Millimetres per column and per row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steps {
    /// Per column.
    pub column: f64,
    /// Per row.
    pub row: f64,
}

impl Steps {
    /// A film pixel in millimetres.
    #[must_use]
    pub fn mm(self, p: FilmPx) -> Vector2<f64> {
        Vector2::new(p.x * self.column, p.y * self.row)
    }

    /// Film pixels of a place in millimetres.
    #[must_use]
    pub fn film(self, p: Vector2<f64>) -> FilmPx {
        FilmPx::new(p.x / self.column, p.y / self.row)
    }

    /// Middle of a film, mm.
    pub(super) fn middle(self, plane: &GreyPlane) -> Vector2<f64> {
        self.mm(FilmPx::new(plane.width as f64, plane.height as f64)) / 2.0
    }
}

/// An angle, radians, in the turn that brings it nearest to another.
pub(super) fn unwrapped(angle: f64, near: f64) -> f64 {
    let turn = std::f64::consts::TAU;
    angle + ((near - angle) / turn).round() * turn
}

/// An end-plate by its middle, direction and half width.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Guess {
    /// Level.
    pub level: Level,
    /// Upper or lower.
    pub edge: Edge,
    /// Middle, mm.
    pub middle: Vector2<f64>,
    /// Direction from the first end to the second, radians, unwrapped along the chain.
    pub tilt: f64,
    /// Half width, mm.
    pub half: f64,
}

impl Guess {
    /// The plate between two ends, mm, below another: tilts do not jump by a turn.
    pub(super) fn between(
        level: Level,
        edge: Edge,
        [a, b]: [Vector2<f64>; 2],
        above: Option<&Guess>,
    ) -> Guess {
        let v = b - a;
        let tilt = v.y.atan2(v.x);
        Guess {
            level,
            edge,
            middle: (a + b) / 2.0,
            tilt: above.map_or(tilt, |above| unwrapped(tilt, above.tilt)),
            half: v.norm() / 2.0,
        }
    }

    /// Unit vector from the first end to the second.
    #[must_use]
    pub fn along(&self) -> Vector2<f64> {
        Vector2::new(self.tilt.cos(), self.tilt.sin())
    }

    /// The side of the disc: −1 toward the head for an upper plate, +1 toward the feet for a lower one.
    #[must_use]
    pub fn disc(&self) -> f64 {
        match self.edge {
            Edge::Upper => -1.0,
            Edge::Lower => 1.0,
        }
    }

    /// Both ends, mm.
    #[must_use]
    pub fn ends(&self) -> [Vector2<f64>; 2] {
        let v = self.along() * self.half;
        [self.middle - v, self.middle + v]
    }
}

/// SD of the sacrum's angle to the plate above it, radians.
const SACRUM_SD: f64 = 0.08;
/// SD of a plate's direction about the perpendicular of the course, radians (assumption).
const ACROSS_SD: f64 = 0.10;

/// Share of the bend at a level that its body is expected to have taken on, the disc having the rest, and
/// the SD of that share; SD of what a body wedges besides, radians (assumed: 2°).
const WEDGE: f64 = 0.15;
const WEDGE_SD: f64 = 0.2;
const BODY_SD: f64 = 0.04;

/// The chain of a film.
#[derive(Clone, Debug)]
pub(super) struct Chain {
    /// Plates from the head down.
    pub(super) plates: Vec<Guess>,
    /// Which side of a plate lies toward the feet: its direction turned by a quarter this way.
    pub(super) down: f64,
    /// Whether it is seen from the side.
    pub(super) lateral: bool,
    /// Placement SD of the starts, mm.
    pub(super) noise: f64,
    /// Plates whose place is known better than the others': where, and with what SD, mm. It holds
    /// through all rounds, however the chain moves.
    pub(super) held: Vec<(usize, Vector2<f64>, f64)>,
    /// Tilts about which the plates are looked for, one for each plate. They stay while the plates move:
    /// what a round found is not taken for known by the next.
    pub(super) base: Vec<f64>,
    /// SD of the plates' slants against the course of the spine it was last drawn to, radians; nought before.
    pub(super) slanted: f64,
}

/// Steps between plate `a` and plate `b` in the order of plates, 1 for neighbours.
pub(super) fn gap(a: &Guess, b: &Guess) -> usize {
    // T13 and L6, which most patients lack, take no place of their own.
    let rank = |g: &Guess| {
        Level::all()
            .filter(|l| l.is_usual() && *l < g.level)
            .count()
    };
    let place = |g: &Guess| 2 * rank(g) + usize::from(g.edge == Edge::Lower);
    place(b).saturating_sub(place(a)).max(1)
}

impl Chain {
    /// The chain of the complete plates among the marks; none when there are fewer than two.
    pub(super) fn of(
        marks: &LandmarkSet,
        lateral: bool,
        steps: Steps,
        noise: f64,
    ) -> Option<Chain> {
        let mut plates: Vec<Guess> = Vec::new();
        for level in Level::all() {
            for edge in [Edge::Upper, Edge::Lower] {
                let Some((a, b)) = marks.plate(level, edge, lateral) else {
                    continue;
                };
                let (a, b) = (steps.mm(a), steps.mm(b));
                if (b - a).norm() < 1.0 {
                    continue;
                }
                let plate = Guess::between(level, edge, [a, b], plates.last());
                plates.push(plate);
            }
        }
        if plates.len() < 2 {
            return None;
        }
        let side: f64 = plates
            .windows(2)
            .map(|w| {
                let (t, d) = (w[0].along(), w[1].middle - w[0].middle);
                (t.x * d.y - t.y * d.x).signum()
            })
            .sum();
        let down = if side < 0.0 { -1.0 } else { 1.0 };
        Some(Chain::new(plates, down, lateral, noise))
    }

    /// The chain of plates, looked for about the tilts they have, none held.
    pub(super) fn new(plates: Vec<Guess>, down: f64, lateral: bool, noise: f64) -> Chain {
        Chain {
            base: plates.iter().map(|p| p.tilt).collect(),
            slanted: 0.0,
            plates,
            down,
            lateral,
            noise,
            held: Vec::new(),
        }
    }

    /// Unit vector toward the feet, across a direction.
    pub(super) fn feet(&self, tilt: f64) -> Vector2<f64> {
        Vector2::new(-tilt.sin(), tilt.cos()) * self.down
    }

    /// Height of plate i's body, mm; none when its other plate is not in the chain.
    pub(super) fn body(&self, i: usize) -> Option<f64> {
        let own = &self.plates[i];
        let other = match own.edge {
            Edge::Upper => self.plates.get(i + 1),
            Edge::Lower => i.checked_sub(1).and_then(|k| self.plates.get(k)),
        }?;
        (other.level == own.level).then(|| (other.middle - own.middle).norm())
    }

    /// Where plate i is held, from where it is toward the feet and along it, mm, and with what SD; none
    /// when it is not held.
    pub(super) fn held_at(&self, i: usize) -> Option<([f64; 2], f64)> {
        let (_, place, sd) = self.held.iter().find(|h| h.0 == i)?;
        let plate = &self.plates[i];
        let d = place - plate.middle;
        Some(([d.dot(&self.feet(plate.tilt)), d.dot(&plate.along())], *sd))
    }

    /// Distances from each plate to the next, mm.
    pub(super) fn heights(&self) -> Vec<f64> {
        let pairs = self.plates.windows(2);
        pairs.map(|w| (w[1].middle - w[0].middle).norm()).collect()
    }

    /// Takes the tilts as they are for the base about which the plates are looked for.
    pub(super) fn rest(&mut self) {
        self.base = self.plates.iter().map(|p| p.tilt).collect();
    }

    /// How much more the lower plate of plate i's body is expected to be turned than the upper one, and
    /// the SD of that, radians: by the bend of the base there, from the level above to the level below.
    pub(super) fn wedge(&self, i: usize) -> (f64, f64) {
        let upper = i - usize::from(self.plates[i].edge == Edge::Lower && i > 0);
        let last = self.plates.len() - 1;
        let (from, to) = (upper.saturating_sub(2), (upper + 3).min(last));
        let levels = gap(&self.plates[from], &self.plates[to]) as f64 / 2.0;
        let bend = (self.base[to] - self.base[from]) / levels;
        (WEDGE * bend, BODY_SD.hypot(WEDGE_SD * bend))
    }

    /// Whether the step from plate i to the next is a body (else a disc), and of how many steps.
    pub(super) fn step(&self, i: usize) -> (bool, usize) {
        let (a, b) = (&self.plates[i], &self.plates[i + 1]);
        (a.edge == Edge::Upper && b.level == a.level, gap(a, b))
    }

    /// The course through the chain's middles, as a guide for tracing it on the film.
    pub(super) fn guide(&self) -> Vec<Place> {
        let middles: Vec<Vector2<f64>> = self.plates.iter().map(|p| p.middle).collect();
        let halves: Vec<f64> = self.plates.iter().map(|p| p.half).collect();
        resampled(&middles, &halves, 8.0)
    }

    /// Draws the chain to a traced course: plates lie across it but for their slants, and their middles by a
    /// share `onto` of the way on it. Marked middles stay (nought): beside an apex the traced course lies to
    /// the concave side.
    pub(super) fn drawn_to(&mut self, course: &[Place], rough: &Chain, onto: f64) {
        let n = self.plates.len();
        let found: Vec<Option<f64>> = (0..n)
            .map(|i| {
                let p = &mut self.plates[i];
                if p.level == Level::S1 && i > 0 {
                    return None;
                }
                let at = nearest(course, p.middle)?;
                let along = p.along();
                p.middle += along * (at.middle - p.middle).dot(&along) * onto;
                Some(across(at.toward, self.down, p.tilt))
            })
            .collect();
        self.slanted = self.slant(rough, &found, ACROSS_SD);
        let mut system = self.tilts(rough, self.slanted);
        for (i, across) in found.iter().enumerate() {
            if let Some(across) = across {
                system.add(&over_course(i, n, 1.0), *across, ACROSS_SD);
            } else if self.plates[i].level == Level::S1 && i > 0 {
                // The sacrum leans against the spine's course: it keeps its angle to the plate above.
                let lean = self.plates[i].tilt - self.plates[i - 1].tilt;
                system.add(&[(i - 1, -1.0), (i, 1.0)], lean, SACRUM_SD);
            }
        }
        self.turn(&system.solve());
    }
}
