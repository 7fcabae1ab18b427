//! Guided walks: which mark comes next, in words.

use super::{Edge, Landmark, Level, Levels, Pair, PlateEnd, RibPart};
use crate::units::Side;

/// A walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WalkKind {
    /// The end-plates of one curve: four marks.
    Curve,
    /// Every end-plate from T1 to S1.
    EveryPlate,
    /// What balance and trunk shift need.
    Balance,
    /// Collar bones, shoulders, coracoids.
    Shoulders,
    /// Transverse-process ends of the ribs about the apex, and the cage.
    ApexRibs,
    /// Iliac crests and femoral heads; on a lateral film the hips.
    Pelvis,
    /// Pedicles about the apex.
    Rotation,
    /// A known length.
    Calibrate,
    /// The true vertical, where the film shows one.
    PlumbLine,
}

/// The walks in the order of a reading, with their names.
pub const WALKS: [(WalkKind, &str); 9] = [
    (WalkKind::Curve, "curve"),
    (WalkKind::EveryPlate, "every end-plate"),
    (WalkKind::Balance, "balance"),
    (WalkKind::Shoulders, "shoulders"),
    (WalkKind::ApexRibs, "apex ribs"),
    (WalkKind::Pelvis, "pelvis"),
    (WalkKind::Rotation, "rotation"),
    (WalkKind::Calibrate, "calibrate"),
    (WalkKind::PlumbLine, "plumb line"),
];

/// A walk with its marks in order.
#[derive(Clone, Debug, PartialEq)]
pub struct Walk {
    /// Its name.
    pub name: String,
    /// The marks.
    pub steps: Vec<Landmark>,
    /// The place of the next one.
    pub at: usize,
}

/// A level range by its ends.
fn between(upper: Level, lower: Level) -> Vec<Level> {
    Level::all()
        .filter(|l| (upper..=lower).contains(l))
        .filter(|l| l.is_usual())
        .collect()
}

impl Walk {
    /// A walk for a coronal or lateral film; `ends` are the end vertebrae of the curve in question,
    /// `apex` its apical level.
    #[must_use]
    pub fn new(kind: WalkKind, lateral: bool, ends: Levels, apex: Level) -> Walk {
        let plate = |level: Level, edge: Edge| Landmark::plate_ends(level, edge, lateral).to_vec();
        let pair = |p: Pair| Side::BOTH.map(|s| Landmark::Paired(p, s)).to_vec();
        let level = |name: &str| name.parse::<Level>().ok();
        let plates = |name: &str, edge: Edge| level(name).map_or(Vec::new(), |l| plate(l, edge));
        let both = |name: &str| [plates(name, Edge::Upper), plates(name, Edge::Lower)].concat();
        let steps = match kind {
            WalkKind::Curve => [
                plate(ends.upper, Edge::Upper),
                plate(ends.lower, Edge::Lower),
            ]
            .concat(),
            WalkKind::EveryPlate => {
                let (Some(top), Some(bottom)) = (Level::thoracic(1), Level::lumbar(5)) else {
                    return Walk::of(kind, Vec::new());
                };
                let mut steps: Vec<Landmark> = between(top, bottom)
                    .into_iter()
                    .flat_map(|l| [plate(l, Edge::Upper), plate(l, Edge::Lower)].concat())
                    .collect();
                steps.extend(plates("S1", Edge::Upper));
                steps
            }
            WalkKind::Balance if lateral => [both("C7"), plates("S1", Edge::Upper)].concat(),
            WalkKind::Balance => [
                both("C7"),
                plates("T1", Edge::Upper),
                pair(Pair::Ribcage),
                plates("S1", Edge::Upper),
            ]
            .concat(),
            WalkKind::Shoulders if lateral => Vec::new(),
            WalkKind::Shoulders => [
                pair(Pair::Clavicle),
                pair(Pair::Shoulder),
                pair(Pair::Coracoid),
                plates("T1", Edge::Upper),
            ]
            .concat(),
            WalkKind::ApexRibs if lateral => pair(Pair::RibProminence),
            WalkKind::ApexRibs => {
                let n = apex.thoracic_number().unwrap_or(8).clamp(3, 10);
                let ribs = (n - 2..=n + 2)
                    .flat_map(|rib| Side::BOTH.map(|s| Landmark::Rib(rib, s, RibPart::Tp)));
                ribs.chain(pair(Pair::Ribcage)).collect()
            }
            WalkKind::Pelvis if lateral => [
                plates("S1", Edge::Upper),
                vec![Landmark::LateralHead(false), Landmark::LateralHead(true)],
            ]
            .concat(),
            WalkKind::Pelvis => [
                pair(Pair::Iliac),
                pair(Pair::FemoralHead),
                plates("L4", Edge::Upper),
            ]
            .concat(),
            WalkKind::Rotation if lateral => Vec::new(),
            WalkKind::Rotation => {
                let mut steps = both(&apex.to_string());
                steps.extend(Side::BOTH.map(|s| Landmark::Pedicle(apex, s)));
                steps
            }
            WalkKind::Calibrate => vec![Landmark::Scale(false), Landmark::Scale(true)],
            WalkKind::PlumbLine => vec![Landmark::Plumb(true), Landmark::Plumb(false)],
        };
        Walk::of(kind, steps)
    }

