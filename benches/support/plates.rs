//! Pictures that the bench of refinement writes.

use super::{THRESHOLD, film, grey, rms, rough};
use curvebench::locate::{Steps, refine};
use curvebench::phantom::{Plane, Random};
use curvebench::units::FilmPx;
use std::path::Path;

/// Error of tilt against quality, a dot for each plate, and the SD by tenths: demo-images/quality.svg.
pub fn plot(every: &[(f64, f64)]) {
    use std::fmt::Write as _;
    let mut out = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 640 360\" width=\"640\" height=\"360\" font-family=\"sans-serif\" font-size=\"12\">\n<title>error of tilt against quality</title>\n<rect width=\"640\" height=\"360\" fill=\"#fff\"/>\n",
    );
    let x = |q: f64| 60.0 + q * 560.0;
    let y = |e: f64| 310.0 - e.min(12.0) * 24.0;
    for e in [0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0] {
        let _ = writeln!(
            out,
            "<line x1=\"60\" x2=\"620\" y1=\"{0:.0}\" y2=\"{0:.0}\" stroke=\"#ddd\"/><text x=\"30\" y=\"{1:.0}\">{e:.0}°</text>",
            y(e),
            y(e) + 4.0
        );
    }
    for q in [0.0, 0.2, 0.4, 0.6, 0.8, 1.0] {
        let _ = writeln!(out, "<text x=\"{:.0}\" y=\"328\">{q:.1}</text>", x(q) - 8.0);
    }
    for (q, e) in every.iter().step_by(3) {
        let _ = writeln!(
            out,
            "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"1.6\" fill=\"#1f5fa8\" fill-opacity=\"0.45\"/>",
            x(*q),
            y(*e)
        );
    }
    let line: Vec<String> = every
        .chunks(every.len().div_ceil(10))
        .map(|part| {
            let q = part.iter().map(|p| p.0).sum::<f64>() / part.len() as f64;
            let errors: Vec<f64> = part.iter().map(|p| p.1).collect();
            format!("{:.1},{:.1}", x(q), y(rms(&errors)))
        })
        .collect();
    let _ = writeln!(
        out,
        "<polyline points=\"{}\" fill=\"none\" stroke=\"#b02a1c\" stroke-width=\"2.5\"/>",
        line.join(" ")
    );
    let t = x(THRESHOLD);
    let _ = writeln!(
        out,
        "<line x1=\"{t:.0}\" x2=\"{t:.0}\" y1=\"22\" y2=\"310\" stroke=\"#888\" stroke-dasharray=\"4 3\"/><text x=\"{:.0}\" y=\"18\">threshold; marks left of it stay where they were</text>",
        t + 4.0
    );
    out += "<text x=\"250\" y=\"350\">quality; red: SD of the tilt by tenths</text>\n<text transform=\"translate(18 240) rotate(-90)\">size of the tilt's error</text>\n</svg>\n";
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-images/quality.svg");
    std::fs::write(path, out).unwrap();
}

/// Rough, refined and true plates on hard films, yellow, red and green: demo-images/refined-hard.jpg.
pub fn pictures() {
    let mut all = image::RgbImage::new(1500, 1040);
    for (k, (seed, plane)) in [(5001, Plane::Pa), (5003, Plane::Pa), (5001, Plane::Lateral)]
        .into_iter()
        .enumerate()
    {
        let (f, e) = film(seed, 2, plane);
        let g = grey(&f, &e);
        let mm = e.pixel / f.beam.magnification(0.0);
        let lateral = plane == Plane::Lateral;
        let size = (f.columns as f64, f.rows as f64);
        let mut r = Random::new(seed + 77);
        let marks = rough(&f.marks, mm, size, &mut r);
        let steps = Steps {
            column: mm,
            row: mm,
        };
        let found = refine(&g, steps, &marks, lateral);
        let flat = curvebench::film::local_contrast(&g, 40);
        let middle: Vec<FilmPx> = found.iter().map(|x| x.ends[0].middle(x.ends[1])).collect();
        let mean = |v: fn(&FilmPx) -> f64| middle.iter().map(v).sum::<f64>() / middle.len() as f64;
        let (cx, cy) = (mean(|p| p.x), mean(|p| p.y));
        let (left, top) = (cx - 208.0, cy - 433.0);
        let mut near: Vec<f32> = (0..4000)
            .map(|i| flat.sample(left + f64::from(i % 400), top + f64::from(i / 400) * 80.0))
            .collect();
        near.sort_by(f32::total_cmp);
        let (low, high) = (near[80], near[3920]);
        let at = |p: FilmPx| ((p.x - left) * 1.2, (p.y - top) * 1.2);
        for y in 0..1040u32 {
            for x in 0..500u32 {
                let v = flat.sample(left + f64::from(x) / 1.2, top + f64::from(y) / 1.2);
                let c = (((v - low) / (high - low)).clamp(0.0, 1.0) * 255.0) as u8;
                all.put_pixel(x + 500 * k as u32, y, image::Rgb([c, c, c]));
            }
        }
        let mut line = |ends: (FilmPx, FilmPx), colour: [u8; 3]| {
            let frame = (500 * k as u32, 500.0, 1040.0);
            stroke(&mut all, frame, (at(ends.0), at(ends.1)), colour);
        };
        for x in &found {
            line(
                marks.plate(x.level, x.edge, lateral).unwrap(),
                [235, 200, 60],
            );
            line(
                f.marks.plate(x.level, x.edge, lateral).unwrap(),
                [70, 220, 90],
            );
            line((x.ends[0], x.ends[1]), [250, 70, 60]);
        }
    }
    keep(&all, "refined-hard.jpg");
}

