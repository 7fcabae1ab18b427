//! Outlines of the spine over time, and films matched by the heights of their vertebrae.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/added.rs"]
mod added;

use added::add;
use curvebench::workbench::{Command, OpenCase, write_demo};

/// Places of the line of each film.
fn lines(svg: &str) -> Vec<Vec<(f64, f64)>> {
    svg.lines()
        .filter_map(|l| l.strip_prefix("<polyline points=\"")?.split('"').next())
        .map(|points| {
            points
                .split(' ')
                .map(|p| p.split_once(',').unwrap())
                .map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap()))
                .collect()
        })
        .collect()
}

fn length(line: &[(f64, f64)]) -> f64 {
    line.windows(2)
        .map(|w| (w[1].0 - w[0].0).hypot(w[1].1 - w[0].1))
        .sum()
}

fn svg(case: &OpenCase) -> String {
    case.outlines(None, false, "S1".parse().unwrap()).unwrap()
}

/// Every film is laid on the sacrum; one whose scale is not known comes out as long as with its scale,
/// within the error told, and the drawing says that it was matched.
#[test]
fn a_film_without_scale_is_matched_by_its_vertebrae() {
    let dir = tempfile::tempdir().unwrap();
    let mut case = write_demo(&dir.path().join("demo"), |_, _| true).unwrap();
    let whole = svg(&case);
    let before = lines(&whole);
    assert_eq!(before.len(), 11);
    let foot = before[0].last().unwrap();
    for line in &before {
        let end = line.last().unwrap();
        assert!((end.0 - foot.0).hypot(end.1 - foot.1) < 0.2, "{end:?}");
    }
    assert!(!whole.contains("matched"));
    // The same pixels as a picture without facts, the marks of pa-5 on it: no scale.
    let film = case.load_film("pa-5").unwrap();
    let (w, h) = (film.facts.columns, film.facts.rows);
    let picture = image::GrayImage::new(w, h);
    let path = dir.path().join("bare.png");
    picture.save(&path).unwrap();
    let record = case.film("pa-5").unwrap().clone();
    let facts = curvebench::workbench::StatedFacts {
        date: record.date(),
        view: record.view(),
        left_on: record.side_on(),
        phase: record.phase(),
        ..Default::default()
    };
    add(&mut case, path, "bare", facts);
    let table: String = case
        .export_marks(None)
        .lines()
        .enumerate()
        .filter(|(n, l)| *n == 0 || l.starts_with("pa-5,"))
        .map(|(_, l)| l.replace("pa-5,", "bare,") + "\n")
        .collect();
    case.apply(&Command::ImportMarks {
        reader: "demo reader".to_owned(),
        name: "bare".to_owned(),
        table,
    })
    .unwrap();
    let matched = svg(&case);
    assert!(matched.contains("no scale: matched to pa-1 by vertebral heights, ±"));
    let after = lines(&matched);
    assert_eq!(after.len(), 12);
    // pa-5 and its bare copy have one date and stand beside each other.
    let k = 4;
    let ratio = length(&after[k]) / length(&after[k + 1]);
    println!("bare film against itself with scale: {ratio:.3}");
    assert!((ratio - 1.0).abs() < 0.06, "{ratio}");
    // Laid over itself with scale it is as large: the assumed millimetres of a film without scale have no
    // part in it (they had).
    let laid = case
        .laid_under("bare", "pa-5", "demo reader", "S1".parse().unwrap())
        .unwrap();
    assert!(laid.words.contains("matched by vertebral heights"));
    assert!((laid.ratio - 1.0).abs() < 0.06, "{}", laid.ratio);
}

#[test]
fn a_plate_that_is_not_marked_is_refused_in_a_sentence() {
    let dir = tempfile::tempdir().unwrap();
    let case = write_demo(&dir.path().join("demo"), |_, _| true).unwrap();
    let refused = case
        .outlines(None, false, "C3".parse().unwrap())
        .unwrap_err()
        .to_string();
    assert!(
        refused.contains("upper plate of C3") && refused.contains("--on"),
        "{refused}"
    );
}
