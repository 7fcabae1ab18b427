//! What is kept: film references, marks in film pixels, readings. Ground facts only.
//!
//! Every angle, distance and percentage is recomputed from these; none is stored.

mod facts;
mod film;
mod reading;
mod repeat;
mod store;

pub use facts::{Cause, FACT_WORDS, Phase, StatedFacts};
pub use film::FilmRecord;
pub use reading::Reading;
pub use store::{CASE_FILE, CaseError, SCHEMA, hash_hex, load, save, write_new};

use crate::measure::Settings;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// Version of the case file this build writes.
pub const VERSION: u32 = 1;

/// A patient's films and their readings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Case {
    /// Version of the file format.
    pub version: u32,
    /// The case's id: a study number, never a name.
    pub id: String,
    /// Cause of the deformity, which chooses the published measurement error.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub cause: Option<Cause>,
    /// Choices where sources differ.
    #[serde(default)]
    pub settings: Settings,
    /// The films, in the order they were added.
    #[serde(default)]
    pub films: Vec<FilmRecord>,
    /// Every reading, oldest first.
    #[serde(default)]
    pub readings: Vec<Reading>,
    /// What a newer or another program wrote beside.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

impl Case {
    /// An empty case.
    #[must_use]
    pub fn new(id: &str, cause: Option<Cause>) -> Case {
        Case {
            version: VERSION,
            id: id.to_owned(),
            cause,
            settings: Settings::default(),
            films: Vec::new(),
            readings: Vec::new(),
            extra: Map::new(),
        }
    }

    /// A film by id.
    #[must_use]
    pub fn film(&self, id: &str) -> Option<&FilmRecord> {
        self.films.iter().find(|f| f.id == id)
    }

    /// A film by id, to change it.
    pub fn film_mut(&mut self, id: &str) -> Option<&mut FilmRecord> {
        self.films.iter_mut().find(|f| f.id == id)
    }

    /// The newest reading of a film by a reader.
    #[must_use]
    pub fn newest(&self, film: &str, reader: &str) -> Option<&Reading> {
        self.readings
            .iter()
            .rev()
            .find(|r| r.film == film && r.reader == reader)
    }

    /// The newest reading of a film by a reader, made empty if there is none.
    pub fn newest_mut(&mut self, film: &str, reader: &str) -> &mut Reading {
        let at = match self
            .readings
            .iter()
            .rposition(|r| r.film == film && r.reader == reader)
        {
            Some(at) => at,
            None => {
                self.readings.push(Reading::new(film, reader, 1));
                self.readings.len() - 1
            }
        };
        &mut self.readings[at]
    }

    /// Readers of a film (or of all films), each once, in the order of their first reading.
    #[must_use]
    pub fn readers(&self, film: Option<&str>) -> Vec<&str> {
        let mut readers: Vec<&str> = Vec::new();
        for reading in &self.readings {
            if film.is_none_or(|f| f == reading.film) && !readers.contains(&reading.reader.as_str())
            {
                readers.push(&reading.reader);
            }
        }
        readers
    }

    /// The next free film id, `f1`, `f2` …
    #[must_use]
    pub fn free_film_id(&self) -> String {
        (1..)
            .map(|n| format!("f{n}"))
            .find(|id| self.film(id).is_none())
            .unwrap_or_default()
    }
}