/// The worst plate of three kinds of films, rough yellow, refined red, true green, with its neighbours:
/// demo-images/refined-failures.jpg. Prints which they are.
pub fn failures() {
    let side = 480u32;
    let mut all = image::RgbImage::new(3 * side, side);
    let kinds = [(Plane::Pa, 0), (Plane::Pa, 2), (Plane::Lateral, 1)];
    for (panel, (plane, kind)) in kinds.into_iter().enumerate() {
        let lateral = plane == Plane::Lateral;
        let turn = |a: (FilmPx, FilmPx), b: (FilmPx, FilmPx)| {
            (super::tilt(a) - super::tilt(b) + 540.0).rem_euclid(360.0) - 180.0
        };
        let mut worst = None;
        let (first, films) = super::seeds();
        for seed in first..first + films {
            let (f, e) = film(seed, kind, plane);
            let mm = e.pixel / f.beam.magnification(0.0);
            let size = (f.columns as f64, f.rows as f64);
            let marks = rough(&f.marks, mm, size, &mut Random::new(seed - first + 77));
            let steps = Steps {
                column: mm,
                row: mm,
            };
            let found = refine(&grey(&f, &e), steps, &marks, lateral);
            for x in &found {
                let truth = f.marks.plate(x.level, x.edge, lateral).unwrap();
                let off = turn((x.ends[0], x.ends[1]), truth);
                if worst
                    .as_ref()
                    .is_none_or(|(o, ..): &(f64, _, _)| off.abs() > o.abs())
                {
                    worst = Some((off, seed, (x.level, x.edge, x.quality)));
                }
            }
        }
        let (off, seed, (level, edge, quality)) = worst.unwrap();
        println!(
            "worst, {plane:?} kind {kind}: film {seed}, {level} {edge:?} off {off:.1}°, quality {quality:.2}"
        );
        let (f, e) = film(seed, kind, plane);
        let mm = e.pixel / f.beam.magnification(0.0);
        let size = (f.columns as f64, f.rows as f64);
        let marks = rough(&f.marks, mm, size, &mut Random::new(seed - first + 77));
        let steps = Steps {
            column: mm,
            row: mm,
        };
        let g = grey(&f, &e);
        let found = refine(&g, steps, &marks, lateral);
        let flat = curvebench::film::local_contrast(&g, 40);
        let (a, b) = f.marks.plate(level, edge, lateral).unwrap();
        let c = a.middle(b);
        // 80 mm to the panel's side.
        let step = 80.0 / mm / f64::from(side);
        let mut near: Vec<f32> = (0..6400)
            .map(|i| {
                let (u, v) = (f64::from(i % 80) - 40.0, f64::from(i / 80) - 40.0);
                flat.sample(c.x + u * 6.0 * step, c.y + v * 6.0 * step)
            })
            .collect();
        near.sort_by(f32::total_cmp);
        let (low, high) = (near[64], near[6336]);
        let left = side * panel as u32;
        let half = f64::from(side) / 2.0;
        for y in 0..side {
            for x in 0..side {
                let p = ((f64::from(x) - half) * step, (f64::from(y) - half) * step);
                let v = flat.sample(c.x + p.0, c.y + p.1);
                let grey = (((v - low) / (high - low)).clamp(0.0, 1.0) * 255.0) as u8;
                all.put_pixel(left + x, y, image::Rgb([grey, grey, grey]));
            }
        }
        let at = |p: FilmPx| ((p.x - c.x) / step + half, (p.y - c.y) / step + half);
        let mut line = |ends: (FilmPx, FilmPx), colour: [u8; 3]| {
            let frame = (left, f64::from(side), f64::from(side));
            stroke(&mut all, frame, (at(ends.0), at(ends.1)), colour);
        };
        for x in &found {
            if (x.level, x.edge) == (level, edge) {
                line(marks.plate(level, edge, lateral).unwrap(), [235, 200, 60]);
            }
            line(
                f.marks.plate(x.level, x.edge, lateral).unwrap(),
                [70, 220, 90],
            );
            line((x.ends[0], x.ends[1]), [250, 70, 60]);
        }
    }
    keep(&all, "refined-failures.jpg");
}

fn keep(picture: &image::RgbImage, name: &str) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-images");
    let mut file = std::fs::File::create(folder.join(name)).unwrap();
    let jpeg = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut file, 82);
    picture.write_with_encoder(jpeg).unwrap();
}

/// A line inside a panel, given by its left edge, width and height.
fn stroke(
    all: &mut image::RgbImage,
    (left, width, height): (u32, f64, f64),
    (a, b): ((f64, f64), (f64, f64)),
    colour: [u8; 3],
) {
    for i in 0..600 {
        let t = f64::from(i) / 599.0;
        let (x, y) = (a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t);
        if (0.0..width).contains(&x) && (0.0..height).contains(&y) {
            all.put_pixel(left + x as u32, y as u32, image::Rgb(colour));
        }
    }
}
