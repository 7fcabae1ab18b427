//! Uncertainty against Monte Carlo: values, curves that share an end-plate, changes, curves in space;
//! a reader's own repeatability.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/film.rs"]
mod film;

use curvebench::case::{Case, Cause, FilmRecord, Phase, Reading};
use curvebench::film::View;
use curvebench::geometry::{MarkKind, Placement};
use curvebench::landmark::{Landmark, LandmarkSet};
use curvebench::measure::{FilmInput, FixedEnds, Measured, Settings, measure_film, true_curvature};
use curvebench::phantom::{Patient, Plane, Random};
use curvebench::units::FilmPx;
use film::{exposed, scaled_frame};

/// Size of the film's pixels, mm.
const PIXEL: f64 = 4.0;

fn marks(plane: Plane) -> LandmarkSet {
    let mut set = exposed(
        &Patient::scoliosis(0.74, 60.0, 50.0),
        plane,
        PIXEL,
        (100, 150),
    )
    .marks;
    set.place("plumb.top".parse().unwrap(), FilmPx::new(20.0, 10.0));
    set.place("plumb.bottom".parse().unwrap(), FilmPx::new(22.0, 120.0));
    set
}

/// The marks placed anew, each with its own SD.
fn placed(set: &LandmarkSet, placement: &Placement, random: &mut Random) -> LandmarkSet {
    let mut again = |name: Landmark, p: &FilmPx| {
        let sd = placement.of(name) / PIXEL;
        FilmPx::new(p.x + sd * random.normal(), p.y + sd * random.normal())
    };
    set.iter()
        .map(|(name, points)| (name, points.iter().map(|p| again(name, p)).collect()))
        .collect()
}

fn ends() -> Vec<FixedEnds> {
    [
        ("main", "T5-T12"),
        ("above-1", "T1-T5"),
        ("below-1", "T12-L5"),
    ]
    .map(|(name, levels)| FixedEnds {
        name: Some(name.to_owned()),
        levels: levels.parse().unwrap(),
    })
    .to_vec()
}

fn settings() -> Settings {
    Settings {
        upper_instrumented: Some("T4".to_owned()),
        lower_instrumented: Some("L3".to_owned()),
        ..Settings::default()
    }
}

/// A placement as good as `share` of the assumed one.
fn placement(share: f64) -> Placement {
    let mut p = Placement::default();
    p.mm.iter_mut().for_each(|v| *v *= share);
    p
}

fn results(plane: Plane, marks: &LandmarkSet, placement: &Placement) -> Vec<Measured> {
    measure_film(&FilmInput {
        frame: Some(scaled_frame(plane == Plane::Lateral, PIXEL)),
        photo: false,
        marks,
        settings: &settings(),
        placement,
        ends: &ends(),
    })
}

fn identity(r: &Measured) -> String {
    format!("{} {:?} {:?} {:?}", r.key, r.curve, r.levels, r.side)
}

/// Sample variances and covariance of two columns.
fn moments(a: &[f64], b: &[f64]) -> (f64, f64, f64) {
    let n = a.len() as f64;
    let mean = |v: &[f64]| v.iter().sum::<f64>() / n;
    let (ma, mb) = (mean(a), mean(b));
    let sum = |f: &dyn Fn(usize) -> f64| (0..a.len()).map(f).sum::<f64>() / (n - 1.0);
    (
        sum(&|i| (a[i] - ma).powi(2)),
        sum(&|i| (b[i] - mb).powi(2)),
        sum(&|i| (a[i] - ma) * (b[i] - mb)),
    )
}

fn wrapped(d: f64) -> f64 {
    curvebench::units::wrap_degrees(d)
}

