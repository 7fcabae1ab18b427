//! How well end-plates are refined: phantom films never used for tuning, and projections of a real
//! CT. Prints the tables of docs/PERFORMANCE.md; asserts nothing. Tuning used seeds 1000 to 1007.

#![allow(clippy::unwrap_used, missing_docs)]

#[path = "support/films.rs"]
mod films;
#[path = "support/plates.rs"]
mod plates;

use curvebench::film::{density, load};
use curvebench::landmark::{LandmarkSet, Level};
use curvebench::locate::{Metal, Steps, THRESHOLD, refine, refine_by_chain, refine_past};
use curvebench::phantom::{Exposure, PhantomFilm, Plane, Random, expose};
use curvebench::units::FilmPx;
use films::{exposure, grey, patient, through_jpeg, tilt};
use std::path::Path;
use std::time::Instant;

/// First seed and number of films of each kind: the evaluation set, or with `CURVEBENCH_TUNE` the set
/// that settings may be tuned on.
fn seeds() -> (u64, u64) {
    if std::env::var_os("CURVEBENCH_TUNE").is_some() {
        (1000, 8)
    } else {
        (5000, 15)
    }
}

/// A film of a random patient; `kind` 0 easy, 1 usual, 2 hard.
fn film(seed: u64, kind: usize, plane: Plane) -> (PhantomFilm, Exposure) {
    film_of(seed, kind, plane, false)
}

/// The same, or straightened by half and fused T3 to L2.
fn film_of(seed: u64, kind: usize, plane: Plane, fused: bool) -> (PhantomFilm, Exposure) {
    let mut r = Random::new(seed * 7919 + kind as u64);
    let mut p = patient(seed, (15.0, 145.0), &mut r);
    p.halo = r.uniform() < 0.5;
    if fused {
        p.coronal.iter_mut().for_each(|a| *a *= 0.5);
        p.instrumented = Some((4, 14));
    }
    let e = exposure(kind, plane, &mut r);
    (expose(&p, &e, seed), e)
}

/// Divides the placement SD of 2 mm, for seeing what a perfect start would give.
fn noise() -> f64 {
    std::env::var("CURVEBENCH_BETTER")
        .ok()
        .and_then(|v| v.parse().ok())
        .unwrap_or(1.0)
}

fn wrapped(a: f64) -> f64 {
    (a + 540.0).rem_euclid(360.0) - 180.0
}

fn rms(v: &[f64]) -> f64 {
    (v.iter().map(|x| x * x).sum::<f64>() / v.len() as f64).sqrt()
}

/// End-plate marks off by 2 mm SD in each coordinate, of a pixel of `mm`.
fn rough(truth: &LandmarkSet, mm: f64, size: (f64, f64), r: &mut Random) -> LandmarkSet {
    films::rough(truth, size, (2.0 / mm, 2.0 / mm), r)
}

