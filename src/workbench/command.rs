//! Every change to a case, by name.

use super::locate::contradicted;
use super::open::no_film;
use super::{Refusal, facts, proposals};
use crate::case::{Case, Cause, FilmRecord, Reading, StatedFacts, hash_hex};
use crate::film;
use crate::landmark::{Landmark, LandmarkSet, parse_table};
use crate::measure::Settings;
use crate::units::FilmPx;
use std::path::{Path, PathBuf};

/// A change to a case.
#[derive(Clone, Debug)]
pub enum Command {
    /// Adds a film; facts that contradict the file are refused.
    AddFilm {
        /// The file.
        path: PathBuf,
        /// Id in the case; the next free one when absent.
        id: Option<String>,
        /// Stated facts.
        facts: Box<StatedFacts>,
    },
    /// States or corrects facts of a film.
    SetFacts {
        /// The film.
        film: String,
        /// The facts; those left out stay.
        facts: Box<StatedFacts>,
    },
    /// Replaces all that is stated about a film; what is not stated any more is as the file says.
    StateFacts {
        /// The film.
        film: String,
        /// The facts, all of them.
        facts: Box<StatedFacts>,
    },
    /// Imports a landmark table: one new reading of each film in it.
    ImportMarks {
        /// The reader.
        reader: String,
        /// Name of the table for error sentences.
        name: String,
        /// The table.
        table: String,
    },
    /// Places marks on the reader's newest reading of a film; an empty line removes the mark.
    PlaceMarks {
        /// The film.
        film: String,
        /// The reader.
        reader: String,
        /// Marks with their points.
        marks: Vec<(Landmark, Vec<FilmPx>)>,
    },
    /// Puts proposed marks beside what the reader placed; they take no part until accepted.
    Propose {
        /// The film.
        film: String,
        /// The reader.
        reader: String,
        /// Marks with their points; a mark the reader placed stays his.
        marks: Vec<(Landmark, Vec<FilmPx>)>,
    },
    /// Accepts proposed marks as they stand: these, or all of the film.
    Accept {
        /// The film.
        film: String,
        /// The reader.
        reader: String,
        /// Names; none for all.
        names: Option<Vec<Landmark>>,
    },
    /// States the cause of the deformity.
    SetCause(Option<Cause>),
    /// Changes the case's choices.
    SetSettings(Box<Settings>),
}

/// What a command did, for telling the user.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Applied {
    /// Sentences, one per fact.
    pub told: Vec<String>,
}

impl Command {
    /// The command in words, as undo names it.
    #[must_use]
    pub fn label(&self) -> String {
        match self {
            Command::AddFilm { path, .. } => {
                format!(
                    "add {}",
                    path.file_name()
                        .unwrap_or(path.as_os_str())
                        .to_string_lossy()
                )
            }
            Command::SetFacts { film, .. } | Command::StateFacts { film, .. } => {
                format!("facts of {film}")
            }
            Command::Propose { film, marks, .. } => {
                format!("propose {} marks on {film}", marks.len())
            }
            Command::Accept { film, names, .. } => match names.as_deref() {
                Some([name]) => format!("accept {}", short_name(*name)),
                Some(names) => format!("accept {} marks on {film}", names.len()),
                None => format!("accept the proposals on {film}"),
            },
            Command::ImportMarks { name, .. } => format!("import {name}"),
            Command::PlaceMarks { film, marks, .. } => match &marks[..] {
                [(name, points)] if points.is_empty() => format!("delete {}", short_name(*name)),
                [(name, _)] => format!("place {}", short_name(*name)),
                _ => format!("{} marks on {film}", marks.len()),
            },
            Command::SetCause(_) => "cause".to_owned(),
            Command::SetSettings(_) => "choices of the case".to_owned(),
        }
    }

