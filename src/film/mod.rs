//! A file becomes a film: stored pixels, the facts the file states, and its grey pipeline.

mod decode;
pub mod dicom;
mod dx;
mod enhance;
mod error;
mod facts;
mod grey;
mod jpeg_extended;
mod lut;
mod orientation;
mod pixels;
mod raster;
mod rle;
mod spacing;
mod window;

pub use dx::{DxFilm, write_dx};
pub use enhance::{box_mean, edge_emphasis, local_contrast};
pub use error::FilmError;
pub use facts::{FileFacts, ImageEdge, Spacing, SpacingKind, View};
pub use grey::{DisplayLut, Grey, Look, WindowChoice};
pub use lut::LookupTable;
pub use orientation::{Orientation, orientation_of};
pub use pixels::{GreyPlane, MAX_PIXELS, Pixels, Samples};
pub use spacing::{SpacingTags, judge_spacing};
pub use window::{WindowFunction, window};

use std::path::Path;

/// A film: pixels as stored, what the file says, how it is meant to be shown.
#[derive(Clone, Debug)]
pub struct Film {
    /// What the file says about itself.
    pub facts: FileFacts,
    /// Stored pixels.
    pub pixels: Pixels,
    /// From stored values to grey.
    pub grey: Grey,
}

/// Loads a film from a file.
///
/// # Errors
/// One sentence naming the file, what is wrong and how to mend it; see [`FilmError`].
pub fn load(path: &Path) -> Result<Film, FilmError> {
    let name = path.display().to_string();
    let bytes = std::fs::read(path)
        .map_err(|e| FilmError::new(&name, format!("cannot be read ({e}); check the path")))?;
    load_bytes(&name, &bytes)
}

/// Loads a film from bytes; `name` stands in the error sentence.
///
/// # Errors
/// As [`load`].
pub fn load_bytes(name: &str, bytes: &[u8]) -> Result<Film, FilmError> {
    if bytes.is_empty() {
        return Err(FilmError::new(name, "is empty; copy it again".to_owned()));
    }
    match raster::format_of(bytes) {
        Some(format) => raster::load(name, bytes, format),
        None => dicom::load(name, bytes),
    }
}

/// The film as a plane of grey in which bone is bright, for whoever looks for bone.
#[must_use]
pub fn density(film: &Film) -> GreyPlane {
    let sign = if film.grey.inverted { -1.0 } else { 1.0 };
    let table = film.grey.modality_table(&film.pixels);
    let (low, _) = film.pixels.storage_range();
    let data = film.pixels.map(|v| {
        let at = usize::try_from(v - low).unwrap_or(0).min(table.len() - 1);
        sign * table[at]
    });
    GreyPlane {
        width: film.pixels.columns as usize,
        height: film.pixels.rows as usize,
        data,
    }
}
