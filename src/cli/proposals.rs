//! Marks carried, proposed and accepted.

use super::args::Do;
use super::run::{Failure, apply};
use crate::workbench::{Command, DEFAULT_READER, OpenCase, Proposal, best_reader};

/// Runs `carry`, `propose` or `accept`.
pub(super) fn run(command: &Do) -> Result<String, Failure> {
    match command {
        Do::Carry {
            case,
            from,
            to,
            hints,
            reader,
            save,
        } => {
            let mut case = OpenCase::open(case)?;
            let found = case.carry(from, to, reader.as_deref(), hints)?;
            proposed(&mut case, &found, *save)
        }
        Do::Propose {
            case,
            film,
            hints,
            reader,
            save,
        } => {
            let mut case = OpenCase::open(case)?;
            let found = case.propose(film, reader.as_deref(), hints)?;
            proposed(&mut case, &found, *save)
        }
        Do::Accept {
            case,
            film,
            reader,
            marks,
        } => {
            let mut case = OpenCase::open(case)?;
            let reader = reader
                .clone()
                .or_else(|| best_reader(case.case()))
                .unwrap_or_else(|| DEFAULT_READER.to_owned());
            let command = Command::Accept {
                film: film.clone(),
                reader,
                names: (!marks.is_empty()).then(|| marks.clone()),
            };
            apply(&mut case, &command)?;
            Ok(String::new())
        }
        _ => Ok(String::new()),
    }
}

/// Prints a proposal, tells what it rests on, and keeps it if asked to.
fn proposed(case: &mut OpenCase, found: &Proposal, save: bool) -> Result<String, Failure> {
    for line in &found.told {
        eprintln!("{line}");
    }
    if save {
        apply(case, &found.command())?;
    }
    Ok(found.table())
}
