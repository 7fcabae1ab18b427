//! A case that is open: its folder, its history, its lock.

use super::{Applied, Command, Refusal};
use crate::case::{self, CASE_FILE, Case, Cause};
use crate::film::{self, Film};
use std::fs::{File, OpenOptions};
use std::path::{Path, PathBuf};

/// Whether changes are allowed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Access {
    /// Changes are saved.
    ReadWrite,
    /// The case is open elsewhere, or its folder cannot be written; why.
    ReadOnly(String),
}

/// An earlier or later state with the name of the command between.
struct Step {
    label: String,
    case: Case,
}

const OPEN_ELSEWHERE: &str = "the case is open elsewhere";

/// Undo keeps this many states; a state is a few kilobytes of marks.
const UNDO_DEPTH: usize = 500;

/// An open case.
pub struct OpenCase {
    folder: PathBuf,
    case: Case,
    access: Access,
    undo: Vec<Step>,
    redo: Vec<Step>,
    unsaved: Option<String>,
    _lock: Option<File>,
}

impl OpenCase {
    /// Makes an empty case in a new folder.
    ///
    /// # Errors
    /// The folder holds a case already or cannot be made.
    pub fn create(folder: &Path, id: &str, cause: Option<Cause>) -> Result<OpenCase, Refusal> {
        if folder.join(CASE_FILE).exists() {
            return Err(Refusal::new(format!(
                "{}: holds a case already; name another folder or add films to it",
                folder.display()
            )));
        }
        if id.trim().is_empty() {
            return Err(Refusal::new(
                "the case id is empty; give a study number with --id",
            ));
        }
        std::fs::create_dir_all(folder.join("films")).map_err(|e| {
            Refusal::new(format!(
                "{}: cannot be made ({e}); name a folder you may write",
                folder.display()
            ))
        })?;
        case::save(folder, &Case::new(id, cause)).map_err(Refusal::new)?;
        OpenCase::open(folder)
    }

    /// Opens a case; read-only when it is open elsewhere.
    ///
    /// # Errors
    /// As [`case::load`].
    pub fn open(folder: &Path) -> Result<OpenCase, Refusal> {
        let case = case::load(folder).map_err(Refusal::new)?;
        let lock = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(folder.join(".lock"));
        let (access, lock) = match lock {
            Ok(file) => match file.try_lock() {
                Ok(()) => (Access::ReadWrite, Some(file)),
                Err(_) => (Access::ReadOnly(OPEN_ELSEWHERE.to_owned()), None),
            },
            Err(e) => (
                Access::ReadOnly(format!("its folder cannot be written ({e})")),
                None,
            ),
        };
        Ok(OpenCase {
            folder: folder.to_owned(),
            case,
            access,
            undo: Vec::new(),
            redo: Vec::new(),
            unsaved: None,
            _lock: lock,
        })
    }

    /// The case.
    #[must_use]
    pub fn case(&self) -> &Case {
        &self.case
    }

    /// Its folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Whether changes are allowed.
    #[must_use]
    pub fn access(&self) -> &Access {
        &self.access
    }

    /// Why the last change is not on disk yet; the work is kept in memory.
    #[must_use]
    pub fn unsaved(&self) -> Option<&str> {
        self.unsaved.as_deref()
    }

    /// Applies a command, keeps the state before it for undo, and saves.
    ///
    /// # Errors
    /// The command's own sentence; the case is then unchanged. A save that fails is no refusal:
    /// the change stays in memory and [`OpenCase::unsaved`] says why it is not on disk.
    pub fn apply(&mut self, command: &Command) -> Result<Applied, Refusal> {
        self.may_change()?;
        let mut changed = self.case.clone();
        let applied = command.change(&mut changed, &self.folder)?;
        let before = std::mem::replace(&mut self.case, changed);
        self.undo.push(Step {
            label: command.label(),
            case: before,
        });
        if self.undo.len() > UNDO_DEPTH {
            self.undo.remove(0);
        }
        self.redo.clear();
        self.save();
        Ok(applied)
    }

    fn may_change(&self) -> Result<(), Refusal> {
        match &self.access {
            Access::ReadWrite => Ok(()),
            Access::ReadOnly(why) => {
                let mend = if why == OPEN_ELSEWHERE {
                    "close it there first"
                } else {
                    "make it writable, or work on a copy of the case"
                };
                Err(Refusal::new(format!(
                    "{}: is open read-only, {why}; {mend}",
                    self.folder.display()
                )))
            }
        }
    }

