//! The patient's sides: never the screen's.

use serde::{Deserialize, Serialize};
use std::fmt;

/// The patient's own left or right, whatever way the film hangs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// The patient's left.
    Left,
    /// The patient's right.
    Right,
}

impl Side {
    /// Both sides, left first.
    pub const BOTH: [Side; 2] = [Side::Left, Side::Right];

    /// The other side.
    #[must_use]
    pub fn other(self) -> Side {
        match self {
            Side::Left => Side::Right,
            Side::Right => Side::Left,
        }
    }

    /// `left` or `right`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Side::Left => "left",
            Side::Right => "right",
        }
    }
}

impl fmt::Display for Side {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// The direction in the patient that a result points to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Toward {
    /// Toward the patient's left.
    Left,
    /// Toward the patient's right.
    Right,
    /// Toward the patient's front.
    Anterior,
    /// Toward the patient's back.
    Posterior,
}

impl Toward {
    /// The word used in JSON, CSV and tables.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Toward::Left => "left",
            Toward::Right => "right",
            Toward::Anterior => "anterior",
            Toward::Posterior => "posterior",
        }
    }
}

impl From<Side> for Toward {
    fn from(side: Side) -> Toward {
        match side {
            Side::Left => Toward::Left,
            Side::Right => Toward::Right,
        }
    }
}
