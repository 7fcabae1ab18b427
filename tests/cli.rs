//! The main job through the built program: films in, marks by table, measures and correction out.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use support::{Spine, case_of, done, json, path, png, result};

#[test]
fn a_severe_curve_is_measured_with_side_status_and_uncertainty() {
    let dir = case_of(
        &[(&Spine::scoliosis(124.0), &["--magnification", "1.1"])],
        "congenital",
    );
    let all = json(&done(&["measure", &path(&dir), "--format", "json"]));
    let cobb = result(&all, "f1", "cobb", Some("main"));
    assert!(
        (cobb["value"].as_f64().unwrap() - 124.0).abs() < 1e-9,
        "{cobb}"
    );
    assert_eq!(
        (cobb["levels"].as_str(), cobb["toward"].as_str()),
        (Some("T5-T12"), Some("right"))
    );
    assert_eq!(
        (cobb["status"].as_str(), cobb["unit"].as_str()),
        (Some("ok"), Some("deg"))
    );
    // Two plates of 32 mm drawn at magnification 1.1, 1 mm at each end: sqrt 2 * sqrt 2 * 1.1 / 32 rad.
    let sd = (2.0f64 * 1.1 / 32.0).to_degrees();
    assert!(
        (cobb["sd"].as_f64().unwrap() - sd).abs() < 1e-6,
        "{cobb} against {sd}"
    );
    let apex = result(&all, "f1", "apex", Some("main"));
    assert!(
        ["T8", "T8/T9", "T9"].contains(&apex["levels"].as_str().unwrap()),
        "{apex}"
    );
    assert_eq!(apex["reference"], "CSVL");
    assert_eq!(
        result(&all, "f1", "cobb", Some("above-1"))["toward"],
        "left"
    );
    assert_eq!(
        result(&all, "f1", "cobb", Some("below-1"))["toward"],
        "left"
    );
    assert_eq!(result(&all, "f1", "trunk_shift", None)["status"], "missing");
    assert_eq!(
        result(&all, "f1", "trunk_shift", None)["needs"][0],
        "ribcage.left"
    );
    assert_eq!(
        result(&all, "f1", "kyphosis", None)["status"],
        "not_applicable"
    );
}

/// Mirror, roll (with a plumb line), unequal spacing and only the ends marked: the same numbers.
#[test]
fn the_way_a_film_hangs_does_not_change_the_patient() {
    for cobb in [12.0, 78.0, 101.0, 150.0] {
        for (mirrored, roll, spacing) in [
            (true, 0.0, [0.2, 0.2]),
            (false, 17.0, [0.2, 0.2]),
            (true, -8.0, [0.15, 0.25]),
            (false, 0.0, [0.3, 0.2]),
        ] {
            let spine = Spine {
                mirrored,
                roll,
                spacing,
                ..Spine::scoliosis(cobb)
            };
            for sparse in [false, true] {
                let dir = case_of(&[(&spine, &[])], "idiopathic");
                let table = dir.path().join("again.csv");
                let keep = |n: &str| {
                    !sparse
                        || n.starts_with("T5.upper")
                        || n.starts_with("T12.lower")
                        || n.starts_with("plumb")
                };
                std::fs::write(&table, spine.table("f1", keep)).unwrap();
                done(&[
                    "marks",
                    &path(&dir),
                    "--import",
                    table.to_str().unwrap(),
                    "--reader",
                    "B",
                ]);
                let all = json(&done(&["measure", &path(&dir), "--format", "json"]));
                let main = result(&all, "f1", "cobb", Some("main"));
                assert!(
                    (main["value"].as_f64().unwrap() - cobb).abs() < 1e-6,
                    "{cobb} {roll} {spacing:?}: {main}"
                );
                assert_eq!(main["toward"], "right");
                assert_eq!(main["levels"], "T5-T12");
                if !sparse {
                    let tilt = result(&all, "f1", "t1_tilt", None);
                    assert!(tilt["value"].as_f64().unwrap().abs() < 1e-6, "{tilt}");
                    assert_eq!(tilt["status"], "ok");
                    assert_eq!(
                        result(&all, "f1", "coronal_balance", None)["status"],
                        "uncorrected"
                    );
                }
            }
        }
    }
}

#[test]
fn an_unknown_side_is_said_and_waited_for() {
    let dir = tempfile::tempdir().unwrap();
    let case = path(&dir);
    done(&["new", &case, "--id", "x"]);
    let file = png(dir.path(), "a.png", 9);
    done(&["add", &case, file.to_str().unwrap(), "--view", "pa"]);
    let table = dir.path().join("m.csv");
    std::fs::write(&table, Spine::scoliosis(60.0).table("f1", |_| true)).unwrap();
    done(&["marks", &case, "--import", table.to_str().unwrap()]);
    let all = json(&done(&["measure", &case, "--format", "json"]));
    let cobb = result(&all, "f1", "cobb", Some("main"));
    assert!((cobb["value"].as_f64().unwrap() - 60.0).abs() < 1e-9 && cobb["toward"].is_null());
    let balance = result(&all, "f1", "coronal_balance", None);
    assert_eq!(
        (balance["status"].as_str(), balance["needs"][0].as_str()),
        (Some("missing"), Some("side of the film"))
    );
    done(&["film", &case, "--film", "f1", "--left-on", "image-left"]);
    let all = json(&done(&["measure", &case, "--format", "json"]));
    assert_eq!(result(&all, "f1", "cobb", Some("main"))["toward"], "right");
    let balance = result(&all, "f1", "coronal_balance", None);
    assert_eq!(
        (balance["status"].as_str(), balance["value"].is_null()),
        (Some("uncalibrated"), true)
    );
}