    /// Saves what is in memory; on failure keeps it and remembers why.
    pub fn save(&mut self) {
        self.unsaved = case::save(&self.folder, &self.case)
            .err()
            .map(|e| e.to_string());
    }

    /// Name of the command that undo would take back.
    #[must_use]
    pub fn undo_label(&self) -> Option<&str> {
        self.undo.last().map(|s| s.label.as_str())
    }

    /// Name of the command that redo would bring back.
    #[must_use]
    pub fn redo_label(&self) -> Option<&str> {
        self.redo.last().map(|s| s.label.as_str())
    }

    /// Takes the last command back; gives its name.
    pub fn undo(&mut self) -> Option<String> {
        let step = self.undo.pop()?;
        let now = std::mem::replace(&mut self.case, step.case);
        self.redo.push(Step {
            label: step.label.clone(),
            case: now,
        });
        self.save();
        Some(step.label)
    }

    /// Brings the last undone command back; gives its name.
    pub fn redo(&mut self) -> Option<String> {
        let step = self.redo.pop()?;
        let now = std::mem::replace(&mut self.case, step.case);
        self.undo.push(Step {
            label: step.label.clone(),
            case: now,
        });
        self.save();
        Some(step.label)
    }

    /// Loads a film of the case, its hash checked first.
    ///
    /// # Errors
    /// No such film, its file is missing or is no longer the file that was added, or it does not decode.
    pub fn load_film(&self, id: &str) -> Result<Film, Refusal> {
        self.source(id)?.load()
    }

    /// Where a film's file lies, to be loaded beside the window.
    ///
    /// # Errors
    /// No such film.
    pub fn source(&self, id: &str) -> Result<FilmSource, Refusal> {
        let record = self.film(id)?;
        Ok(FilmSource {
            id: id.to_owned(),
            path: self.folder.join(&record.file),
            sha256: record.sha256.clone(),
        })
    }

    /// The film's record.
    ///
    /// # Errors
    /// No such film.
    pub fn film(&self, id: &str) -> Result<&case::FilmRecord, Refusal> {
        self.case.film(id).ok_or_else(|| no_film(&self.case, id))
    }

    /// The film's file, byte for byte as it was added.
    ///
    /// # Errors
    /// The file is missing or its hash no longer matches.
    pub fn checked_bytes(&self, id: &str) -> Result<Vec<u8>, Refusal> {
        self.source(id)?.bytes()
    }

    /// Checks the hash of every film.
    ///
    /// # Errors
    /// The first film whose file is missing or changed.
    pub fn check_films(&self) -> Result<(), Refusal> {
        self.case
            .films
            .iter()
            .try_for_each(|f| self.checked_bytes(&f.id).map(drop))
    }
}

/// A film's file and the hash it had when it was added.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FilmSource {
    /// The film's id.
    pub id: String,
    path: PathBuf,
    sha256: String,
}

impl FilmSource {
    /// The file, byte for byte as it was added.
    ///
    /// # Errors
    /// The file is missing or its hash no longer matches.
    pub fn bytes(&self) -> Result<Vec<u8>, Refusal> {
        let (path, id) = (&self.path, &self.id);
        let bytes = std::fs::read(path).map_err(|e| {
            Refusal::new(format!(
                "{}: film \"{id}\" cannot be read ({e}); restore the file",
                path.display()
            ))
        })?;
        if case::hash_hex(&bytes) != self.sha256 {
            return Err(Refusal::new(format!(
                "{}: is no longer the file that was added as film \"{id}\" (its hash differs); restore the original",
                path.display()
            )));
        }
        Ok(bytes)
    }

    /// The film, its hash checked first.
    ///
    /// # Errors
    /// As [`FilmSource::bytes`], or the file does not decode.
    pub fn load(&self) -> Result<Film, Refusal> {
        let name = self.path.display().to_string();
        film::load_bytes(&name, &self.bytes()?).map_err(Refusal::new)
    }
}

/// The sentence for a film that is not there.
pub(super) fn no_film(case: &Case, id: &str) -> Refusal {
    let ids: Vec<&str> = case.films.iter().map(|f| f.id.as_str()).collect();
    let has = if ids.is_empty() {
        "it has none yet".to_owned()
    } else {
        format!("it has {}", ids.join(", "))
    };
    Refusal::new(format!("the case has no film \"{id}\"; {has}"))
}
