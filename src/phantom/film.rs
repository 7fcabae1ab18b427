//! A patient exposed: image and exact marks.

use super::beam::{Beam, Plane};
use super::bones::{chest, vertebrae};
use super::develop::develop;
use super::head::head;
use super::marks::{Points, marks};
use super::metal::metal;
use super::patient::Patient;
use super::pelvis::pelvis;
use super::render::Scene;
use super::trunk::soft_tissue;
use crate::film::FilmError;
use crate::landmark::LandmarkSet;
use crate::units::FilmPx;

/// How a film is taken and developed.
#[derive(Clone, Debug, PartialEq)]
pub struct Exposure {
    /// Plane.
    pub plane: Plane,
    /// Source-detector distance, mm.
    pub source_detector: f64,
    /// Patient origin to detector, mm.
    pub object_detector: f64,
    /// Pixel size at the detector, mm.
    pub pixel: f64,
    /// Columns and rows.
    pub size: (usize, usize),
    /// Quanta per pixel in air; fewer is noisier.
    pub quanta: f64,
    /// Scatter as a share of the primary.
    pub scatter: f64,
    /// Blur of focal spot and detector, mm (SD).
    pub blur: f64,
    /// Gamma of the output curve.
    pub gamma: f64,
    /// Share of the broad brightness taken out, 0 to 1, as makers of digital films do.
    pub levelling: f64,
    /// Period in mm and strength of the shadows of a grid at rest; strength 0 for none.
    pub grid: (f64, f64),
    /// Width of the shuttered margin, mm.
    pub shutter: f64,
    /// Turn of the cassette, degrees.
    pub roll: f64,
    /// A lead letter for the patient's side on the film.
    pub marker: bool,
    /// Bits stored.
    pub bits: u16,
    /// Low values bright.
    pub inverted: bool,
}

impl Default for Exposure {
    /// A usual child's long film: 400 × 600 mm at 0.4 mm.
    fn default() -> Exposure {
        Exposure {
            plane: Plane::Pa,
            source_detector: 1830.0,
            object_detector: 190.0,
            pixel: 0.4,
            size: (1000, 1500),
            quanta: 9000.0,
            scatter: 0.35,
            blur: 0.22,
            gamma: 1.0,
            levelling: 0.55,
            grid: (1.4, 0.0),
            shutter: 6.0,
            roll: 0.0,
            marker: true,
            bits: 12,
            inverted: false,
        }
    }
}

/// An exposed film with its truth.
#[derive(Clone, Debug)]
pub struct PhantomFilm {
    /// Columns.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// Stored values.
    pub samples: Vec<u16>,
    /// Exact marks.
    pub marks: LandmarkSet,
    /// The points of the patient that the marks show, mm.
    pub points: Points,
    /// The beam, for projecting what else is wanted.
    pub beam: Beam,
}

impl PhantomFilm {
    /// The film as a PNG of 16 bit: the stored values as they are, with no spacing and no side.
    ///
    /// # Errors
    /// When the picture cannot be encoded.
    pub fn png(&self) -> Result<Vec<u8>, FilmError> {
        let mut out = std::io::Cursor::new(Vec::new());
        let (w, h) = (self.columns as u32, self.rows as u32);
        image::ImageBuffer::<image::Luma<u16>, _>::from_raw(w, h, self.samples.clone())
            .ok_or_else(|| FilmError::new("phantom film", "has no pixels".to_owned()))?
            .write_to(&mut out, image::ImageFormat::Png)
            .map_err(|e| {
                FilmError::new("phantom film", format!("cannot be written as PNG ({e})"))
            })?;
        Ok(out.into_inner())
    }
}

/// Exposes a patient. The same patient, exposure and seed give the same film.
#[must_use]
pub fn expose(patient: &Patient, e: &Exposure, seed: u64) -> PhantomFilm {
    let spine = patient.vertebrae();
    let top = spine[0].centre.z;
    let lateral = e.plane == Plane::Lateral;
    // The patient is centred on the film by the middle between apex and pelvis.
    let shift = if lateral {
        0.0
    } else {
        spine[8].centre.x / 2.0
    } / e.pixel;
    let beam = Beam {
        plane: e.plane,
        source_detector: e.source_detector,
        object_detector: e.object_detector,
        pixel: e.pixel,
        centre: FilmPx::new(
            e.size.0 as f64 * if lateral { 0.42 } else { 0.5 } - shift,
            e.size.1 as f64 * 0.5,
        ),
        height: top * 0.5,
        roll: e.roll,
    };
    let mut scene = Scene::new(&beam);
    soft_tissue(&mut scene, &spine, patient, lateral);
    chest(&mut scene, &spine, patient, lateral);
    vertebrae(&mut scene, &spine, patient);
    pelvis(&mut scene, &spine, patient);
    head(&mut scene, &spine, patient);
    metal(&mut scene, &spine, patient);
    let sum = scene.attenuation(e.size.0, e.size.1);
    let (marks, points) = marks(&spine, patient, &beam);
    PhantomFilm {
        columns: e.size.0,
        rows: e.size.1,
        samples: develop(sum, e, seed),
        marks,
        points,
        beam,
    }
}
