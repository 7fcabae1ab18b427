//! What a surgeon would trust wrongly: each test is named for a fault that was found and mended.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use curvebench::film::{ImageEdge, Spacing, SpacingKind};
use curvebench::geometry::{FilmFrame, Placement, PlaneMarks, ScaleState, out_of_place};
use curvebench::landmark::{Landmark, LandmarkSet};
use curvebench::measure::{CsvlConstruction, FilmInput, Settings};
use curvebench::overlay::{Kind, drawing};
use curvebench::report::reading_line;
use curvebench::units::{FilmPx, PlanePoint};
use curvebench::workbench::{CompareOptions, OpenCase, film_scale, scale_words};
use support::{Spine, case_of, done, json, path, result};

/// A known length whose ends are not marked on the newest reading is not what the heading says.
#[test]
fn the_heading_claims_no_known_length_without_its_marks() {
    let spine = Spine::scoliosis(60.0);
    let dir = case_of(&[(&spine, &["--scale-mm", "50"])], "young");
    let case = path(&dir);
    let heading = done(&["measure", &case]);
    // One film alone has no change, and so no error to set it beside.
    assert!(!done(&["compare", &case]).contains("beyond / within"));
    assert!(!heading.contains("by a known length"), "{heading}");
    assert!(
        heading.contains("the stated length of 50 mm waits for scale.a and scale.b"),
        "{heading}"
    );
    let open = OpenCase::open(std::path::Path::new(&case)).unwrap();
    let film = open.film("f1").unwrap();
    let mut marks = LandmarkSet::new();
    marks.place("scale.a".parse().unwrap(), FilmPx::new(100.0, 100.0));
    marks.place("scale.b".parse().unwrap(), FilmPx::new(100.0, 300.0));
    assert!(scale_words(film, &marks).starts_with("by a known length of 50 mm"));
    // 200 rows for 50 mm: a quarter of a millimetre each, for the scale bar as for the measures.
    let scale = film_scale(film, &marks).unwrap();
    assert_eq!(scale.state, ScaleState::Calibrated);
    assert!((scale.row - 0.25).abs() < 1e-12 && (scale.column - 0.25).abs() < 1e-12);
}

/// An apex found among few marked bodies says which were not marked.
#[test]
fn an_apex_among_few_marks_says_so() {
    let spine = Spine::scoliosis(60.0);
    let dir = case_of(&[(&spine, &[])], "young");
    let case = path(&dir);
    let all = json(&done(&["measure", &case, "--format", "json"]));
    assert!(result(&all, "f1", "apex", Some("main"))["note"].is_null());
    let table = dir.path().join("few.csv");
    let few = |n: &str| ["T5.", "T9.", "T12."].iter().any(|l| n.starts_with(l));
    std::fs::write(&table, spine.table("f1", few)).unwrap();
    done(&[
        "marks",
        &case,
        "--import",
        table.to_str().unwrap(),
        "--reader",
        "few",
    ]);
    let all = json(&done(&[
        "measure", &case, "--reader", "few", "--format", "json",
    ]));
    let apex = result(&all, "f1", "apex", Some("main"));
    assert_eq!(apex["levels"], "T9");
    let note = apex["note"].as_str().unwrap();
    assert!(note.contains("T6, T7, T8, T10, T11"), "{note}");
}

/// A level stated absent whose marks stand on the film is not dropped in silence.
#[test]
fn an_absent_level_with_marks_is_said() {
    let spine = Spine::scoliosis(60.0);
    let dir = case_of(&[(&spine, &[])], "young");
    let case = path(&dir);
    done(&["choose", &case, "--absent", "T12"]);
    let all = json(&done(&["measure", &case, "--format", "json"]));
    let note = result(&all, "f1", "cobb", Some("main"))["note"].to_string();
    assert!(note.contains("T12: stated absent"), "{note}");
}

