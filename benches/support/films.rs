//! Films of the benches of refinement and carrying: easy, usual, hard.

#![allow(dead_code, reason = "each bench uses a part")]

use curvebench::film::GreyPlane;
use curvebench::landmark::{Landmark, LandmarkSet};
use curvebench::phantom::{Exposure, Patient, PhantomFilm, Plane, Random};
use curvebench::units::FilmPx;

/// An exposure of a kind: 0 easy, 1 usual, 2 hard.
pub fn exposure(kind: usize, plane: Plane, r: &mut Random) -> Exposure {
    let hard = kind as f64;
    Exposure {
        plane,
        object_detector: if plane == Plane::Pa { 190.0 } else { 240.0 },
        quanta: [20_000.0, 7000.0, 900.0][kind],
        scatter: 0.2 + 0.35 * hard,
        blur: 0.15 + 0.15 * hard * r.uniform(),
        gamma: 0.8 + 0.5 * r.uniform(),
        levelling: 0.8 * r.uniform(),
        grid: (1.4, 0.03 * hard * r.uniform()),
        inverted: r.uniform() < 0.3,
        bits: if r.uniform() < 0.3 { 8 } else { 12 },
        ..Exposure::default()
    }
}

/// Wedged bodies: up to half of the bend at each level, and 1.5° SD of each body's own in both planes;
/// with `CURVEBENCH_PLAIN` none, as the films were before bodies could wedge.
pub fn wedged(p: Patient, r: &mut Random) -> Patient {
    let mut wedged = p.clone().wedged(0.5 * r.uniform());
    for w in &mut wedged.wedge {
        *w = w.map(|w| w + 1.5 * r.normal());
    }
    if std::env::var_os("CURVEBENCH_PLAIN").is_some() {
        p
    } else {
        wedged
    }
}

/// Bodies that turn about their axis: at the apex by 0.14 to 0.45 of the curve (published means 0.32 and
/// 0.42: PMC5320720, Amaral 2009, Spine J 10:195); with `CURVEBENCH_STRAIGHT` they do not, as before.
pub fn turning(mut p: Patient, seed: u64) -> Patient {
    if std::env::var_os("CURVEBENCH_STRAIGHT").is_none() {
        let share = 0.5 + 1.1 * Random::new(seed * 31 + 7).uniform();
        p.rotation
            .iter_mut()
            .for_each(|a| *a = 45.0 * (share * *a / 45.0).tanh());
        p.bodies_turn = 1.0;
    }
    p
}

/// A random patient with a main curve between two angles, as the benches and the training have them.
pub fn patient(seed: u64, cobb: (f64, f64), r: &mut Random) -> Patient {
    let size = 0.65 + 0.35 * r.uniform();
    let cobb = cobb.0 + (cobb.1 - cobb.0) * r.uniform();
    let mut p = Patient::scoliosis(size, cobb, 20.0 + 60.0 * r.uniform());
    for a in p.coronal.iter_mut().chain(p.sagittal.iter_mut()) {
        *a += 2.0 * r.normal();
    }
    if r.uniform() < 0.5 {
        p = p.mirrored();
    }
    p = turning(wedged(p, r), seed);
    p.density = 0.6 + 0.6 * r.uniform();
    p
}

/// The ends of plates that lie on a film of a size, each off by a normal of SD `noise` pixels, columns and rows.
pub fn rough(
    truth: &LandmarkSet,
    size: (f64, f64),
    noise: (f64, f64),
    r: &mut Random,
) -> LandmarkSet {
    let mut out = LandmarkSet::new();
    for (name, points) in truth.iter() {
        let p = points[0];
        let inside = p.x > 0.0 && p.y > 0.0 && p.x < size.0 && p.y < size.1;
        if matches!(name, Landmark::Plate(..)) && inside {
            let x = p.x + noise.0 * r.normal();
            let y = p.y + noise.1 * r.normal();
            out.place(name, FilmPx::new(x, y));
        }
    }
    out
}

/// The film with bone bright.
pub fn grey(f: &PhantomFilm, e: &Exposure) -> GreyPlane {
    let sign = if e.inverted { -1.0 } else { 1.0 };
    GreyPlane {
        width: f.columns,
        height: f.rows,
        data: f.samples.iter().map(|v| sign * f32::from(*v)).collect(),
    }
}

/// Tilt of a line on the film, degrees.
pub fn tilt(p: (FilmPx, FilmPx)) -> f64 {
    (p.1.y - p.0.y).atan2(p.1.x - p.0.x).to_degrees()
}

/// The film as a JPEG of 8 bits shows it.
pub fn through_jpeg(grey: &GreyPlane, quality: u8) -> GreyPlane {
    let (low, high) = grey
        .data
        .iter()
        .fold((f32::MAX, f32::MIN), |(a, b), v| (a.min(*v), b.max(*v)));
    let bytes: Vec<u8> = grey
        .data
        .iter()
        .map(|v| ((v - low) / (high - low).max(1e-6) * 255.0).round() as u8)
        .collect();
    let mut file = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut file, quality)
        .encode(
            &bytes,
            grey.width as u32,
            grey.height as u32,
            image::ExtendedColorType::L8,
        )
        .unwrap();
    let back = image::load_from_memory(&file).unwrap().into_luma8();
    GreyPlane {
        width: grey.width,
        height: grey.height,
        data: back.into_raw().into_iter().map(f32::from).collect(),
    }
}
