//! Writes what the last look of refinement is trained on: films, their true end-plates, and where the chain alone
//! put them. `cargo bench --bench training -- phantoms OUT FIRST MANY STARTS [varied]` for phantom films, or
//! `… -- others FILMS OUT STARTS` for films of benches/other_films, or `… -- bent OUT STARTS` for the CT's
//! projections bent. Then benches/trained/README.md.
//!
//! Per film: NAME.txt (columns, rows, 1 for lateral, kind), NAME.bin (16 bits, little-endian, bone bright, half a
//! millimetre a pixel) and NAME.csv without a header: start, level, edge, then x, y in mm of both ends as they
//! are, as marked and as the chain found them, and the quality.

#![allow(clippy::unwrap_used, missing_docs)]

#[path = "../tests/support/bent.rs"]
#[allow(dead_code, reason = "only films are asked of it")]
mod bent;
#[path = "support/films.rs"]
mod films;

use curvebench::film::{GreyPlane, density, load};
use curvebench::landmark::LandmarkSet;
use curvebench::locate::{Steps, refine_by_chain};
use curvebench::phantom::{Build, Plane, Random, expose};
use curvebench::units::FilmPx;
use films::{exposure, grey, patient, rough};
use rayon::prelude::*;
use std::path::Path;

/// Pixel of the films written, mm.
const PIXEL: f64 = 0.5;
/// SD of the starts in each coordinate, mm.
const START: f64 = 2.0;

struct Film<'a> {
    grey: &'a GreyPlane,
    steps: Steps,
    marks: &'a LandmarkSet,
    lateral: bool,
    kind: &'a str,
}

/// The film at [`PIXEL`], each the mean of nine places.
fn pixels(film: &Film<'_>) -> (usize, usize, Vec<u8>) {
    let (grey, steps) = (film.grey, film.steps);
    let w = (grey.width as f64 * steps.column / PIXEL) as usize;
    let h = (grey.height as f64 * steps.row / PIXEL) as usize;
    let range = |a: (f32, f32), v: &f32| (a.0.min(*v), a.1.max(*v));
    let (low, high) = grey.data.iter().fold((f32::MAX, f32::MIN), range);
    let mut out = Vec::with_capacity(2 * w * h);
    for i in 0..w * h {
        let mut sum = 0.0;
        for k in 0..9 {
            let third = |at: usize, k: usize| (at as f64 + (k as f64 + 0.5) / 3.0) * PIXEL;
            let (x, y) = (third(i % w, k % 3), third(i / w, k / 3));
            sum += grey.sample(x / steps.column, y / steps.row);
        }
        let share = (sum / 9.0 - low) / (high - low);
        out.extend(((share * 65535.0).clamp(0.0, 65535.0) as u16).to_le_bytes());
    }
    (w, h, out)
}

fn write(out: &str, film: &Film<'_>, seed: u64, starts: usize) {
    let (w, h, bytes) = pixels(film);
    std::fs::write(format!("{out}.bin"), bytes).unwrap();
    let mut r = Random::new(seed * 13 + 77);
    let mut rows = Vec::new();
    for k in 0..starts {
        let size = (film.grey.width as f64, film.grey.height as f64);
        let noise = (START / film.steps.column, START / film.steps.row);
        let marks = rough(film.marks, size, noise, &mut r);
        for x in refine_by_chain(film.grey, film.steps, &marks, film.lateral) {
            let of = |m: &LandmarkSet| m.plate(x.level, x.edge, film.lateral);
            let (Some(t), Some(s)) = (of(film.marks), of(&marks)) else {
                continue;
            };
            let mut row = format!("{k},{},{:?}", x.level, x.edge);
            for p in [t.0, t.1, s.0, s.1, x.ends[0], x.ends[1]] {
                let p = film.steps.mm(p);
                row += &format!(",{:.4},{:.4}", p.x, p.y);
            }
            rows.push(format!("{row},{:.4}", x.quality));
        }
    }
    std::fs::write(format!("{out}.csv"), rows.join("\n")).unwrap();
    let about = format!("{w} {h} {} {}", u8::from(film.lateral), film.kind);
    std::fs::write(format!("{out}.txt"), about).unwrap();
}

