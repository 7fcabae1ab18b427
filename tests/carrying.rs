//! Carrying between two films of a phantom: where it went wrong once, it does not any more.

#![allow(clippy::unwrap_used)]

use curvebench::film::GreyPlane;
use curvebench::landmark::{Edge, Landmark};
use curvebench::locate::{Pattern, Steps, lay};
use curvebench::phantom::{Exposure, Patient, PhantomFilm, Plane, expose};

fn grey(f: &PhantomFilm) -> GreyPlane {
    GreyPlane {
        width: f.columns,
        height: f.rows,
        data: f.samples.iter().map(|v| f32::from(*v)).collect(),
    }
}

/// How far each plate's middle lies from where it is, mm, when carried from a lateral film of a child to one
/// under traction by the two ends.
fn carried(cobb: f64, kyphosis: f64, left: f64, seed: u64) -> Vec<f64> {
    let e = Exposure {
        plane: Plane::Lateral,
        object_detector: 240.0,
        quanta: 20_000.0,
        gamma: 0.9 + 0.03 * (seed % 11) as f64,
        levelling: 0.07 * (seed % 10) as f64,
        blur: 0.15,
        scatter: 0.2,
        ..Exposure::default()
    };
    let before = Patient::scoliosis(0.8, cobb, kyphosis);
    let mut later = before.clone();
    later.coronal.iter_mut().for_each(|a| *a *= left);
    later.sagittal.iter_mut().take(13).for_each(|a| *a *= left);
    later.halo = true;
    let [a, b] = [before, later].map(|p| expose(&p, &e, seed));
    let mm = e.pixel / a.beam.magnification(0.0);
    let steps = Steps {
        column: mm,
        row: mm,
    };
    let middle = |level, edge| {
        let (p, q) = b.marks.plate(level, edge, true).unwrap();
        p.middle(q)
    };
    let pattern = Pattern::of(&grey(&a), &a.marks, true, steps).unwrap();
    let hints: Vec<_> = ["C7", "S1"]
        .iter()
        .map(|level| {
            let level = level.parse().unwrap();
            let name: Landmark = Landmark::plate_ends(level, Edge::Upper, true)[0];
            (name, middle(level, Edge::Upper))
        })
        .collect();
    let found = lay(&grey(&b), steps, &pattern, &hints, 1.0).unwrap();
    assert_eq!(found.len(), 37);
    found
        .iter()
        .map(|x| {
            x.ends[0]
                .middle(x.ends[1])
                .distance(middle(x.level, x.edge))
                * mm
        })
        .collect()
}

/// The course took the edge of a band or a pedicle for the front of the spine and left it by 5 to
/// 9 mm for four or five levels.
#[test]
fn a_lateral_course_stays_on_the_spine() {
    let films = [
        (60.0, 64.0, 0.61, 22),
        (70.0, 53.0, 0.67, 24),
        (115.0, 71.0, 0.61, 33),
    ];
    let off: Vec<f64> = films
        .into_iter()
        .flat_map(|(cobb, kyphosis, left, seed)| carried(cobb, kyphosis, left, seed))
        .collect();
    let near = off.iter().filter(|d| **d <= 5.0).count();
    assert!(near >= 96, "{near} of 111 plates within 5 mm");
}
