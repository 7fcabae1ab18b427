//! Faults: one sentence, nothing half done; and a real film that lacks much.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use support::{Spine, case_of, curvebench, done, json, path, refused};

#[test]
fn every_fault_is_one_sentence_and_nothing_is_half_done() {
    let dir = case_of(&[(&Spine::scoliosis(50.0), &[])], "idiopathic");
    let case = path(&dir);
    let before = std::fs::read(dir.path().join("case/case.json")).unwrap();
    let table = dir.path().join("bad.csv");
    std::fs::write(
        &table,
        "film,landmark,point,x,y\nf1,T5.upper.left,0,1,2\nf1,T55.upper.left,0,1,2\n",
    )
    .unwrap();
    let said = refused(&["marks", &case, "--import", table.to_str().unwrap()]);
    assert!(said.contains("bad.csv: line 3, column landmark"), "{said}");
    assert!(refused(&["measure", &case, "--film", "f9"]).contains("no film \"f9\"; it has f1"));
    assert!(
        refused(&["film", &case, "--film", "f1", "--spacing", "0,0.1"]).contains("not above zero")
    );
    assert!(refused(&["new", &case, "--id", "y"]).contains("holds a case already"));
    assert!(refused(&["add", &case, "/nowhere/film.dcm"]).contains("cannot be read"));
    assert!(refused(&["measure", "/nowhere"]).contains("holds no case.json"));
    assert_eq!(
        std::fs::read(dir.path().join("case/case.json")).unwrap(),
        before
    );
    assert_eq!(curvebench(&["measure"]).status.code(), Some(2));
    assert_eq!(
        curvebench(&["measure", &case, "--ends", "T12-T5"])
            .status
            .code(),
        Some(2)
    );

    // A film that is no longer the one that was added is refused by name.
    let film = std::fs::read_dir(dir.path().join("case/films"))
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    let mut bytes = std::fs::read(&film).unwrap();
    *bytes.last_mut().unwrap() ^= 1;
    std::fs::write(&film, bytes).unwrap();
    assert!(
        refused(&["measure", &case]).contains("no longer the file that was added as film \"f1\"")
    );
}

#[test]
fn unknown_members_survive_and_a_newer_version_is_refused() {
    let dir = case_of(&[(&Spine::scoliosis(50.0), &[])], "idiopathic");
    let file = dir.path().join("case/case.json");
    let mut value = json(&std::fs::read_to_string(&file).unwrap());
    value["ward"] = "four".into();
    value["films"][0]["stated"]["couch"] = 3.into();
    std::fs::write(&file, value.to_string()).unwrap();
    done(&["film", &path(&dir), "--film", "f1", "--posture", "sitting"]);
    let kept = json(&std::fs::read_to_string(&file).unwrap());
    assert_eq!(
        (
            kept["ward"].as_str(),
            kept["films"][0]["stated"]["couch"].as_i64()
        ),
        (Some("four"), Some(3))
    );
    value["version"] = 2.into();
    std::fs::write(&file, value.to_string()).unwrap();
    assert!(refused(&["measure", &path(&dir)]).contains("newer curvebench (format 2"));
}

/// RG1, a real chest film whose spacing is 0.000: what can and cannot be measured is said exactly.
#[test]
fn a_real_chest_film_says_what_it_lacks() {
    let dir = tempfile::tempdir().unwrap();
    let case = path(&dir);
    done(&["new", &case, "--id", "real"]);
    let film = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/films/RG1_J2KI.dcm");
    let out = curvebench(&["add", &case, film]);
    let told = String::from_utf8(out.stderr).unwrap();
    assert!(
        told.contains("PA") && told.contains("patient's left on image-right"),
        "{told}"
    );
    assert!(
        told.contains("Pixel Spacing is \"0.000\\0.000\", which is no spacing and is not used"),
        "{told}"
    );
    assert!(refused(&["add", &case, film]).contains("in the case already as film \"f1\""));
    let table = done(&["measure", &case]);
    assert!(
        table.contains("f1")
            && table.contains("scale: none")
            && table.contains("needs C7.center, S1.upper.left"),
        "{table}"
    );
    println!("{told}{table}");
}

/// A choice of the case is kept, named in the output, and a wrong word is refused.
#[test]
fn choices_are_made_once_per_case() {
    let dir = case_of(
        &[(&Spine::scoliosis(80.0), &["--magnification", "1"])],
        "idiopathic",
    );
    let case = path(&dir);
    done(&[
        "choose",
        &case,
        "--translation-reference",
        "csvl",
        "--absent",
        "T13",
    ]);
    let all = json(&done(&["measure", &case, "--format", "json"]));
    assert_eq!(
        support::result(&all, "f1", "apical_translation", Some("main"))["reference"],
        "CSVL"
    );
    assert!(refused(&["choose", &case, "--csvl", "slanted"]).contains("--csvl: unknown variant"));
    assert!(refused(&["choose", &case, "--rib-pairs", "9-4"]).contains("write the first and last"));
    // End vertebrae fixed on the film: the measure says so, and that a steeper level stands beside.
    done(&["film", &case, "--film", "f1", "--ends", "T6-T11"]);
    let all = json(&done(&["measure", &case, "--format", "json"]));
    let main = support::result(&all, "f1", "cobb", Some("main"));
    assert_eq!(
        (main["levels"].as_str(), main["method"].as_str()),
        (Some("T6-T11"), Some("fixed end vertebrae"))
    );
    assert!(
        main["note"]
            .as_str()
            .unwrap()
            .contains("T5 is 11.4° more tilted than the fixed end vertebra T6"),
        "{main}"
    );
    // A level said to be absent is set aside although it is marked.
    done(&["choose", &case, "--absent", "T5"]);
    done(&["film", &case, "--film", "f1", "--ends", "T5-T12"]);
    let all = json(&done(&["measure", &case, "--format", "json"]));
    assert_eq!(
        support::result(&all, "f1", "cobb", Some("main"))["status"],
        "missing"
    );
}
