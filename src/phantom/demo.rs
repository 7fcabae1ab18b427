//! The demo: an invented child of nine with a syndromic kyphoscoliosis, seven weeks of halo-gravity
//! traction rising to half of body weight, fusion, and a year of follow-up.

use super::beam::Plane;
use super::film::{Exposure, expose};
use super::patient::Patient;
use super::random::Random;
use crate::film::{DxFilm, FilmError, View, write_dx};
use crate::landmark::LandmarkSet;
use crate::units::{Date, FilmPx};

/// A film of the demo.
#[derive(Clone, Debug)]
pub struct DemoFilm {
    /// Id in the case.
    pub id: String,
    /// The DICOM file.
    pub bytes: Vec<u8>,
    /// Phase, as the case writes it.
    pub phase: &'static str,
    /// Posture.
    pub posture: &'static str,
    /// Traction, kg.
    pub traction_kg: Option<f64>,
    /// Body weight, kg.
    pub body_weight_kg: f64,
    /// Magnification of the spine on this film.
    pub magnification: f64,
    /// Marks as a reader placed them: exact ones with a scatter of half a millimetre.
    pub marks: LandmarkSet,
}

/// Day, main curve, kyphosis, phase, posture, traction kg, body weight kg, lateral too.
type Visit = (
    i64,
    f64,
    f64,
    &'static str,
    &'static str,
    Option<f64>,
    f64,
    bool,
);

const VISITS: [Visit; 11] = [
    (0, 114.0, 82.0, "presentation", "sitting", None, 21.0, true),
    (2, 103.0, 74.0, "flexibility", "supine", None, 21.0, false),
    (
        9,
        104.0,
        74.0,
        "traction",
        "sitting in traction",
        Some(3.0),
        21.0,
        false,
    ),
    (
        16,
        96.0,
        69.0,
        "traction",
        "sitting in traction",
        Some(4.5),
        21.2,
        false,
    ),
    (
        23,
        89.0,
        64.0,
        "traction",
        "sitting in traction",
        Some(6.0),
        21.4,
        true,
    ),
    (
        30,
        84.0,
        61.0,
        "traction",
        "sitting in traction",
        Some(7.5),
        21.6,
        false,
    ),
    (
        37,
        80.0,
        59.0,
        "traction",
        "sitting in traction",
        Some(9.0),
        21.9,
        false,
    ),
    (
        44,
        78.0,
        57.0,
        "traction",
        "sitting in traction",
        Some(10.5),
        22.1,
        false,
    ),
    (
        51,
        77.0,
        56.0,
        "traction",
        "sitting in traction",
        Some(11.0),
        22.3,
        true,
    ),
    (62, 52.0, 44.0, "postop", "standing", None, 22.5, true),
    (420, 56.0, 46.0, "followup", "standing", None, 26.0, true),
];

/// Makes the films one after another; `progress` hears how many of how many are done.
///
/// `None` when `progress`, which hears how many of how many are done, says not to go on.
///
/// # Errors
/// When a film cannot be written as DICOM.
pub fn demo_films(
    mut progress: impl FnMut(usize, usize) -> bool,
) -> Result<Option<Vec<DemoFilm>>, FilmError> {
    let total = VISITS.iter().map(|v| 1 + usize::from(v.7)).sum();
    let start = Date::new(2031, 3, 3);
    let mut out = Vec::new();
    for (visit, v) in VISITS.iter().enumerate() {
        let mut patient = Patient::scoliosis(if v.0 > 365 { 0.78 } else { 0.74 }, v.1, v.2);
        patient.halo = v.5.is_some();
        patient.instrumented = matches!(v.3, "postop" | "followup").then_some((2, 16));
        for plane in [Plane::Pa, Plane::Lateral] {
            if plane == Plane::Lateral && !v.7 {
                continue;
            }
            let lateral = plane == Plane::Lateral;
            let exposure = Exposure {
                plane,
                object_detector: if lateral { 240.0 } else { 190.0 },
                pixel: 0.44,
                size: (if lateral { 820 } else { 910 }, 1364),
                inverted: visit == 0,
                ..Exposure::default()
            };
            let seed = 100 * visit as u64 + u64::from(plane == Plane::Lateral);
            let film = expose(&patient, &exposure, seed);
            let date = start
                .and_then(|d| d.plus_days(v.0))
                .ok_or_else(|| FilmError::new("demo film", "has no date".to_owned()))?;
            let id = format!(
                "{}-{}",
                if plane == Plane::Pa { "pa" } else { "lat" },
                visit + 1
            );
            let (view, orientation) = if plane == Plane::Pa {
                (View::Pa, ["R", "F"])
            } else {
                (View::Lateral, ["A", "F"])
            };
            let bytes = write_dx(&DxFilm {
                columns: film.columns as u16,
                rows: film.rows as u16,
                samples: &film.samples,
                bits: exposure.bits,
                inverse: exposure.inverted,
                view,
                orientation,
                spacing: [exposure.pixel; 2],
                source_detector_mm: exposure.source_detector,
                window: [2048.0, 4096.0],
                date,
                patient: ["DEMO-1", "Invented^Child"],
                description: "Whole spine, invented",
                seed: &format!("demo {id}"),
                rle: true,
            })?;
            out.push(DemoFilm {
                id,
                bytes,
                phase: v.3,
                posture: v.4,
                traction_kg: v.5,
                body_weight_kg: v.6,
                magnification: (film.beam.magnification(0.0) * 1000.0).round() / 1000.0,
                marks: placed(&film.marks, exposure.pixel, film.columns, film.rows, seed),
            });
            if !progress(out.len(), total) {
                return Ok(None);
            }
        }
    }
    Ok(Some(out))
}

/// Marks as a reader places them, those off the film left out.
fn placed(exact: &LandmarkSet, pixel: f64, columns: usize, rows: usize, seed: u64) -> LandmarkSet {
    let mut random = Random::new(seed ^ 0xD3_40);
    let scatter = 0.5 / pixel;
    exact
        .iter()
        .map(|(name, points)| {
            let points: Vec<FilmPx> = points
                .iter()
                .map(|p| {
                    FilmPx::new(
                        p.x + scatter * random.normal(),
                        p.y + scatter * random.normal(),
                    )
                })
                .filter(|p| p.x > 0.0 && p.y > 0.0 && p.x < columns as f64 && p.y < rows as f64)
                .collect();
            (name, points)
        })
        .collect()
}
