//! Picture files do not say whether bone is bright or dark: the film shows it.

#![allow(clippy::unwrap_used)]

#[path = "support/added.rs"]
mod added;
#[path = "support/bent.rs"]
mod bent;
#[path = "support/png.rs"]
mod png;
#[path = "support/film.rs"]
mod support;

use added::add;
use curvebench::landmark::{Edge, Landmark, LandmarkSet, PlateEnd};
use curvebench::locate::{Pattern, Refined, Steps, Unmarked, bone_is_dark, lay};
use curvebench::phantom::{Exposure, Patient, expose};
use curvebench::units::FilmPx;
use curvebench::workbench::{Command, ImageEdge, OpenCase, StatedFacts, View};
use png::{extremes, write_png};
use std::path::Path;
use support::grey;

/// A case of a curved spine, marked, and of the same straighter, each a picture with bone bright or dark.
fn case(folder: &Path, lateral: bool, dark: [bool; 2]) -> OpenCase {
    let film = bent::projection(lateral);
    let mut case = OpenCase::create(&folder.join("case"), "C", None).unwrap();
    for (id, degrees, dark) in [("old", 60.0, dark[0]), ("new", 40.0, dark[1])] {
        let curved = bent::curved(&film, lateral, degrees);
        let path = folder.join(format!("{id}.png"));
        write_png(&path, &curved.grey, dark);
        let left = bent::hand(lateral) > 0.0;
        let (on_left, on_right) = (ImageEdge::ImageLeft, ImageEdge::ImageRight);
        let facts = StatedFacts {
            view: Some(if lateral { View::Lateral } else { View::Ap }),
            spacing: Some([bent::MM; 2]),
            left_on: (!lateral).then_some(if left { on_left } else { on_right }),
            anterior_on: lateral.then_some(if left { on_right } else { on_left }),
            ..StatedFacts::default()
        };
        add(&mut case, path, id, facts);
        if id == "old" {
            case.apply(&Command::PlaceMarks {
                film: id.to_owned(),
                reader: "A".to_owned(),
                marks: curved.marks.iter().map(|(n, p)| (n, p.to_vec())).collect(),
            })
            .unwrap();
        }
    }
    case
}

/// Carrying onto a picture with dark bone laid the marks wrongly or refused, and refining was worse: both,
/// and proposing, give what they give on the same film with bone bright, and say so.
#[test]
fn a_picture_with_dark_bone_is_read_as_one_with_bright_bone() {
    for lateral in [false, true] {
        let found = [[false, false], [true, false], [true, true]].map(|dark| {
            let dir = tempfile::tempdir().unwrap();
            let case = case(dir.path(), lateral, dark);
            let said = |told: &[String], film: &str| {
                let of = |t: &&String| t.starts_with(film) && t.contains("taken for dark");
                told.iter().filter(of).count() == 1
            };
            let refined = case.refine("old", Some("A"), None).unwrap();
            let told: Vec<String> = refined.told().into_iter().collect();
            assert_eq!(said(&told, "old"), dark[0]);
            let carried = case.carry("old", "new", Some("A"), &[]).unwrap();
            assert_eq!(said(&carried.told, "old"), dark[0]);
            assert_eq!(said(&carried.told, "new"), dark[1]);
            let hints = bent::curved(&bent::projection(lateral), lateral, 40.0).ends(lateral);
            let proposed = case.propose("new", Some("A"), &hints).unwrap();
            assert_eq!(said(&proposed.told, "new"), dark[1]);
            [refined.plates(), carried.plates(), proposed.plates()].map(<[Refined]>::to_vec)
        });
        for other in &found[1..] {
            for (a, b) in found[0].iter().flatten().zip(other.iter().flatten()) {
                assert_eq!((a.level, a.edge), (b.level, b.edge));
                for k in [0, 1] {
                    let off = a.ends[k].distance(b.ends[k]) * bent::MM;
                    assert!(off < 0.05, "{} lateral {lateral}: {off} mm", a.level);
                }
            }
        }
    }
}