/// SD by derivatives against the SD of 4000 repeated placements of every mark, plumb line included,
/// for every measure that has one. With marks placed to a tenth of what is assumed: 5 % without
/// exception. As assumed: 5 % but for those that leave the linear range, which are counted and named.
#[test]
fn propagated_sd_agrees_with_monte_carlo() {
    for share in [0.1, 1.0] {
        for plane in [Plane::Pa, Plane::Lateral] {
            let set = marks(plane);
            let placement = placement(share);
            let start = results(plane, &set, &placement);
            // kyphosis_max searches for its plates: at full noise it is the largest of many.
            let watched: Vec<&Measured> = start
                .iter()
                .filter(|r| r.sd.is_some() && (share < 1.0 || r.key != "kyphosis_max"))
                .collect();
            let mut seen = vec![Vec::new(); watched.len()];
            let mut random = Random::new(77);
            for _ in 0..4000 {
                let again = results(plane, &placed(&set, &placement, &mut random), &placement);
                for (w, s) in watched.iter().zip(&mut seen) {
                    let same = again.iter().find(|r| identity(r) == identity(w));
                    if let Some(v) = same.and_then(|r| r.value.as_ref()) {
                        s.push(v.v - w.value.as_ref().unwrap().v);
                    }
                }
            }
            let mut beyond = Vec::new();
            for (w, s) in watched.iter().zip(&seen) {
                let ratio = w.sd.unwrap() / moments(s, s).0.sqrt();
                if (ratio - 1.0).abs() > 0.05 {
                    beyond.push(format!("{} {ratio:.3} of {}", identity(w), s.len()));
                }
            }
            println!(
                "{plane:?}, {share} of the assumed placement: {} measures, beyond 5 %: {beyond:?}",
                watched.len()
            );
            assert!(watched.len() >= 14);
            let linear = |b: &&String| !["vertebral_rotation"].iter().any(|k| b.starts_with(k));
            let unforeseen: Vec<&String> =
                beyond.iter().filter(|b| share < 1.0 || linear(b)).collect();
            assert!(unforeseen.is_empty(), "{unforeseen:?}");
        }
    }
}

/// Two curves that share an end vertebra, and each with the sum of both: variance and covariance by
/// derivatives against Monte Carlo.
#[test]
fn curves_that_share_marks_are_correlated() {
    let set = marks(Plane::Pa);
    let placement = placement(0.1);
    let curve = |r: &[Measured], name: &str| -> Measured {
        r.iter()
            .find(|r| r.key == "cobb" && r.curve.as_deref() == Some(name))
            .unwrap()
            .clone()
    };
    // A single plate at the shared vertebra: T12 has only its lower plate, which ends both curves.
    let mut single = set.clone();
    for end in ["left", "right"] {
        single.remove(format!("T12.upper.{end}").parse().unwrap());
    }
    let start = results(Plane::Pa, &single, &placement);
    let (a, b) = (curve(&start, "main"), curve(&start, "below-1"));
    let frame = scaled_frame(false, PIXEL);
    let plane = curvebench::geometry::PlaneMarks::new(&frame, &single, &placement);
    let sd = |i: u32| plane.sd_of(i);
    let (va, vb) = (a.value.clone().unwrap(), b.value.clone().unwrap());
    let analytic = va.covariance(&vb, sd);
    let sum_sd = (&va + &vb).variance(sd).sqrt();
    let mut random = Random::new(5);
    let (mut x, mut y) = (Vec::new(), Vec::new());
    for _ in 0..20_000 {
        let again = results(
            Plane::Pa,
            &placed(&single, &placement, &mut random),
            &placement,
        );
        x.push(curve(&again, "main").value.unwrap().v);
        y.push(curve(&again, "below-1").value.unwrap().v);
    }
    let (vx, vy, cov) = moments(&x, &y);
    println!(
        "covariance {analytic:.5}, seen {cov:.5}; correlation {:.2}",
        cov / (vx * vy).sqrt()
    );
    assert!((analytic / cov - 1.0).abs() < 0.05, "{analytic} {cov}");
    let seen = (vx + vy + 2.0 * cov).sqrt();
    assert!((sum_sd / seen - 1.0).abs() < 0.05, "{sum_sd} {seen}");
    // Taken as independent it would be wrong by far more than that.
    assert!(((vx + vy).sqrt() / seen - 1.0).abs() > 0.1);
}

/// The curve in its own plane with a plumb line on both films, which all tilts of a film share. Named
/// for the fault: its SD once took the four tilts as sharing no mark.
#[test]
fn the_true_curvature_knows_the_shared_plumb_line() {
    let placement = placement(0.1);
    let mut poor = placement.clone();
    // A badly placed plumb line: it turns both tilts of a film alike.
    poor.mm[MarkKind::Reference as usize] = 3.0;
    let sets = [marks(Plane::Pa), marks(Plane::Lateral)];
    let in_space = |sets: &[LandmarkSet; 2]| -> Vec<Measured> {
        let settings = settings();
        let input = |plane, marks| FilmInput {
            frame: Some(scaled_frame(plane == Plane::Lateral, PIXEL)),
            photo: false,
            marks,
            settings: &settings,
            placement: &poor,
            ends: &[],
        };
        let (c, l) = (input(Plane::Pa, &sets[0]), input(Plane::Lateral, &sets[1]));
        true_curvature(&c, &l, "main", "T5-T12".parse().unwrap())
    };
    let start = in_space(&sets);
    let mut random = Random::new(9);
    let mut seen = [Vec::new(), Vec::new()];
    for _ in 0..20_000 {
        let again = [
            placed(&sets[0], &poor, &mut random),
            placed(&sets[1], &poor, &mut random),
        ];
        for (s, r) in seen.iter_mut().zip(in_space(&again)) {
            s.push(r.value.unwrap().v);
        }
    }
    for (r, s) in start.iter().zip(&seen) {
        let ratio = r.sd.unwrap() / moments(s, s).0.sqrt();
        println!("{}: {ratio:.3}", r.key);
        assert!((ratio - 1.0).abs() < 0.05, "{}: {ratio}", r.key);
    }
}

