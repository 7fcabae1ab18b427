//! Measures of one film: a marked film in, results with unit, side, uncertainty and status out.
//!
//! Each family is one file with one function; [`measure_film`] runs them in the order a surgeon
//! reads them. Adding a measure is adding a file and a line to `FAMILIES` (DEVELOPERS.md).

mod balance;
mod cage;
mod chest;
mod cobb;
mod context;
mod curves;
mod height;
mod instrumented;
mod pelvis;
mod projection;
mod result;
mod rotation;
mod sagittal;
mod settings;
mod shoulders;
mod spinopelvic;
mod true_curvature;

pub use context::{Context, ReferenceLine, Standing};
pub use curves::{Apex, Curve, FixedEnds, Region};
pub use projection::{film_cautions, tilt_off_the_ray, tilts_after_turn, turn_caution};
pub use result::{Measured, Status};
pub use settings::{ApexRule, CsvlConstruction, ObliquityMethod, Settings, TranslationReference};

pub use spinopelvic::JUNCTION_DEG;
pub use true_curvature::{angle_in_space, true_curvature};

use crate::geometry::{FilmFrame, Placement};
use crate::landmark::LandmarkSet;

/// A film ready to be measured.
#[derive(Clone, Debug)]
pub struct FilmInput<'a> {
    /// Frame of the film; `None` when the view is not known or the film is a photograph.
    pub frame: Option<FilmFrame>,
    /// Whether the film is a photograph, on which nothing is measured.
    pub photo: bool,
    /// The marks of one reading.
    pub marks: &'a LandmarkSet,
    /// Choices of the case.
    pub settings: &'a Settings,
    /// Uncertainty of placing marks.
    pub placement: &'a Placement,
    /// End vertebrae fixed by the reader; empty to find them.
    pub ends: &'a [FixedEnds],
}

/// A family of measures.
struct Family {
    /// Plane it is measured in: `Some(true)` lateral only, `Some(false)` coronal only.
    lateral: Option<bool>,
    /// Keys it gives, for films it does not apply to.
    keys: &'static [&'static str],
    measure: fn(&Context<'_>, &mut Vec<Measured>),
}

const FAMILIES: &[Family] = &[
    Family {
        lateral: Some(false),
        keys: cobb::KEYS,
        measure: cobb::measure,
    },
    Family {
        lateral: Some(false),
        keys: balance::KEYS,
        measure: balance::measure,
    },
    Family {
        lateral: Some(false),
        keys: shoulders::KEYS,
        measure: shoulders::measure,
    },
    Family {
        lateral: Some(false),
        keys: pelvis::KEYS,
        measure: pelvis::measure,
    },
    Family {
        lateral: Some(false),
        keys: instrumented::KEYS,
        measure: instrumented::measure,
    },
    Family {
        lateral: Some(false),
        keys: chest::KEYS,
        measure: chest::measure,
    },
    Family {
        lateral: Some(false),
        keys: cage::KEYS,
        measure: cage::measure,
    },
    Family {
        lateral: Some(false),
        keys: rotation::KEYS,
        measure: rotation::measure,
    },
    Family {
        lateral: Some(true),
        keys: sagittal::KEYS,
        measure: sagittal::measure,
    },
    Family {
        lateral: Some(true),
        keys: spinopelvic::KEYS,
        measure: spinopelvic::measure,
    },
    Family {
        lateral: None,
        keys: height::KEYS,
        measure: height::measure,
    },
];

/// Every measure key, in the order of measuring; the curve in its own plane, which takes two films,
/// comes last.
pub fn keys() -> impl Iterator<Item = &'static str> {
    FAMILIES
        .iter()
        .flat_map(|f| f.keys)
        .copied()
        .chain(true_curvature::KEYS)
}

/// Every measure of one film. Each gives at least one result: a value, or what is missing.
#[must_use]
pub fn measure_film(input: &FilmInput<'_>) -> Vec<Measured> {
    let mut out = Vec::new();
    let Some(frame) = &input.frame else {
        for key in FAMILIES.iter().flat_map(|f| f.keys) {
            let need = if input.photo {
                None
            } else {
                Some("view of the film")
            };
            out.push(Measured::without_view(key, need));
        }
        return out;
    };
    let context = Context::new(frame, input);
    for family in FAMILIES {
        if family
            .lateral
            .is_none_or(|lateral| lateral == frame.lateral)
        {
            (family.measure)(&context, &mut out);
        } else {
            out.extend(
                family
                    .keys
                    .iter()
                    .map(|key| Measured::other_view(key, frame.lateral)),
            );
        }
    }
    out
}