/// Where bone is bright the spine is brighter than the flanks, on a negative darker.
#[test]
fn dark_bone_is_seen_about_marks() {
    for lateral in [false, true] {
        let film = bent::projection(lateral);
        let dark = |grey| bone_is_dark(grey, bent::STEPS, &film.marks, lateral);
        assert!(!dark(&film.grey), "lateral {lateral}");
        assert!(dark(&film.grey.negative()), "lateral {lateral}");
    }
}

/// Lateral films were taken for dark where heart and liver before the bodies are brighter than they.
#[test]
fn what_lies_bright_before_the_bodies_is_not_taken_for_dark_bone() {
    let film = bent::projection(true);
    let [low, high] = extremes(&film.grey);
    let fronts: Vec<FilmPx> = film
        .marks
        .iter()
        .filter(|(name, _)| matches!(name, Landmark::Plate(_, _, PlateEnd::Anterior)))
        .map(|(_, points)| points[0])
        .collect();
    let mut grey = film.grey.clone();
    for y in 0..grey.height {
        for x in 0..grey.width {
            let here = FilmPx::new(x as f64 + 0.5, y as f64 + 0.5);
            let nearest = fronts
                .iter()
                .min_by(|a, b| a.distance(here).total_cmp(&b.distance(here)));
            let Some(front) = nearest else { continue };
            let before = (here.x - front.x) * bent::hand(true) * bent::MM;
            if before > 0.0 && before < 40.0 && here.distance(*front) * bent::MM < 45.0 {
                grey.data[y * grey.width + x] += (high - low) / 2.0;
            }
        }
    }
    assert!(!bone_is_dark(&grey, bent::STEPS, &film.marks, true));
    assert!(bone_is_dark(
        &grey.negative(),
        bent::STEPS,
        &film.marks,
        true
    ));
}

/// Heart, liver or shoulders brighter than the spine on both sides of the line between the hints: by those flanks
/// bright bone was told dark, and proposals lay on what the negative shows.
#[test]
fn bone_is_not_told_dark_by_bright_flanks_of_the_line_between_hints() {
    let e = Exposure {
        object_detector: 240.0,
        ..Exposure::default()
    };
    let f = expose(&Patient::scoliosis(0.8, 90.0, 25.0), &e, 5);
    let mm = e.pixel / f.beam.magnification(0.0);
    let steps = Steps {
        column: mm,
        row: mm,
    };
    let hints = ["C7", "S1"].map(|level| {
        let level = level.parse().unwrap();
        let (p, q) = f.marks.plate(level, Edge::Upper, false).unwrap();
        Landmark::plate_ends(level, Edge::Upper, false).map(|name| (name, p.middle(q)))
    });
    let [first, last] = hints.map(|h| h[0].1);
    let hints = hints.concat();
    let long = first.distance(last);
    let across = ((first.y - last.y) / long, (last.x - first.x) / long);
    let mut bright = grey(&f);
    for (i, value) in bright.data.iter_mut().enumerate() {
        let (x, y) = ((i % f.columns) as f64, (i / f.columns) as f64);
        let aside = ((x - first.x) * across.0 + (y - first.y) * across.1).abs() * mm;
        // From nothing at 30 mm to two fifths of the film's range at 70.
        *value += (((aside - 30.0) / 40.0).clamp(0.0, 1.0) * 1600.0) as f32;
    }
    // Plates along the straight line are what the flanks were looked at about.
    let mut line = LandmarkSet::new();
    for k in 1..=12 {
        let ends = Landmark::plate_ends(format!("T{k}").parse().unwrap(), Edge::Upper, false);
        let at = f64::from(k) / 13.0;
        for (name, side) in ends.into_iter().zip([-20.0 / mm, 20.0 / mm]) {
            let x = first.x + (last.x - first.x) * at - across.0 * side;
            let y = first.y + (last.y - first.y) * at - across.1 * side;
            line.place(name, FilmPx::new(x, y));
        }
    }
    for (plane, dark) in [(bright.negative(), true), (bright, false)] {
        assert_eq!(bone_is_dark(&plane, steps, &line, false), !dark);
        let film = Unmarked {
            either: true,
            ..Unmarked::of(&plane, steps, 1.0)
        };
        let found = lay(film, &Pattern::usual(&[], &[], false), &hints).unwrap();
        assert_eq!(found.dark, dark);
    }
}
