//! Refinement: noise shrinks, nothing jumps, what the film does not show is said.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/film.rs"]
mod support;

use curvebench::film::GreyPlane;
use curvebench::landmark::{Edge, LandmarkSet};
use curvebench::locate::{Refined, Steps, refine};
use curvebench::phantom::{Exposure, Patient, PhantomFilm, Plane, Random, expose};
use curvebench::units::FilmPx;
use support::{grey, rough, tilt};

/// A film and its millimetres per pixel at the patient.
fn film(plane: Plane, cobb: f64, seed: u64) -> (PhantomFilm, f64) {
    let e = Exposure {
        plane,
        ..Exposure::default()
    };
    let f = expose(&Patient::scoliosis(0.8, cobb, 42.0), &e, seed);
    let mm = e.pixel / f.beam.magnification(0.0);
    (f, mm)
}

/// A patient's film refined from marks off by 2 mm: the film, the rough marks, what was found.
fn refined(patient: &Patient, plane: Plane, seed: u64) -> (PhantomFilm, LandmarkSet, Vec<Refined>) {
    let e = Exposure {
        plane,
        ..Exposure::default()
    };
    let f = expose(patient, &e, seed);
    let mm = e.pixel / f.beam.magnification(0.0);
    let steps = Steps {
        column: mm,
        row: mm,
    };
    let marks = rough(&f.marks, 2.0 / mm, seed + 300);
    let found = refine(&grey(&f), steps, &marks, plane == Plane::Lateral);
    (f, marks, found)
}

fn errors(
    found: &[Refined],
    marks: &LandmarkSet,
    truth: &LandmarkSet,
    lateral: bool,
) -> (f64, f64) {
    let wrapped = |a: f64| (a + 540.0).rem_euclid(360.0) - 180.0;
    let (mut before, mut after) = (0.0, 0.0);
    for x in found {
        let t = tilt(truth.plate(x.level, x.edge, lateral).unwrap());
        let m = tilt(marks.plate(x.level, x.edge, lateral).unwrap());
        before += wrapped(m - t).powi(2);
        after += wrapped(tilt((x.ends[0], x.ends[1])) - t).powi(2);
    }
    let n = found.len() as f64;
    ((before / n).sqrt(), (after / n).sqrt())
}

/// Marks off by 2 mm come back to less than a third of their error of tilt, in both planes, at
/// 30° and at 110°, and few lie nearer to a neighbour's place than
/// to their own. Known weakness: discs of a child's upper thorax are 3 mm high, less than twice the
/// noise, and a stretch of the chain can settle one plate off there (5 of 37 seen, 3 before).
#[test]
fn refined_marks_are_better_than_rough_ones() {
    for plane in [Plane::Pa, Plane::Lateral] {
        for cobb in [30.0, 110.0] {
            let (f, mm) = film(plane, cobb, 3);
            let lateral = plane == Plane::Lateral;
            let marks = rough(&f.marks, 2.0 / mm, 11);
            let found = refine(
                &grey(&f),
                Steps {
                    column: mm,
                    row: mm,
                },
                &marks,
                lateral,
            );
            assert_eq!(found.len(), 37);
            let (before, after) = errors(&found, &marks, &f.marks, lateral);
            assert!(
                after < 0.33 * before,
                "{plane:?} {cobb}: {before} to {after}"
            );
            let middle =
                |p: (FilmPx, FilmPx)| FilmPx::new((p.0.x + p.1.x) / 2.0, (p.0.y + p.1.y) / 2.0);
            let truth: Vec<FilmPx> = found
                .iter()
                .map(|x| middle(f.marks.plate(x.level, x.edge, lateral).unwrap()))
                .collect();
            let at_neighbour = |places: Vec<FilmPx>| {
                places
                    .iter()
                    .enumerate()
                    .filter(|(i, at)| {
                        (0..truth.len()).any(|k| {
                            k != *i && at.distance(truth[k]) + 2.0 < at.distance(truth[*i])
                        })
                    })
                    .count()
            };
            let started = found
                .iter()
                .map(|x| middle(marks.plate(x.level, x.edge, lateral).unwrap()))
                .collect();
            let ended = found
                .iter()
                .map(|x| middle((x.ends[0], x.ends[1])))
                .collect();
            let (started, ended) = (at_neighbour(started), at_neighbour(ended));
            assert!(
                ended <= 6,
                "{plane:?} {cobb}: {ended} plates at their neighbour's, {started} before"
            );
        }
    }
}

