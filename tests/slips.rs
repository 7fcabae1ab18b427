//! Slips of the hand in what is stated, marked and accepted: each one sentence, at once.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use support::{Spine, done, import, marked_and_blank, proposing, refused, told};

/// Micrometres for millimetres let refining run without an end and carrying ask for 61 GB.
#[test]
fn a_spacing_of_no_film_is_refused() {
    let (_dir, case) = marked_and_blank();
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
    let (_dir, case) = marked_and_blank();
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
    let (_dir, case) = marked_and_blank();
    let said = told(&proposing(
        &case,
        &["C7.center=1500,300", "S1.center=1500,2600"],
    ));
    assert!(
        said.contains("37 end-plates proposed, 37 of them hardly seen (quality below 0.1)"),
        "{said}"
    );
    let said = told(&["refine", &case, "--film", "f1"]);
    assert!(
        said.contains("35 of 35 end-plates stay where they were"),
        "{said}"
    );
    assert!(said.contains("T1 upper, T1 lower, T2 upper"), "{said}");
}

#[test]
fn exchanged_marks_are_said_at_once_on_the_command_line_too() {
    let (dir, _case) = marked_and_blank();
    let table = Spine::scoliosis(50.0)
        .table("f1", |_| true)
        .replace("T5.", "T55.")
        .replace("T6.", "T5.")
        .replace("T55.", "T6.");
    let said = import(&dir, table.split_once('\n').unwrap().1);
    assert!(
        said.contains("stands above T5 lower plate: levels in the wrong order"),
        "{said}"
    );
}

#[test]
fn marks_at_a_level_said_to_be_absent_are_said() {
    let (_dir, case) = marked_and_blank();
    done(&["choose", &case, "--absent", "T12"]);
    let said = told(&["refine", &case, "--film", "f1"]);
    assert!(
        said.contains("T12 is marked, and the case says it is absent"),
        "{said}"
    );
}

#[test]
fn accepting_what_is_not_proposed_says_what_is() {
    let (_dir, case) = marked_and_blank();
    done(
        &[
            &proposing(&case, &["C7.center=1500,300", "S1.center=1500,2600"])[..],
            &["--save"],
        ]
        .concat(),
    );
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
    assert!(
        said.contains("fewer than four end-plates marked by reader \"D\""),
        "{said}"
    );
}

#[test]
fn instrumented_vertebrae_the_wrong_way_round_are_refused() {
    let (_dir, case) = marked_and_blank();
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
    let (dir, case) = marked_and_blank();
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
    let (dir, case) = marked_and_blank();
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
    let (dir, case) = marked_and_blank();
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
    let said = told(&["add", &case, turned.to_str().unwrap(), "--id", "turned"]);
    assert!(
        said.contains("asks to be shown turned (Exif orientation 6)"),
        "{said}"
    );
}

/// A film carried from with a scale of no film asked for hundreds of gigabytes.
#[test]
fn nothing_is_carried_from_a_film_of_no_size() {
    let (dir, case) = marked_and_blank();
    let table = Spine::scoliosis(50.0).table("f1", |n| !n.starts_with("plumb"))
        + "f1,scale.a,0,100,100\nf1,scale.b,0,102,100\n";
    import(&dir, table.split_once('\n').unwrap().1);
    done(&["film", &case, "--film", "f1", "--scale-mm", "100"]);
    let said = refused(&[
        "carry", &case, "--from", "f1", "--to", "f2", "--reader", "B",
    ]);
    assert!(
        said.contains("film \"f1\": by its scale it would be"),
        "{said}"
    );
}

/// A known length marked on the film to be laid on did not count there.
#[test]
fn a_known_length_scales_the_film_that_is_laid_on() {
    let (dir, case) = marked_and_blank();
    done(&["film", &case, "--film", "f2", "--forget", "spacing"]);
    let carry = [
        "carry", &case, "--from", "f1", "--to", "f2", "--reader", "B",
    ];
    assert!(refused(&carry).contains("has no scale; give two hints"));
    import(
        &dir,
        "f2,scale.a,0,100,100
f2,scale.b,0,600,100
",
    );
    done(&["film", &case, "--film", "f2", "--scale-mm", "100"]);
    // A film of one grey: now the spine is looked for and not recognised.
    assert!(refused(&carry).contains("was not recognised"));
}
