//! Rods and screws on films after an operation: found, looked past, and said.

#![allow(clippy::unwrap_used)]

#[path = "support/added.rs"]
mod added;
#[path = "support/bent.rs"]
mod bent;
#[path = "support/film.rs"]
mod support;

use added::add;
use bent::Film;
use curvebench::film::GreyPlane;
use curvebench::landmark::{Landmark, LandmarkSet, Level};
use curvebench::locate::{
    Metal, Pattern, Refined, Steps, lay, lay_past_metal, refine, refine_past,
};
use curvebench::phantom::{Exposure, Patient, PhantomFilm, Plane, Random, expose};
use curvebench::units::FilmPx;
use curvebench::workbench::{Command, ImageEdge, OpenCase, Phase, StatedFacts, View};
use std::path::Path;
use support::{grey, tilt};

fn level(name: &str) -> Level {
    name.parse().unwrap()
}

/// A patient straightened and fused T4 to L2, or the same without the metal.
fn fused(plane: Plane, seed: u64, metal: bool) -> (PhantomFilm, Steps) {
    let e = Exposure {
        plane,
        ..Exposure::default()
    };
    let mut patient = Patient::scoliosis(0.9, 30.0 + seed as f64, 38.0);
    patient.instrumented = metal.then_some((5, 14));
    let f = expose(&patient, &e, seed);
    let mm = e.pixel / f.beam.magnification(0.0);
    let steps = Steps {
        column: mm,
        row: mm,
    };
    (f, steps)
}

fn rough(truth: &LandmarkSet, steps: Steps, seed: u64) -> LandmarkSet {
    let mut r = Random::new(seed);
    let mut out = LandmarkSet::new();
    for (name, points) in truth.iter() {
        if matches!(name, Landmark::Plate(..)) {
            let off = [2.0, 2.0].map(|sd| sd * r.normal() / steps.column);
            out.place(
                name,
                FilmPx::new(points[0].x + off[0], points[0].y + off[1]),
            );
        }
    }
    out
}

/// The film without its metal is nearer to the film of the same patient without any; elsewhere it is the
/// same, grey for grey.
#[test]
fn a_film_without_its_rods_is_like_one_that_never_had_any() {
    for plane in [Plane::Pa, Plane::Lateral] {
        let (with, steps) = fused(plane, 4, true);
        let (never, _) = fused(plane, 4, false);
        let (with, never) = (grey(&with), grey(&never));
        let metal = Metal::on(&with, steps).unwrap();
        let past = metal.taken_out(with.clone());
        let (mut before, mut after, mut many) = (0.0, 0.0, 0);
        for ((a, b), c) in with.data.iter().zip(&past.data).zip(&never.data) {
            if a != b {
                before += f64::from((a - c).abs());
                after += f64::from((b - c).abs());
                many += 1;
            }
        }
        assert!(many > 1000, "{plane:?}: {many} pixels");
        assert!(
            after < 0.5 * before,
            "{plane:?}: {before:.0} before, {after:.0} after"
        );
    }
}

/// Errors of tilt under the rods, RMS in degrees.
fn under_rods(found: &[Refined], truth: &LandmarkSet, lateral: bool) -> f64 {
    let under: Vec<f64> = found
        .iter()
        .filter(|p| (level("T4")..=level("L2")).contains(&p.level))
        .map(|p| {
            let off =
                tilt((p.ends[0], p.ends[1])) - tilt(truth.plate(p.level, p.edge, lateral).unwrap());
            (off + 180.0).rem_euclid(360.0) - 180.0
        })
        .collect();
    (under.iter().map(|e| e * e).sum::<f64>() / under.len() as f64).sqrt()
}

/// Rods drew plates on films from the front to themselves.
#[test]
fn plates_under_rods_are_refined_better_without_them() {
    let (mut as_is, mut past) = (0.0, 0.0);
    for seed in 1..7 {
        let (f, steps) = fused(Plane::Pa, seed, true);
        let marks = rough(&f.marks, steps, seed);
        let film = grey(&f);
        let metal = Metal::about(&film, steps, &marks).unwrap();
        as_is += under_rods(&refine(&film, steps, &marks, false), &f.marks, false).powi(2);
        let without = metal.taken_out(film);
        past += under_rods(
            &refine_past(&without, Some(&metal), steps, &marks, false),
            &f.marks,
            false,
        )
        .powi(2);
    }
    assert!(past < as_is, "{as_is:.1} as it is, {past:.1} without");
}

/// Two rods of 5.5 mm over the bodies of a projection of real anatomy, T4 to L1, as bright as its brightest.
fn with_rods(film: &Film, lateral: bool) -> GreyPlane {
    let [low, high] =
        [f32::min, f32::max].map(|f| film.grey.data.iter().copied().reduce(f).unwrap());
    let mut out = film.grey.clone();
    for share in if lateral { [0.05, 0.3] } else { [0.2, 0.8] } {
        let course: Vec<FilmPx> = film
            .marks
            .iter()
            .filter_map(|(name, points)| match name {
                Landmark::Plate(l, edge, _) if (level("T4")..=level("L1")).contains(&l) => {
                    let first = Landmark::plate_ends(l, edge, lateral)[0];
                    let (p, q) = film.marks.plate(l, edge, lateral)?;
                    (name == first && !points.is_empty())
                        .then(|| FilmPx::new(p.x + share * (q.x - p.x), p.y + share * (q.y - p.y)))
                }
                _ => None,
            })
            .collect();
        let mut course = course;
        course.sort_by(|a, b| a.y.total_cmp(&b.y));
        for y in 0..out.height {
            let at = y as f64 + 0.5;
            let Some(k) =
                (1..course.len()).find(|k| (course[k - 1].y..=course[*k].y).contains(&at))
            else {
                continue;
            };
            let (a, b) = (course[k - 1], course[k]);
            let x = a.x + (b.x - a.x) * (at - a.y) / (b.y - a.y).max(1e-6);
            let half = 2.75 / bent::MM;
            for column in 0..out.width {
                if (column as f64 + 0.5 - x).abs() <= half {
                    let v = &mut out.data[y * out.width + column];
                    *v = (*v + 0.6 * (high - low)).min(high);
                }
            }
        }
    }
    out
}