/// Large curves were found 3° too small on average, their end plates drawn to the neighbours': what the
/// two halves of a body show in common holds them. Bounds: twice the SD of the mean of these films.
#[test]
fn a_large_curve_is_not_found_flatter() {
    let mut off = Vec::new();
    for seed in 3..9 {
        let (f, mm) = film(Plane::Pa, 60.0 + 12.0 * seed as f64, seed);
        let marks = rough(&f.marks, 2.0 / mm, seed + 40);
        let steps = Steps {
            column: mm,
            row: mm,
        };
        let found = refine(&grey(&f), steps, &marks, false);
        let angle = |of: &dyn Fn(&Refined) -> (FilmPx, FilmPx)| {
            let end = |name: &str, edge| {
                let level = name.parse().unwrap();
                found
                    .iter()
                    .find(|x| x.level == level && x.edge == edge)
                    .map(|x| tilt(of(x)))
                    .unwrap()
            };
            (end("T5", Edge::Upper) - end("T12", Edge::Lower)).abs()
        };
        let here = angle(&|x| (x.ends[0], x.ends[1]));
        let truth = angle(&|x| f.marks.plate(x.level, x.edge, false).unwrap());
        off.push(here - truth);
    }
    let mean = off.iter().sum::<f64>() / off.len() as f64;
    assert!(mean.abs() < 1.5, "{off:?}");
}

/// Bodies at the apex of a stiff curve are wedges of 5 to 10°, which the chain drew to blocks of parallel
/// plates: what was found of them was too little. A wedge is known by its marks in the phantom.
#[test]
fn wedged_bodies_keep_their_wedge() {
    let (mut found_of, mut off, mut count) = (0.0, 0.0f64, 0.0);
    for seed in 0..6 {
        let patient = Patient::scoliosis(0.85, 90.0, 35.0).wedged(0.45);
        let (f, _, found) = refined(&patient, Plane::Pa, seed);
        for name in ["T7", "T8", "T9", "T10"] {
            let level = name.parse().unwrap();
            let here = |edge| {
                let x = found.iter().find(|x| x.level == level && x.edge == edge);
                x.map(|x| tilt((x.ends[0], x.ends[1]))).unwrap()
            };
            let there = |edge| tilt(f.marks.plate(level, edge, false).unwrap());
            let wedge = there(Edge::Upper) - there(Edge::Lower);
            assert!(wedge.abs() > 4.0, "{name} wedges by {wedge:.1}°");
            let got = here(Edge::Upper) - here(Edge::Lower);
            found_of += got / wedge;
            off += (got - wedge).powi(2);
            count += 1.0;
        }
    }
    let (share, rms) = (found_of / count, (off / count).sqrt());
    assert!(
        (0.85..1.15).contains(&share) && rms < 2.5,
        "of the wedge {share:.2}, off by {rms:.1}° RMS"
    );
}

/// Unequal pixels change nothing: the film stretched to rows twice as fine gives the same plates.
#[test]
fn unequal_pixels_give_the_same_plates() {
    let (f, mm) = film(Plane::Pa, 60.0, 5);
    let marks = rough(&f.marks, 2.0 / mm, 12);
    let plain = refine(
        &grey(&f),
        Steps {
            column: mm,
            row: mm,
        },
        &marks,
        false,
    );
    let g = grey(&f);
    let tall = GreyPlane {
        width: g.width,
        height: g.height * 2,
        data: (0..g.height * 2)
            .flat_map(|y| {
                let g = &g;
                (0..g.width).map(move |x| g.sample(x as f64 + 0.5, (y as f64 + 0.5) / 2.0))
            })
            .collect(),
    };
    let stretched: LandmarkSet = marks
        .iter()
        .map(|(n, p)| (n, vec![FilmPx::new(p[0].x, p[0].y * 2.0)]))
        .collect();
    let steps = Steps {
        column: mm,
        row: mm / 2.0,
    };
    let found = refine(&tall, steps, &stretched, false);
    for (a, b) in plain.iter().zip(&found) {
        for k in 0..2 {
            let back = FilmPx::new(b.ends[k].x, b.ends[k].y / 2.0);
            assert!(a.ends[k].distance(back) < 1.0, "{} {:?}", a.level, a.edge);
        }
    }
}

