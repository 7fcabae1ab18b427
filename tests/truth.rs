//! Every measure against the phantom's exact truth, on 40 random patients from 10° to 150°.
//!
//! The truth is worked out here anew from the patient's points in space, with plain arithmetic. A
//! beam from very far shows them without divergence: there every measure must be the truth's. At
//! the usual distance of 1.83 m the worst difference is printed: what the beam alone does.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/film.rs"]
mod film;
#[path = "support/space.rs"]
mod space;

use curvebench::film::{Spacing, SpacingKind};
use curvebench::geometry::Placement;
use curvebench::measure::{FilmInput, Measured, Settings, true_curvature};
use curvebench::phantom::{Exposure, Patient, PhantomFilm, Plane, Random, expose};
use film::{frame, measure};
use space::truths;
use std::collections::BTreeMap;

const OBJECT_DETECTOR: f64 = 190.0;

fn exposed(patient: &Patient, plane: Plane, source_detector: f64) -> PhantomFilm {
    let exposure = Exposure {
        plane,
        source_detector,
        object_detector: OBJECT_DETECTOR,
        pixel: 4.0,
        size: (120, 180),
        scatter: 0.0,
        ..Exposure::default()
    };
    expose(patient, &exposure, 1)
}

fn film_frame(plane: Plane, source_detector: f64) -> curvebench::geometry::FilmFrame {
    let mut f = frame(plane == Plane::Lateral);
    f.spacing = Spacing {
        kind: SpacingKind::Detector,
        row: 4.0,
        column: 4.0,
        reason: String::new(),
    };
    f.magnification = Some(source_detector / (source_detector - OBJECT_DETECTOR));
    f
}

fn settings() -> Settings {
    Settings {
        upper_instrumented: Some("T4".to_owned()),
        lower_instrumented: Some("L3".to_owned()),
        ..Settings::default()
    }
}

fn patients() -> Vec<Patient> {
    let mut random = Random::new(2031);
    (0..40)
        .map(|n| {
            let cobb = 10.0 + 140.0 * f64::from(n) / 39.0;
            let mut p = Patient::scoliosis(
                0.55 + 0.45 * random.uniform(),
                cobb,
                10.0 + 90.0 * random.uniform(),
            );
            p.obliquity = 30.0 * random.uniform() - 15.0;
            if n % 2 == 1 { p.mirrored() } else { p }
        })
        .collect()
}

/// Every measure that has a value, beside the truth of the same key, levels and side.
fn compare(patient: &Patient, source_detector: f64, worst: &mut BTreeMap<String, f64>) -> usize {
    let settings = settings();
    let films = [Plane::Pa, Plane::Lateral].map(|plane| {
        (
            exposed(patient, plane, source_detector),
            film_frame(plane, source_detector),
        )
    });
    let mut count = 0;
    for (film, frame) in &films {
        let results = measure(frame, &film.marks, &settings);
        let truth = truths(patient, film, &results);
        for r in results.iter().filter(|r| r.value.is_some()) {
            let name = format!("{} {:?} {:?} {:?}", r.key, r.curve, r.levels, r.side);
            let want = truth
                .get(&name)
                .unwrap_or_else(|| panic!("no truth for {name}"));
            let got = r.value.as_ref().unwrap().v;
            let off = (got - want).abs();
            let entry = worst.entry(r.key.to_owned()).or_default();
            *entry = entry.max(off);
            count += 1;
        }
        // Every key of the plane is measured: nothing is passed over.
        let silent: Vec<&Measured> = results
            .iter()
            .filter(|r| r.value.is_none() && r.key != "apex")
            .filter(|r| !r.note.as_ref().is_some_and(|n| n.contains("needs a")))
            .collect();
        for r in silent {
            let allowed = r.note.as_deref().is_some_and(|n| n.contains("no ribs"));
            assert!(
                allowed,
                "{} has no value: {:?} {:?}",
                r.key, r.needs, r.note
            );
        }
    }
    count + in_space(patient, &films, worst)
}

/// The curve in its own plane against the angle of the two bodies' axes.
fn in_space(
    patient: &Patient,
    films: &[(PhantomFilm, curvebench::geometry::FilmFrame); 2],
    worst: &mut BTreeMap<String, f64>,
) -> usize {
    let (settings, placement) = (settings(), Placement::default());
    let inputs = [&films[0], &films[1]].map(|(film, frame)| FilmInput {
        frame: Some(frame.clone()),
        photo: false,
        marks: &film.marks,
        settings: &settings,
        placement: &placement,
        ends: &[],
    });
    let results = true_curvature(&inputs[0], &inputs[1], "main", "T5-T12".parse().unwrap());
    let spine = patient.vertebrae();
    let (u, l) = (spine[5].axes[2], spine[12].axes[2]);
    let angle = u.angle(&l).to_degrees();
    let plane = (u.x - l.x).abs().atan2((u.y - l.y).abs()).to_degrees();
    for (r, want) in results.iter().zip([angle, plane]) {
        let off = (r.value.as_ref().unwrap().v - want).abs();
        let entry = worst.entry(r.key.to_owned()).or_default();
        *entry = entry.max(off);
    }
    results.len()
}

#[test]
fn every_measure_is_the_patients_truth() {
    let (mut far, mut usual) = (BTreeMap::new(), BTreeMap::new());
    let mut count = 0;
    for patient in patients() {
        count += compare(&patient, 1e9, &mut far);
        compare(&patient, 1830.0, &mut usual);
    }
    println!("{count} values of {} measures", far.len());
    println!(
        "{:32} {:>12} {:>10}",
        "measure", "no divergence", "at 1.83 m"
    );
    for (key, off) in &far {
        println!("{key:32} {off:12.1e} {:10.2}", usual[key]);
        assert!(*off < 1e-3, "{key}: off by {off}");
    }
    assert!(far.len() >= 36, "{} measures", far.len());
}
