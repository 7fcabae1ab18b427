//! One door for the command line and the window: open a case, apply commands, ask for results.

mod carry;
mod choices;
mod command;
mod demo;
mod drawing;
mod facts;
mod hints;
mod laid;
mod locate;
mod open;
mod operated;
mod outlines;
mod proposals;
mod results;
mod straight;

pub use carry::Proposal;
pub use choices::Choices;
pub use command::{Applied, Command};
pub use demo::{open_demo, write_demo};
pub use facts::contradictions;
pub use laid::Laid;
pub use locate::RefinedMarks;
pub use open::{Access, FilmSource, OpenCase};
pub use results::{MeasureOptions, film_scale, scale_words};

pub use crate::case::{
    Case, Cause, FACT_WORDS, FilmRecord, Phase, Reading, SCHEMA as CASE_SCHEMA, StatedFacts,
};
pub use crate::film::{
    DisplayLut, Film, GreyPlane, ImageEdge, Look, Pixels, Samples, SpacingKind, View,
    edge_emphasis, local_contrast,
};
pub use crate::geometry::{PixelScale, ScaleState, Straight};
pub use crate::landmark::{Landmark, Level, Levels};
pub use crate::measure::{
    ApexRule, CsvlConstruction, Measured, ObliquityMethod, Settings, Status, TranslationReference,
};
pub use crate::report::{
    COMPARE_SCHEMA, FilmResults, RESULTS_SCHEMA, compare_cells, compare_csv, compare_json,
    compare_table, measure_csv, measure_json, measure_table,
};
pub use crate::series::{CompareOptions, Comparison, LevelPolicy, Row, best_reader};
pub use crate::units::{Date, FilmPx};

/// The reader of marks that name none.
pub const DEFAULT_READER: &str = "A";

/// Why a command was not applied: one sentence with file, fact and mend.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct Refusal(pub String);

impl Refusal {
    pub(crate) fn new(text: impl ToString) -> Refusal {
        Refusal(text.to_string())
    }
}
