//! Slips of the hand in what is pointed at and stated before the spine is looked for: each one sentence, at once.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use support::{Spine, case_of, curvebench, done, path, refused};

/// A case with one marked grey film, f1, 3000 × 3800 pixels of 0.2 mm, and one without marks, f2.
fn case() -> (tempfile::TempDir, String) {
    let dir = case_of(&[(&Spine::scoliosis(50.0), &[])], "idiopathic");
    let case = path(&dir);
    let film = support::png(dir.path(), "f2.png", 77);
    done(&[
        "add",
        &case,
        film.to_str().unwrap(),
        "--id",
        "f2",
        "--view",
        "pa",
        "--left-on",
        "image-left",
        "--spacing",
        "0.2,0.2",
    ]);
    (dir, case)
}

fn proposed(case: &str, hints: &[&str]) -> String {
    let mut words = vec!["propose", case, "--film", "f2", "--reader", "B"];
    for hint in hints {
        words.extend(["--hint", hint]);
    }
    refused(&words)
}

/// Two places of one vertebra ended the program.
#[test]
fn hints_at_one_vertebra_alone_are_too_few() {
    let (_dir, case) = case();
    let near = ["C7.center=1500,200", "C7.upper.left=1450,180"];
    assert!(proposed(&case, &near).contains("near each end"));
    assert!(proposed(&case, &near[..1]).contains("near each end"));
}

/// Hints on one another ended the program.
#[test]
fn hints_on_one_another_are_named() {
    let (_dir, case) = case();
    for [a, b] in [
        ["C7.center=1500,300", "S1.center=1500,300"],
        ["C7.center=1500,300", "T1.center=1501,301"],
        ["T5.center=1500,300", "T6.center=1500,300"],
    ] {
        let said = proposed(&case, &[a, b]);
        assert!(
            said.contains("lie nearly on one another; correct one"),
            "{said}"
        );
    }
}

/// A hint off the film was looked for minutes long.
#[test]
fn hints_off_the_film_and_of_another_view_are_refused() {
    let (_dir, case) = case();
    for far in [
        "S1.center=99999,3",
        "S1.center=1500,22000",
        "S1.center=1500,-3",
    ] {
        let said = proposed(&case, &["C7.center=1500,300", far]);
        assert!(
            said.contains("S1.center would lie outside the film"),
            "{said}"
        );
    }
    let said = proposed(
        &case,
        &["C7.upper.anterior=1500,300", "S1.center=1500,2600"],
    );
    assert!(said.contains("no mark of this view"), "{said}");
    let carried = [
        "carry",
        &case,
        "--from",
        "f1",
        "--to",
        "f2",
        "--hint",
        "S1.center=9999,9999",
    ];
    assert!(refused(&carried).contains("would lie outside the film"));
}

#[test]
fn exchanged_hints_are_said() {
    let (_dir, case) = case();
    let said = proposed(&case, &["C7.center=1500,2600", "S1.center=1500,300"]);
    assert!(
        said.contains("S1.center lies nearer the head than C7.center; exchange them"),
        "{said}"
    );
}

#[test]
fn a_hint_at_an_absent_level_is_named() {
    let (_dir, case) = case();
    done(&["choose", &case, "--absent", "L5"]);
    let said = proposed(&case, &["C7.center=1500,300", "L5.center=1500,2500"]);
    assert!(
        said.contains("L5.center is at a level that the case says is absent"),
        "{said}"
    );
}

/// Micrometres for millimetres let refining run without an end and carrying ask for 61 GB.
#[test]
fn a_spacing_of_no_film_is_refused() {
    let (_dir, case) = case();
    for spacing in ["143,143", "14.3,14.3", "0.0002,0.0002", "0.2,9999999"] {
        let said = refused(&["film", &case, "--film", "f2", "--spacing", spacing]);
        assert!(said.contains("by its scale it would be"), "{said}");
        assert!(said.contains("mm per pixel"), "{said}");
    }
    let small = ["film", &case, "--film", "f2", "--magnification", "0.5"];
    assert!(refused(&small).contains("no magnification"));
}

/// A film whose side is unknown was carried from as if its left were on the left.
#[test]
fn nothing_is_carried_from_a_film_of_unknown_side() {
    let (_dir, case) = case();
    done(&["film", &case, "--film", "f1", "--forget", "left-on"]);
    let said = refused(&["carry", &case, "--from", "f1", "--to", "f2"]);
    assert!(
        said.contains("film \"f1\": its side is unknown; state --left-on"),
        "{said}"
    );
}

/// On a film of one grey nothing is to be seen, and that is said.
#[test]
fn what_the_film_hardly_shows_is_said() {
    let (_dir, case) = case();
    let out = curvebench(&[
        "propose",
        &case,
        "--film",
        "f2",
        "--reader",
        "B",
        "--hint",
        "C7.center=1500,300",
        "--hint",
        "S1.center=1500,2600",
    ]);
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(
        said.contains("37 end-plates proposed, 37 of them hardly seen (quality below 0.1)"),
        "{said}"
    );
    let out = curvebench(&["refine", &case, "--film", "f1"]);
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(
        said.contains("35 of 35 end-plates stay where they were"),
        "{said}"
    );
    assert!(said.contains("T1 upper, T1 lower, T2 upper"), "{said}");
}

