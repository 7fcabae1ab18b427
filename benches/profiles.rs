//! Refining and carrying on a film of 3000 × 8000 pixels, and the sampling of one film's profiles here
//! and with scikit-image, in one run. `CURVEBENCH_PYTHON` names a Python that has scikit-image:
//! `python3 -m venv venv && venv/bin/pip install scikit-image`. Asserts nothing.

#![allow(clippy::unwrap_used, missing_docs)]

#[path = "support/films.rs"]
mod films;

use curvebench::film::GreyPlane;
use curvebench::landmark::{Landmark, LandmarkSet, Level};
use curvebench::locate::{Pattern, Steps, Unmarked, lay, refine};
use curvebench::phantom::{Exposure, Patient, Plane, Random, expose};
use curvebench::units::FilmPx;
use films::grey;
use std::io::Write as _;
use std::time::Instant;

fn median(mut v: Vec<f64>) -> f64 {
    v.sort_by(f64::total_cmp);
    v[v.len() / 2]
}

fn timed(times: usize, mut work: impl FnMut()) -> f64 {
    let all = (0..times)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64() * 1000.0
        })
        .collect();
    median(all)
}

/// A profile: from one place to another, in as many samples.
type Profile = (FilmPx, FilmPx, usize);

/// The profiles that a round of refinement reads: across each plate every 0.9 mm, 48 mm long, every
/// 0.25 mm.
fn profiles(marks: &LandmarkSet, mm: f64) -> Vec<Profile> {
    let mut out = Vec::new();
    for level in Level::all() {
        for edge in [
            curvebench::landmark::Edge::Upper,
            curvebench::landmark::Edge::Lower,
        ] {
            let Some((a, b)) = marks.plate(level, edge, false) else {
                continue;
            };
            let length = a.distance(b) * mm;
            let (dx, dy) = ((b.x - a.x) / a.distance(b), (b.y - a.y) / a.distance(b));
            let many = (length / 0.9) as usize;
            for k in 0..=many {
                let t = k as f64 / many as f64;
                let m = FilmPx::new(a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t);
                let r = 24.0 / mm;
                out.push((
                    FilmPx::new(m.x - dy * r, m.y + dx * r),
                    FilmPx::new(m.x + dy * r, m.y - dx * r),
                    193,
                ));
            }
        }
    }
    out
}

fn sampled(plane: &GreyPlane, profiles: &[Profile]) -> Vec<f32> {
    let mut out = Vec::new();
    for (a, b, n) in profiles {
        for k in 0..*n {
            let t = k as f64 / (n - 1) as f64;
            out.push(plane.sample(a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t));
        }
    }
    out
}

/// Milliseconds of scikit-image for the same profiles, and the largest difference of a value.
fn reference(plane: &GreyPlane, profiles: &[Profile], own: &[f32]) -> Option<(f64, f64)> {
    let python = std::env::var("CURVEBENCH_PYTHON").ok()?;
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, values: &mut dyn Iterator<Item = f32>| {
        let path = folder.path().join(name);
        let mut file = std::io::BufWriter::new(std::fs::File::create(&path).unwrap());
        values.for_each(|v| file.write_all(&v.to_le_bytes()).unwrap());
        path
    };
    let film = write("film", &mut plane.data.iter().copied());
    let ends = write(
        "ends",
        &mut profiles
            .iter()
            .flat_map(|(a, b, n)| [a.x as f32, a.y as f32, b.x as f32, b.y as f32, *n as f32]),
    );
    let values = write("values", &mut own.iter().copied());
    let script =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/profiles_reference.py");
    let out = std::process::Command::new(python)
        .arg(script)
        .args([film, ends, values])
        .args([plane.width.to_string(), plane.height.to_string()])
        .output()
        .unwrap();
    let text = String::from_utf8_lossy(&out.stdout);
    let mut numbers = text.split_whitespace().map(str::parse::<f64>);
    match (numbers.next(), numbers.next()) {
        (Some(Ok(ms)), Some(Ok(off))) => Some((ms, off)),
        _ => {
            eprintln!("{}", String::from_utf8_lossy(&out.stderr));
            None
        }
    }
}

fn main() {
    let mut p = Patient::scoliosis(0.8, 70.0, 45.0);
    let e = Exposure {
        pixel: 0.1,
        size: (3000, 8000),
        plane: Plane::Pa,
        quanta: 600.0,
        ..Exposure::default()
    };
    let first = expose(&p, &e, 1);
    p.coronal.iter_mut().for_each(|a| *a *= 0.7);
    p.halo = true;
    let second = expose(&p, &e, 2);
    let mm = e.pixel / first.beam.magnification(0.0);
    let steps = Steps {
        column: mm,
        row: mm,
    };
    let (a, b) = (grey(&first, &e), grey(&second, &e));
    let mut r = Random::new(3);
    let mut marks = LandmarkSet::new();
    for (name, points) in first.marks.iter() {
        let p = points[0];
        let inside = p.x > 0.0 && p.y > 0.0 && p.x < 3000.0 && p.y < 8000.0;
        if matches!(name, Landmark::Plate(..)) && inside {
            let at = FilmPx::new(p.x + 2.0 / mm * r.normal(), p.y + 2.0 / mm * r.normal());
            marks.place(name, at);
        }
    }
    let plates = refine(&a, steps, &marks, false).len();
    let refining = timed(9, || {
        std::hint::black_box(refine(&a, steps, &marks, false));
    });
    println!("3000 × 8000, {plates} plates: refining {refining:.0} ms");
    let laying = timed(5, || {
        let pattern = Pattern::of(&a, &marks, false, steps).unwrap();
        lay(Unmarked::of(&b, steps, 1.0), &pattern, &[]).unwrap();
    });
    println!("carrying without a hint {laying:.0} ms");
    let lines = profiles(&marks, mm);
    let own = sampled(&a, &lines);
    let ours = timed(9, || {
        std::hint::black_box(sampled(&a, &lines));
    });
    println!(
        "{} profiles, {} samples: here {ours:.1} ms",
        lines.len(),
        own.len()
    );
    match reference(&a, &lines, &own) {
        Some((theirs, off)) => println!(
            "scikit-image profile_line {theirs:.1} ms, ratio {:.3}; first samples of the profiles differ by at most {off:.4} of the film's range",
            ours / theirs
        ),
        None => println!("scikit-image not measured: CURVEBENCH_PYTHON is not set or has none"),
    }
}