fn phantoms() {
    println!(
        "kind, plates, tilt SD before, by the chain alone, after, ratio, bias, over 10°, unrefined, position RMS mm, ms a film"
    );
    let mut every: Vec<(f64, f64)> = Vec::new();
    for plane in [Plane::Pa, Plane::Lateral] {
        let kinds = [
            ("easy", 0, None),
            ("usual", 1, None),
            ("hard", 2, None),
            ("usual, JPEG 60", 1, Some(60)),
            ("usual, JPEG 25", 1, Some(25)),
        ];
        for (name, kind, jpeg) in kinds {
            let (mut before, mut after, mut place) = (Vec::new(), Vec::new(), Vec::new());
            let (mut left, mut time, mut chain) = (0, 0.0, Vec::new());
            let (first, films) = seeds();
            for seed in 0..films {
                let (f, e) = film(first + seed, kind, plane);
                let mut grey = grey(&f, &e);
                if let Some(quality) = jpeg {
                    grey = through_jpeg(&grey, quality);
                }
                let mm = e.pixel / f.beam.magnification(0.0);
                let lateral = plane == Plane::Lateral;
                let mut r = Random::new(seed + 77);
                let size = (f.columns as f64, f.rows as f64);
                let marks = rough(&f.marks, mm * noise(), size, &mut r);
                let steps = Steps {
                    column: mm,
                    row: mm,
                };
                for x in refine_by_chain(&grey, steps, &marks, lateral) {
                    let truth = f.marks.plate(x.level, x.edge, lateral).unwrap();
                    chain.push(wrapped(tilt((x.ends[0], x.ends[1])) - tilt(truth)));
                }
                let start = Instant::now();
                let found = refine(&grey, steps, &marks, lateral);
                time += start.elapsed().as_secs_f64() * 1000.0;
                for x in found {
                    let truth = f.marks.plate(x.level, x.edge, lateral).unwrap();
                    let rough = marks.plate(x.level, x.edge, lateral).unwrap();
                    let ends = (x.ends[0], x.ends[1]);
                    before.push(wrapped(tilt(rough) - tilt(truth)));
                    after.push(wrapped(tilt(ends) - tilt(truth)));
                    if jpeg.is_none() {
                        every.push((x.quality, wrapped(tilt(ends) - tilt(truth)).abs()));
                    }
                    left += usize::from(!x.refined);
                    let middle = |p: (FilmPx, FilmPx)| p.0.middle(p.1);
                    place.push(middle(ends).distance(middle(truth)) * mm);
                }
            }
            let n = after.len() as f64;
            let gross = after.iter().filter(|a| a.abs() > 10.0).count() as f64;
            println!(
                "{plane:?} {name}, {n}, {:.2}°, {:.2}°, {:.2}°, {:.2}, {:.2}°, {:.1} %, {:.1} %, {:.2}, {:.0}",
                rms(&before),
                rms(&chain),
                rms(&after),
                rms(&after) / rms(&before),
                after.iter().sum::<f64>() / n,
                100.0 * gross / n,
                100.0 * f64::from(left as u32) / n,
                rms(&place),
                time / films as f64
            );
        }
    }
    every.sort_by(|a, b| a.0.total_cmp(&b.0));
    if seeds().0 == 5000 {
        plates::plot(&every);
    }
    println!("quality (tenths of all plates), tilt SD, share over 10°");
    for part in every.chunks(every.len().div_ceil(10)) {
        let n = part.len() as f64;
        let q = part.iter().map(|p| p.0).sum::<f64>() / n;
        let errors: Vec<f64> = part.iter().map(|p| p.1).collect();
        let gross = errors.iter().filter(|e| **e > 10.0).count() as f64 / n;
        println!("{q:.2}, {:.2}°, {:.1} %", rms(&errors), 100.0 * gross);
    }
    let above: Vec<f64> = every
        .iter()
        .filter(|p| p.0 >= THRESHOLD)
        .map(|p| p.1)
        .collect();
    let gross = above.iter().filter(|e| **e > 10.0).count() as f64 / above.len() as f64;
    println!("gross errors above the threshold: {:.2} %", 100.0 * gross);
}

/// Plates under rods and screws, and the free ones of the same films, on the film as it is and without the
/// metal that is found on it.
fn rods() {
    println!(
        "fused T3 to L2, plates, tilt SD before, after on the film as it is, without its metal"
    );
    for plane in [Plane::Pa, Plane::Lateral] {
        let lateral = plane == Plane::Lateral;
        let mut all: [[Vec<f64>; 3]; 2] = Default::default();
        let (first, films) = seeds();
        for kind in 0..3 {
            for seed in first..first + films {
                let (f, e) = film_of(seed, kind, plane, true);
                let mm = e.pixel / f.beam.magnification(0.0);
                let size = (f.columns as f64, f.rows as f64);
                let marks = rough(&f.marks, mm * noise(), size, &mut Random::new(seed + 77));
                let steps = Steps {
                    column: mm,
                    row: mm,
                };
                let grey = grey(&f, &e);
                let found = refine(&grey, steps, &marks, lateral);
                let without = match Metal::about(&grey, steps, &marks) {
                    Some(metal) => refine_past(&grey, Some(&metal), steps, &marks, lateral),
                    None => found.clone(),
                };
                for (x, y) in found.iter().zip(&without) {
                    let truth = tilt(f.marks.plate(x.level, x.edge, lateral).unwrap());
                    let before = tilt(marks.plate(x.level, x.edge, lateral).unwrap());
                    let under = (Level::thoracic(3).unwrap()..=Level::lumbar(2).unwrap())
                        .contains(&x.level);
                    let [x, y] = [x, y].map(|p| tilt((p.ends[0], p.ends[1])));
                    for (out, t) in all[usize::from(under)].iter_mut().zip([before, x, y]) {
                        out.push(wrapped(t - truth));
                    }
                }
            }
        }
        for (name, plates) in ["free", "under rods"].iter().zip(&all) {
            let [before, as_is, without] = [0, 1, 2].map(|k| rms(&plates[k]));
            println!(
                "{plane:?} {name}, {}, {before:.2}°, {as_is:.2}°, {without:.2}°",
                plates[0].len()
            );
        }
    }
}