/// The README's first command may be given twice: the second time it is the same demo.
#[test]
fn the_demo_twice_is_the_same_demo() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("demo");
    let folder = folder.to_str().unwrap();
    let first = done(&["demo", folder, "--no-window"]);
    let kept = std::fs::read(dir.path().join("demo/case.json")).unwrap();
    assert_eq!(done(&["demo", folder, "--no-window"]), first);
    assert_eq!(
        std::fs::read(dir.path().join("demo/case.json")).unwrap(),
        kept
    );
    done(&[
        "new",
        dir.path().join("mine").to_str().unwrap(),
        "--id",
        "x",
    ]);
    support::refused(&[
        "demo",
        dir.path().join("mine").to_str().unwrap(),
        "--no-window",
    ]);
}

/// The change in words: less, more, none, and a curve that crossed to the other side.
#[test]
fn a_change_reads_as_its_numbers_say() {
    let opposite = Spine {
        tilts: Spine::scoliosis(30.0)
            .tilts
            .into_iter()
            .map(|(l, t)| (l, -t))
            .collect(),
        ..Spine::scoliosis(30.0)
    };
    let dates = ["2031-01-01", "2031-02-01", "2031-03-01", "2031-04-01"];
    let films = [
        Spine::scoliosis(60.0),
        Spine::scoliosis(40.0),
        Spine::scoliosis(80.0),
        opposite,
    ];
    let facts: Vec<[&str; 2]> = dates.iter().map(|d| ["--date", *d]).collect();
    let spines: Vec<(&Spine, &[&str])> =
        films.iter().zip(&facts).map(|(s, f)| (s, &f[..])).collect();
    let dir = case_of(&spines, "young");
    let case = OpenCase::open(std::path::Path::new(&path(&dir))).unwrap();
    let rows = case.compare(&CompareOptions::default()).unwrap().rows;
    let main = |film: &str| {
        let row = rows
            .iter()
            .find(|r| r.film == film && r.measure == "cobb" && r.curve.as_deref() == Some("main"));
        reading_line(row.unwrap())
    };
    assert!(main("f2").then.starts_with("60°") && main("f2").now.starts_with("40°"));
    assert_eq!(main("f2").change, "20° less");
    assert_eq!(main("f3").change, "20° more");
    assert_eq!(main("f1").change, "no change");
    assert_eq!(main("f4").change, "90°, other way");
    assert!(
        rows.iter()
            .all(|r| r.percent.is_none_or(|p| p != 0.0 || p.is_sign_positive()))
    );
}

fn frame() -> FilmFrame {
    FilmFrame {
        lateral: false,
        side_on: Some(ImageEdge::ImageRight),
        head_on: ImageEdge::ImageTop,
        spacing: Spacing {
            kind: SpacingKind::Detector,
            row: 0.2,
            column: 0.3,
            reason: String::new(),
        },
        magnification: Some(1.2),
        scale_mm: None,
    }
}

fn marks(points: &[(&str, f64, f64)]) -> LandmarkSet {
    let mut set = LandmarkSet::new();
    for (name, x, y) in points {
        set.place(name.parse::<Landmark>().unwrap(), FilmPx::new(*x, *y));
    }
    set
}

/// The line drawn is the line measured from: the CSVL by the crests, on unequal pixels, with a
/// plumb line, on a film hung the other way, passes through the middle of S1 and stands square on
/// the line of the crests.
#[test]
fn the_csvl_is_drawn_as_it_is_measured() {
    let set = marks(&[
        ("S1.upper.left", 1100.0, 2000.0),
        ("S1.upper.right", 900.0, 2010.0),
        ("C7.center", 980.0, 300.0),
        ("iliac.left", 1400.0, 1800.0),
        ("iliac.right", 600.0, 1900.0),
        ("plumb.top", 300.0, 200.0),
        ("plumb.bottom", 340.0, 2400.0),
    ]);
    let settings = Settings {
        csvl: CsvlConstruction::IliacPerpendicular,
        ..Settings::default()
    };
    let placement = Placement::default();
    let input = FilmInput {
        frame: Some(frame()),
        photo: false,
        marks: &set,
        settings: &settings,
        placement: &placement,
        ends: &[],
    };
    let drawn = drawing(&input, &LandmarkSet::new(), &[]);
    let line = drawn
        .lines
        .iter()
        .find(|l| l.kind == Kind::Vertical && l.keys.contains(&"trunk_shift"))
        .unwrap();
    let mm = |p: FilmPx| (p.x * 0.3, p.y * 0.2);
    let (a, b) = (mm(line.points[0]), mm(line.points[1]));
    let (l, r) = (
        mm(FilmPx::new(1400.0, 1800.0)),
        mm(FilmPx::new(600.0, 1900.0)),
    );
    let dot = (b.0 - a.0) * (l.0 - r.0) + (b.1 - a.1) * (l.1 - r.1);
    let size = (b.0 - a.0).hypot(b.1 - a.1) * (l.0 - r.0).hypot(l.1 - r.1);
    assert!((dot / size).abs() < 1e-9, "{}", dot / size);
    assert!(line.points[1].distance(FilmPx::new(1000.0, 2005.0)) < 1e-6);
}

