//! Films of known marks measured without a case folder.

#![allow(dead_code, reason = "each test program uses a part of it")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use curvebench::case::{FilmRecord, StatedFacts};
use curvebench::film::{FileFacts, GreyPlane, ImageEdge, Spacing, SpacingKind, View};
use curvebench::geometry::{FilmFrame, Placement};
use curvebench::landmark::{Landmark, LandmarkSet};
use curvebench::measure::{FilmInput, Measured, Settings, measure_film};
use curvebench::phantom::{Exposure, Patient, PhantomFilm, Plane, Random, expose};
use curvebench::units::FilmPx;

pub fn frame(lateral: bool) -> FilmFrame {
    FilmFrame {
        lateral,
        side_on: Some(if lateral {
            ImageEdge::ImageRight
        } else {
            ImageEdge::ImageLeft
        }),
        head_on: ImageEdge::ImageTop,
        spacing: Spacing {
            kind: SpacingKind::Calibrated,
            row: 1.0,
            column: 1.0,
            reason: String::new(),
        },
        magnification: None,
        scale_mm: None,
    }
}

pub fn measure(frame: &FilmFrame, set: &LandmarkSet, settings: &Settings) -> Vec<Measured> {
    measure_film(&FilmInput {
        frame: Some(frame.clone()),
        photo: false,
        marks: set,
        settings,
        placement: &Placement::default(),
        ends: &[],
    })
}

/// Marks by name at film-plane millimetres (y up), about (2000, 2000) of the film.
pub fn plane(points: &[(&str, f64, f64)]) -> LandmarkSet {
    let mut set = LandmarkSet::new();
    for (name, x, y) in points {
        set.place(
            name.parse::<Landmark>().unwrap(),
            FilmPx::new(2000.0 + x, 2000.0 - y),
        );
    }
    set
}

pub fn find<'m>(results: &'m [Measured], key: &str) -> &'m Measured {
    results
        .iter()
        .find(|r| r.key == key && r.value.is_some())
        .unwrap_or_else(|| panic!("no {key}"))
}

pub fn value(results: &[Measured], key: &str) -> f64 {
    find(results, key).value.as_ref().unwrap().v
}

/// A film record of known spacing without a file, 5000 × 5000 pixels.
pub fn record(id: &str, view: View, row: f64, column: f64) -> FilmRecord {
    FilmRecord {
        id: id.to_owned(),
        file: format!("films/{id}"),
        sha256: String::new(),
        name: id.to_owned(),
        said: FileFacts {
            columns: 5000,
            rows: 5000,
            date: None,
            view: Some(view),
            left_on: Some(ImageEdge::ImageLeft),
            anterior_on: Some(ImageEdge::ImageRight),
            head_on: None,
            spacing: Spacing {
                kind: SpacingKind::Calibrated,
                row,
                column,
                reason: "invented".to_owned(),
            },
            source_detector_mm: None,
            estimated_magnification: None,
            notes: Vec::new(),
        },
        stated: StatedFacts::default(),
        extra: serde_json::Map::new(),
    }
}

/// A frame of calibrated square pixels of this size, mm.
pub fn scaled_frame(lateral: bool, pixel: f64) -> FilmFrame {
    let mut f = frame(lateral);
    (f.spacing.row, f.spacing.column) = (pixel, pixel);
    f
}

/// A patient exposed for his marks: a small film without scatter.
pub fn exposed(patient: &Patient, plane: Plane, pixel: f64, size: (usize, usize)) -> PhantomFilm {
    let exposure = Exposure {
        plane,
        object_detector: 190.0,
        pixel,
        size,
        scatter: 0.0,
        ..Exposure::default()
    };
    expose(patient, &exposure, 1)
}

/// What a phantom film shows, bone bright.
pub fn grey(f: &PhantomFilm) -> GreyPlane {
    GreyPlane {
        width: f.columns,
        height: f.rows,
        data: f.samples.iter().map(|v| f32::from(*v)).collect(),
    }
}

/// Tilt of a line on a film, degrees.
pub fn tilt(p: (FilmPx, FilmPx)) -> f64 {
    (p.1.y - p.0.y).atan2(p.1.x - p.0.x).to_degrees()
}

/// The ends of a film's plates, each off by a normal `noise_px` in both coordinates.
pub fn rough(truth: &LandmarkSet, noise_px: f64, seed: u64) -> LandmarkSet {
    let mut r = Random::new(seed);
    let mut out = LandmarkSet::new();
    for (name, points) in truth.iter() {
        if matches!(name, Landmark::Plate(..)) {
            let (x, y) = (noise_px * r.normal(), noise_px * r.normal());
            out.place(name, FilmPx::new(points[0].x + x, points[0].y + y));
        }
    }
    out
}
