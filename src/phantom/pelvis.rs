//! Sacrum, hip bones, thigh bones.

use super::bones::{UNIT, body};
use super::patient::{Patient, Vertebra};
use super::render::{Ring, Scene, ellipse};
use nalgebra::Vector3;

/// Middle of a hip joint.
pub(super) fn hip(spine: &[Vertebra], patient: &Patient, side: f64) -> Vector3<f64> {
    spine[18].centre + patient.pelvic(Vector3::new(side * 82.0, 34.0, -82.0) * patient.size)
}

/// The hip bone's blade at height `t` from the joint (0) to the crest (1): middle and half length.
fn blade(spine: &[Vertebra], patient: &Patient, side: f64, t: f64) -> (Vector3<f64>, Vector3<f64>) {
    let s = patient.size;
    let place = Vector3::new(
        side * (74.0 + 38.0 * t.powf(0.8)),
        26.0 - 16.0 * t,
        -66.0 + 112.0 * t,
    ) * s;
    // Oblique, from behind at the sacrum forward and outward; longest at two thirds.
    let long =
        20.0 + 58.0 * (std::f64::consts::PI * (0.12 + 0.68 * t)).sin() * (1.0 - t.powi(6) * 0.85);
    let way = Vector3::new(side * 0.62, 0.78, -0.12).normalize() * (long * s);
    (
        spine[18].centre + patient.pelvic(place),
        patient.pelvic(way),
    )
}

/// The highest point of an iliac crest.
pub(super) fn crest(spine: &[Vertebra], patient: &Patient, side: f64) -> Vector3<f64> {
    let (middle, way) = blade(spine, patient, side, 1.0);
    let ring = ellipse(middle, way, Vector3::z() * (3.0 * patient.size), 72);
    ring.into_iter()
        .max_by(|a, b| a.z.total_cmp(&b.z))
        .unwrap_or(middle)
}

/// The highest point of an ala of the sacrum.
pub(super) fn ala(spine: &[Vertebra], patient: &Patient, side: f64) -> Vector3<f64> {
    let v = &spine[18];
    v.centre + patient.pelvic(Vector3::new(side * 40.0, -10.0, 8.0) * patient.size)
}

/// Sacrum, hip bones and thigh bones.
pub(super) fn pelvis(scene: &mut Scene<'_>, spine: &[Vertebra], patient: &Patient) {
    let (s, d) = (patient.size, patient.density);
    let v = &spine[18];
    let [right, _, up] = v.axes;
    body(scene, v, &patient.build, 0.45 * d);
    // Below S1 the sacrum narrows and turns backward, then forward.
    let rings: Vec<Ring> = (0..=12)
        .map(|k| {
            let t = f64::from(k) / 12.0;
            let way = -up * (85.0 * t * s) + v.axes[1] * ((-34.0 * t + 40.0 * t * t) * s);
            let wide = (46.0 * (1.0 - t).powf(0.7) + 6.0) * s;
            let deep = (15.0 - 10.0 * t) * s;
            ellipse(
                v.at(0.0, -0.35, 0.2) + way,
                right * wide,
                v.axes[1] * deep,
                28,
            )
        })
        .collect();
    scene.solid(&rings, 0.024 * d);
    for side in [-1.0, 1.0] {
        for k in 0..4 {
            let k = f64::from(k);
            let at = v.at(0.0, -0.2, 0.0) - up * ((14.0 + 17.0 * k) * s)
                + right * (side * (24.0 - 2.5 * k) * s)
                - v.axes[1] * (8.0 * s);
            scene.ellipsoid(
                at,
                [right, v.axes[1], up],
                Vector3::new(5.0, 7.0, 4.0) * s,
                -0.022 * d,
            );
        }
        scene.ellipsoid(
            ala(spine, patient, side) - Vector3::new(0.0, 0.0, 22.0 * s),
            UNIT,
            Vector3::new(20.0, 13.0, 22.0) * s,
            0.022 * d,
        );
        for (inset, mu) in [(0.0, 0.062), (1.6 * s, -0.045)] {
            let rings: Vec<Ring> = (0..=20)
                .map(|k| {
                    let t = f64::from(k) / 20.0;
                    let (middle, way) = blade(spine, patient, side, t);
                    let thick =
                        (3.6 + 6.5 * (1.0 - t).powi(3) + 3.2 * (-((t - 1.0) / 0.08).powi(2)).exp())
                            * s;
                    let across = way.cross(&Vector3::z()).normalize();
                    ellipse(
                        middle,
                        way * (1.0 - inset / way.norm()),
                        across * (thick - inset).max(0.2),
                        30,
                    )
                })
                .collect();
            scene.solid(&rings, mu * d);
        }
        let head = hip(spine, patient, side);
        let offset =
            |x: f64, y: f64, z: f64| head + patient.pelvic(Vector3::new(side * x, y, z) * s);
        for (r, mu) in [(28.0, 0.014), (24.0, -0.010)] {
            scene.ellipsoid(
                offset(-4.0, 0.0, 6.0),
                UNIT,
                Vector3::new(r, r, r) * s,
                mu * d,
            );
        }
        for (r, mu) in [(22.0, 0.042), (20.4, -0.022)] {
            scene.ellipsoid(head, UNIT, Vector3::new(r, r, r) * s, mu * d);
        }
        let shaft: Vec<_> = [
            (4.0, -2.0),
            (24.0, -16.0),
            (42.0, -32.0),
            (50.0, -60.0),
            (52.0, -110.0),
            (48.0, -180.0),
            (42.0, -260.0),
        ]
        .iter()
        .map(|(x, z)| offset(*x, 0.0, *z))
        .collect();
        let radius = |t: f64| (15.0 + 5.0 * (-((t - 0.4) / 0.12).powi(2)).exp() - 3.0 * t) * s;
        scene.rod(&shaft, radius, 0.055 * d);
        scene.rod(&shaft, |t| radius(t) - (1.5 + 3.5 * t) * s, -0.042 * d);
        scene.ellipsoid(
            offset(58.0, -6.0, -20.0),
            UNIT,
            Vector3::new(13.0, 14.0, 20.0) * s,
            0.022 * d,
        );
        // Pubis and ischium round the obturator foramen.
        let ramus: Vec<_> = [
            (-6.0, 10.0, -14.0),
            (-34.0, 30.0, -22.0),
            (-68.0, 40.0, -34.0),
            (-76.0, 36.0, -52.0),
            (-60.0, 20.0, -72.0),
            (-30.0, -4.0, -82.0),
            (-8.0, -16.0, -66.0),
            (2.0, -14.0, -34.0),
        ]
        .iter()
        .map(|(x, y, z)| offset(*x, *y, *z))
        .collect();
        let radius = |t: f64| (9.5 + 5.0 * (-((t - 0.78) / 0.16).powi(2)).exp()) * s;
        scene.rod(&ramus, radius, 0.046 * d);
        scene.rod(&ramus, |t| radius(t) - 1.4 * s, -0.033 * d);
    }
}