/// The major Cobb angle from 20 starts on each of a few films.
fn cobb() {
    let (mut spread, mut total) = (Vec::new(), 0.0f64);
    let mut off: Vec<f64> = Vec::new();
    for seed in 0..12 {
        let first = seeds().0 + 1000;
        let (f, e) = film(first + seed, (seed % 3) as usize, Plane::Pa);
        let grey = grey(&f, &e);
        let mm = e.pixel / f.beam.magnification(0.0);
        let size = (f.columns as f64, f.rows as f64);
        let values: Vec<f64> = (0..20)
            .map(|k| {
                let mut r = Random::new(seed * 100 + k);
                let marks = rough(&f.marks, mm * noise(), size, &mut r);
                let found = refine(
                    &grey,
                    Steps {
                        column: mm,
                        row: mm,
                    },
                    &marks,
                    false,
                );
                let angle = |level: u8, upper: bool| {
                    let level = Level::thoracic(level).unwrap();
                    let x = found
                        .iter()
                        .find(|x| {
                            x.level == level
                                && (x.edge == curvebench::landmark::Edge::Upper) == upper
                        })
                        .unwrap();
                    tilt((x.ends[0], x.ends[1]))
                };
                wrapped(angle(5, true) - angle(12, false))
            })
            .collect();
        let mean = values.iter().sum::<f64>() / 20.0;
        let end = |level: u8, edge| {
            let level = Level::thoracic(level).unwrap();
            tilt(f.marks.plate(level, edge, false).unwrap())
        };
        use curvebench::landmark::Edge;
        let truth = wrapped(end(5, Edge::Upper) - end(12, Edge::Lower));
        off.push(mean.abs() - truth.abs());
        total += truth.abs() / 12.0;
        spread.push((values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / 19.0).sqrt());
    }
    println!(
        "T5-T12 Cobb angle, mean {total:.0}°: found less the truth, mean {:.2}°, RMS {:.2}°",
        off.iter().sum::<f64>() / off.len() as f64,
        rms(&off)
    );
    println!(
        "repeatability of the T5-T12 Cobb angle, 20 starts, 12 films: SD {:.2}°, worst film {:.2}°",
        rms(&spread),
        spread.iter().copied().fold(0.0, f64::max)
    );
}

/// A projection of a real CT: repeatability of tilt over 20 starts at T6 to L2.
fn real_anatomy(file: &str, truth_of: &str, lateral: bool) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/films");
    let film = load(&root.join(file)).unwrap();
    let text = std::fs::read_to_string(root.join("ct_drr_truth.json")).unwrap();
    let json: serde_json::Value = serde_json::from_str(&text).unwrap();
    let mut truth = LandmarkSet::new();
    for (name, p) in json[truth_of]["landmarks"].as_object().unwrap() {
        if let (Ok(name), Some(x), Some(y)) = (name.parse(), p[0].as_f64(), p[1].as_f64()) {
            truth.place(name, FilmPx::new(x, y));
        }
    }
    let grey = density(&film);
    let size = (grey.width as f64, grey.height as f64);
    let mut tilts: std::collections::BTreeMap<String, Vec<f64>> = Default::default();
    let mut before = Vec::new();
    for k in 0..20 {
        let mut r = Random::new(900 + k);
        let marks = rough(&truth, 0.5, size, &mut r);
        for x in refine(
            &grey,
            Steps {
                column: 0.5,
                row: 0.5,
            },
            &marks,
            lateral,
        ) {
            let key = format!("{} {:?}", x.level, x.edge);
            let t = tilt(truth.plate(x.level, x.edge, lateral).unwrap());
            tilts
                .entry(key)
                .or_default()
                .push(wrapped(tilt((x.ends[0], x.ends[1])) - t));
            before.push(wrapped(
                tilt(marks.plate(x.level, x.edge, lateral).unwrap()) - t,
            ));
        }
    }
    println!("real CT, {file}: starts {:.2}°", rms(&before));
    let (mut spread, mut off) = (Vec::new(), Vec::new());
    for (key, v) in &tilts {
        let level: Level = key.split(' ').next().unwrap().parse().unwrap();
        let inside = level >= Level::thoracic(6).unwrap() && level <= Level::lumbar(2).unwrap();
        let mean = v.iter().sum::<f64>() / v.len() as f64;
        let sd = (v.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (v.len() - 1) as f64).sqrt();
        println!("  {key}: off {mean:.1}°, SD {sd:.1}°");
        if inside {
            spread.push(sd);
            off.push(mean);
        }
    }
    println!(
        "T6 to L2: repeatability {:.2}°, difference from the truth RMS {:.2}° (truth good to about 3°)",
        rms(&spread),
        rms(&off)
    );
}

fn main() {
    if std::env::var_os("CURVEBENCH_TUNE").is_none() {
        plates::pictures();
        plates::failures();
    }
    phantoms();
    rods();
    cobb();
    real_anatomy("ct_drr_ap.png", "ap_parallel_0p5mm.png", false);
    real_anatomy("ct_drr_lateral.png", "lateral_parallel_0p5mm.png", true);
}
