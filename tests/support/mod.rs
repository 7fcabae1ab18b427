//! A spine drawn from known tilts, and a case driven through the built program.

#![allow(dead_code, reason = "each test program uses a part of it")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Levels from T1 to L5 with their tilt (degrees, + = right end high in the patient) at mid-body.
pub struct Spine {
    pub tilts: Vec<(String, f64)>,
    /// mm per pixel, row and column.
    pub spacing: [f64; 2],
    /// Patient's left on the image's right.
    pub mirrored: bool,
    /// Degrees the whole patient is rolled on the film, counter-clockwise in the film plane.
    pub roll: f64,
}

/// Body width and height, mm.
const WIDTH: f64 = 32.0;
const HEIGHT: f64 = 18.0;

impl Spine {
    /// A right thoracic main curve T5–T12 of `cobb` degrees with balancing curves.
    pub fn scoliosis(cobb: f64) -> Spine {
        let levels: Vec<String> = (1..=12)
            .map(|n| format!("T{n}"))
            .chain((1..=5).map(|n| format!("L{n}")))
            .collect();
        let half = cobb / 2.0;
        let tilts = levels
            .iter()
            .enumerate()
            .map(|(i, l)| {
                // Tilt falls from +half at T5 (index 4) to -half at T12 (index 11).
                let x = i as f64;
                let t = match i {
                    0..=4 => half * x / 4.0,
                    5..=11 => half - cobb * (x - 4.0) / 7.0,
                    _ => -half + half * (x - 11.0) / 5.0,
                };
                (l.clone(), t)
            })
            .collect();
        Spine {
            tilts,
            spacing: [0.2, 0.2],
            mirrored: false,
            roll: 0.0,
        }
    }

    /// Film-plane points (x toward the patient's right, y up, mm) of every plate end and C7 centre.
    pub fn points(&self) -> Vec<(String, f64, f64)> {
        let (mut x, mut y) = (0.0, 0.0);
        let mut out = Vec::new();
        let step = |t: f64, along: f64| {
            let a: f64 = t.to_radians();
            (along * a.sin(), -along * a.cos())
        };
        for (level, t) in &self.tilts {
            let a = t.to_radians();
            let (ux, uy) = (a.cos() * WIDTH / 2.0, a.sin() * WIDTH / 2.0);
            for edge in ["upper", "lower"] {
                if edge == "lower" {
                    let d = step(*t, HEIGHT);
                    x += d.0;
                    y += d.1;
                }
                out.push((format!("{level}.{edge}.left"), x - ux, y - uy));
                out.push((format!("{level}.{edge}.right"), x + ux, y + uy));
            }
            let d = step(*t, 6.0);
            x += d.0;
            y += d.1;
        }
        out.push(("S1.upper.left".to_owned(), x - 20.0, y));
        out.push(("S1.upper.right".to_owned(), x + 20.0, y));
        let top = (out[0].1 + out[1].1) / 2.0;
        out.push(("C7.center".to_owned(), top, 20.0));
        out.push(("plumb.top".to_owned(), x - 60.0, 10.0));
        out.push(("plumb.bottom".to_owned(), x - 60.0, -300.0));
        out
    }

    /// The landmark table of a film id, on a film of 3000 × 3800 pixels.
    pub fn table(&self, film: &str, keep: impl Fn(&str) -> bool) -> String {
        let (s, c) = self.roll.to_radians().sin_cos();
        let mut text = String::from("film,landmark,point,x,y\n");
        for (name, x, y) in self.points().into_iter().filter(|p| keep(&p.0)) {
            let (x, y) = (c * x - s * y, s * x + c * y);
            let hand = if self.mirrored { -1.0 } else { 1.0 };
            let (column, row) = (
                1500.0 + hand * x / self.spacing[1],
                300.0 - y / self.spacing[0],
            );
            text += &format!("{film},{name},0,{column},{row}\n");
        }
        text
    }
}

/// A grey PNG film; `shade` makes its hash its own.
pub fn png(folder: &Path, name: &str, shade: u8) -> PathBuf {
    let path = folder.join(name);
    image::GrayImage::from_pixel(3000, 3800, image::Luma([shade]))
        .save(&path)
        .unwrap();
    path
}

/// Runs the built program.
pub fn curvebench(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_curvebench"))
        .args(arguments)
        .output()
        .unwrap()
}