#[test]
fn a_series_is_compared_from_presentation_to_follow_up() {
    let spines = [115.0, 98.0, 77.0, 52.0, 57.0].map(Spine::scoliosis);
    let m = "--magnification";
    let dir = case_of(
        &[
            (
                &spines[0],
                &["--date", "2031-03-03", "--phase", "presentation", m, "1.1"],
            ),
            (
                &spines[1],
                &[
                    "--date",
                    "2031-03-17",
                    "--phase",
                    "traction",
                    m,
                    "1.1",
                    "--traction-kg",
                    "6",
                    "--body-weight-kg",
                    "22",
                ],
            ),
            (
                &spines[2],
                &[
                    "--date",
                    "2031-04-14",
                    "--phase",
                    "traction",
                    m,
                    "1.1",
                    "--traction-kg",
                    "11",
                    "--body-weight-kg",
                    "22",
                ],
            ),
            (
                &spines[3],
                &["--date", "2031-04-28", "--phase", "postop", m, "1.1"],
            ),
            (&spines[4], &["--date", "2032-05-01", "--phase", "followup"]),
        ],
        "neuromuscular",
    );
    let c = json(&done(&["compare", &path(&dir), "--format", "json"]));
    assert_eq!(
        (
            c["baseline"].as_str(),
            c["levels"].as_str(),
            c["cause"].as_str()
        ),
        (Some("f1"), Some("fixed"), Some("neuromuscular"))
    );
    assert_eq!(c["milestones"]["best_traction"], "f3");
    let row = |film: &str, measure: &str| {
        c["rows"]
            .as_array()
            .unwrap()
            .iter()
            .find(|r| {
                r["film"] == film
                    && r["measure"] == measure
                    && (r["curve"].is_null() || r["curve"] == "main")
            })
            .unwrap()
            .clone()
    };
    let best = row("f3", "cobb");
    let near = |v: &serde_json::Value, want: f64| (v.as_f64().unwrap() - want).abs() < 1e-6;
    assert!(
        near(&best["change"], -38.0)
            && near(&best["percent"], 38.0 / 1.15)
            && near(&best["error"], 14.8)
    );
    assert!(near(&best["share_of_total"], 38.0 / 58.0 * 100.0));
    assert_eq!(best["beyond_error"], true);
    assert!(
        best["error_source"]
            .as_str()
            .unwrap()
            .contains("Gupta 2007")
    );
    assert_eq!(row("f5", "cobb")["beyond_error_from_previous"], false);
    // The last film has no magnification: no change in millimetres, and the reason is said.
    let height = row("f5", "t1_s1_height");
    assert!(
        height["change"].is_null()
            && height["note"]
                .as_str()
                .unwrap()
                .contains("one film is calibrated")
    );
    assert!(row("f4", "t1_s1_height")["change"].as_f64().unwrap() > 10.0);
    let table = done(&["compare", &path(&dir)]);
    for words in [
        "best traction",
        "11.0 kg, 50 % BW",
        "115° ± 4",
        "−38  33 %  beyond",
        "convex right",
        "Loder",
        "Gupta 2007",
    ] {
        assert!(
            words == "Loder" || table.contains(words),
            "{words} is not in\n{table}"
        );
    }
    println!("{table}");
    let free = json(&done(&[
        "compare",
        &path(&dir),
        "--levels",
        "free",
        "--format",
        "json",
    ]));
    assert_eq!(free["levels"], "free");
}

#[test]
fn json_follows_the_schemas_and_csv_keeps_every_digit() {
    let dir = case_of(
        &[(&Spine::scoliosis(64.3), &["--date", "2031-01-02"])],
        "young",
    );
    for (schema, text) in [
        (
            "results",
            done(&["measure", &path(&dir), "--format", "json"]),
        ),
        (
            "compare",
            done(&["compare", &path(&dir), "--format", "json"]),
        ),
        (
            "case",
            std::fs::read_to_string(dir.path().join("case/case.json")).unwrap(),
        ),
    ] {
        let validator = jsonschema::validator_for(&json(&done(&["schema", schema]))).unwrap();
        let errors: Vec<String> = validator
            .iter_errors(&json(&text))
            .map(|e| e.to_string())
            .collect();
        assert!(errors.is_empty(), "{schema}: {errors:?}");
    }
    let all = json(&done(&["measure", &path(&dir), "--format", "json"]));
    let value = result(&all, "f1", "cobb", Some("main"))["value"]
        .as_f64()
        .unwrap();
    let csv = done(&["measure", &path(&dir), "--format", "csv"]);
    assert!(
        csv.lines()
            .any(|l| l.contains(&format!("cobb,main,T5-T12,{value},deg"))),
        "{csv}"
    );
    let exported = dir.path().join("out.csv");
    std::fs::write(
        &exported,
        done(&["marks", &path(&dir), "--export", "--reader", "B"]),
    )
    .unwrap();
    done(&[
        "marks",
        &path(&dir),
        "--import",
        exported.to_str().unwrap(),
        "--reader",
        "B",
    ]);
    assert_eq!(done(&["measure", &path(&dir), "--format", "csv"]), csv);
}