/// How many plates' middles lie within 5 mm of where they are.
fn near(found: &[Refined], film: &Film, lateral: bool) -> usize {
    let off = found.iter().filter_map(|p| {
        let (a, b) = film.marks.plate(p.level, p.edge, lateral)?;
        Some(p.ends[0].middle(p.ends[1]).distance(a.middle(b)) * bent::MM)
    });
    off.filter(|d| *d <= 5.0).count()
}

/// Rods over real anatomy drew the spine beside them, or hid it: carried with hints and without.
#[test]
fn a_spine_under_rods_is_carried_past_them() {
    for lateral in [false, true] {
        let film = bent::projection(lateral);
        let (before, after) = (
            bent::curved(&film, lateral, 60.0),
            bent::curved(&film, lateral, 30.0),
        );
        let rods = with_rods(&after, lateral);
        let pattern = Pattern::of(&before.grey, &before.marks, lateral, bent::STEPS).unwrap();
        let hand = bent::hand(lateral);
        let ends = after.ends(lateral);
        for hints in [&ends[..], &[]] {
            let past = lay_past_metal(&rods, false, bent::STEPS, &pattern, hints, hand).unwrap();
            let all = past.plates.len();
            let as_is = lay(&rods, false, bent::STEPS, &pattern, hints, hand);
            let as_is = as_is.map_or(0, |l| near(&l.plates, &after, lateral));
            println!(
                "{lateral} {} as is {as_is} past {} of {all}",
                hints.len(),
                near(&past.plates, &after, lateral)
            );
            assert!(past.metal.is_some());
        }
    }
}

/// A 16-bit picture of a film, or of its negative.
fn write_png(path: &Path, grey: &GreyPlane, dark: bool) {
    let [low, high] = [f32::min, f32::max].map(|f| grey.data.iter().copied().reduce(f).unwrap());
    let samples = grey.data.iter().map(|v| {
        let value = ((v - low) / (high - low) * 60_000.0) as u16;
        if dark { 60_000 - value } else { value }
    });
    image::ImageBuffer::<image::Luma<u16>, _>::from_raw(
        grey.width as u32,
        grey.height as u32,
        samples.collect::<Vec<u16>>(),
    )
    .unwrap()
    .save(path)
    .unwrap();
}

/// A case of a spine before, marked, and with rods, of a phase.
fn case(folder: &Path, dark: bool, phase: Phase) -> OpenCase {
    let film = bent::projection(false);
    let mut case = OpenCase::create(&folder.join("case"), "C", None).unwrap();
    for (id, degrees, phase) in [("old", 60.0, Phase::Presentation), ("new", 30.0, phase)] {
        let curved = bent::curved(&film, false, degrees);
        let path = folder.join(format!("{id}.png"));
        let rods = id == "new";
        let grey = if rods {
            with_rods(&curved, false)
        } else {
            curved.grey.clone()
        };
        write_png(&path, &grey, dark && rods);
        let facts = StatedFacts {
            view: Some(View::Ap),
            phase: Some(phase),
            spacing: Some([bent::MM; 2]),
            left_on: Some(ImageEdge::ImageRight),
            ..StatedFacts::default()
        };
        add(&mut case, path, id, facts);
        case.apply(&Command::PlaceMarks {
            film: id.to_owned(),
            reader: if rods { "B" } else { "A" }.to_owned(),
            marks: curved.marks.iter().map(|(n, p)| (n, p.to_vec())).collect(),
        })
        .unwrap();
    }
    case
}

fn says(told: &[String]) -> bool {
    told.iter().any(|t| t.starts_with("new: metal was found"))
}

/// Plates under metal came out with a quality as good as free ones' where the case did not state what is
/// fused. Bone bright and dark; on a film before the operation nothing is looked past.
#[test]
fn plates_crossed_by_metal_are_proposals_of_low_quality() {
    for dark in [false, true] {
        let dir = tempfile::tempdir().unwrap();
        let case = case(dir.path(), dark, Phase::Postop);
        let carried = case.carry("old", "new", Some("A"), &[]).unwrap();
        assert!(says(&carried.told), "{:?}", carried.told);
        let rods = level("T5")..=level("T12");
        for plate in carried.plates() {
            let low = plate.quality <= 0.02;
            if rods.contains(&plate.level) {
                assert!(low, "{} {:?}: {}", plate.level, plate.edge, plate.quality);
            }
        }
        let refined = case.refine("new", Some("B"), None).unwrap();
        assert!(says(&refined.told()));
    }
    let dir = tempfile::tempdir().unwrap();
    let case = case(dir.path(), false, Phase::Traction);
    assert!(!says(&case.refine("new", Some("B"), None).unwrap().told()));
    let ends = bent::curved(&bent::projection(false), false, 30.0).ends(false);
    assert!(!says(
        &case.carry("old", "new", Some("A"), &ends).unwrap().told
    ));
}
