//! How well marks are carried to the next film and proposed on an unmarked one: phantom patients under
//! traction, films never used for tuning. Prints the tables of docs/PERFORMANCE.md; asserts nothing.
//! Tuning used seeds 1000 to 1013 (`CURVEBENCH_TUNE`).

#![allow(clippy::unwrap_used, missing_docs)]

#[path = "../tests/support/bent.rs"]
mod bent;
#[path = "support/films.rs"]
mod films;

use curvebench::film::GreyPlane;
use curvebench::landmark::{Edge, Landmark, LandmarkSet, Level};
use curvebench::locate::{Pattern, Refined, Steps, Unmarked, lay};
use curvebench::phantom::{Exposure, PhantomFilm, Plane, Random, expose};
use curvebench::units::FilmPx;
use films::{exposure, grey, patient, tilt};
use std::time::Instant;

struct Pair {
    films: [(PhantomFilm, Exposure); 2],
}

/// A patient before and in traction; `kind` 0 easy, 1 usual, 2 hard.
fn pair(seed: u64, kind: usize, plane: Plane) -> Pair {
    let mut r = Random::new(seed * 6007 + kind as u64);
    let p = patient(seed, (40.0, 120.0), &mut r);
    let mut later = p.clone();
    // Traction straightens by 10 to 45 %, less in the lordosis, and opens discs; the halo comes on.
    let left = 0.55 + 0.35 * r.uniform();
    later.coronal.iter_mut().for_each(|a| *a *= left);
    later.sagittal.iter_mut().take(13).for_each(|a| *a *= left);
    later.discs = 1.0 + 0.3 * Random::new(seed * 41 + 3).uniform();
    later.halo = true;
    let films = [p, later].map(|p| {
        let e = exposure(kind, plane, &mut r);
        (expose(&p, &e, seed), e)
    });
    Pair { films }
}

fn size(f: &PhantomFilm) -> (f64, f64) {
    (f.columns as f64, f.rows as f64)
}

fn inside(size: (f64, f64), p: FilmPx) -> bool {
    p.x > 0.0 && p.y > 0.0 && p.x < size.0 && p.y < size.1
}

/// The plates of a film, placed with `sd` mm.
fn placed(f: &PhantomFilm, mm: f64, sd: f64, r: &mut Random) -> LandmarkSet {
    films::rough(&f.marks, size(f), (sd / mm, sd / mm), r)
}

#[derive(Default)]
struct Score {
    plates: usize,
    good: usize,
    near: usize,
    tilts: Vec<f64>,
    places: Vec<f64>,
    along: Vec<f64>,
    across: Vec<f64>,
    time: f64,
    films: usize,
    failed: usize,
    cobb: Vec<f64>,
}

impl Score {
    /// The plates found on a film.
    fn add(&mut self, film: &Target<'_>, found: &[Refined]) {
        let (marks, lateral, mm) = (film.marks, film.lateral, film.steps.column);
        self.films += 1;
        let end = |level: &str, upper: bool| {
            let level: Level = level.parse().unwrap();
            let edge = if upper { Edge::Upper } else { Edge::Lower };
            let x = found.iter().find(|x| x.level == level && x.edge == edge)?;
            let truth = marks.plate(level, edge, lateral)?;
            Some((tilt((x.ends[0], x.ends[1])), tilt(truth)))
        };
        if let (Some(u), Some(l)) = (end("T5", true), end("T12", false)) {
            self.cobb.push((u.0 - l.0).abs() - (u.1 - l.1).abs());
        }
        for x in found {
            let Some(truth) = marks.plate(x.level, x.edge, lateral) else {
                continue;
            };
            if !inside(film.size, truth.0) || !inside(film.size, truth.1) {
                continue;
            }
            let off = x.ends[0]
                .middle(x.ends[1])
                .distance(truth.0.middle(truth.1))
                * mm;
            let turn =
                (tilt((x.ends[0], x.ends[1])) - tilt(truth) + 540.0).rem_euclid(360.0) - 180.0;
            self.plates += 1;
            self.good += usize::from(off <= 2.0 && turn.abs() <= 3.0);
            self.near += usize::from(off <= 5.0);
            self.tilts.push(turn);
            self.places.push(off);
            let m = x.ends[0].middle(x.ends[1]);
            let t = truth.0.middle(truth.1);
            let angle = tilt(truth).to_radians();
            let (dx, dy) = ((m.x - t.x) * mm, (m.y - t.y) * mm);
            self.along.push(dx * angle.cos() + dy * angle.sin());
            self.across.push(dy * angle.cos() - dx * angle.sin());
        }
    }

    fn print(&self, name: &str) {
        let rms = |v: &[f64]| (v.iter().map(|x| x * x).sum::<f64>() / v.len().max(1) as f64).sqrt();
        let share = |n: usize| 100.0 * n as f64 / self.plates.max(1) as f64;
        let mut places = self.places.clone();
        places.sort_by(f64::total_cmp);
        let median = places.get(places.len() / 2).copied().unwrap_or(f64::NAN);
        if std::env::var_os("CURVEBENCH_TUNE").is_some() {
            let size = |v: &[f64]| {
                let mut v: Vec<f64> = v.iter().map(|x| x.abs()).collect();
                v.sort_by(f64::total_cmp);
                format!("{:.2} ({:.2})", v[v.len() / 2], v[v.len() * 9 / 10])
            };
            let turns = size(&self.tilts);
            println!(
                "  median (nine tenths): along {}, across {}, tilt {turns}",
                size(&self.along),
                size(&self.across)
            );
        }
        println!(
            "{name}, {}, {:.0} %, {:.0} %, {median:.1}, {:.1}, {:.1}°, {:.0}, {}, {:.1}°, {:.1}°",
            self.plates,
            share(self.good),
            share(self.near),
            rms(&self.places),
            rms(&self.tilts),
            self.time / self.films.max(1) as f64,
            self.failed,
            self.cobb.iter().sum::<f64>() / self.cobb.len().max(1) as f64,
            rms(&self.cobb)
        );
    }
}

