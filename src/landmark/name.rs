//! The landmark names of the contract, as types.

use super::Level;
use crate::units::Side;
use std::fmt;
use std::str::FromStr;

/// Which end-plate of a body.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Edge {
    /// The cranial end-plate.
    Upper,
    /// The caudal end-plate.
    Lower,
}

/// Which end of an end-plate: the patient's left and right on a coronal film,
/// posterior and anterior on a lateral one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PlateEnd {
    /// Patient's left end (coronal).
    Left,
    /// Patient's right end (coronal).
    Right,
    /// Back end (lateral).
    Posterior,
    /// Front end (lateral).
    Anterior,
}

/// Structures that come as a left and a right mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Pair {
    /// Highest point of the clavicle.
    Clavicle,
    /// Coracoid process.
    Coracoid,
    /// Soft tissue above the acromioclavicular joint.
    Shoulder,
    /// Lateral margin of the rib cage at the apex level.
    Ribcage,
    /// First rib.
    FirstRib,
    /// Centre of the hemidiaphragm.
    Hemidiaphragm,
    /// Top of the iliac crest.
    Iliac,
    /// Top of the sacral ala.
    SacralAla,
    /// Centre of the femoral head, or three or more points of its rim.
    FemoralHead,
    /// Posterior rib prominence (lateral film).
    RibProminence,
}

/// What of a rib is marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RibPart {
    /// Points along the midline.
    Midline,
    /// The midline at the lateral end of the transverse process.
    Tp,
    /// The middle of the head.
    Head,
    /// The middle of the neck.
    Neck,
}

/// The name of a landmark.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Landmark {
    /// The end of an end-plate, `T5.upper.left`.
    Plate(Level, Edge, PlateEnd),
    /// The centre of a body, `C7.center`.
    Center(Level),
    /// A pedicle, `T8.pedicle.left`.
    Pedicle(Level, Side),
    /// A paired structure, `clavicle.left`.
    Paired(Pair, Side),
    /// A rib, `rib7.left`, `rib7.left.tp`.
    Rib(u8, Side, RibPart),
    /// A femoral head on a lateral film, where sides are not told apart: `femoral_head.a` (false) or `.b` (true).
    LateralHead(bool),
    /// `plumb.top` (true) or `plumb.bottom` (false).
    Plumb(bool),
    /// `scale.a` (false) or `scale.b` (true).
    Scale(bool),
    /// Points on the outline of an implant.
    Metal,
}

const PAIRS: [(Pair, &str); 10] = [
    (Pair::Clavicle, "clavicle"),
    (Pair::Coracoid, "coracoid"),
    (Pair::Shoulder, "shoulder"),
    (Pair::Ribcage, "ribcage"),
    (Pair::FirstRib, "first_rib"),
    (Pair::Hemidiaphragm, "hemidiaphragm"),
    (Pair::Iliac, "iliac"),
    (Pair::SacralAla, "sacral_ala"),
    (Pair::FemoralHead, "femoral_head"),
    (Pair::RibProminence, "rib_prominence"),
];

impl Landmark {
    /// The two ends of an end-plate: left and right, on a lateral film posterior and anterior.
    #[must_use]
    pub fn plate_ends(level: Level, edge: Edge, lateral: bool) -> [Landmark; 2] {
        let ends = if lateral {
            [PlateEnd::Posterior, PlateEnd::Anterior]
        } else {
            [PlateEnd::Left, PlateEnd::Right]
        };
        ends.map(|end| Landmark::Plate(level, edge, end))
    }

    /// Whether the mark may stand on a coronal film.
    #[must_use]
    pub fn on_coronal(self) -> bool {
        !matches!(
            self,
            Landmark::Plate(_, _, PlateEnd::Anterior | PlateEnd::Posterior)
                | Landmark::LateralHead(_)
                | Landmark::Paired(Pair::RibProminence, _)
        )
    }

    /// Whether the mark may stand on a lateral film.
    #[must_use]
    pub fn on_lateral(self) -> bool {
        matches!(
            self,
            Landmark::Plate(_, _, PlateEnd::Anterior | PlateEnd::Posterior)
                | Landmark::Center(_)
                | Landmark::LateralHead(_)
                | Landmark::Paired(Pair::RibProminence, _)
                | Landmark::Plumb(_)
                | Landmark::Scale(_)
                | Landmark::Metal
        )
    }

    /// Whether several points may carry the name (`point` counts from 0 along a line).
    #[must_use]
    pub fn may_be_line(self) -> bool {
        matches!(
            self,
            Landmark::Rib(_, _, RibPart::Midline)
                | Landmark::Metal
                | Landmark::LateralHead(_)
                | Landmark::Paired(Pair::FemoralHead, _)
        )
    }

    /// The vertebral level the mark belongs to, if it belongs to one.
    #[must_use]
    pub fn level(self) -> Option<Level> {
        match self {
            Landmark::Plate(level, _, _)
            | Landmark::Center(level)
            | Landmark::Pedicle(level, _) => Some(level),
            _ => None,
        }
    }
}

impl fmt::Display for Edge {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Edge::Upper => "upper",
            Edge::Lower => "lower",
        })
    }
}

impl fmt::Display for PlateEnd {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            PlateEnd::Left => "left",
            PlateEnd::Right => "right",
            PlateEnd::Posterior => "posterior",
            PlateEnd::Anterior => "anterior",
        })
    }
}

