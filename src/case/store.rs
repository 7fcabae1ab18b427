//! The case file on disk.

use super::{Case, VERSION};
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Name of the file in the case folder.
pub const CASE_FILE: &str = "case.json";

/// JSON Schema of the case file.
pub const SCHEMA: &str = include_str!("case.schema.json");

/// Why a case cannot be loaded or saved.
#[derive(Debug, thiserror::Error)]
pub enum CaseError {
    /// There is no case in the folder.
    #[error("{}: holds no case.json; name a case folder, or make one with `curvebench new`", .0.display())]
    NoCase(PathBuf),
    /// The file cannot be read.
    #[error("{}: cannot be read ({source}); check the folder's permissions", .path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The file is damaged.
    #[error("{}: is damaged ({fact}); restore it from a copy", .path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// Where and what.
        fact: String,
    },
    /// A newer program wrote it.
    #[error(
        "{}: was written by a newer curvebench (format {found}, this one reads up to {VERSION}); update curvebench",
        .path.display()
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its version.
        found: u64,
    },
    /// Saving failed; what was there before is untouched.
    #[error("{}: was not saved ({source}); free space or permissions, then save again", .path.display())]
    NotSaved {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
}

/// Loads the case of a folder.
///
/// # Errors
/// No case there, unreadable, damaged, or written by a newer version; see [`CaseError`].
pub fn load(folder: &Path) -> Result<Case, CaseError> {
    let path = folder.join(CASE_FILE);
    let text = std::fs::read_to_string(&path).map_err(|source| {
        if source.kind() == std::io::ErrorKind::NotFound {
            CaseError::NoCase(folder.to_owned())
        } else {
            CaseError::Unreadable {
                path: path.clone(),
                source,
            }
        }
    })?;
    let damaged = |e: serde_json::Error| CaseError::Damaged {
        path: path.clone(),
        fact: e.to_string(),
    };
    let value: serde_json::Value = serde_json::from_str(&text).map_err(damaged)?;
    match value.get("version").and_then(serde_json::Value::as_u64) {
        Some(found) if found > u64::from(VERSION) => return Err(CaseError::Newer { path, found }),
        Some(1) => {}
        _ => {
            return Err(CaseError::Damaged {
                path,
                fact: "\"version\" is missing or not 1".to_owned(),
            });
        }
    }
    let case: Case = serde_json::from_value(value).map_err(damaged)?;
    for film in &case.films {
        let inside = Path::new(&film.file)
            .components()
            .all(|c| matches!(c, std::path::Component::Normal(_)));
        if !inside {
            let fact = format!("film \"{}\" points outside the case folder", film.id);
            return Err(CaseError::Damaged { path, fact });
        }
    }
    Ok(case)
}

/// Saves the case: written beside the file, synced, renamed.
///
/// # Errors
/// [`CaseError::NotSaved`]; the file that was there is then untouched.
pub fn save(folder: &Path, case: &Case) -> Result<(), CaseError> {
    let path = folder.join(CASE_FILE);
    let not_saved = |source| CaseError::NotSaved {
        path: path.clone(),
        source,
    };
    let mut bytes = serde_json::to_vec_pretty(case)
        .map_err(|e| not_saved(std::io::Error::new(std::io::ErrorKind::InvalidData, e)))?;
    bytes.push(b'\n');
    write_sync_rename(&path, &bytes).map_err(not_saved)
}

/// Writes a file so that it is either the old one or the whole new one.
pub(crate) fn write_sync_rename(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let beside = path.with_extension("part");
    let written = File::create(&beside).and_then(|mut file| {
        file.write_all(bytes)?;
        file.sync_all()
    });
    if let Err(error) = written.and_then(|()| std::fs::rename(&beside, path)) {
        // Best effort: the half-written file is of no use to anyone.
        let _ = std::fs::remove_file(&beside);
        return Err(error);
    }
    // The rename itself is only durable once the folder is synced; not every system allows it.
    if let Some(folder) = path.parent()
        && let Ok(folder) = File::open(folder)
    {
        let _ = folder.sync_all();
    }
    Ok(())
}

/// Writes a film into the case: complete under its name, or not at all.
///
/// # Errors
/// What the system says.
pub fn write_new(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder)?;
    }
    write_sync_rename(path, bytes)
}

/// SHA-256 of bytes, hexadecimal.
#[must_use]
pub fn hash_hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect()
}
