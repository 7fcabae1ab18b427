//! Speed of reading films, measuring and comparing. `cargo bench`; set CURVEBENCH_FILMS to a folder
//! of DICOM files to read others than the fixtures. Reference decoders: benches/decode_reference.py.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

use curvebench::case::{Case, Phase, Reading};
use curvebench::film::dicom::decode_any;
use curvebench::geometry::Placement;
use curvebench::measure::{FilmInput, measure_film};
use curvebench::phantom::{Exposure, Patient, expose};
use curvebench::series::{CompareOptions, compare};
use std::hint::black_box;
use std::time::Instant;

/// Median milliseconds of `n` runs.
fn median(n: usize, mut f: impl FnMut()) -> f64 {
    let mut times: Vec<f64> = (0..n)
        .map(|_| {
            let start = Instant::now();
            f();
            start.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[n / 2]
}

fn main() {
    let folder = std::env::var("CURVEBENCH_FILMS")
        .unwrap_or_else(|_| concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/films").to_owned());
    let mut files: Vec<_> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "dcm"))
        .collect();
    files.sort();
    for file in files {
        let bytes = std::fs::read(&file).unwrap();
        let name = file.file_name().unwrap().to_string_lossy().into_owned();
        if decode_any(&name, &bytes).is_ok() {
            println!(
                "decode,{name},{:.3}",
                median(7, || drop(black_box(decode_any(&name, &bytes))))
            );
        }
    }

    let exposure = Exposure::default();
    let film = expose(&Patient::scoliosis(0.74, 104.0, 70.0), &exposure, 1);
    let demo = std::env::temp_dir().join(format!("curvebench-bench-{}", std::process::id()));
    let mut case = Case::new("bench", None);
    let said = curvebench::film::FileFacts {
        columns: 1000,
        rows: 1500,
        date: None,
        view: Some(curvebench::film::View::Pa),
        left_on: Some(curvebench::film::ImageEdge::ImageLeft),
        anterior_on: None,
        head_on: None,
        spacing: curvebench::film::Spacing {
            kind: curvebench::film::SpacingKind::Calibrated,
            row: 0.4,
            column: 0.4,
            reason: String::new(),
        },
        source_detector_mm: None,
        estimated_magnification: None,
        notes: Vec::new(),
    };
    for i in 0..20u8 {
        let id = format!("f{i}");
        case.films.push(curvebench::case::FilmRecord {
            id: id.clone(),
            file: format!("films/{id}"),
            sha256: String::new(),
            name: id.clone(),
            said: said.clone(),
            stated: curvebench::case::StatedFacts {
                date: curvebench::units::Date::new(2031, 1, 1 + i),
                phase: Some(if i == 0 {
                    Phase::Presentation
                } else {
                    Phase::Traction
                }),
                ..Default::default()
            },
            extra: serde_json::Map::new(),
        });
        let mut reading = Reading::new(&id, "A", 1);
        reading.marks = film.marks.clone();
        case.readings.push(reading);
    }
    let (placement, frame) = (Placement::default(), case.films[0].frame());
    let input = FilmInput {
        frame,
        photo: false,
        marks: &film.marks,
        settings: &case.settings,
        placement: &placement,
        ends: &[],
    };
    println!("marks on the film,{},", film.marks.len());
    println!(
        "all measures of one film,,{:.3}",
        median(101, || drop(black_box(measure_film(&input))))
    );
    std::fs::create_dir_all(&demo).unwrap();
    curvebench::case::save(&demo, &case).unwrap();
    let text = std::fs::read_to_string(demo.join("case.json")).unwrap();
    let parse = median(31, || {
        drop(black_box(serde_json::from_str::<serde_json::Value>(&text)))
    });
    let whole = median(31, || {
        let case = curvebench::case::load(&demo).unwrap();
        drop(black_box(compare(&case, &CompareOptions::default())));
    });
    println!("parse the JSON of 20 films,,{parse:.3}");
    println!("open and compare 20 films,,{whole:.3}");
    let long = Exposure {
        size: (3000, 8000),
        pixel: 0.1,
        ..exposure
    };
    let start = Instant::now();
    drop(black_box(expose(
        &Patient::scoliosis(0.74, 104.0, 70.0),
        &long,
        2,
    )));
    println!(
        "phantom film 3000 x 8000,,{:.0}",
        start.elapsed().as_secs_f64() * 1e3
    );
    let _ = std::fs::remove_dir_all(&demo);
}
