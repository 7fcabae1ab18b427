//! Runs a command and gives its exit code: 0 done, 1 the input is at fault, 2 wrong usage.

use super::args::{Arguments, Do, Format, Policy, SchemaOf};
use super::proposals;
use crate::workbench::{
    CASE_SCHEMA, COMPARE_SCHEMA, Choices, Command, CompareOptions, DEFAULT_READER, FACT_WORDS,
    LevelPolicy, MeasureOptions, OpenCase, RESULTS_SCHEMA, Refusal, compare_csv, compare_json,
    compare_table, measure_csv, measure_json, measure_table, open_demo,
};
use clap::Parser;
use std::ffi::OsString;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// What is left to do when a command is done: open the window, which the command line knows nothing of.
#[derive(Clone, Debug, PartialEq)]
pub struct WindowWish {
    /// The case; the start page when absent.
    pub case: Option<PathBuf>,
    /// Seconds after which it closes by itself.
    pub close_after: Option<f32>,
    /// Whether a machine without display is an error, or the command was of use without a window.
    pub needed: bool,
}

/// Runs the command line; gives its exit code and whether the window is wished for.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> (ExitCode, Option<WindowWish>) {
    let arguments = match Arguments::try_parse_from(arguments) {
        Ok(arguments) => arguments,
        Err(error) => {
            let _ = error.print();
            return (ExitCode::from(u8::from(error.use_stderr()) * 2), None);
        }
    };
    let Some(command) = &arguments.command else {
        let wish = WindowWish {
            case: None,
            close_after: None,
            needed: true,
        };
        return (ExitCode::SUCCESS, Some(wish));
    };
    let code = match run_command(command) {
        Ok(text) => match std::io::stdout().write_all(text.as_bytes()) {
            Ok(()) => ExitCode::SUCCESS,
            // A reader that closed the pipe has what it wanted.
            Err(e) if e.kind() == std::io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
            Err(e) => {
                eprintln!("curvebench: the output cannot be written ({e}); write it elsewhere");
                ExitCode::from(1)
            }
        },
        Err(Failure::Usage(text)) => {
            eprintln!("curvebench: {text}");
            return (ExitCode::from(2), None);
        }
        Err(Failure::Input(refusal)) => {
            eprintln!("curvebench: {}", refusal.0.replace('\n', " "));
            return (ExitCode::from(1), None);
        }
    };
    let wish = match command {
        Do::Open { case, close_after } => Some(WindowWish {
            case: Some(case.clone()),
            close_after: *close_after,
            needed: true,
        }),
        Do::Demo {
            dir,
            no_window: false,
            close_after,
        } => Some(WindowWish {
            case: Some(dir.clone()),
            close_after: *close_after,
            needed: false,
        }),
        _ => None,
    };
    (code, wish)
}

pub(super) enum Failure {
    Usage(String),
    Input(Refusal),
}

impl From<Refusal> for Failure {
    fn from(refusal: Refusal) -> Failure {
        Failure::Input(refusal)
    }
}

/// Writes a file that is not there yet.
fn write_new(path: &Path, text: &str) -> Result<(), Refusal> {
    std::fs::File::create_new(path)
        .and_then(|mut f| f.write_all(text.as_bytes()))
        .map_err(|e| {
            Refusal(format!(
                "{}: cannot be written ({e}); choose another name",
                path.display()
            ))
        })
}

/// Applies a command and tells on stderr what it did.
pub(super) fn apply(case: &mut OpenCase, command: &Command) -> Result<(), Refusal> {
    let applied = case.apply(command)?;
    if let Some(why) = case.unsaved() {
        return Err(Refusal(why.to_owned()));
    }
    for line in applied.told {
        eprintln!("{line}");
    }
    Ok(())
}

