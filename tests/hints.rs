//! Hints that cannot be: each named in one sentence, at once.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use support::{done, import, marked_and_blank, proposing, refused};

fn proposed(case: &str, hints: &[&str]) -> String {
    refused(&proposing(case, hints))
}

/// Two places of one vertebra ended the program.
#[test]
fn hints_at_one_vertebra_alone_are_too_few() {
    let (_dir, case) = marked_and_blank();
    let near = ["C7.center=1500,200", "C7.upper.left=1450,180"];
    assert!(proposed(&case, &near).contains("near each end"));
    assert!(proposed(&case, &near[..1]).contains("near each end"));
}

/// Hints on one another ended the program.
#[test]
fn hints_on_one_another_are_named() {
    let (_dir, case) = marked_and_blank();
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
    let (_dir, case) = marked_and_blank();
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
    let (_dir, case) = marked_and_blank();
    let said = proposed(&case, &["C7.center=1500,2600", "S1.center=1500,300"]);
    assert!(
        said.contains("S1.center lies nearer the head than C7.center; exchange them"),
        "{said}"
    );
}

#[test]
fn a_hint_at_an_absent_level_is_named() {
    let (_dir, case) = marked_and_blank();
    done(&["choose", &case, "--absent", "L5"]);
    let said = proposed(&case, &["C7.center=1500,300", "L5.center=1500,2500"]);
    assert!(
        said.contains("L5.center is at a level that the case says is absent"),
        "{said}"
    );
}

/// Six lumbar vertebrae: the sixth is proposed where it is hinted.
#[test]
fn a_sixth_lumbar_vertebra_is_proposed_where_it_is_hinted() {
    let (_dir, case) = marked_and_blank();
    let table = done(&proposing(
        &case,
        &[
            "C7.center=1500,300",
            "L6.center=1500,2500",
            "S1.center=1500,2650",
        ],
    ));
    assert!(table.contains("L6.lower.right") && table.contains("L5.upper.left"));
    assert!(!table.contains("T13"));
}

/// The outermost hints on one another ended the program; a slip by half a metre asked for gigabytes.
#[test]
fn hints_that_cannot_be_on_one_spine_are_named() {
    let (_dir, case) = marked_and_blank();
    let folded = [
        "C7.center=1500,300",
        "T2.center=1700,500",
        "T5.center=1500,302",
    ];
    assert!(proposed(&case, &folded).contains("lie nearly on one another"));
    let far = ["C7.lower.left=1400,100", "T1.upper.left=1400,3700"];
    let said = proposed(&case, &far);
    assert!(
        said.contains("C7.lower.left and T1.upper.left lie too far apart"),
        "{said}"
    );
    let middle = [
        "C7.center=1500,300",
        "T4.center=1500,2000",
        "T12.center=1500,1000",
        "S1.center=1500,2600",
    ];
    assert!(proposed(&case, &middle).contains("T12.center lies nearer the head than T4.center"));
}

/// Marks of levels that are not laid refused the whole proposal, in the name of a hint that nobody gave.
#[test]
fn marks_beyond_what_is_laid_are_no_hints() {
    let (dir, case) = marked_and_blank();
    import(
        &dir,
        "f2,C5.center,0,1500,150\nf2,C7.center,0,1500,300\nf2,S1.center,0,1500,2600\n",
    );
    let table = done(&["propose", &case, "--film", "f2", "--reader", "B"]);
    assert!(table.contains("f2,T5.upper.left,"));
}

/// One end of a plate was taken for its middle: here the other end and the plate lay half a width beside it.
#[test]
fn of_a_lone_end_the_plate_lies_beside_it() {
    let (_dir, case) = marked_and_blank();
    // On the left of the film lies the patient's left; the plates are about 25 mm wide there, 0.2 mm a pixel.
    let lone = ["T1.upper.left=1430,300", "S1.center=1500,2600"];
    let table = done(&proposing(&case, &lone));
    let at = |name: &str| -> f64 {
        let line = table.lines().find(|l| l.contains(name)).unwrap();
        line.split(',').nth(3).unwrap().parse().unwrap()
    };
    let middle = (at("T1.upper.left") + at("T1.upper.right")) / 2.0;
    assert!((middle - 1497.0).abs() < 25.0, "{middle}");
}
