//! Vertebral levels in order from C1 to S1.

use std::fmt;
use std::str::FromStr;

/// A vertebral level: C1–C7, T1–T13, L1–L6, S1, ordered from the head down.
///
/// Thirteen thoracic and six lumbar vertebrae occur; a level that a patient does not have is
/// simply never marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Level(u8);

const CERVICAL: u8 = 7;
const THORACIC: u8 = 13;
const LUMBAR: u8 = 6;

impl Level {
    /// C7.
    pub const C7: Level = Level(6);
    /// C2, the highest level that can end a curve.
    pub const C2: Level = Level(1);
    /// T1.
    pub const T1: Level = Level(7);
    /// L1.
    pub const L1: Level = Level(20);
    /// L4.
    pub const L4: Level = Level(23);
    /// L6, the lowest lumbar level there can be.
    pub const L6: Level = Level(25);
    /// The first sacral segment.
    pub const S1: Level = Level(26);
    /// How many levels there can be.
    pub const COUNT: usize = 27;

    /// Whether every patient is expected to have the level: T13 and L6 are extra.
    #[must_use]
    pub fn is_usual(self) -> bool {
        self.thoracic_number() != Some(13) && self.lumbar_number() != Some(6)
    }

    /// All levels, from C1 to S1.
    pub fn all() -> impl DoubleEndedIterator<Item = Level> {
        (0..=Level::S1.0).map(Level)
    }

    /// Position from the head, C1 = 0.
    #[must_use]
    pub fn index(self) -> usize {
        usize::from(self.0)
    }

    /// The cervical vertebra `n` (1–7).
    #[must_use]
    pub fn cervical(n: u8) -> Option<Level> {
        (1..=CERVICAL).contains(&n).then(|| Level(n - 1))
    }

    /// The thoracic vertebra `n` (1–13).
    #[must_use]
    pub fn thoracic(n: u8) -> Option<Level> {
        (1..=THORACIC).contains(&n).then(|| Level(CERVICAL + n - 1))
    }

    /// The lumbar vertebra `n` (1–6).
    #[must_use]
    pub fn lumbar(n: u8) -> Option<Level> {
        (1..=LUMBAR)
            .contains(&n)
            .then(|| Level(CERVICAL + THORACIC + n - 1))
    }

    /// The number of a thoracic level, `T5` → 5.
    #[must_use]
    pub fn thoracic_number(self) -> Option<u8> {
        (CERVICAL..CERVICAL + THORACIC)
            .contains(&self.0)
            .then(|| self.0 - CERVICAL + 1)
    }

    /// The number of a lumbar level, `L4` → 4.
    #[must_use]
    pub fn lumbar_number(self) -> Option<u8> {
        let first = CERVICAL + THORACIC;
        (first..first + LUMBAR)
            .contains(&self.0)
            .then(|| self.0 - first + 1)
    }

    /// Whether the level is cervical.
    #[must_use]
    pub fn is_cervical(self) -> bool {
        self.0 < CERVICAL
    }
}

impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_cervical() {
            write!(f, "C{}", self.0 + 1)
        } else if let Some(n) = self.thoracic_number() {
            write!(f, "T{n}")
        } else if let Some(n) = self.lumbar_number() {
            write!(f, "L{n}")
        } else {
            f.write_str("S1")
        }
    }
}

impl FromStr for Level {
    type Err = String;
    fn from_str(text: &str) -> Result<Level, String> {
        let bad = || format!("\"{text}\" is no level; levels are C1–C7, T1–T13, L1–L6 and S1");
        if text == "S1" {
            return Ok(Level::S1);
        }
        let mut letters = text.chars();
        let region = letters.next().ok_or_else(bad)?;
        let digits = letters.as_str();
        if digits.starts_with('0') || !digits.bytes().all(|b| b.is_ascii_digit()) {
            return Err(bad());
        }
        let n: u8 = digits.parse().map_err(|_| bad())?;
        match region {
            'C' => Level::cervical(n),
            'T' => Level::thoracic(n),
            'L' => Level::lumbar(n),
            _ => None,
        }
        .ok_or_else(bad)
    }
}

/// A stretch of the spine from an upper to a lower level, written `T5-T12`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Levels {
    /// The upper level.
    pub upper: Level,
    /// The lower level, below `upper`.
    pub lower: Level,
}

impl Levels {
    /// A stretch, if `upper` lies above `lower`.
    #[must_use]
    pub fn new(upper: Level, lower: Level) -> Option<Levels> {
        (upper < lower).then_some(Levels { upper, lower })
    }

    /// How many levels the two stretches share.
    #[must_use]
    pub fn overlap(self, other: Levels) -> usize {
        let top = self.upper.max(other.upper).index();
        let bottom = self.lower.min(other.lower).index();
        (bottom + 1).saturating_sub(top)
    }
}

impl fmt::Display for Levels {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}-{}", self.upper, self.lower)
    }
}

impl FromStr for Levels {
    type Err = String;
    fn from_str(text: &str) -> Result<Levels, String> {
        let (a, b) = text
            .split_once('-')
            .ok_or_else(|| format!("\"{text}\" is no pair of end vertebrae; write it as T5-T12"))?;
        let (upper, lower) = (a.parse()?, b.parse()?);
        Levels::new(upper, lower).ok_or_else(|| {
            format!("in \"{text}\" {upper} does not lie above {lower}; name the upper one first")
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_level_reads_back() {
        assert_eq!(Level::all().count(), Level::COUNT);
        for level in Level::all() {
            assert_eq!(level.to_string().parse(), Ok(level));
        }
        for wrong in [
            "", "T0", "T14", "L7", "C8", "S2", "T05", "t5", "T", "X1", "T+5",
        ] {
            assert!(wrong.parse::<Level>().is_err(), "{wrong}");
        }
        assert!("T12-T5".parse::<Levels>().is_err());
        assert_eq!("T5".parse(), Ok(Level::thoracic(5).unwrap_or(Level::S1)));
    }
}