/// Six lumbar vertebrae: the sixth is proposed where it is hinted.
#[test]
fn a_sixth_lumbar_vertebra_is_proposed_where_it_is_hinted() {
    let (_dir, case) = case();
    let table = done(&[
        "propose",
        &case,
        "--film",
        "f2",
        "--reader",
        "B",
        "--hint",
        "C7.center=1500,300",
        "--hint",
        "L6.center=1500,2500",
        "--hint",
        "S1.center=1500,2650",
    ]);
    assert!(table.contains("L6.lower.right") && table.contains("L5.upper.left"));
    assert!(!table.contains("T13"));
}

#[test]
fn exchanged_marks_are_said_at_once_on_the_command_line_too() {
    let (dir, case) = case();
    let table = Spine::scoliosis(50.0)
        .table("f1", |_| true)
        .replace("T5.", "T55.")
        .replace("T6.", "T5.")
        .replace("T55.", "T6.");
    let file = dir.path().join("exchanged.csv");
    std::fs::write(&file, table).unwrap();
    let out = curvebench(&[
        "marks",
        &case,
        "--import",
        file.to_str().unwrap(),
        "--reader",
        "C",
    ]);
    let said = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(0), "{said}");
    assert!(
        said.contains("stands above T5 lower plate: levels in the wrong order"),
        "{said}"
    );
}

#[test]
fn marks_at_a_level_said_to_be_absent_are_said() {
    let (_dir, case) = case();
    done(&["choose", &case, "--absent", "T12"]);
    let out = curvebench(&["refine", &case, "--film", "f1"]);
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(
        said.contains("T12 is marked, and the case says it is absent"),
        "{said}"
    );
}

#[test]
fn accepting_what_is_not_proposed_says_what_is() {
    let (_dir, case) = case();
    done(&[
        "propose",
        &case,
        "--film",
        "f2",
        "--reader",
        "B",
        "--save",
        "--hint",
        "C7.center=1500,300",
        "--hint",
        "S1.center=1500,2600",
    ]);
    let accept = [
        "accept",
        &case,
        "--film",
        "f2",
        "--reader",
        "B",
        "--marks",
        "T5.upper.left",
    ];
    done(&accept);
    let said = refused(&accept);
    assert!(
        said.contains("none of these marks is proposed to reader \"B\"; 73 others are"),
        "{said}"
    );
    let said = refused(&[
        "carry", &case, "--from", "f2", "--to", "f1", "--reader", "D",
    ]);
    assert!(said.contains("is not marked by reader \"D\""), "{said}");
}

#[test]
fn instrumented_vertebrae_the_wrong_way_round_are_refused() {
    let (_dir, case) = case();
    let said = refused(&[
        "choose",
        &case,
        "--upper-instrumented",
        "L3",
        "--lower-instrumented",
        "T3",
    ]);
    assert!(
        said.contains("L3 lies below the lowest, T3; exchange them"),
        "{said}"
    );
}

#[test]
fn a_reader_who_read_nothing_and_a_table_without_marks_are_said() {
    let (dir, case) = case();
    let said = refused(&["marks", &case, "--export", "--reader", "Nobody"]);
    assert!(
        said.contains("reader \"Nobody\" has read no film of this case; its readers are B"),
        "{said}"
    );
    let file = dir.path().join("header.csv");
    std::fs::write(&file, "film,landmark,point,x,y\n").unwrap();
    assert!(
        refused(&["marks", &case, "--import", file.to_str().unwrap()]).contains("holds no mark")
    );
}

/// The marks of plates that are not moved were printed with another last figure.
#[test]
fn an_unrefined_mark_is_printed_as_it_was_given() {
    let (dir, case) = case();
    let file = dir.path().join("given.csv");
    let table = done(&["marks", &case, "--export"]).replace(
        "f1,T5.upper.left,0,",
        "f1,T5.upper.left,0,1348.412,612.3\n#",
    );
    let table: String = table
        .lines()
        .filter(|l| !l.starts_with('#'))
        .map(|l| format!("{l}\n"))
        .collect();
    std::fs::write(&file, table).unwrap();
    let out = done(&[
        "refine",
        &case,
        "--film",
        "f1",
        "--from",
        file.to_str().unwrap(),
    ]);
    assert!(out.contains("T5.upper.left,0,1348.412,612.3,"), "{out}");
}

/// A JPEG cut short was filled up with grey, and one that asks to be turned was taken as stored without a word.
#[test]
fn a_jpeg_cut_short_is_refused_and_one_to_be_turned_is_said() {
    let (dir, case) = case();
    let whole = dir.path().join("whole.jpg");
    let grey = image::GrayImage::from_fn(640, 900, |x, y| image::Luma([(x * 7 + y * 13) as u8]));
    grey.save(&whole).unwrap();
    let bytes = std::fs::read(&whole).unwrap();
    let cut = dir.path().join("cut.jpg");
    std::fs::write(&cut, &bytes[..bytes.len() / 2]).unwrap();
    let said = refused(&["add", &case, cut.to_str().unwrap()]);
    assert!(
        said.contains("cut.jpg: ends before its picture does"),
        "{said}"
    );
    done(&["add", &case, whole.to_str().unwrap(), "--id", "whole"]);

    // Exif 2.3, 4.6.4: tag 0x0112, one SHORT, 6: the first row is the right side.
    let exif =
        b"\xFF\xE1\x00\x22Exif\0\0II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0\x06\0\0\0\0\0\0\0";
    let turned = dir.path().join("turned.jpg");
    std::fs::write(&turned, [&bytes[..2], exif, &bytes[2..]].concat()).unwrap();
    let out = curvebench(&["add", &case, turned.to_str().unwrap(), "--id", "turned"]);
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(
        said.contains("asks to be shown turned (Exif orientation 6)"),
        "{said}"
    );
}
