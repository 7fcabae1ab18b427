//! Films put into a case.

#![allow(clippy::unwrap_used)]

use curvebench::workbench::{Command, OpenCase, StatedFacts};
use std::path::PathBuf;

/// Adds a film of an id with stated facts.
pub fn add(case: &mut OpenCase, path: PathBuf, id: &str, facts: StatedFacts) {
    case.apply(&Command::AddFilm {
        path,
        id: Some(id.to_owned()),
        facts: Box::new(facts),
    })
    .unwrap();
}
