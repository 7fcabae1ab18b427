//! A patient exposed: image and exact marks.

use super::anatomy::{bones, metal, ribs, soft_tissue};
use super::beam::{Beam, Plane};
use super::marks::marks;
use super::patient::Patient;
use super::random::Random;
use super::render::Canvas;
use crate::landmark::LandmarkSet;
use crate::units::FilmPx;
use rayon::prelude::*;

/// How a film is taken.
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
    /// Gamma of the output curve.
    pub gamma: f64,
    /// Bits stored.
    pub bits: u16,
    /// Low values bright.
    pub inverted: bool,
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
    /// The beam, for projecting what else is wanted.
    pub beam: Beam,
}

/// Exposes a patient.
#[must_use]
pub fn expose(patient: &Patient, e: &Exposure, seed: u64) -> PhantomFilm {
    let spine = patient.vertebrae();
    let top = spine[0].centre.z;
    // The patient is centred on the film by the middle between apex and pelvis.
    let shift = match e.plane {
        Plane::Pa => spine[8].centre.x / 2.0,
        Plane::Lateral => 0.0,
    } / e.pixel;
    let beam = Beam {
        plane: e.plane,
        source_detector: e.source_detector,
        object_detector: e.object_detector,
        pixel: e.pixel,
        centre: FilmPx::new(
            e.size.0 as f64 * if e.plane == Plane::Pa { 0.5 } else { 0.45 } - shift,
            e.size.1 as f64 * 0.5,
        ),
        height: top * 0.46,
    };
    let layers: Vec<Vec<f32>> = [0, 1, 2, 3]
        .into_par_iter()
        .map(|layer| {
            let mut canvas = Canvas::new(e.size.0, e.size.1, &beam);
            match layer {
                0 => soft_tissue(&mut canvas, &spine, patient.size),
                1 => ribs(&mut canvas, &spine, patient.size),
                2 => bones(&mut canvas, &spine, patient),
                _ => metal(&mut canvas, &spine, patient),
            }
            canvas.data
        })
        .collect();
    let mut sum = vec![0f32; e.size.0 * e.size.1];
    for layer in &layers {
        sum.iter_mut().zip(layer).for_each(|(s, v)| *s += v);
    }
    PhantomFilm {
        columns: e.size.0,
        rows: e.size.1,
        samples: develop(&sum, e, seed),
        marks: marks(&spine, patient, &beam, e.plane),
        beam,
    }
}

/// Attenuation to stored values: scatter, focal blur, quantum noise, output curve.
fn develop(sum: &[f32], e: &Exposure, seed: u64) -> Vec<u16> {
    let (w, h) = e.size;
    let primary = crate::film::GreyPlane {
        width: w,
        height: h,
        data: sum.par_iter().map(|a| (-a.max(0.0)).exp()).collect(),
    };
    let broad = crate::film::box_mean(&primary, (38.0 / e.pixel) as usize);
    let scatter = e.scatter as f32;
    let top = f64::from((1u32 << e.bits) - 1);
    // The curve spans air to hips; a lateral film is exposed for its longer way through the patient.
    let (thin, thick) = if e.plane == Plane::Pa {
        (0.15f64, 5.2f64)
    } else {
        (0.3, 8.8)
    };
    let mut out = vec![0u16; w * h];
    out.par_chunks_mut(w).enumerate().for_each(|(row, line)| {
        let mut random = Random::new(seed ^ (row as u64).wrapping_mul(0x9E37_79B9));
        let mut last = 0.0;
        for (column, o) in line.iter_mut().enumerate() {
            let i = row * w + column;
            let signal =
                f64::from(primary.data[i] + scatter * broad.data[i]) / f64::from(1.0 + scatter);
            let noise = random.normal() * 0.8 + last * 0.35;
            last = noise;
            let seen = signal + noise * (signal / e.quanta).sqrt();
            let p = ((-seen.max(1e-6).ln() - thin) / (thick - thin))
                .clamp(0.0, 1.0)
                .powf(e.gamma);
            let p = if e.inverted { 1.0 - p } else { p };
            *o = (p * top).round() as u16;
        }
    });
    out
}