fn record(id: &str, phase: Phase, date: &str) -> FilmRecord {
    let mut record = film::record(id, View::Pa, PIXEL, PIXEL);
    record.stated.phase = Some(phase);
    record.stated.date = date.parse().ok();
    record
}

fn reading(film: &str, number: u32, marks: LandmarkSet) -> Reading {
    let mut r = Reading::new(film, "A", number);
    r.marks = marks;
    r
}

/// The SD of a change between two films is that of 4000 pairs of placements.
#[test]
fn a_change_has_the_sd_of_a_difference() {
    let set = marks(Plane::Pa);
    let mut case = Case::new("x", Some(Cause::Other));
    case.films = vec![
        record("f1", Phase::Presentation, "2031-01-01"),
        record("f2", Phase::Traction, "2031-02-01"),
    ];
    case.readings = vec![reading("f1", 1, set.clone()), reading("f2", 1, set.clone())];
    let options = curvebench::series::CompareOptions::default();
    let main = |case: &Case| {
        let c = curvebench::series::compare(case, &options).unwrap();
        let row = c
            .rows
            .iter()
            .find(|r| r.film == "f2" && r.measure == "cobb" && r.curve.as_deref() == Some("main"));
        let row = row.unwrap();
        (
            row.change.unwrap(),
            row.change_sd.unwrap(),
            row.levels.clone(),
        )
    };
    // End vertebrae fixed, so that every placement measures the same plates.
    for film in &mut case.films {
        film.stated.ends = vec!["T5-T12".to_owned()];
    }
    let (_, sd, levels) = main(&case);
    assert_eq!(levels.as_deref(), Some("T5-T12"));
    let placement = Placement::default();
    let mut random = Random::new(3);
    let changes: Vec<f64> = (0..1500)
        .map(|_| {
            case.readings = vec![
                reading("f1", 1, placed(&set, &placement, &mut random)),
                reading("f2", 1, placed(&set, &placement, &mut random)),
            ];
            wrapped(main(&case).0)
        })
        .collect();
    let seen = moments(&changes, &changes).0.sqrt();
    assert!((sd / seen - 1.0).abs() < 0.05, "{sd} {seen}");
}

/// Two readings placed with 0.6 mm give back 0.6 mm and make the SDs smaller; an export read in again
/// with one mark changed is a correction and tells nothing of repeatability.
#[test]
fn a_readers_own_repeatability_replaces_the_assumption() {
    let set = marks(Plane::Pa);
    let own = placement(0.6);
    let mut random = Random::new(12);
    let mut case = Case::new("x", None);
    case.films = vec![record("f1", Phase::Presentation, "2031-01-01")];
    case.readings = (1..=2)
        .map(|n| reading("f1", n, placed(&set, &own, &mut random)))
        .collect();
    let found = case.placement("A");
    println!("{}", found.source);
    for kind in [MarkKind::EndPlate, MarkKind::Body, MarkKind::Rib] {
        let ratio = found.mm[kind as usize] / own.mm[kind as usize];
        assert!((ratio - 1.0).abs() < 0.15, "{kind:?} {ratio}");
    }
    // Two ends of a plumb line and two of a ruler are too few.
    assert_eq!(found.mm[MarkKind::Reference as usize], 0.5);
    assert!(found.source.contains("reader A's own"));
    assert_eq!(case.placement("B"), Placement::default());

    let mut corrected = case.readings[1].marks.clone();
    corrected.place("T5.upper.left".parse().unwrap(), FilmPx::new(30.0, 40.0));
    case.readings = vec![case.readings[1].clone(), reading("f1", 3, corrected)];
    assert_eq!(case.placement("A"), Placement::default());
}
