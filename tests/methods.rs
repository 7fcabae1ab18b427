//! docs/METHODS.md: every measure has its entry, and the drawing of its marks is made here.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/film.rs"]
mod film;

use curvebench::geometry::Placement;
use curvebench::landmark::{Edge, Landmark, LandmarkSet, Level, RibPart};
use curvebench::measure::{FilmInput, Measured, Settings, measure_film};
use curvebench::overlay::drawing;
use curvebench::phantom::{Patient, Plane};
use curvebench::units::{FilmPx, Side};
use film::{exposed, scaled_frame};
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::Path;

const PIXEL: f64 = 1.0;

fn marks(plane: Plane) -> LandmarkSet {
    let mut patient = Patient::scoliosis(0.9, 62.0, 55.0);
    patient.obliquity = 7.0;
    exposed(&patient, plane, PIXEL, (400, 560)).marks
}

/// The marks a drawing names: of a result that searches, those it found.
fn marks_of(r: &Measured) -> BTreeSet<Landmark> {
    let mut names: BTreeSet<Landmark> = r.marks.iter().copied().collect();
    if r.key == "apex" {
        let levels = r.levels.as_deref().unwrap_or_default();
        for level in levels.split('/').filter_map(|l| l.parse::<Level>().ok()) {
            for edge in [Edge::Upper, Edge::Lower] {
                names.extend(Landmark::plate_ends(level, edge, false));
            }
        }
        names.extend(Landmark::plate_ends(Level::S1, Edge::Upper, false));
    }
    names
}

struct Svg {
    text: String,
    from: FilmPx,
    scale: f64,
}

impl Svg {
    fn at(&self, p: FilmPx) -> (f64, f64) {
        (
            (p.x - self.from.x) * self.scale,
            (p.y - self.from.y) * self.scale,
        )
    }

    fn line(&mut self, points: &[FilmPx], style: &str) {
        let points: Vec<String> = points
            .iter()
            .map(|p| self.at(*p))
            .map(|(x, y)| format!("{x:.1},{y:.1}"))
            .collect();
        let _ = writeln!(
            self.text,
            "<polyline points=\"{}\" fill=\"none\" {style}/>",
            points.join(" ")
        );
    }

    fn dot(&mut self, p: FilmPx, number: Option<usize>) {
        let (x, y) = self.at(p);
        let _ = writeln!(
            self.text,
            "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3\" fill=\"#b02a1c\"/>"
        );
        if let Some(number) = number {
            // Odd numbers stand above their mark, even ones below: neighbours stay apart.
            let below = if number.is_multiple_of(2) { 12.0 } else { -5.0 };
            self.words((x + 3.0, y + below), &number.to_string());
        }
    }

    fn words(&mut self, (x, y): (f64, f64), text: &str) {
        let _ = writeln!(
            self.text,
            "<text x=\"{x:.1}\" y=\"{y:.1}\" font-size=\"11\" font-family=\"sans-serif\" fill=\"#222\">{text}</text>"
        );
    }
}