    fn of(kind: WalkKind, steps: Vec<Landmark>) -> Walk {
        let name = WALKS
            .iter()
            .find(|w| w.0 == kind)
            .map_or("", |w| w.1)
            .to_owned();
        Walk { name, steps, at: 0 }
    }

    /// A walk over marks that a measure asks for.
    #[must_use]
    pub fn of_needs(measure: &str, needs: &[String]) -> Walk {
        Walk {
            name: measure.to_owned(),
            steps: needs.iter().filter_map(|n| n.parse().ok()).collect(),
            at: 0,
        }
    }

    /// The next mark.
    #[must_use]
    pub fn next(&self) -> Option<Landmark> {
        self.steps.get(self.at).copied()
    }

    /// Goes to the first mark at or after the present one that is not placed.
    pub fn forward(&mut self, placed: impl Fn(Landmark) -> bool) {
        while self.next().is_some_and(&placed) {
            self.at += 1;
        }
    }

    /// How many of the marks are placed.
    #[must_use]
    pub fn done(&self, placed: impl Fn(Landmark) -> bool) -> usize {
        self.steps.iter().filter(|s| placed(**s)).count()
    }
}

/// A mark in words: `upper end-plate of T5, patient's left end`.
#[must_use]
pub fn spoken(name: Landmark) -> String {
    let side = Side::word;
    match name {
        Landmark::Plate(level, edge, end) => {
            let edge = match edge {
                Edge::Upper => "upper",
                Edge::Lower => "lower",
            };
            let end = match end {
                PlateEnd::Left => "patient's left end",
                PlateEnd::Right => "patient's right end",
                PlateEnd::Anterior => "front end",
                PlateEnd::Posterior => "back end",
            };
            format!("{level} {edge} end-plate, {end}")
        }
        Landmark::Center(level) => format!("centre of {level}"),
        Landmark::Pedicle(level, s) => format!("{} pedicle of {level}", side(s)),
        Landmark::Paired(pair, s) => {
            let what = match pair {
                Pair::Clavicle => "collar bone, highest point",
                Pair::Coracoid => "coracoid, top",
                Pair::Shoulder => "shoulder, skin above the acromioclavicular joint",
                Pair::Ribcage => "rib cage, outer edge at the apex",
                Pair::FirstRib => "first rib, highest point",
                Pair::Hemidiaphragm => "diaphragm, top of the dome",
                Pair::Iliac => "iliac crest, highest point",
                Pair::SacralAla => "sacral ala, top",
                Pair::FemoralHead => "femoral head, centre",
                Pair::RibProminence => "ribs, farthest back",
            };
            format!("{} {what}", side(s))
        }
        Landmark::Rib(n, s, part) => match part {
            RibPart::Tp => format!("rib {n} {}, at the end of the transverse process", side(s)),
            RibPart::Head => format!("rib {n} {}, head", side(s)),
            RibPart::Neck => format!("rib {n} {}, neck", side(s)),
            RibPart::Midline => format!("rib {n} {}, midline", side(s)),
        },
        Landmark::LateralHead(second) => {
            format!(
                "{} femoral head, centre",
                if second { "second" } else { "first" }
            )
        }
        Landmark::Plumb(top) => format!("plumb line, {}", if top { "top" } else { "bottom" }),
        Landmark::Scale(second) => {
            format!(
                "known length, {} end",
                if second { "second" } else { "first" }
            )
        }
        Landmark::Metal => "outline of the implant".to_owned(),
    }
}