/// Runs it and expects success; gives stdout.
pub fn done(arguments: &[&str]) -> String {
    let out = curvebench(arguments);
    assert_eq!(
        out.status.code(),
        Some(0),
        "{arguments:?}: {}",
        String::from_utf8_lossy(&out.stderr)
    );
    String::from_utf8(out.stdout).unwrap()
}

/// Runs it and expects exit code 1 with one line; gives that line.
pub fn refused(arguments: &[&str]) -> String {
    let out = curvebench(arguments);
    let text = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(1), "{arguments:?}: {text}");
    assert_eq!(text.trim_end().lines().count(), 1, "{text}");
    text
}

/// Results of `measure --format json` or `compare --format json`.
pub fn json(text: &str) -> serde_json::Value {
    serde_json::from_str(text).unwrap()
}

/// The result of a measure (and curve) on a film.
pub fn result<'a>(
    all: &'a serde_json::Value,
    film: &str,
    measure: &str,
    curve: Option<&str>,
) -> &'a serde_json::Value {
    all["results"]
        .as_array()
        .unwrap()
        .iter()
        .find(|r| {
            r["film"] == film && r["measure"] == measure && curve.is_none_or(|c| r["curve"] == c)
        })
        .unwrap_or_else(|| panic!("no {measure} {curve:?} of {film}"))
}

/// A case with one PNG film per spine; gives the folder.
pub fn case_of(spines: &[(&Spine, &[&str])], cause: &str) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    let case = dir.path().join("case");
    let case = case.to_str().unwrap();
    done(&["new", case, "--id", "study 7", "--cause", cause]);
    for (i, (spine, facts)) in spines.iter().enumerate() {
        let file = png(dir.path(), &format!("{i}.png"), i as u8);
        let side = if spine.mirrored {
            "image-right"
        } else {
            "image-left"
        };
        let spacing = format!("{},{}", spine.spacing[0], spine.spacing[1]);
        let mut arguments = vec![
            "add",
            case,
            file.to_str().unwrap(),
            "--view",
            "pa",
            "--left-on",
            side,
        ];
        arguments.extend(["--spacing", &spacing]);
        arguments.extend_from_slice(facts);
        done(&arguments);
        let table = dir.path().join("marks.csv");
        std::fs::write(
            &table,
            spine.table(&format!("f{}", i + 1), |n| !n.starts_with("plumb")),
        )
        .unwrap();
        done(&[
            "marks",
            case,
            "--import",
            table.to_str().unwrap(),
            "--reader",
            "B",
        ]);
    }
    dir
}

pub fn path(dir: &tempfile::TempDir) -> String {
    dir.path().join("case").to_str().unwrap().to_owned()
}

/// A case with one marked grey film, f1, 3000 × 3800 pixels of 0.2 mm, and one without marks, f2.
pub fn marked_and_blank() -> (tempfile::TempDir, String) {
    let dir = case_of(&[(&Spine::scoliosis(50.0), &[])], "idiopathic");
    let case = path(&dir);
    let film = png(dir.path(), "f2.png", 77);
    done(&[
        "add",
        &case,
        film.to_str().unwrap(),
        "--id",
        "f2",
        "--view",
        "pa",
        "--left-on",
        "image-left",
        "--spacing",
        "0.2,0.2",
    ]);
    (dir, case)
}

/// The words that propose on its film without marks, for reader B.
pub fn proposing<'a>(case: &'a str, hints: &[&'a str]) -> Vec<&'a str> {
    let mut words = vec!["propose", case, "--film", "f2", "--reader", "B"];
    for hint in hints {
        words.extend(["--hint", hint]);
    }
    words
}

/// Runs it and expects success; gives stderr.
pub fn told(arguments: &[&str]) -> String {
    let out = curvebench(arguments);
    let text = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(0), "{arguments:?}: {text}");
    text
}

/// Imports rows of marks as a reading of reader B.
pub fn import(dir: &tempfile::TempDir, rows: &str) -> String {
    let file = dir.path().join("rows.csv");
    std::fs::write(&file, format!("film,landmark,point,x,y\n{rows}")).unwrap();
    let file = file.to_str().unwrap();
    told(&["marks", &path(dir), "--import", file, "--reader", "B"])
}
