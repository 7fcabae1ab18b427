//! Exact marks of a patient on a film.

use super::anatomy::{hip, rib};
use super::beam::{Beam, Plane};
use super::patient::{Patient, Vertebra};
use crate::landmark::{Landmark, LandmarkSet, Level};
use nalgebra::Vector3;

/// Exact marks: each mark is the projection of its point of the patient.
pub(super) fn marks(
    spine: &[Vertebra],
    patient: &Patient,
    beam: &Beam,
    plane: Plane,
) -> LandmarkSet {
    let mut set = LandmarkSet::new();
    let s = patient.size;
    let mut put = |name: String, points: Vec<Vector3<f64>>| {
        if let Ok(name) = name.parse::<Landmark>() {
            set.place_line(name, points.into_iter().map(|p| beam.project(p)).collect());
        }
    };
    for v in spine {
        for (edge, up) in [("upper", 1.0), ("lower", -1.0)] {
            if v.level == Level::S1 && edge == "lower" {
                continue;
            }
            let ends = if plane == Plane::Pa {
                [("left", v.at(-1.0, 0.0, up)), ("right", v.at(1.0, 0.0, up))]
            } else {
                // On a lateral film the plate shows its section with the sagittal plane.
                let tilt = -v.axes[2].y / v.axes[2].z;
                let front = Vector3::new(0.0, 1.0, tilt).normalize() * v.half.y;
                [
                    ("posterior", v.at(0.0, 0.0, up) - front),
                    ("anterior", v.at(0.0, 0.0, up) + front),
                ]
            };
            for (end, p) in ends {
                put(format!("{}.{edge}.{end}", v.level), vec![p]);
            }
        }
    }
    let words = [("left", -1.0), ("right", 1.0)];
    if plane == Plane::Lateral {
        for (word, side) in [("a", -1.0), ("b", 1.0)] {
            put(
                format!("femoral_head.{word}"),
                vec![hip(&spine[18], side, s)],
            );
        }
        return set;
    }
    for (word, side) in words {
        for (n, v) in spine.iter().enumerate().take(13).skip(1) {
            let line = rib(v, n, side, s, 8.0, 100.0);
            put(
                format!("rib{n}.{word}"),
                line.iter().step_by(6).copied().collect(),
            );
            put(format!("rib{n}.{word}.tp"), vec![line[10]]);
            put(format!("rib{n}.{word}.head"), vec![line[0]]);
            put(format!("rib{n}.{word}.neck"), vec![line[4]]);
        }
        for v in spine.iter().filter(|v| v.level != Level::S1) {
            let [right, front] = v.turned;
            let p = v.centre - front * (v.half.y + 4.0 * s)
                + right * (side * v.half.x * 0.56)
                + v.axes[2] * (v.half.z * 0.25);
            put(format!("{}.pedicle.{word}", v.level), vec![p]);
        }
        let widest = rib(&spine[8], 8, side, s, 8.0, 150.0)
            .into_iter()
            .max_by(|a, b| (side * a.x).total_cmp(&(side * b.x)))
            .unwrap_or_default();
        put(format!("ribcage.{word}"), vec![widest]);
        put(
            format!("femoral_head.{word}"),
            vec![hip(&spine[18], side, s)],
        );
        put(
            format!("iliac.{word}"),
            vec![spine[18].centre + Vector3::new(side * 78.0, 22.0, 64.0) * s],
        );
    }
    set
}
