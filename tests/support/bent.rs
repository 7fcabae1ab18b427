//! Films of real anatomy with curves they did not have: the projections of one CT (fixtures/SOURCES.md) with
//! their vertebrae, each rigid, turned about their discs, and all that lies between drawn along. The marks
//! move with them, so what was wrong with them stays wrong by as much on every film.

#![allow(clippy::unwrap_used)]

use curvebench::film::{GreyPlane, density, load};
use curvebench::landmark::{Edge, Landmark, LandmarkSet, Level};
use curvebench::locate::Steps;
use curvebench::units::FilmPx;
use nalgebra::{Rotation2, Vector2};
use std::path::Path;

/// Millimetres per pixel of the projections.
pub const MM: f64 = 0.5;
pub const STEPS: Steps = Steps {
    column: MM,
    row: MM,
};
/// Room added on each side of the projection, pixels.
const ROOM: f64 = 140.0;
/// Bodies beyond the marked ones that turn with the last.
const BEYOND: usize = 6;

/// A film and its marks.
pub struct Film {
    pub grey: GreyPlane,
    pub marks: LandmarkSet,
}

impl Film {
    /// The middles of the first and the last plate, as hints: both ends of a plate there.
    pub fn ends(&self, lateral: bool) -> Vec<(Landmark, FilmPx)> {
        let plates = [("C7", Edge::Upper), ("L2", Edge::Lower)];
        let both = plates.map(|(level, edge)| {
            let level: Level = level.parse().unwrap();
            let (p, q) = self.marks.plate(level, edge, lateral).unwrap();
            Landmark::plate_ends(level, edge, lateral).map(|name| (name, p.middle(q)))
        });
        both.concat()
    }
}

/// +1 when a plate's first end lies on the projection's left.
pub fn hand(lateral: bool) -> f64 {
    if lateral { 1.0 } else { -1.0 }
}

/// A projection as it is.
pub fn projection(lateral: bool) -> Film {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/films");
    let name = if lateral { "lateral" } else { "ap" };
    let film = load(&root.join(format!("ct_drr_{name}.png"))).unwrap();
    let text = std::fs::read_to_string(root.join("ct_drr_truth.json")).unwrap();
    let json: serde_json::Value = serde_json::from_str(&text).unwrap();
    let of = &json[format!("{name}_parallel_0p5mm.png")]["landmarks"];
    let mut marks = LandmarkSet::new();
    for (name, p) in of.as_object().unwrap() {
        let at = FilmPx::new(p[0].as_f64().unwrap(), p[1].as_f64().unwrap());
        marks.place(name.parse().unwrap(), at);
    }
    Film {
        grey: density(&film),
        marks,
    }
}

/// A body's axis from its upper plate to its lower one, and where it came from.
struct Body {
    ends: [Vector2<f64>; 2],
    turn: Rotation2<f64>,
    shift: Vector2<f64>,
}

fn xy(p: FilmPx) -> Vector2<f64> {
    Vector2::new(p.x, p.y)
}

/// The axes of the marked bodies, and of as many beyond as move with them.
fn axes(film: &Film, lateral: bool) -> (Vec<[Vector2<f64>; 2]>, Vec<Level>) {
    let mut levels: Vec<Level> = film.marks.iter().filter_map(|m| m.0.level()).collect();
    levels.sort();
    levels.dedup();
    let mut out: Vec<[Vector2<f64>; 2]> = levels
        .iter()
        .map(|l| {
            [Edge::Upper, Edge::Lower].map(|edge| {
                let (p, q) = film.marks.plate(*l, edge, lateral).unwrap();
                xy(p.middle(q))
            })
        })
        .collect();
    let half = Vector2::new(0.5, 1.0);
    for _ in 0..BEYOND {
        let d = (out[1][0] - out[0][0]).component_mul(&half);
        out.insert(0, out[0].map(|p| p - d));
        let n = out.len();
        let d = (out[n - 1][0] - out[n - 2][0]).component_mul(&half);
        out.push(out[n - 1].map(|p| p + d));
    }
    (out, levels)
}