/// A film of a random patient, as in the bench of refinement, or of one built otherwise.
fn phantom(out: &str, seed: u64, kind: usize, plane: Plane, starts: usize, varied: bool) {
    let mut r = Random::new(seed * 7919 + kind as u64);
    let mut p = patient(seed, (15.0, 145.0), &mut r);
    p.halo = r.uniform() < 0.5;
    let mut e = exposure(kind, plane, &mut r);
    if varied {
        let mut r = Random::new(seed * 17 + kind as u64 * 3 + 1);
        p.build = Build::varied(&mut r);
        e.blur *= (0.4 * r.normal()).exp();
        e.scatter *= 2.0 * r.uniform();
        e.quanta *= (0.6 * r.normal()).exp();
        p.discs = 0.8 + 0.6 * r.uniform();
        p.bodies_turn = [1.0, 1.0, 0.5, 0.0][(4.0 * r.uniform()) as usize % 4];
    }
    let f = expose(&p, &e, seed);
    let mm = e.pixel / f.beam.magnification(0.0);
    let film = Film {
        grey: &grey(&f, &e),
        steps: Steps {
            column: mm,
            row: mm,
        },
        marks: &f.marks,
        lateral: plane == Plane::Lateral,
        kind: ["easy", "usual", "hard"][kind],
    };
    write(out, &film, seed, starts);
}

/// A film of benches/other_films by its facts.
fn other(folder: &Path, facts: &Path, out: &str, starts: usize) {
    let json: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(facts).unwrap()).unwrap();
    let stem = facts.file_stem().unwrap().to_str().unwrap();
    let mut grey = density(&load(&folder.join(json["file"].as_str().unwrap())).unwrap());
    if json["bone"] == "dark" {
        grey = grey.negative();
    }
    let scale = json["magnification_at_spine"].as_f64().unwrap();
    let step = |k: usize| json["pixel_spacing_mm"][k].as_f64().unwrap() / scale;
    let mut marks = LandmarkSet::new();
    let table = std::fs::read_to_string(folder.join(format!("{stem}.own.csv"))).unwrap();
    for line in table.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let at = |k: usize| cells[k].parse().unwrap();
        marks.place(cells[1].parse().unwrap(), FilmPx::new(at(3), at(4)));
    }
    let film = Film {
        grey: &grey,
        steps: Steps {
            column: step(1),
            row: step(0),
        },
        marks: &marks,
        lateral: json["view"] == "lateral",
        kind: json["stage"].as_str().unwrap(),
    };
    write(&format!("{out}/{stem}"), &film, 5, starts);
}

/// The CT's projections, bent at random but for the first: their truth takes no part, only that different starts
/// shall agree.
fn bent_films(out: &str, starts: usize) {
    (0..48usize).into_par_iter().for_each(|i| {
        let (lateral, k) = (i >= 24, i % 24);
        let mut r = Random::new(900 + k as u64);
        let mut film = bent::projection(lateral);
        if k > 0 {
            film = bent::curved(&film, lateral, 160.0 * r.uniform() - 80.0);
        }
        let film = Film {
            grey: &film.grey,
            steps: bent::STEPS,
            marks: &film.marks,
            lateral,
            kind: "bent",
        };
        let view = if lateral { "lateral" } else { "pa" };
        write(
            &format!("{out}/{k:02}-{view}"),
            &film,
            50 + k as u64,
            starts,
        );
    });
}

fn main() {
    let words: Vec<String> = std::env::args()
        .skip(1)
        .filter(|w| w != "--bench")
        .collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    match words[..] {
        ["phantoms", out, first, many, starts, ref rest @ ..] => {
            let (first, many): (u64, u64) = (first.parse().unwrap(), many.parse().unwrap());
            let (starts, varied) = (starts.parse().unwrap(), rest == ["varied"]);
            (first * 6..(first + many) * 6)
                .into_par_iter()
                .for_each(|i| {
                    let (seed, kind) = (i / 6, (i % 3) as usize);
                    let (plane, name) =
                        [(Plane::Pa, "pa"), (Plane::Lateral, "lateral")][(i / 3 % 2) as usize];
                    phantom(
                        &format!("{out}/{seed}-{kind}-{name}"),
                        seed,
                        kind,
                        plane,
                        starts,
                        varied,
                    );
                });
        }
        ["others", films, out, starts] => {
            let starts = starts.parse().unwrap();
            let every: Vec<_> = std::fs::read_dir(films)
                .unwrap()
                .map(|e| e.unwrap().path())
                .collect();
            every
                .par_iter()
                .filter(|p| {
                    p.extension().is_some_and(|e| e == "json")
                        && p.with_extension("own.csv").exists()
                })
                .for_each(|p| other(Path::new(films), p, out, starts));
        }
        ["bent", out, starts] => bent_films(out, starts.parse().unwrap()),
        _ => println!("what to write is told in benches/training.rs; nothing is written"),
    }
}
