//! Results to bytes: tables for people (rounded), CSV and JSON for programs (full precision).

pub mod compare_table;
mod course;
mod csv;
mod json;
pub mod measure_table;
mod outlines;
mod reading_line;
pub mod rounding;
mod schema;
pub mod words;

pub use compare_table::compare_table;
pub use csv::{compare_cells, compare_csv, measure_csv};
pub use json::{compare_json, measure_json};
pub use measure_table::measure_table;
pub use outlines::{Outline, outlines_svg};
pub use reading_line::{ReadingLine, reading_line};
pub use schema::{COMPARE_SCHEMA, RESULTS_SCHEMA};

use crate::measure::Measured;

/// The measures of one reading of one film.
#[derive(Clone, Debug)]
pub struct FilmResults {
    /// The film's id.
    pub film: String,
    /// The reader; empty where the film is not marked at all.
    pub reader: String,
    /// Heading of the film for people: date, view, phase, scale.
    pub heading: String,
    /// The measures.
    pub results: Vec<Measured>,
    /// What the film cannot tell.
    pub cautions: Vec<String>,
    /// Where the uncertainties of placed marks come from.
    pub placement: String,
}

/// What goes with every page and table that leaves the program.
pub const CAUTION: &str = "curvebench measures and states uncertainty. It is no medical device; it advises no \
weight and no operation. Local protocols and licensed clinicians decide.";