/// The projection with its bodies turned by `turns` degrees (0 at the uppermost marked level, 1 at the
/// lowest; + leans the head to the left of the picture).
fn bent(film: &Film, lateral: bool, turns: impl Fn(f64) -> f64) -> Film {
    let (old, levels) = axes(film, lateral);
    let n = old.len();
    let turn: Vec<Rotation2<f64>> = (0..n)
        .map(|i| {
            let s = (i as f64 - BEYOND as f64) / (levels.len() - 1) as f64;
            Rotation2::new(-turns(s).to_radians())
        })
        .collect();
    // The middle body turns about itself, the others about the discs between.
    let joint = |i: usize| (old[i][1] + old[i + 1][0]) / 2.0;
    let m = n / 2;
    let middle = (old[m][0] + old[m][1]) / 2.0;
    let mut shift = vec![Vector2::zeros(); n];
    shift[m] = middle - turn[m] * middle + Vector2::new(ROOM, ROOM / 2.0);
    for i in m + 1..n {
        shift[i] = turn[i - 1] * joint(i - 1) + shift[i - 1] - turn[i] * joint(i - 1);
    }
    for i in (0..m).rev() {
        shift[i] = turn[i + 1] * joint(i) + shift[i + 1] - turn[i] * joint(i);
    }
    let bodies: Vec<Body> = (0..n)
        .map(|i| Body {
            ends: old[i].map(|p| turn[i] * p + shift[i]),
            turn: turn[i],
            shift: shift[i],
        })
        .collect();
    let grey = drawn(&film.grey, &bodies);
    let mut marks = LandmarkSet::new();
    for (name, points) in film.marks.iter() {
        marks.place(name, moved(&bodies, &levels, name, points[0]));
    }
    Film { grey, marks }
}

/// Where a place of the bent film was before: the bodies' own moves, the nearer the more.
fn back(bodies: &[Body], p: Vector2<f64>) -> Vector2<f64> {
    let (mut sum, mut weights) = (Vector2::zeros(), 0.0);
    for b in bodies {
        let axis = b.ends[1] - b.ends[0];
        let t = ((p - b.ends[0]).dot(&axis) / axis.norm_squared()).clamp(0.12, 0.88);
        let weight = ((p - b.ends[0] - axis * t).norm_squared() + 9.0).powi(-3);
        sum += (b.turn.inverse() * (p - b.shift)) * weight;
        weights += weight;
    }
    sum / weights
}

fn drawn(grey: &GreyPlane, bodies: &[Body]) -> GreyPlane {
    let (width, height) = (grey.width + 2 * ROOM as usize, grey.height + ROOM as usize);
    let low = grey.data.iter().copied().fold(f32::MAX, f32::min);
    let inside = |p: Vector2<f64>| {
        (0.0..=grey.width as f64).contains(&p.x) && (0.0..=grey.height as f64).contains(&p.y)
    };
    let data = (0..width * height)
        .map(|i| {
            let p = Vector2::new((i % width) as f64 + 0.5, (i / width) as f64 + 0.5);
            let q = back(bodies, p);
            if inside(q) {
                grey.sample(q.x, q.y)
            } else {
                low
            }
        })
        .collect();
    GreyPlane {
        width,
        height,
        data,
    }
}

/// Where a mark lies on the bent film: the place whose own place before it was.
fn moved(bodies: &[Body], levels: &[Level], name: Landmark, at: FilmPx) -> FilmPx {
    let level = name.level().unwrap();
    let own = &bodies[BEYOND + levels.iter().position(|l| *l == level).unwrap()];
    let at = xy(at);
    let mut p = own.turn * at + own.shift;
    for _ in 0..80 {
        p += own.turn * (at - back(bodies, p)) * 0.7;
    }
    assert!((at - back(bodies, p)).norm() < 0.01, "{name} has no place");
    FilmPx::new(p.x, p.y)
}

/// A bump of turning: degrees, about where, how wide.
fn bump((degrees, about, width): (f64, f64, f64)) -> impl Fn(f64) -> f64 {
    move |s| degrees * (-((s - about) / width).powi(2)).exp()
}

/// The projection with one curve of about `degrees`, to the left or (negative) to the right.
pub fn curved(film: &Film, lateral: bool, degrees: f64) -> Film {
    let (upper, lower) = (
        bump((degrees / 2.0, 0.25, 0.22)),
        bump((-degrees / 2.0, 0.72, 0.22)),
    );
    bent(film, lateral, |s| upper(s) + lower(s))
}