/// A film to lay marks on, and where they are.
struct Target<'a> {
    grey: &'a GreyPlane,
    steps: Steps,
    hand: f64,
    lateral: bool,
    marks: &'a LandmarkSet,
    size: (f64, f64),
}

impl Target<'_> {
    /// Lays a pattern on it and scores what came of it.
    fn laid(&self, score: &mut Score, pattern: &Pattern, hints: &[(Landmark, FilmPx)]) {
        let start = Instant::now();
        match lay(
            Unmarked::of(self.grey, self.steps, self.hand),
            pattern,
            hints,
        ) {
            Ok(laid) => {
                score.time += start.elapsed().as_secs_f64() * 1000.0;
                score.add(self, &laid.plates);
            }
            Err(_) => score.failed += 1,
        }
    }
}

/// Real anatomy: projections of one CT bent and straightened, marks 0.5 mm off; both films come from one
/// projection, which favours finding plates by how they looked.
fn real_anatomy() {
    for lateral in [false, true] {
        let film = bent::projection(lateral);
        for (before, now) in [
            (70.0, 40.0),
            (100.0, 70.0),
            (100.0, 40.0),
            (0.0, 40.0),
            (-70.0, -35.0),
        ] {
            let [a, b] = [before, now].map(|d| bent::curved(&film, lateral, d));
            let mut r = Random::new(5);
            let mut marks = LandmarkSet::new();
            for (name, p) in a.marks.iter() {
                marks.place(name, FilmPx::new(p[0].x + r.normal(), p[0].y + r.normal()));
            }
            let pattern = Pattern::of(&a.grey, &marks, lateral, bent::STEPS).unwrap();
            let target = Target {
                grey: &b.grey,
                steps: bent::STEPS,
                hand: bent::hand(lateral),
                lateral,
                marks: &b.marks,
                size: (b.grey.width as f64, b.grey.height as f64),
            };
            for (hints, how) in [(&b.ends(lateral)[..], "two hints"), (&[], "no hint")] {
                let mut score = Score::default();
                target.laid(&mut score, &pattern, hints);
                let view = if lateral { "lateral" } else { "AP" };
                score.print(&format!("CT {view} {before}° carried to {now}° {how}"));
            }
        }
    }
}

fn main() {
    let tune = std::env::var_os("CURVEBENCH_TUNE").is_some();
    let (first, many) = if tune { (1000, 14) } else { (7000, 10) };
    println!(
        "what, plates, within 2 mm and 3°, within 5 mm, middle off median mm, RMS mm, tilt RMS, ms a film, films refused, T5-T12 angle off mean, RMS"
    );
    real_anatomy();
    for plane in [Plane::Pa, Plane::Lateral] {
        let lateral = plane == Plane::Lateral;
        for (kind, name) in ["easy", "usual", "hard"].iter().enumerate() {
            let mut scores: [Score; 3] = Default::default();
            for seed in first..first + many {
                let pair = pair(seed, kind, plane);
                let [(a, ea), (b, eb)] = &pair.films;
                let (ga, gb) = (grey(a, ea), grey(b, eb));
                let mm = ea.pixel / a.beam.magnification(0.0);
                let steps = Steps {
                    column: mm,
                    row: mm,
                };
                let mut r = Random::new(seed + 5);
                let marks = placed(a, mm, 1.0, &mut r);
                let pattern = Pattern::of(&ga, &marks, lateral, steps).unwrap();
                // Two hints, each 2 mm off: the middles of the first upper plate and of the sacrum's, as both ends.
                let hint = |level: &str, r: &mut Random| -> Option<[(Landmark, FilmPx); 2]> {
                    let level: Level = level.parse().unwrap();
                    let (c, d) = b.marks.plate(level, Edge::Upper, lateral)?;
                    let m = c.middle(d);
                    let names = Landmark::plate_ends(level, Edge::Upper, lateral);
                    let at = FilmPx::new(m.x + 2.0 / mm * r.normal(), m.y + 2.0 / mm * r.normal());
                    inside(size(b), at).then_some(names.map(|name| (name, at)))
                };
                let hints: Vec<_> = ["C7", "S1"]
                    .iter()
                    .filter_map(|l| hint(l, &mut r))
                    .flatten()
                    .collect();
                let target = Target {
                    grey: &gb,
                    steps,
                    hand: 1.0,
                    lateral,
                    marks: &b.marks,
                    size: size(b),
                };
                target.laid(&mut scores[0], &pattern, &hints);
                target.laid(&mut scores[1], &pattern, &[]);
                target.laid(&mut scores[2], &Pattern::usual(&[], &[], lateral), &hints);
            }
            scores[0].print(&format!("{plane:?} {name} carried, two hints"));
            scores[1].print(&format!("{plane:?} {name} carried, no hint"));
            scores[2].print(&format!("{plane:?} {name} proposed, two hints"));
        }
    }
}
