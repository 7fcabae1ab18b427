//! Spines that are not as usual: 13 thoracic or 6 lumbar levels, a missing level, fused levels, a
//! hemivertebra, hidden end-plates; the choice of apex; the surgical curve type.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/film.rs"]
mod film;

use curvebench::case::{Case, Cause, Phase, Reading};
use curvebench::film::View;
use curvebench::landmark::LandmarkSet;
use curvebench::measure::{ApexRule, Measured, Settings};
use curvebench::series::{CompareOptions, Comparison, compare};
use curvebench::units::Toward;
use film::{find, frame, measure, plane, record};

/// A coronal spine from the sacrum up: each level with its tilt, bodies 20 mm high, 35 mm wide, discs
/// 6 mm, each laid on the one below along its own axis. Tilts are + right end high.
fn spine(levels: &[(&str, f64)]) -> LandmarkSet {
    let mut marks: Vec<(String, f64, f64)> = vec![
        ("S1.upper.left".to_owned(), -20.0, 0.0),
        ("S1.upper.right".to_owned(), 20.0, 0.0),
    ];
    let (mut x, mut y) = (0.0f64, 6.0f64);
    for (level, tilt) in levels.iter().rev() {
        let t = tilt.to_radians();
        let (ax, ay) = (-t.sin(), t.cos());
        let mut put = |name: &str, along: f64, across: f64| {
            marks.push((
                format!("{level}.{name}"),
                x + ax * along + t.cos() * across,
                y + ay * along + t.sin() * across,
            ));
        };
        for (edge, along) in [("lower", 0.0), ("upper", 20.0)] {
            put(&format!("{edge}.left"), along, -17.5);
            put(&format!("{edge}.right"), along, 17.5);
        }
        put("pedicle.left", 14.0, -10.0);
        put("pedicle.right", 14.0, 10.0);
        x += ax * 26.0;
        y += ay * 26.0;
    }
    let marks: Vec<(&str, f64, f64)> = marks.iter().map(|m| (m.0.as_str(), m.1, m.2)).collect();
    plane(&marks)
}

