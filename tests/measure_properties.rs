//! Every measure under mirror, roll, scale and unequal spacing; the phantom's own rotation.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/film.rs"]
mod film;

use curvebench::film::{ImageEdge, Spacing, SpacingKind};
use curvebench::landmark::{Landmark, LandmarkSet};
use curvebench::measure::{Measured, Settings};
use curvebench::phantom::{Exposure, Patient, PhantomFilm, Plane, expose};
use curvebench::units::FilmPx;
use film::{frame, measure};

fn phantom(plane: Plane, cobb: f64) -> PhantomFilm {
    let exposure = Exposure {
        plane,
        object_detector: 190.0,
        pixel: 4.0,
        size: (100, 150),
        scatter: 0.0,
        ..Exposure::default()
    };
    expose(&Patient::scoliosis(0.74, cobb, 50.0), &exposure, 1)
}

fn scaled_frame(lateral: bool) -> curvebench::geometry::FilmFrame {
    let mut f = frame(lateral);
    f.spacing = Spacing {
        kind: SpacingKind::Calibrated,
        row: 4.0,
        column: 4.0,
        reason: String::new(),
    };
    f
}

fn identity(r: &Measured) -> String {
    format!("{} {:?} {:?} {:?}", r.key, r.curve, r.levels, r.side)
}

/// Mirrored film, rolled patient with a plumb line, unequal pixels, moved film: every measure keeps
/// its value, its side and its levels.
#[test]
fn every_measure_is_the_patients_not_the_films() {
    for cobb in [15.0, 60.0, 100.0, 140.0] {
        for plane in [Plane::Pa, Plane::Lateral] {
            let film = phantom(plane, cobb);
            let mut set = film.marks.clone();
            set.place("plumb.top".parse().unwrap(), FilmPx::new(20.0, 10.0));
            set.place("plumb.bottom".parse().unwrap(), FilmPx::new(20.0, 120.0));
            let f = scaled_frame(plane == Plane::Lateral);
            let settings = Settings {
                upper_instrumented: Some("T4".to_owned()),
                lower_instrumented: Some("L3".to_owned()),
                ..Settings::default()
            };
            let want = measure(&f, &set, &settings);
            let change = |set: &LandmarkSet, g: &dyn Fn(f64, f64) -> (f64, f64)| -> LandmarkSet {
                set.iter()
                    .map(|(n, p): (Landmark, &[FilmPx])| {
                        (
                            n,
                            p.iter()
                                .map(|p| g(p.x, p.y))
                                .map(|(x, y)| FilmPx::new(x, y))
                                .collect(),
                        )
                    })
                    .collect()
            };
            let mut mirrored = f.clone();
            mirrored.side_on = Some(if plane == Plane::Pa {
                ImageEdge::ImageRight
            } else {
                ImageEdge::ImageLeft
            });
            let mut unequal = f.clone();
            unequal.spacing = Spacing {
                kind: SpacingKind::Calibrated,
                row: 2.0,
                column: 5.0,
                reason: String::new(),
            };
            let (s, c) = 23f64.to_radians().sin_cos();
            // A film twice as finely sampled, and its marks told in another order.
            let mut fine = f.clone();
            fine.spacing = Spacing {
                kind: SpacingKind::Calibrated,
                row: 2.0,
                column: 2.0,
                reason: String::new(),
            };
            let mut names: Vec<Landmark> = set.iter().map(|m| m.0).collect();
            names.reverse();
            let mut reordered = LandmarkSet::new();
            for name in names {
                reordered.place_line(name, set.points(name).to_vec());
            }
            let cases = [
                ("scale", fine, change(&set, &|x, y| (2.0 * x, 2.0 * y))),
                ("order", f.clone(), reordered),
                ("mirror", mirrored, change(&set, &|x, y| (1000.0 - x, y))),
                (
                    "roll",
                    f.clone(),
                    change(&set, &|x, y| (c * x - s * y + 300.0, s * x + c * y)),
                ),
                (
                    "unequal",
                    unequal,
                    change(&set, &|x, y| (x * 4.0 / 5.0, y * 2.0)),
                ),
                (
                    "moved",
                    f.clone(),
                    change(&set, &|x, y| (x + 31.5, y + 7.25)),
                ),
            ];
            for (name, g, moved) in cases {
                let got = measure(&g, &moved, &settings);
                assert_eq!(got.len(), want.len(), "{name} {cobb}");
                for (a, b) in want.iter().zip(&got) {
                    assert_eq!(identity(a), identity(b), "{name} {cobb}");
                    assert_eq!(a.status, b.status, "{name} {cobb} {}", identity(a));
                    // A value of nothing has a side by rounding alone.
                    if a.value.as_ref().is_none_or(|v| v.v.abs() > 1e-6) {
                        assert_eq!(a.toward, b.toward, "{name} {cobb} {}", identity(a));
                    }

                    if let (Some(x), Some(y)) = (&a.value, &b.value) {
                        assert!(
                            (x.v - y.v).abs() < 1e-6,
                            "{name} {cobb} {}: {} {}",
                            identity(a),
                            x.v,
                            y.v
                        );
                    }
                }
            }
        }
    }
}

/// The phantom's own rotation, seen through its pedicles with its own width/depth ratio, without
/// tilt: within the published phantom error of the method (Stokes 1986: SD 3.6°).
#[test]
fn rotation_of_the_phantom_comes_back() {
    let mut patient = Patient::scoliosis(0.74, 0.0, 0.0);
    for (i, r) in patient.rotation.iter_mut().enumerate() {
        *r = (i as f64 - 9.0) * 3.0;
    }
    patient.sagittal.iter_mut().for_each(|t| *t = 0.0);
    let exposure = Exposure {
        plane: Plane::Pa,
        object_detector: 190.0,
        pixel: 4.0,
        size: (100, 150),
        scatter: 0.0,
        ..Exposure::default()
    };
    let film = expose(&patient, &exposure, 1);
    let mut squares = 0.0;
    let mut count = 0;
    for (i, v) in patient
        .vertebrae()
        .iter()
        .enumerate()
        .filter(|(i, _)| *i < 18)
    {
        let ratio = 2.0 * 0.56 * v.half.x / (v.half.y + 4.0 * patient.size);
        let settings = Settings {
            width_depth_ratio: Some(ratio),
            ..Settings::default()
        };
        let results = measure(&scaled_frame(false), &film.marks, &settings);
        let level = v.level.to_string();
        let got = results
            .iter()
            .find(|r| r.key == "vertebral_rotation" && r.levels.as_deref() == Some(&level))
            .and_then(|r| r.value.as_ref())
            .unwrap()
            .v;
        squares += (got - patient.rotation[i]).powi(2);
        count += 1;
    }
    let rms = (squares / f64::from(count)).sqrt();
    println!("rotation, RMS error over {count} levels: {rms:.2} degrees");
    assert!(rms < 3.6, "{rms}");
}
