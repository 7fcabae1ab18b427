//! Native dialogs, behind a trait so that tests answer them.

use super::recent;
use std::path::{Path, PathBuf};

/// Asks the user for files and folders. An empty answer means: cancelled, or no dialog here; the
/// start page takes a typed path as well.
pub trait Dialogs {
    /// Film files.
    fn films(&mut self) -> Vec<PathBuf>;
    /// A case folder.
    fn case(&mut self) -> Option<PathBuf>;
    /// Cases opened lately, the last one first.
    fn recent(&self) -> Vec<PathBuf> {
        Vec::new()
    }
    /// The time of day where the user is, `10:42`; empty when it is not to be told.
    fn time(&self) -> String {
        String::new()
    }
    /// Remembers a case that was opened.
    fn remember(&mut self, _folder: &Path) {}
}

/// The desktop's own dialogs.
pub struct NativeDialogs;

impl Dialogs for NativeDialogs {
    fn films(&mut self) -> Vec<PathBuf> {
        rfd::FileDialog::new()
            .set_title("Films: DICOM, PNG, TIFF or JPEG")
            .pick_files()
            .unwrap_or_default()
    }

    fn case(&mut self) -> Option<PathBuf> {
        rfd::FileDialog::new()
            .set_title("The folder of a case")
            .pick_folder()
    }

    fn time(&self) -> String {
        chrono::Local::now().format("%H:%M").to_string()
    }

    fn recent(&self) -> Vec<PathBuf> {
        recent::list()
    }

    fn remember(&mut self, folder: &Path) {
        recent::remember(folder);
    }
}