/// Levels between two, with tilts that run evenly from one value to the other.
fn ramp(levels: &[&'static str], from: f64, to: f64) -> Vec<(&'static str, f64)> {
    let last = (levels.len() - 1) as f64;
    levels
        .iter()
        .enumerate()
        .map(|(i, l)| (*l, from + (to - from) * i as f64 / last))
        .collect()
}

fn without(mut set: LandmarkSet, names: &[&str]) -> LandmarkSet {
    for name in names {
        for side in ["left", "right"] {
            set.remove(format!("{name}.{side}").parse().unwrap())
                .unwrap();
        }
    }
    set
}

fn cobb(results: &[Measured]) -> (f64, String, String) {
    let r = find(results, "cobb");
    (
        r.value.as_ref().unwrap().v,
        r.levels.clone().unwrap(),
        r.note.clone().unwrap_or_default(),
    )
}

#[test]
fn thirteen_thoracic_and_six_lumbar_levels() {
    let levels = [
        "T8", "T9", "T10", "T11", "T12", "T13", "L1", "L2", "L3", "L4", "L5", "L6",
    ];
    let set = spine(&ramp(&levels, 33.0, -22.0));
    let r = measure(&frame(false), &set, &Settings::default());
    let (value, between, _) = cobb(&r);
    assert!((value - 55.0).abs() < 1e-9, "{value}");
    assert_eq!(between, "T8-L6");
    // The lowest lumbar level of this patient is L6: spine-referenced obliquity uses it.
    let mut with_crests = set.clone();
    for (name, y) in [("iliac.left", -10.0), ("iliac.right", -10.0)] {
        let x = if name.ends_with("left") { -60.0 } else { 60.0 };
        let p = plane(&[(name, x, y)]);
        with_crests.place(
            name.parse().unwrap(),
            p.point(name.parse().unwrap()).unwrap(),
        );
    }
    let settings = Settings {
        pelvic_obliquity: curvebench::measure::ObliquityMethod::LowestLumbar,
        ..Settings::default()
    };
    let r = measure(&frame(false), &with_crests, &settings);
    let obliquity = find(&r, "pelvic_obliquity");
    assert!(
        obliquity
            .marks
            .iter()
            .any(|m| m.to_string() == "L6.lower.left")
    );
    assert!((obliquity.value.as_ref().unwrap().v + 22.0).abs() < 1e-9);
}

#[test]
fn a_missing_level_joins_its_neighbours() {
    let levels = ["T9", "T10", "T11", "L1", "L2"];
    let set = spine(&ramp(&levels, 20.0, -20.0));
    let settings = Settings {
        absent_levels: vec!["T12".to_owned()],
        ..Settings::default()
    };
    let with = measure(&frame(false), &set, &settings);
    let apex = |r: &[Measured]| {
        r.iter()
            .find(|r| r.key == "apex" && r.curve.as_deref() == Some("main"))
            .unwrap()
            .clone()
    };
    // Stated absent, nothing is said to be unmarked; not stated, the apex warns.
    assert_eq!(apex(&with).note, None);
    let unsaid = measure(&frame(false), &set, &Settings::default());
    assert!(apex(&unsaid).note.unwrap().contains("T12 are not"));
    assert!((cobb(&with).0 - 40.0).abs() < 1e-9);
}

#[test]
fn fused_levels_are_measured_by_the_plates_they_have() {
    // T8 and T9 are one block: no plates between them.
    let levels = ["T6", "T7", "T8", "T9", "T10", "T11"];
    let set = without(
        spine(&ramp(&levels, 25.0, -25.0)),
        &["T8.lower", "T9.upper"],
    );
    let r = measure(&frame(false), &set, &Settings::default());
    assert!((cobb(&r).0 - 50.0).abs() < 1e-9);
    let apex = r.iter().find(|r| r.key == "apex").unwrap();
    // Neither T8 nor T9 has a middle of its own, nor is there a disc between: said so.
    assert!(apex.note.as_ref().unwrap().contains("T8, T9 are not"));
    assert!(apex.levels.is_some());
}

#[test]
fn a_hemivertebra_with_one_end_plate_ends_a_curve() {
    let levels = ["T10", "T11", "T12", "L1"];
    let set = without(spine(&ramp(&levels, 30.0, -15.0)), &["L1.lower"]);
    let r = measure(&frame(false), &set, &Settings::default());
    let (value, between, note) = cobb(&r);
    assert!((value - 45.0).abs() < 1e-9);
    assert_eq!(between, "T10-L1");
    assert_eq!(note, "L1: only the upper end-plate is marked");
}

#[test]
fn hidden_end_plates_leave_the_pedicles_and_it_is_said() {
    let levels = ["T4", "T5", "T6", "T7", "T8"];
    let set = without(
        spine(&ramp(&levels, 40.0, -40.0)),
        &["T4.upper", "T4.lower"],
    );
    let r = measure(&frame(false), &set, &Settings::default());
    let (value, between, note) = cobb(&r);
    assert!((value - 80.0).abs() < 1e-9);
    assert_eq!(between, "T4-T8");
    assert!(note.contains("T4: no end-plate is marked, the line of its pedicles is used"));
    let curve = find(&r, "cobb");
    assert!(
        curve
            .marks
            .iter()
            .any(|m| m.to_string() == "T4.pedicle.left")
    );
    // The pedicles stand 20 mm apart where the plate is 35 mm wide, and are placed less well: the SD says so.
    let whole = measure(
        &frame(false),
        &spine(&ramp(&levels, 40.0, -40.0)),
        &Settings::default(),
    );
    assert!(curve.sd.unwrap() > 1.5 * find(&whole, "cobb").sd.unwrap());
}

#[test]
fn the_apex_by_either_rule() {
    // T9's body bulges: its centre, marked by itself, lies farthest though T10 is more level.
    let levels = ["T5", "T6", "T7", "T8", "T9", "T10", "T11", "T12"];
    let mut set = spine(&ramp(&levels, 45.0, -15.0));
    let right = set.point("T9.upper.right".parse().unwrap()).unwrap();
    set.place("T9.center".parse().unwrap(), right);
    let apex = |rule| {
        let settings = Settings {
            apex: rule,
            ..Settings::default()
        };
        let r = measure(&frame(false), &set, &settings);
        let a = r.iter().find(|r| r.key == "apex").unwrap().clone();
        (a.levels.unwrap(), a.reference.unwrap())
    };
    let (farthest, by) = apex(ApexRule::Farthest);
    assert_eq!((farthest.as_str(), by.as_str()), ("T9", "CSVL"));
    let (level, by) = apex(ApexRule::MostLevel);
    assert_eq!(by, "most level body or disc");
    // Tilts pass nought between T10 (2.1°) and T11: the disc and T10 lean least.
    assert!(level.starts_with("T10"), "{level}");
}

#[test]
fn a_fixed_end_vertebra_that_is_out_tilted_is_pointed_out_in_degrees() {
    let levels = ["T4", "T5", "T6", "T7", "T8", "T9", "T10"];
    let set = spine(&ramp(&levels, 36.0, -24.0));
    let mut case = Case::new("x", None);
    let mut film = record("f1", View::Pa, 1.0, 1.0);
    film.stated.ends = vec!["T5-T10".to_owned()];
    case.films.push(film);
    let mut reading = Reading::new("f1", "A", 1);
    reading.marks = set;
    case.readings.push(reading);
    let c = compare(&case, &CompareOptions::default()).unwrap();
    let row = c.rows.iter().find(|r| r.measure == "cobb").unwrap();
    assert_eq!(row.toward, Some(Toward::Right));
    let note = row.note.as_ref().unwrap();
    assert!(
        note.contains("T4 is 10.0° more tilted than the fixed end vertebra T5"),
        "{note}"
    );
}

/// A curve whose ends lie far from the film's middle: said, with how far and what it may do; near it not.
#[test]
fn ends_far_from_the_central_ray_are_pointed_out() {
    use curvebench::measure::{FilmInput, film_cautions};
    use curvebench::units::FilmPx;
    let set = spine(&ramp(&["T5", "T6", "T7", "T8", "T9"], 30.0, -30.0));
    let (settings, placement) = (
        Settings::default(),
        curvebench::geometry::Placement::default(),
    );
    let input = FilmInput {
        frame: Some(frame(false)),
        photo: false,
        marks: &set,
        settings: &settings,
        placement: &placement,
        ends: &[],
    };
    let far = |y: f64| -> Option<String> {
        let told = film_cautions(&input, FilmPx::new(2000.0, y));
        told.into_iter().find(|c| c.contains("central ray"))
    };
    // The curve lies between 0 and 130 mm above the point (2000, 2000).
    assert_eq!(far(1930.0), None);
    let told = far(2300.0).unwrap();
    assert!(told.contains("T5 4") && told.contains("T9 3"), "{told}");
}

const THORACIC: [&str; 12] = [
    "T1", "T2", "T3", "T4", "T5", "T6", "T7", "T8", "T9", "T10", "T11", "T12",
];

/// An idiopathic case: proximal thoracic T1–T5, main thoracic T5–T12 and lumbar T12–L4 curves upright
/// and on side-bending, and kyphoses T2–T5, T5–T12, T10–L2 on a lateral film.
fn idiopathic(upright: [f64; 3], bent: Option<[f64; 3]>, kyphosis: [f64; 3]) -> Comparison {
    let coronal = |[proximal, main, lumbar]: [f64; 3]| {
        let (top, bottom) = (main / 2.0, -main / 2.0);
        let mut levels = ramp(&THORACIC[..5], top - proximal, top);
        levels.extend(ramp(&THORACIC[4..], top, bottom).into_iter().skip(1));
        let lumbar = ramp(&["T12", "L1", "L2", "L3", "L4"], bottom, bottom + lumbar);
        levels.extend(lumbar.into_iter().skip(1));
        levels.push(("L5", 0.0));
        spine(&levels)
    };
    let mut case = Case::new("x", Some(Cause::Idiopathic));
    let mut add = |id: &str, view, phase, date: &str, marks| {
        let mut film = record(id, view, 1.0, 1.0);
        film.stated.phase = Some(phase);
        film.stated.date = date.parse().ok();
        let mut reading = Reading::new(id, "A", 1);
        reading.marks = marks;
        case.films.push(film);
        case.readings.push(reading);
    };
    add(
        "pa",
        View::Pa,
        Phase::Presentation,
        "2031-01-01",
        coronal(upright),
    );
    if let Some(bent) = bent {
        add(
            "bend",
            View::Pa,
            Phase::Flexibility,
            "2031-01-02",
            coronal(bent),
        );
    }
    let [high, middle, low] = kyphosis;
    let mut marks = Vec::new();
    // T5's tilt is nought; T2 leads it, T12 follows, L2 closes T10–L2.
    let tilts = [
        ("T2.upper", -high, 180.0),
        ("T5.upper", 0.0, 150.0),
        ("T5.lower", 0.0, 145.0),
        ("T10.upper", 0.0, 100.0),
        ("T12.lower", middle, 80.0),
        ("L2.lower", low, 40.0),
    ];
    for (name, tilt, y) in tilts {
        let t = f64::to_radians(tilt);
        marks.push((
            format!("{name}.posterior"),
            -15.0 * t.cos(),
            y - 15.0 * t.sin(),
        ));
        marks.push((
            format!("{name}.anterior"),
            15.0 * t.cos(),
            y + 15.0 * t.sin(),
        ));
    }
    let marks: Vec<(&str, f64, f64)> = marks.iter().map(|m| (m.0.as_str(), m.1, m.2)).collect();
    add(
        "lat",
        View::Lateral,
        Phase::Presentation,
        "2031-01-01",
        plane(&marks),
    );
    compare(&case, &CompareOptions::default()).unwrap()
}

fn code(c: &Comparison) -> Option<String> {
    c.curve_type.as_ref().unwrap().code.clone()
}

/// The six types by the published rule: minor curves are structural at 25° on bending, or by kyphosis
/// over them. Lumbar and sagittal modifiers follow the marks.
#[test]
fn the_six_curve_types() {
    let usual = [5.0, 25.0, 0.0];
    let kind = |upright, bent, kyphosis| {
        let c = idiopathic(upright, Some(bent), kyphosis);
        let code = code(&c).unwrap_or_else(|| panic!("{:?}", c.curve_type));
        code.chars().next().unwrap()
    };
    assert_eq!(kind([20.0, 60.0, 30.0], [10.0, 40.0, 10.0], usual), '1');
    assert_eq!(kind([35.0, 60.0, 30.0], [27.0, 40.0, 10.0], usual), '2');
    assert_eq!(kind([20.0, 60.0, 50.0], [10.0, 40.0, 30.0], usual), '3');
    assert_eq!(kind([35.0, 60.0, 50.0], [27.0, 40.0, 30.0], usual), '4');
    assert_eq!(kind([12.0, 30.0, 55.0], [10.0, 10.0, 40.0], usual), '5');
    assert_eq!(kind([12.0, 45.0, 60.0], [10.0, 30.0, 40.0], usual), '6');
    // Just at the limit and just below it, and the kyphosis of T2–T5 alone: both make it structural.
    assert_eq!(kind([35.0, 60.0, 30.0], [25.001, 40.0, 10.0], usual), '2');
    assert_eq!(kind([35.0, 60.0, 30.0], [24.9, 40.0, 10.0], usual), '1');
    assert_eq!(
        kind([35.0, 60.0, 30.0], [10.0, 40.0, 10.0], [20.001, 25.0, 0.0]),
        '2'
    );
    for (k, sign) in [(5.0, '−'), (10.001, 'N'), (39.999, 'N'), (41.0, '+')] {
        let c = idiopathic([20.0, 60.0, 30.0], Some([10.0, 40.0, 10.0]), [5.0, k, 0.0]);
        assert_eq!(code(&c).unwrap().chars().last(), Some(sign), "{k}");
    }
}

#[test]
fn a_curve_type_waits_for_what_is_not_marked_and_is_for_idiopathic_cases_only() {
    let c = idiopathic([35.0, 60.0, 30.0], None, [5.0, 25.0, 0.0]);
    let t = c.curve_type.clone().unwrap();
    assert_eq!(t.code, None);
    assert!(
        t.needs
            .iter()
            .any(|n| n == "a side-bending film of the proximal thoracic curve")
    );
    let mut case = Case::new("x", Some(Cause::Neuromuscular));
    case.films.push(record("f1", View::Pa, 1.0, 1.0));
    let mut reading = Reading::new("f1", "A", 1);
    reading.marks = spine(&ramp(&["T8", "T9", "T10"], 10.0, -10.0));
    case.readings.push(reading);
    let c = compare(&case, &CompareOptions::default()).unwrap();
    assert!(c.curve_type.is_none());
}