/// Film plane and film are inverse with a magnification, unequal pixels and a plumb line.
#[test]
fn the_plane_leads_back_to_the_film() {
    let set = marks(&[
        ("T5.upper.left", 812.0, 411.0),
        ("plumb.top", 300.0, 200.0),
        ("plumb.bottom", 390.0, 2400.0),
    ]);
    let frame = frame();
    let plane = PlaneMarks::new(&frame, &set, &Placement::default());
    let p = plane.point("T5.upper.left".parse().unwrap()).unwrap();
    let back = plane.film_from_plane(PlanePoint::new(p.x.v, p.y.v));
    assert!(back.distance(FilmPx::new(812.0, 411.0)) < 1e-9, "{back:?}");
}

/// Exchanged ends, levels in the wrong order and exchanged sides are said; severe curves, films
/// hung the other way and unknown sides are not.
#[test]
fn what_stands_where_it_cannot_is_said() {
    for cobb in [20.0, 110.0, 150.0] {
        for mirrored in [false, true] {
            let spine = Spine {
                mirrored,
                ..Spine::scoliosis(cobb)
            };
            let mut f = frame();
            f.spacing.row = 0.2;
            f.spacing.column = 0.2;
            f.side_on = Some(if mirrored {
                ImageEdge::ImageRight
            } else {
                ImageEdge::ImageLeft
            });
            let table = spine.table("f", |n| !n.starts_with("plumb"));
            let mut set = LandmarkSet::new();
            for line in table.lines().skip(1) {
                let c: Vec<&str> = line.split(',').collect();
                set.place(
                    c[1].parse().unwrap(),
                    FilmPx::new(c[3].parse().unwrap(), c[4].parse().unwrap()),
                );
            }
            assert!(out_of_place(&f, &set).is_empty(), "{cobb} {mirrored}");
            let swap = |set: &LandmarkSet, a: &str, b: &str| {
                let mut out = set.clone();
                let (a, b) = (a.parse().unwrap(), b.parse().unwrap());
                out.place(a, set.point(b).unwrap());
                out.place(b, set.point(a).unwrap());
                out
            };
            let ends = swap(&set, "T8.upper.left", "T8.upper.right");
            assert!(!out_of_place(&f, &ends).is_empty(), "ends at {cobb}");
            let mut levels = swap(&set, "L2.upper.left", "L3.upper.left");
            levels = swap(&levels, "L2.upper.right", "L3.upper.right");
            assert!(!out_of_place(&f, &levels).is_empty(), "levels at {cobb}");
            f.side_on = None;
            assert!(
                out_of_place(&f, &set).is_empty(),
                "unknown side {cobb} {mirrored}"
            );
        }
    }
    let mut sides = marks(&[
        ("clavicle.left", 100.0, 50.0),
        ("clavicle.right", 900.0, 50.0),
    ]);
    assert_eq!(out_of_place(&frame(), &sides).len(), 1);
    sides.place("clavicle.left".parse().unwrap(), FilmPx::new(950.0, 50.0));
    assert!(out_of_place(&frame(), &sides).is_empty());
}
