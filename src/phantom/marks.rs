//! Exact marks of a patient on a film.

use super::beam::{Beam, Plane};
use super::bones::{clavicle, coracoid, pedicle, rib, rib_end};
use super::metal::rod_at;
use super::patient::{Patient, Vertebra};
use super::pelvis::{ala, crest, hip};
use super::trunk::{Cage, dome};
use crate::landmark::{Landmark, LandmarkSet, Level};
use nalgebra::Vector3;
use std::collections::BTreeMap;

/// The points of the patient that marks show, mm; axes as the patient's.
pub type Points = BTreeMap<Landmark, Vec<Vector3<f64>>>;

/// Exact marks: each mark is the projection of its point of the patient.
pub(super) fn marks(spine: &[Vertebra], patient: &Patient, beam: &Beam) -> (LandmarkSet, Points) {
    let mut set = LandmarkSet::new();
    let mut truth = Points::new();
    let s = patient.size;
    let lateral = beam.plane == Plane::Lateral;
    let mut put = |name: String, points: Vec<Vector3<f64>>| {
        if let Ok(name) = name.parse::<Landmark>() {
            set.place_line(name, points.iter().map(|p| beam.project(*p)).collect());
            truth.insert(name, points);
        }
    };
    for v in spine {
        for (edge, up) in [("upper", 1.0), ("lower", -1.0)] {
            if v.level == Level::S1 && edge == "lower" {
                continue;
            }
            let ends = if lateral && patient.bodies_turn > 0.0 {
                [
                    ("posterior", v.at(0.0, -1.0, up)),
                    ("anterior", v.at(0.0, 1.0, up)),
                ]
            } else if lateral {
                // On a lateral film the plate shows its section with the sagittal plane.
                let across = v.normal(up);
                let tilt = -across.y / across.z;
                let front = Vector3::new(0.0, 1.0, tilt).normalize() * v.half.y;
                [
                    ("posterior", v.at(0.0, 0.0, up) - front),
                    ("anterior", v.at(0.0, 0.0, up) + front),
                ]
            } else {
                [("left", v.at(-1.0, 0.0, up)), ("right", v.at(1.0, 0.0, up))]
            };
            for (end, p) in ends {
                put(format!("{}.{edge}.{end}", v.level), vec![p]);
            }
        }
    }
    if let Some((first, last)) = patient.instrumented {
        let rod = |side: f64| spine[first..=last].iter().map(move |v| rod_at(v, side, s));
        put(
            "metal".to_owned(),
            rod(-1.0).chain(rod(1.0).rev()).collect(),
        );
    }
    let words = [("left", -1.0), ("right", 1.0)];
    if lateral {
        for (word, side) in [("a", -1.0), ("b", 1.0)] {
            put(
                format!("femoral_head.{word}"),
                vec![hip(spine, patient, side)],
            );
        }
        for (word, side) in words {
            let back = (5..=10)
                .flat_map(|n| rib(spine, n, side, s, 8.0, rib_end(n)))
                .min_by(|a, b| a.y.total_cmp(&b.y))
                .unwrap_or_default();
            put(format!("rib_prominence.{word}"), vec![back]);
        }
        return (set, truth);
    }
    let highest = |line: Vec<Vector3<f64>>| {
        line.into_iter()
            .max_by(|a, b| a.z.total_cmp(&b.z))
            .unwrap_or_default()
    };
    let cage = Cage::of(spine, s);
    for (word, side) in words {
        for n in 1..=12 {
            let line = rib(spine, n, side, s, 8.0, 100.0);
            put(
                format!("rib{n}.{word}"),
                line.iter().step_by(6).copied().collect(),
            );
            put(format!("rib{n}.{word}.tp"), vec![line[10]]);
            put(format!("rib{n}.{word}.head"), vec![line[0]]);
            put(format!("rib{n}.{word}.neck"), vec![line[4]]);
        }
        for v in spine.iter().filter(|v| v.level != Level::S1) {
            put(
                format!("{}.pedicle.{word}", v.level),
                vec![pedicle(v, &patient.build, side, s)],
            );
        }
        let widest = rib(spine, 8, side, s, 8.0, 150.0)
            .into_iter()
            .max_by(|a, b| (side * a.x).total_cmp(&(side * b.x)))
            .unwrap_or_default();
        put(format!("ribcage.{word}"), vec![widest]);
        put(
            format!("femoral_head.{word}"),
            vec![hip(spine, patient, side)],
        );
        put(format!("iliac.{word}"), vec![crest(spine, patient, side)]);
        put(
            format!("sacral_ala.{word}"),
            vec![ala(spine, patient, side)],
        );
        let collar = clavicle(spine, side, s);
        let outer = collar[20];
        put(
            format!("clavicle.{word}"),
            vec![highest(collar) + Vector3::new(0.0, 0.0, 5.0 * s)],
        );
        put(
            format!("shoulder.{word}"),
            vec![outer + Vector3::new(0.0, 0.0, 16.0 * s)],
        );
        put(
            format!("coracoid.{word}"),
            vec![coracoid(spine, side, s, false)],
        );
        put(
            format!("first_rib.{word}"),
            vec![highest(rib(spine, 1, side, s, 20.0, rib_end(1)))],
        );
        put(
            format!("hemidiaphragm.{word}"),
            vec![dome(spine, &cage, side, s)],
        );
    }
    (set, truth)
}
