//! Writes the demo case.

use super::{Cause, Command, OpenCase, Refusal, StatedFacts};
use crate::case::CASE_FILE;
use crate::landmark::{TableRow, write_table};
use crate::phantom::demo_films;
use std::path::Path;

/// The id of the demo case.
const ID: &str = "demo: invented child";

/// The demo case of a folder: as it is when it stands there already, written anew into an empty
/// place. `progress` hears how many films of how many are done and says whether to go on.
///
/// # Errors
/// The folder holds another case or cannot be written; it was called off.
pub fn open_demo(
    folder: &Path,
    progress: impl FnMut(usize, usize) -> bool,
) -> Result<OpenCase, Refusal> {
    match OpenCase::open(folder) {
        Ok(case) if case.case().id == ID => Ok(case),
        _ => write_demo(folder, progress),
    }
}

/// Writes the demo case into a new folder; `progress` hears how many films of how many are done and
/// says whether to go on. Called off, it leaves nothing behind.
///
/// # Errors
/// The folder holds a case already or cannot be written; it was called off.
pub fn write_demo(
    folder: &Path,
    progress: impl FnMut(usize, usize) -> bool,
) -> Result<OpenCase, Refusal> {
    if folder.join(CASE_FILE).exists() {
        // Refuses, and says how to mend it, before the films are made.
        OpenCase::create(folder, ID, None)?;
    }
    // The films come first: nothing is written until they are made.
    let Some(films) = demo_films(progress).map_err(Refusal::new)? else {
        return Err(Refusal::new("the demo was called off; nothing was written"));
    };
    let mut case = OpenCase::create(folder, ID, Some(Cause::Syndromic))?;
    for film in &films {
        let scratch = folder.join(format!("{}.dcm", film.id));
        std::fs::write(&scratch, &film.bytes).map_err(|e| {
            Refusal::new(format!(
                "{}: cannot be written ({e}); free space or permissions",
                folder.display()
            ))
        })?;
        let facts = StatedFacts {
            phase: serde_json::from_value(film.phase.into()).ok(),
            posture: Some(film.posture.to_owned()),
            traction_kg: film.traction_kg,
            body_weight_kg: Some(film.body_weight_kg),
            magnification: Some(film.magnification),
            ..StatedFacts::default()
        };
        let added = case.apply(&Command::AddFilm {
            path: scratch.clone(),
            id: Some(film.id.clone()),
            facts: Box::new(facts),
        });
        // The scratch file goes whether or not the film was taken in.
        let _ = std::fs::remove_file(&scratch);
        added?;
    }
    let rows: Vec<TableRow<'_>> = films
        .iter()
        .map(|f| TableRow {
            film: &f.id,
            marks: &f.marks,
        })
        .collect();
    case.apply(&Command::ImportMarks {
        reader: "demo reader".to_owned(),
        name: "demo marks".to_owned(),
        table: write_table(&rows),
    })?;
    match case.unsaved() {
        Some(why) => Err(Refusal(why.to_owned())),
        None => Ok(case),
    }
}