fn noise(f: &PhantomFilm, seed: u64) -> GreyPlane {
    let mut r = Random::new(seed);
    GreyPlane {
        width: f.columns,
        height: f.rows,
        data: (0..f.columns * f.rows).map(|_| r.normal() as f32).collect(),
    }
}

/// One film of noise is like another only in the mean: of twenty at most one plate in a hundred is moved.
/// Asked of a stretch's best plate, whether the film shows a spine was answered by chance.
#[test]
fn of_twenty_films_of_noise_one_plate_in_a_hundred_is_moved_at_most() {
    let (f, mm) = film(Plane::Pa, 60.0, 5);
    let steps = Steps {
        column: mm,
        row: mm,
    };
    let marks = rough(&f.marks, 2.0 / mm, 13);
    let (mut moved, mut all) = (0, 0);
    for seed in 1..21 {
        let found = refine(&noise(&f, seed), steps, &marks, false);
        let mean = found.iter().map(|x| x.quality).sum::<f64>() / found.len() as f64;
        assert!(mean < 0.06, "{mean}");
        // What is not refined stands where the reader put it.
        for x in &found {
            let stood = marks.plate(x.level, x.edge, false).unwrap();
            assert!(x.refined || x.ends[0].distance(stood.0) < 1e-9, "{x:?}");
        }
        moved += found.iter().filter(|x| x.refined).count();
        all += found.len();
    }
    assert!(moved * 100 <= all, "{moved} of {all} moved on noise");
}

/// On a film of noise nothing is distinct: every mark stays where it was. Fewer than two plates are left
/// alone too.
#[test]
fn noise_is_told_from_a_spine() {
    let (f, mm) = film(Plane::Pa, 60.0, 5);
    let steps = Steps {
        column: mm,
        row: mm,
    };
    let marks = rough(&f.marks, 2.0 / mm, 13);
    let mean =
        |found: &[Refined]| found.iter().map(|x| x.quality).sum::<f64>() / found.len() as f64;
    let spine = mean(&refine(&grey(&f), steps, &marks, false));
    let found = refine(&noise(&f, 1), steps, &marks, false);
    let nothing = mean(&found);
    assert!(spine > 0.25 && nothing < 0.06, "{spine} against {nothing}");
    // Nothing is moved there: the marks stand where the reader put them and are said to be unrefined.
    for x in &found {
        let stood = marks.plate(x.level, x.edge, false).unwrap();
        assert!(!x.refined && x.ends[0].distance(stood.0) < 1e-9, "{x:?}");
    }
    let mut one = LandmarkSet::new();
    for name in ["T5.upper.left", "T5.upper.right"] {
        let name = name.parse().unwrap();
        one.place(name, f.marks.point(name).unwrap());
    }
    assert!(refine(&grey(&f), steps, &one, false).is_empty());
}

/// The own ends of vertebrae that turn about their axis and lean to the beam slant against the course of the
/// spine, by up to 20° on a lateral film of a severe curve. The chain drew them across the course: the tilts
/// were hardly nearer than the rough marks', 0.92 of their error.
#[test]
fn plates_that_slant_against_the_course_keep_their_slant() {
    let (mut before, mut after) = (0.0f64, 0.0f64);
    for seed in 0..6 {
        let mut patient = Patient::scoliosis(0.8, 100.0, 45.0);
        patient.bodies_turn = 1.0;
        if seed % 2 == 1 {
            patient = patient.mirrored();
        }
        let (f, marks, found) = refined(&patient, Plane::Lateral, seed);
        let (b, a) = errors(&found, &marks, &f.marks, true);
        before += b * b / 6.0;
        after += a * a / 6.0;
    }
    let share = (after / before).sqrt();
    assert!(share < 0.7, "{share:.2} of the rough marks' error");
}
