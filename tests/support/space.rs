//! Measures worked out anew from a phantom's points in space.

#[path = "space_coronal.rs"]
mod coronal;

use coronal::coronal;
use curvebench::landmark::Landmark;
use curvebench::measure::Measured;
use curvebench::phantom::{Patient, PhantomFilm, Plane};
use nalgebra::Vector3;
use std::collections::BTreeMap;

/// Truths by the identity of a result.
pub type Truths = BTreeMap<String, f64>;

/// A patient's points as one plane sees them: across (right, or front) and up.
struct Seen<'a> {
    film: &'a PhantomFilm,
}

impl Seen<'_> {
    fn all(&self, name: &str) -> Vec<(f64, f64)> {
        let name: Landmark = name.parse().unwrap();
        let flat = |p: &Vector3<f64>| match self.film.beam.plane {
            Plane::Pa => (p.x, p.z),
            Plane::Lateral => (p.y, p.z),
        };
        self.film.points[&name].iter().map(flat).collect()
    }

    fn at(&self, name: &str) -> (f64, f64) {
        self.all(name)[0]
    }

    fn ends(&self, level: &str, edge: &str) -> [(f64, f64); 2] {
        let ends = match self.film.beam.plane {
            Plane::Pa => ["left", "right"],
            Plane::Lateral => ["posterior", "anterior"],
        };
        ends.map(|e| self.at(&format!("{level}.{edge}.{e}")))
    }

    fn tilt(&self, level: &str, edge: &str) -> f64 {
        let [a, b] = self.ends(level, edge);
        slope(a, b)
    }

    fn middle(&self, level: &str, edge: &str) -> (f64, f64) {
        let [a, b] = self.ends(level, edge);
        mid(a, b)
    }

    fn centre(&self, level: &str) -> (f64, f64) {
        mid(self.middle(level, "upper"), self.middle(level, "lower"))
    }
}

fn slope(a: (f64, f64), b: (f64, f64)) -> f64 {
    (b.1 - a.1).atan2(b.0 - a.0).to_degrees()
}

fn mid(a: (f64, f64), b: (f64, f64)) -> (f64, f64) {
    ((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0)
}

fn distance(a: (f64, f64), b: (f64, f64)) -> f64 {
    (a.0 - b.0).hypot(a.1 - b.1)
}

const LEVELS: [&str; 18] = [
    "C7", "T1", "T2", "T3", "T4", "T5", "T6", "T7", "T8", "T9", "T10", "T11", "T12", "L1", "L2",
    "L3", "L4", "L5",
];

fn index(level: &str) -> usize {
    LEVELS.iter().position(|l| *l == level).unwrap()
}

fn name(key: &str, curve: Option<&str>, levels: Option<&str>, side: Option<&str>) -> String {
    let side = side.map(|s| if s == "left" { "Left" } else { "Right" });
    let side = side.map_or("None".to_owned(), |s| format!("Some({s})"));
    format!("{key} {curve:?} {levels:?} {side}")
}

/// The truths of every result of a film.
pub fn truths(patient: &Patient, film: &PhantomFilm, results: &[Measured]) -> Truths {
    let seen = Seen { film };
    let mut out = Truths::new();
    match film.beam.plane {
        Plane::Pa => coronal(patient, &seen, results, &mut out),
        Plane::Lateral => sagittal(patient, &seen, &mut out),
    }
    for (key, levels, lower, straight) in [
        ("t1_t12_height", "T1-T12", ("T12", "lower"), false),
        ("t1_s1_height", "T1-S1", ("S1", "upper"), false),
        ("t1_t12_length", "T1-T12", ("T12", "lower"), true),
        ("t1_s1_length", "T1-S1", ("S1", "upper"), true),
    ] {
        let (top, bottom) = (seen.middle("T1", "upper"), seen.middle(lower.0, lower.1));
        let value = if straight {
            distance(top, bottom)
        } else {
            top.1 - bottom.1
        };
        out.insert(name(key, None, Some(levels), None), value);
    }
    out
}

fn sagittal(patient: &Patient, seen: &Seen<'_>, out: &mut Truths) {
    let own = |level: &str| {
        let i = if level == "S1" { 18 } else { index(level) };
        patient.sagittal[i]
    };
    let mut put = |key: &str, levels: Option<&str>, v: f64| {
        out.insert(name(key, None, levels, None), v);
    };
    for levels in ["T5-T12", "T2-T12", "T1-T12", "T4-T12", "T2-T5", "T10-L2"] {
        let (u, l) = levels.split_once('-').unwrap();
        put("kyphosis", Some(levels), own(l) - own(u));
    }
    for levels in ["L1-S1", "T12-S1", "L1-L5"] {
        let (u, l) = levels.split_once('-').unwrap();
        put("lordosis", Some(levels), own(l) - own(u));
    }
    let (mut most, mut at) = (0.0, String::new());
    for (i, upper) in LEVELS.iter().enumerate() {
        for (j, lower) in LEVELS.iter().enumerate().skip(i + 1) {
            let k = patient.sagittal[j] - patient.sagittal[i];
            if k > most {
                (most, at) = (k, format!("{upper}-{lower}"));
            }
        }
    }
    put("kyphosis_max", Some(&at), most);
    put(
        "proximal_junctional_angle",
        Some("T2-T4"),
        own("T4") - own("T2"),
    );
    put("sacral_slope", None, -own("S1"));
    let (s1, hips) = (
        seen.middle("S1", "upper"),
        mid(seen.at("femoral_head.a"), seen.at("femoral_head.b")),
    );
    let tilt = (hips.0 - s1.0).atan2(s1.1 - hips.1).to_degrees();
    put("pelvic_tilt", None, tilt);
    // By the angle at S1's middle between the plate's perpendicular and the line to the hips.
    let [back, front] = seen.ends("S1", "upper");
    let down = (front.1 - back.1, -(front.0 - back.0));
    let to_hips = (hips.0 - s1.0, hips.1 - s1.1);
    let cosine = (down.0 * to_hips.0 + down.1 * to_hips.1)
        / (down.0.hypot(down.1) * to_hips.0.hypot(to_hips.1));
    put("pelvic_incidence", None, cosine.acos().to_degrees());
    put("sagittal_vertical_axis", None, seen.centre("C7").0 - back.0);
    let (l, r) = (
        seen.at("rib_prominence.left"),
        seen.at("rib_prominence.right"),
    );
    put("rib_hump", None, (l.0 - r.0).abs());
}