/// The drawing of one result on its film.
fn svg(input: &FilmInput<'_>, r: &Measured) -> String {
    let set = input.marks;
    let names = marks_of(r);
    let all: Vec<FilmPx> = set
        .iter()
        .filter(|(n, _)| !matches!(n, Landmark::Metal))
        .flat_map(|(_, p)| p.to_vec())
        .collect();
    let least = |f: fn(&FilmPx) -> f64| all.iter().map(f).fold(f64::INFINITY, f64::min);
    let most = |f: fn(&FilmPx) -> f64| all.iter().map(f).fold(f64::NEG_INFINITY, f64::max);
    let (left, top) = (least(|p| p.x) - 25.0, least(|p| p.y) - 15.0);
    let (right, bottom) = (most(|p| p.x) + 60.0, most(|p| p.y) + 15.0);
    let mut out = Svg {
        text: String::new(),
        from: FilmPx::new(left, top),
        scale: 420.0 / (bottom - top),
    };
    let film_width = (right - left) * out.scale;
    let (w, h) = (film_width + 140.0, 420.0);
    let _ = writeln!(
        out.text,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w:.0} {h:.0}\" width=\"{w:.0}\" height=\"{h:.0}\">\n<title>marks of {}</title>\n<rect width=\"{w:.0}\" height=\"{h:.0}\" fill=\"#fff\"/>",
        r.key
    );
    for (name, points) in set.iter() {
        if matches!(name, Landmark::Rib(_, _, RibPart::Midline)) {
            out.line(points, "stroke=\"#dfe3e8\" stroke-width=\"2\"");
        }
    }
    let lateral = input.frame.as_ref().unwrap().lateral;
    for level in Level::all() {
        for edge in [Edge::Upper, Edge::Lower] {
            if let Some((a, b)) = set.plate(level, edge, lateral) {
                out.line(&[a, b], "stroke=\"#9aa4ae\" stroke-width=\"2\"");
                let ends = Landmark::plate_ends(level, edge, lateral);
                if ends.iter().all(|n| names.contains(n)) {
                    let (dx, dy) = ((b.x - a.x) * 0.8, (b.y - a.y) * 0.8);
                    let long = [
                        FilmPx::new(a.x - dx, a.y - dy),
                        FilmPx::new(b.x + dx, b.y + dy),
                    ];
                    out.line(&long, "stroke=\"#1f5fa8\" stroke-width=\"1.5\"");
                }
            }
        }
    }
    for line in drawing(input, &LandmarkSet::new(), &[]).lines {
        if line.keys.contains(&r.key) {
            out.line(
                &line.points,
                "stroke=\"#1f5fa8\" stroke-width=\"1.5\" stroke-dasharray=\"6 3\"",
            );
        }
    }
    // Two marks of one side, as the heights of the lungs and the pedicles, are joined.
    let point = |n: &Landmark| set.point(*n);
    let joined: Vec<[Landmark; 2]> = match r.key {
        "space_available_for_lung" => Side::BOTH
            .map(|s| {
                use curvebench::landmark::Pair;
                [
                    Landmark::Paired(Pair::FirstRib, s),
                    Landmark::Paired(Pair::Hemidiaphragm, s),
                ]
            })
            .to_vec(),
        "rib_vertebra_angle" | "rib_vertebra_angle_difference" => names
            .iter()
            .filter_map(|n| match n {
                Landmark::Rib(rib, side, RibPart::Neck) => {
                    Some([*n, Landmark::Rib(*rib, *side, RibPart::Head)])
                }
                _ => None,
            })
            .collect(),
        _ => Vec::new(),
    };
    for [a, b] in joined {
        out.line(
            &[point(&a).unwrap(), point(&b).unwrap()],
            "stroke=\"#1f5fa8\" stroke-width=\"1.5\"",
        );
    }
    if matches!(r.key, "pelvic_incidence" | "pelvic_tilt") {
        let middle = |a: &str, b: &str| {
            let p = |n: &str| point(&n.parse().unwrap()).unwrap();
            p(a).middle(p(b))
        };
        let line = [
            middle("S1.upper.posterior", "S1.upper.anterior"),
            middle("femoral_head.a", "femoral_head.b"),
        ];
        out.line(&line, "stroke=\"#1f5fa8\" stroke-width=\"1.5\"");
    }
    let numbered = names.len() <= 8;
    if !numbered {
        out.words((film_width, 20.0), &format!("{} marks", names.len()));
    }
    for (n, name) in names.iter().enumerate() {
        for (i, p) in set.points(*name).to_vec().into_iter().enumerate() {
            out.dot(p, (numbered && i == 0).then_some(n + 1));
        }
        if numbered {
            let place = (film_width, 20.0 + 16.0 * n as f64);
            out.words(place, &format!("{} {name}", n + 1));
        }
    }
    out.text + "</svg>\n"
}

/// One drawing per measure, written to demo-images/methods; each shows two marks or more.
#[test]
fn every_measure_has_its_drawing_and_its_entry() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = root.join("demo-images/methods");
    std::fs::create_dir_all(&folder).unwrap();
    let text = std::fs::read_to_string(root.join("docs/METHODS.md")).unwrap();
    let settings = Settings {
        upper_instrumented: Some("T4".to_owned()),
        lower_instrumented: Some("L3".to_owned()),
        ..Settings::default()
    };
    let placement = Placement::default();
    let mut drawn = BTreeSet::new();
    for plane in [Plane::Pa, Plane::Lateral] {
        let set = marks(plane);
        let input = FilmInput {
            frame: Some(scaled_frame(plane == Plane::Lateral, PIXEL)),
            photo: false,
            marks: &set,
            settings: &settings,
            placement: &placement,
            ends: &[],
        };
        for r in measure_film(&input) {
            let has = r.value.is_some() || r.key == "apex" && r.levels.is_some();
            // The difference of both sides stands for the angle of one as well.
            if !has || drawn.contains(r.key) || r.key == "rotation_grade" {
                continue;
            }
            let picture = svg(&input, &r);
            assert!(picture.matches("<circle").count() >= 2, "{}", r.key);
            std::fs::write(folder.join(format!("{}.svg", r.key)), picture).unwrap();
            drawn.insert(r.key);
        }
    }
    assert!(drawn.len() >= 35, "{}", drawn.len());
    for key in &drawn {
        assert!(
            text.contains(&format!("demo-images/methods/{key}.svg")),
            "{key} has no drawing in METHODS.md"
        );
    }
    for key in curvebench::measure::keys() {
        assert!(
            text.contains(&format!("### `{key}`")) || text.contains(&format!(", `{key}`")),
            "{key} has no entry in METHODS.md"
        );
    }
}