impl fmt::Display for Landmark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Landmark::Plate(level, edge, end) => write!(f, "{level}.{edge}.{end}"),
            Landmark::Center(level) => write!(f, "{level}.center"),
            Landmark::Pedicle(level, side) => write!(f, "{level}.pedicle.{side}"),
            Landmark::Paired(pair, side) => {
                let word = PAIRS.iter().find(|p| p.0 == *pair).map_or("", |p| p.1);
                write!(f, "{word}.{side}")
            }
            Landmark::Rib(n, side, part) => match part {
                RibPart::Midline => write!(f, "rib{n}.{side}"),
                RibPart::Tp => write!(f, "rib{n}.{side}.tp"),
                RibPart::Head => write!(f, "rib{n}.{side}.head"),
                RibPart::Neck => write!(f, "rib{n}.{side}.neck"),
            },
            Landmark::LateralHead(b) => f.write_str(if *b {
                "femoral_head.b"
            } else {
                "femoral_head.a"
            }),
            Landmark::Plumb(top) => f.write_str(if *top { "plumb.top" } else { "plumb.bottom" }),
            Landmark::Scale(b) => f.write_str(if *b { "scale.b" } else { "scale.a" }),
            Landmark::Metal => f.write_str("metal"),
        }
    }
}

fn side_of(word: &str) -> Option<Side> {
    match word {
        "left" => Some(Side::Left),
        "right" => Some(Side::Right),
        _ => None,
    }
}

fn parse(text: &str) -> Option<Landmark> {
    let parts: Vec<&str> = text.split('.').collect();
    match parts[..] {
        ["metal"] => Some(Landmark::Metal),
        ["plumb", "top"] => Some(Landmark::Plumb(true)),
        ["plumb", "bottom"] => Some(Landmark::Plumb(false)),
        ["scale", "a"] => Some(Landmark::Scale(false)),
        ["scale", "b"] => Some(Landmark::Scale(true)),
        ["femoral_head", "a"] => Some(Landmark::LateralHead(false)),
        ["femoral_head", "b"] => Some(Landmark::LateralHead(true)),
        [level, "center"] => level.parse().ok().map(Landmark::Center),
        [level, "pedicle", side] => Some(Landmark::Pedicle(level.parse().ok()?, side_of(side)?)),
        [level, edge @ ("upper" | "lower"), end] => {
            let edge = if edge == "upper" {
                Edge::Upper
            } else {
                Edge::Lower
            };
            let end = match end {
                "left" => PlateEnd::Left,
                "right" => PlateEnd::Right,
                "posterior" => PlateEnd::Posterior,
                "anterior" => PlateEnd::Anterior,
                _ => return None,
            };
            Some(Landmark::Plate(level.parse().ok()?, edge, end))
        }
        [first, side, ref rest @ ..] => {
            let side = side_of(side)?;
            if let (Some(pair), []) = (PAIRS.iter().find(|p| p.1 == first), rest) {
                return Some(Landmark::Paired(pair.0, side));
            }
            let digits = first.strip_prefix("rib")?;
            if digits.starts_with('0') || !digits.bytes().all(|b| b.is_ascii_digit()) {
                return None;
            }
            let n: u8 = digits.parse().ok().filter(|n| (1..=13).contains(n))?;
            let part = match rest {
                [] => RibPart::Midline,
                ["tp"] => RibPart::Tp,
                ["head"] => RibPart::Head,
                ["neck"] => RibPart::Neck,
                _ => return None,
            };
            Some(Landmark::Rib(n, side, part))
        }
        _ => None,
    }
}

impl FromStr for Landmark {
    type Err = String;
    fn from_str(text: &str) -> Result<Landmark, String> {
        parse(text).ok_or_else(|| {
            format!("\"{text}\" is no landmark name; see docs/CONVENTIONS.md for the list")
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_read_back_and_wrong_ones_do_not() {
        for name in [
            "T5.upper.left",
            "L6.lower.right",
            "S1.upper.posterior",
            "C7.center",
            "T13.pedicle.right",
            "clavicle.left",
            "femoral_head.right",
            "femoral_head.a",
            "rib13.left",
            "rib7.right.tp",
            "rib2.left.head",
            "rib2.left.neck",
            "ribcage.left",
            "plumb.top",
            "plumb.bottom",
            "scale.a",
            "scale.b",
            "metal",
            "rib_prominence.left",
            "first_rib.right",
            "sacral_ala.left",
            "hemidiaphragm.right",
            "iliac.left",
        ] {
            assert_eq!(
                name.parse::<Landmark>().map(|l| l.to_string()),
                Ok(name.to_owned())
            );
        }
        for name in [
            "",
            "T5",
            "T5.upper",
            "T5.upper.top",
            "rib0.left",
            "rib14.left",
            "rib7",
            "clavicle",
            "clavicle.a",
            "T5.Upper.left",
            "rib7.left.tip",
            "rib+7.left",
        ] {
            assert!(name.parse::<Landmark>().is_err(), "{name}");
        }
        assert!(
            !"T5.upper.anterior"
                .parse::<Landmark>()
                .is_ok_and(Landmark::on_coronal)
        );
        assert!(
            !"clavicle.left"
                .parse::<Landmark>()
                .is_ok_and(Landmark::on_lateral)
        );
    }
}