    /// Applies the command to a copy of the case.
    pub(super) fn change(&self, case: &mut Case, folder: &Path) -> Result<Applied, Refusal> {
        match self {
            Command::AddFilm { path, id, facts } => {
                add_film(case, folder, path, id.as_deref(), facts)
            }
            Command::SetFacts { film, facts } => {
                let Some(record) = case.film_mut(film) else {
                    return Err(no_film(case, film));
                };
                facts::check(record, facts)?;
                record.stated.take_over(facts);
                let told = facts::contradictions(record, facts);
                Ok(Applied {
                    told: told
                        .into_iter()
                        .map(|c| format!("{film}: {c}; the stated one holds"))
                        .collect(),
                })
            }
            Command::StateFacts { film, facts } => {
                let Some(record) = case.film_mut(film) else {
                    return Err(no_film(case, film));
                };
                let mut blank = record.clone();
                blank.stated = StatedFacts::default();
                facts::check(&blank, facts)?;
                record.stated = (**facts).clone();
                let told = facts::contradictions(record, facts);
                Ok(Applied {
                    told: told
                        .into_iter()
                        .map(|c| format!("{film}: {c}; the stated one holds"))
                        .collect(),
                })
            }
            Command::Propose {
                film,
                reader,
                marks,
            } => proposals::propose(case, film, reader, marks),
            Command::Accept {
                film,
                reader,
                names,
            } => proposals::accept(case, film, reader, names.as_deref()),
            Command::ImportMarks {
                reader,
                name,
                table,
            } => import(case, reader, name, table),
            Command::PlaceMarks {
                film,
                reader,
                marks,
            } => place(case, film, reader, marks),
            Command::SetCause(cause) => {
                case.cause = *cause;
                Ok(Applied { told: Vec::new() })
            }
            Command::SetSettings(settings) => {
                case.settings = (**settings).clone();
                Ok(Applied { told: Vec::new() })
            }
        }
    }
}

/// `T5 upper left` for `T5.upper.left`.
fn short_name(name: Landmark) -> String {
    name.to_string().replace(['.', '_'], " ")
}

fn add_film(
    case: &mut Case,
    folder: &Path,
    path: &Path,
    id: Option<&str>,
    stated: &StatedFacts,
) -> Result<Applied, Refusal> {
    let name = path.display().to_string();
    let bytes = std::fs::read(path)
        .map_err(|e| Refusal::new(format!("{name}: cannot be read ({e}); check the path")))?;
    let film = film::load_bytes(&name, &bytes).map_err(Refusal::new)?;
    let sha256 = hash_hex(&bytes);
    if let Some(old) = case.films.iter().find(|f| f.sha256 == sha256) {
        return Err(Refusal::new(format!(
            "{name}: is in the case already as film \"{}\"",
            old.id
        )));
    }
    let id = id.map_or_else(|| case.free_film_id(), str::to_owned);
    if id.is_empty() || id.contains([',', '"', '\n', '/']) {
        return Err(Refusal::new(format!(
            "film id \"{id}\" is empty or holds a comma, quote or slash; choose another"
        )));
    }
    if case.film(&id).is_some() {
        return Err(Refusal::new(format!(
            "{name}: the case has a film \"{id}\" already; choose another --id"
        )));
    }
    let extension = path
        .extension()
        .map(|e| e.to_string_lossy().to_lowercase())
        .filter(|e| e.len() <= 5);
    let file = format!("films/{sha256}.{}", extension.as_deref().unwrap_or("film"));
    let record = FilmRecord {
        id: id.clone(),
        file: file.clone(),
        sha256,
        name: path
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned(),
        said: film.facts,
        stated: stated.clone(),
        extra: serde_json::Map::new(),
    };
    let against = facts::contradictions(&record, stated);
    if !against.is_empty() {
        return Err(Refusal::new(format!(
            "{name}: {}; leave the fact out, or add the film and correct it with `curvebench film`",
            against.join("; ")
        )));
    }
    facts::check(
        &FilmRecord {
            stated: StatedFacts::default(),
            ..record.clone()
        },
        stated,
    )?;
    crate::case::write_new(&folder.join(&file), &bytes).map_err(|e| {
        Refusal::new(format!(
            "{}: cannot be written ({e}); free space or permissions",
            folder.display()
        ))
    })?;
    let told = describe(&record);
    case.films.push(record);
    Ok(Applied { told })
}