fn run_command(command: &Do) -> Result<String, Failure> {
    match command {
        Do::Demo { dir, .. } => {
            let case = open_demo(dir, |done, total| {
                eprint!("\rfilm {done} of {total}");
                if done == total {
                    eprintln!();
                }
                true
            })?;
            let films = case.case().films.len();
            let comparison = case.compare(&CompareOptions::default())?;
            eprintln!(
                "{}: an invented case of {films} films with marks; measure it with `curvebench measure {0}`",
                dir.display()
            );
            Ok(compare_table::compare_table(&comparison))
        }
        Do::Open { case, .. } => {
            // A case that cannot be opened is told here, before there is a window.
            OpenCase::open(case)?;
            Ok(String::new())
        }
        Do::New { case, id, cause } => {
            OpenCase::create(case, id, *cause)?;
            eprintln!(
                "{}: an empty case; add films with `curvebench add`",
                case.display()
            );
            Ok(String::new())
        }
        Do::Add {
            case,
            files,
            id,
            facts,
        } => {
            if id.is_some() && files.len() > 1 {
                return Err(Failure::Usage(
                    "--id names one film; add the files one by one".to_owned(),
                ));
            }
            let mut case = OpenCase::open(case)?;
            for path in files {
                let facts = Box::new(facts.stated());
                apply(
                    &mut case,
                    &Command::AddFilm {
                        path: path.clone(),
                        id: id.clone(),
                        facts,
                    },
                )?;
            }
            Ok(String::new())
        }
        Do::Film {
            case,
            film,
            forget,
            facts,
        } => {
            let mut case = OpenCase::open(case)?;
            if !forget.is_empty() {
                let mut kept = case.film(film)?.stated.clone();
                for fact in forget {
                    if !kept.forget(fact) {
                        return Err(Failure::Usage(format!(
                            "--forget \"{fact}\" is no fact; the facts are {}",
                            FACT_WORDS.join(", ")
                        )));
                    }
                }
                kept.take_over(&facts.stated());
                let facts = Box::new(kept);
                let film = film.clone();
                apply(&mut case, &Command::StateFacts { film, facts })?;
                return Ok(String::new());
            }
            apply(
                &mut case,
                &Command::SetFacts {
                    film: film.clone(),
                    facts: Box::new(facts.stated()),
                },
            )?;
            Ok(String::new())
        }
        Do::Marks {
            case,
            import,
            reader,
            ..
        } => {
            let mut case = OpenCase::open(case)?;
            let Some(path) = import else {
                case.check_reader(reader.as_deref())?;
                let waiting = case.unaccepted(reader.as_deref());
                if waiting > 0 {
                    eprintln!("{waiting} proposed marks are left out; accept them first");
                }
                return Ok(case.export_marks(reader.as_deref()));
            };
            let name = path.display().to_string();
            let table = read_table(path)?;
            let reader = reader.clone().unwrap_or_else(|| DEFAULT_READER.to_owned());
            apply(
                &mut case,
                &Command::ImportMarks {
                    reader,
                    name,
                    table,
                },
            )?;
            Ok(String::new())
        }
        Do::Refine {
            case,
            film,
            from,
            reader,
            save,
        } => refine(case, film, from.as_deref(), reader.as_deref(), *save),
        Do::Carry { .. } | Do::Propose { .. } | Do::Accept { .. } => proposals::run(command),
        Do::Outlines {
            case,
            output,
            lateral,
            level,
            reader,
        } => {
            let case = OpenCase::open(case)?;
            let svg = case.outlines(reader.as_deref(), *lateral, *level)?;
            write_new(output, &svg)?;
            Ok(String::new())
        }
        Do::Measure {
            case,
            film,
            reader,
            ends,
            format,
        } => {
            let case = OpenCase::open(case)?;
            case.check_films()?;
            let options = MeasureOptions {
                film: film.clone(),
                reader: reader.clone(),
                ends: ends.clone(),
            };
            let results = case.measure(&options)?;
            Ok(match format {
                Format::Table => measure_table::measure_table(&results),
                Format::Csv => measure_csv(&results),
                Format::Json => measure_json(&results),
            })
        }
        Do::Compare {
            case,
            baseline,
            levels,
            reader,
            format,
        } => {
            let case = OpenCase::open(case)?;
            case.check_films()?;
            let levels = match levels {
                Policy::Fixed => LevelPolicy::Fixed,
                Policy::Free => LevelPolicy::Free,
            };
            let options = CompareOptions {
                baseline: baseline.clone(),
                levels,
                reader: reader.clone(),
            };
            let comparison = case.compare(&options)?;
            Ok(match format {
                Format::Table => compare_table::compare_table(&comparison),
                Format::Csv => compare_csv(&comparison),
                Format::Json => compare_json(&comparison),
            })
        }
        Do::Choose {
            case,
            cause,
            translation_reference,
            apex,
            csvl,
            pelvic_obliquity,
            rib_pairs,
            width_depth_ratio,
            absent,
            upper_instrumented,
            lower_instrumented,
        } => {
            let mut case = OpenCase::open(case)?;
            let settings = Choices {
                translation_reference: translation_reference.clone(),
                apex: apex.clone(),
                csvl: csvl.clone(),
                pelvic_obliquity: pelvic_obliquity.clone(),
                rib_pairs: rib_pairs.clone(),
                width_depth_ratio: *width_depth_ratio,
                absent: absent.clone(),
                upper_instrumented: upper_instrumented.clone(),
                lower_instrumented: lower_instrumented.clone(),
            }
            .applied_to(&case.case().settings)?;
            apply(&mut case, &Command::SetSettings(Box::new(settings)))?;
            if cause.is_some() {
                apply(&mut case, &Command::SetCause(*cause))?;
            }
            Ok(String::new())
        }
        Do::Schema { of } => Ok(match of {
            SchemaOf::Case => CASE_SCHEMA,
            SchemaOf::Results => RESULTS_SCHEMA,
            SchemaOf::Compare => COMPARE_SCHEMA,
        }
        .to_owned()),
    }
}

fn read_table(path: &Path) -> Result<String, Refusal> {
    std::fs::read_to_string(path).map_err(|e| {
        Refusal(format!(
            "{}: cannot be read as text ({e}); check the path",
            path.display()
        ))
    })
}

/// Refines a film's end-plates and prints the table with its column of quality.
fn refine(
    folder: &Path,
    film: &str,
    from: Option<&Path>,
    reader: Option<&str>,
    save: bool,
) -> Result<String, Failure> {
    let mut case = OpenCase::open(folder)?;
    let table = from.map(read_table).transpose()?;
    let name = from.map_or_else(String::new, |p| p.display().to_string());
    let found = case.refine(film, reader, table.as_deref().map(|t| (name.as_str(), t)))?;
    if save {
        apply(&mut case, &found.command())?;
    }
    for line in found.told().iter().chain(&found.doubts()) {
        eprintln!("{line}");
    }
    let (moved, all) = found.counts();
    eprintln!(
        "{film}: {moved} of {all} end-plates refined{}; levels are the reader's responsibility",
        if save {
            " and saved"
        } else {
            ", nothing saved"
        }
    );
    Ok(found.table())
}
