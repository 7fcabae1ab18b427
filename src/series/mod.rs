//! Film against film: what changed since the baseline, how much of the total, and is it real.

mod change;
mod choose;
mod curve_type;
mod error;
mod indices;
mod junction;
mod measured;
mod notes;
mod rows;

pub use change::percent_sd;
pub use choose::{Milestones, best_reader};
pub use curve_type::CurveType;
pub use error::{PublishedError, published_error};
pub use indices::{CourseAngles, CourseIndex, course_indices};
pub use rows::{Row, compare};

use crate::case::Phase;
use crate::film::View;
use crate::units::Date;

/// Which end vertebrae a comparison uses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum LevelPolicy {
    /// Those of the baseline film, on every film.
    #[default]
    Fixed,
    /// Those found on each film.
    Free,
}

impl LevelPolicy {
    /// The word used on the command line and in the output.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            LevelPolicy::Fixed => "fixed",
            LevelPolicy::Free => "free",
        }
    }
}

/// What to compare.
#[derive(Clone, Debug, Default)]
pub struct CompareOptions {
    /// Baseline film; found when absent (see [`compare`]).
    pub baseline: Option<String>,
    /// End vertebrae fixed from the baseline, or free.
    pub levels: LevelPolicy,
    /// Whose reading; the reader of most films when absent.
    pub reader: Option<String>,
}

/// A film as a column of the comparison.
#[derive(Clone, Debug)]
pub struct FilmColumn {
    /// The film's id.
    pub id: String,
    /// Date.
    pub date: Option<Date>,
    /// View.
    pub view: Option<View>,
    /// Phase of treatment.
    pub phase: Option<Phase>,
    /// Posture.
    pub posture: Option<String>,
    /// Traction weight, kg.
    pub traction_kg: Option<f64>,
    /// Body weight, kg.
    pub body_weight_kg: Option<f64>,
    /// Traction weight, per cent of body weight.
    pub percent_body_weight: Option<f64>,
}

/// The series compared.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// Baseline film.
    pub baseline: String,
    /// Baseline of the other plane, if the case has films of both.
    pub other_baseline: Option<String>,
    /// End vertebrae fixed or free.
    pub levels: LevelPolicy,
    /// Cause of the deformity, if stated.
    pub cause: Option<crate::case::Cause>,
    /// Where the uncertainties of placed marks come from.
    pub placement: String,
    /// Whose readings.
    pub reader: String,
    /// The films, by date.
    pub films: Vec<FilmColumn>,
    /// Films of the course of treatment.
    pub milestones: Milestones,
    /// Films of the other plane that go with them.
    pub other_milestones: Option<Milestones>,
    /// Indices of the main curve's course.
    pub indices: Vec<CourseIndex>,
    /// Suggested surgical curve type; only of idiopathic cases with a coronal baseline.
    pub curve_type: Option<CurveType>,
    /// One row per measure and film.
    pub rows: Vec<Row>,
    /// Cautions about the comparison as a whole.
    pub notes: Vec<String>,
}

/// Why films cannot be compared.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SeriesError {
    /// Nothing is marked.
    #[error("no film of the case is marked; import marks first")]
    NothingMarked,
    /// No such film.
    #[error("the case has no film \"{0}\"; name one of its films as baseline")]
    NoFilm(String),
    /// The baseline is not marked by the reader.
    #[error(
        "film \"{film}\" is not marked by reader \"{reader}\"; mark it or choose another baseline"
    )]
    BaselineUnmarked {
        /// The film.
        film: String,
        /// The reader.
        reader: String,
    },
    /// No such reader.
    #[error("reader \"{0}\" has marked no film of the case; name another reader")]
    NoReader(String),
}