/// What is known about a film that was added, and what must still be stated.
fn describe(film: &FilmRecord) -> Vec<String> {
    let said = &film.said;
    let view = film
        .view()
        .map_or("view unknown: state --view".to_owned(), |v| {
            v.word().to_uppercase()
        });
    let date = film
        .date()
        .map_or("date unknown: state --date".to_owned(), |d| d.to_string());
    let side = match (film.side_on(), film.is_lateral()) {
        (Some(edge), Some(true)) => format!("front on {}", edge.word()),
        (Some(edge), _) => format!("patient's left on {}", edge.word()),
        (None, Some(true)) => "side of the film unknown: state --anterior-on".to_owned(),
        (None, _) => "side of the film unknown: state --left-on".to_owned(),
    };
    let mut told = vec![
        format!(
            "{}: {} ({} × {} pixels), {view}, {date}, {side}",
            film.id, film.name, said.columns, said.rows
        ),
        format!(
            "{}: scale: {}",
            film.id,
            super::results::scale_words(film, &LandmarkSet::new())
        ),
    ];
    if let Some(m) = said
        .estimated_magnification
        .filter(|_| film.stated.magnification.is_none())
    {
        told.push(format!(
            "{}: the file estimates a magnification of {m:.3}; it is not applied unless stated",
            film.id
        ));
    }
    told.extend(said.notes.iter().map(|n| format!("{}: {n}", film.id)));
    told
}

fn import(case: &mut Case, reader: &str, name: &str, table: &str) -> Result<Applied, Refusal> {
    if reader.trim().is_empty() {
        return Err(Refusal::new(
            "the reader's name is empty; give one with --reader",
        ));
    }
    let sets = parse_table(table, |film| case.film(film).map(FilmRecord::bounds))
        .map_err(|e| Refusal::new(format!("{name}: {e}")))?;
    if sets.is_empty() {
        return Err(Refusal::new(format!(
            "{name}: holds no mark; import a table with rows"
        )));
    }
    let mut told = Vec::new();
    for (film, marks) in sets {
        let number = case.newest(&film, reader).map_or(1, |r| r.number + 1);
        told.push(format!(
            "{film}: {} marks, reading {number} of reader {reader}",
            marks.len()
        ));
        if let Some(record) = case.film(&film) {
            told.extend(contradicted(case, record, &marks));
        }
        let mut reading = Reading::new(&film, reader, number);
        reading.marks = marks;
        case.readings.push(reading);
    }
    Ok(Applied { told })
}

fn place(
    case: &mut Case,
    film: &str,
    reader: &str,
    marks: &[(Landmark, Vec<FilmPx>)],
) -> Result<Applied, Refusal> {
    check_marks(case, film, marks)?;
    let reading = case.newest_mut(film, reader);
    for (name, points) in marks {
        reading.marks.place_line(*name, points.clone());
        reading.proposed.remove(name);
    }
    Ok(Applied { told: Vec::new() })
}

/// Refuses marks that cannot stand on a film: of the other view, outside it, a line for a point.
pub(super) fn check_marks(
    case: &Case,
    film: &str,
    marks: &[(Landmark, Vec<FilmPx>)],
) -> Result<(), Refusal> {
    let Some(record) = case.film(film) else {
        return Err(no_film(case, film));
    };
    let bounds = record.bounds();
    for (name, points) in marks {
        let fits = match bounds.lateral {
            Some(true) => name.on_lateral(),
            Some(false) => name.on_coronal(),
            None => true,
        };
        if !fits {
            return Err(Refusal::new(format!(
                "film \"{film}\": {name} is no mark of this view"
            )));
        }
        let inside = |p: &FilmPx| {
            (0.0..=f64::from(bounds.columns)).contains(&p.x)
                && (0.0..=f64::from(bounds.rows)).contains(&p.y)
        };
        if !points.iter().all(inside) {
            return Err(Refusal::new(format!(
                "film \"{film}\": {name} would lie outside the film"
            )));
        }
        if points.len() > 1 && !name.may_be_line() {
            return Err(Refusal::new(format!(
                "film \"{film}\": {name} is a single mark"
            )));
        }
    }
    Ok(())
}
