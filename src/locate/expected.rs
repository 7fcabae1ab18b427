//! What the overview tells of a place, and what it is expected to tell of a vertebra.

use crate::landmark::{Edge, Level};
use nalgebra::Vector2;

/// Weights of what is told against how alike a place looks, and the least probability and spread counted.
const SPINE: f64 = 2.0;
const LEVEL: f64 = 2.0;
const PHASE: f64 = 4.0;
const LEAST: f64 = 0.01;
const LEAST_SD: f64 = 0.3;
/// SD by which levels told of a film may be off over many vertebrae at once, on films from front or back and on lateral
/// ones: of a kind that was not trained on by half a level to a whole one, while bodies and discs were told apart.
/// More, a whole vertebra was lost on a severe curve of the phantom and on one film of benches/other_films.
const USUAL_SD: [f64; 2] = [0.4, 0.5];
/// Share of the distance of neighbours that a body takes.
const BODY: f64 = 0.8;
/// How much the overview counts at least where it did not see the spine on the film before.
const SURE: f64 = 0.5;
/// What a place beyond the film counts: more than one on it where no spine runs, less than one where it does.
pub(super) const BEYOND: f64 = -3.5;

/// What is told of a place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Told {
    /// Probability that the spine's middle runs here (to about 5 mm).
    pub(super) spine: f64,
    /// The level, C7 being 0 and S1 18: whole in the middle of a body, a half in a disc; and how uncertain it is.
    pub(super) level: f64,
    pub(super) level_sd: f64,
    /// Cosine and sine of the level as a phase: in the middle of a body the cosine is 1.
    pub(super) phase: Vector2<f64>,
}

impl Told {
    /// Cost of a mm of a path down the spine.
    pub(super) fn cost(&self) -> f64 {
        0.1 - self.spine.max(LEAST).ln()
    }

    /// How likely it makes a vertebra here of which that is expected, in units of a logarithm.
    pub(super) fn of(&self, expected: &Expected) -> f64 {
        let spine = SPINE * self.spine.max(LEAST).ln();
        let sd = self.level_sd.max(LEAST_SD).hypot(expected.level_sd);
        let z = (self.level - expected.level) / sd;
        let phase = self.phase.dot(&expected.phase);
        let place = PHASE * phase - LEVEL * (z * z / 4.0).ln_1p();
        expected.sure * (spine + self.spine * place)
    }
}

/// What the overview is expected to tell of the middle of a vertebra.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Expected {
    level: f64,
    level_sd: f64,
    phase: Vector2<f64>,
    /// How much it counts.
    sure: f64,
}

impl Expected {
    /// Usually, of a vertebra of such plates.
    pub(super) fn usual(
        level: Level,
        edges: impl Iterator<Item = Edge>,
        lateral: bool,
    ) -> Expected {
        let (mut many, mut off) = (0.0, 0.0);
        for edge in edges {
            many += 1.0;
            off += match edge {
                Edge::Upper => -BODY / 2.0,
                Edge::Lower => BODY / 2.0,
            };
        }
        let number = number(level) + off / f64::max(many, 1.0);
        let turn = std::f64::consts::TAU * number;
        Expected {
            level: number,
            level_sd: USUAL_SD[usize::from(lateral)],
            phase: Vector2::new(turn.cos(), turn.sin()),
            sure: 1.0,
        }
    }

    /// By what it told on the film before: it errs alike on films of one child.
    pub(super) fn before(told: Told) -> Expected {
        Expected {
            level: told.level,
            level_sd: told.level_sd,
            phase: told.phase,
            sure: told.spine.max(SURE),
        }
    }
}

/// The number of a level: C7 is 0, T12 12, L1 13, S1 18. Where one is missing or more, the neighbours' numbers keep
/// what they look like.
fn number(level: Level) -> f64 {
    let name = level.to_string();
    let own: f64 = name[1..].parse().unwrap_or(1.0);
    let above = match &name[..1] {
        "C" => -7.0,
        "T" => 0.0,
        "L" => 12.0,
        _ => 17.0,
    };
    above + own
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn usual(level: &str, edges: &[Edge]) -> Expected {
        Expected::usual(level.parse().unwrap(), edges.iter().copied(), false)
    }

    #[test]
    fn levels_are_numbered_from_c7_to_the_sacrum() {
        let both = [Edge::Upper, Edge::Lower];
        let number = |level: &str| usual(level, &both).level;
        let levels = ["C7", "T1", "T12", "L1", "L5"];
        assert_eq!(levels.map(number), [0.0, 1.0, 12.0, 13.0, 17.0]);
        // Of the sacrum only the upper plate is there.
        assert!((usual("S1", &both[..1]).level - 17.6).abs() < 1e-9);
    }

    #[test]
    fn a_place_told_as_expected_is_likelier_than_a_level_off_or_a_disc() {
        let told = |level: f64| Told {
            spine: 0.9,
            level,
            level_sd: 0.4,
            phase: Vector2::new((level * std::f64::consts::TAU).cos(), 0.0),
        };
        let t8 = usual("T8", &[Edge::Upper, Edge::Lower]);
        let at = |level: f64| told(level).of(&t8);
        assert!(at(8.0) > at(7.0) + 1.0 && at(8.0) > at(9.0) + 1.0 && at(8.0) > at(8.5) + 1.0);
        let none = Told {
            spine: 0.001,
            ..told(8.0)
        };
        assert!(none.of(&t8) < BEYOND && at(8.0) > BEYOND);
        assert!(none.cost() > 10.0 * told(8.0).cost());
    }
}
