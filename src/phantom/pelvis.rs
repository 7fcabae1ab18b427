//! Sacrum, hip bones, thigh bones; skull and neck; halo, rods and screws.

use super::bones::{UNIT, body};
use super::patient::{Patient, Vertebra};
use super::render::{Ring, Scene, ellipse};
use crate::landmark::Level;
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
    body(scene, v, 0.45 * d);
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

/// Skull, jaw and the neck above C7.
pub(super) fn head(scene: &mut Scene<'_>, spine: &[Vertebra], patient: &Patient) {
    let (s, d) = (patient.size, patient.density);
    let c7 = &spine[0];
    let mut v = c7.clone();
    for k in 1..6 {
        let share = 1.0 - f64::from(k) / 6.0;
        let up = (c7.axes[2] * share + Vector3::z() * (1.0 - share)).normalize();
        let right = (c7.axes[0] - up * c7.axes[0].dot(&up)).normalize();
        v.axes = [right, up.cross(&right), up];
        v.turned = [v.axes[0], v.axes[1]];
        v.level = Level::C7;
        v.half = Vector3::new(9.8, 8.0, 6.4) * s;
        v.centre += up * (17.0 * s) + v.axes[1] * (1.5 * s);
        body(scene, &v, 0.8 * d);
        for side in [-1.0, 1.0] {
            let mass = v.at(side * 1.5, -1.3, 0.0);
            scene.ellipsoid(mass, v.axes, Vector3::new(4.5, 5.0, 7.0) * s, 0.028 * d);
        }
        let back = v.at(0.0, -1.8, -0.3);
        scene.rod(
            &[back, back - v.axes[1] * (14.0 * s)],
            |_| 2.8 * s,
            0.045 * d,
        );
    }
    let skull = v.centre + Vector3::new(0.0, 24.0, 92.0) * s;
    for (k, mu) in [(0.0, 0.062), (4.5, -0.062)] {
        scene.ellipsoid(
            skull,
            UNIT,
            (Vector3::new(74.0, 92.0, 76.0) - Vector3::new(k, k, k)) * s,
            mu * d,
        );
    }
    scene.ellipsoid(
        skull - Vector3::new(0.0, -8.0, 56.0) * s,
        UNIT,
        Vector3::new(50.0, 66.0, 20.0) * s,
        0.006 * d,
    );
    for side in [-1.0, 1.0] {
        scene.ellipsoid(
            skull + Vector3::new(side * 30.0, 66.0, -30.0) * s,
            UNIT,
            Vector3::new(16.0, 20.0, 15.0) * s,
            -0.02 * d,
        );
    }
    let jaw: Vec<_> = (0..=16)
        .map(|i| {
            let t = f64::from(i) / 8.0 - 1.0;
            let (sn, _) = (t * 1.5).sin_cos();
            skull + Vector3::new(46.0 * sn, 84.0 - 78.0 * t.powi(2), -96.0 + 40.0 * t.powi(4)) * s
        })
        .collect();
    scene.strap(&jaw, |_| (6.0 * s, 12.0 * s), 0.045 * d);
}

/// Rods, screws, halo. They saturate the film.
pub(super) fn metal(scene: &mut Scene<'_>, spine: &[Vertebra], patient: &Patient) {
    let s = patient.size;
    if let Some((first, last)) = patient.instrumented {
        for side in [-1.0, 1.0] {
            let rod: Vec<_> = spine[first..=last]
                .iter()
                .map(|v| rod_at(v, side, s))
                .collect();
            scene.rod(&rod, |_| 2.75, 0.5);
            for v in &spine[first..=last] {
                let head = rod_at(v, side, s);
                let tip = v.centre
                    + v.turned[0] * (side * v.half.x * 0.35)
                    + v.turned[1] * (v.half.y * 0.4);
                scene.rod(&[head, tip], |t| 2.6 - 0.8 * t, 0.45);
                let (a, b) = (v.turned[1] * 5.0, v.axes[2] * 5.0);
                scene.rod(&[head - b, head + b], |_| 4.6, 0.4);
                scene.rod(&[head, head - a], |_| 4.6, 0.4);
            }
        }
    }
    if patient.halo {
        let centre = spine[0].centre + Vector3::new(0.0, 42.0, 176.0) * s;
        let ring: Vec<_> = (4..=44)
            .map(|i| {
                let (sn, c) = (f64::from(i) * std::f64::consts::TAU / 48.0
                    - std::f64::consts::FRAC_PI_2)
                    .sin_cos();
                centre + Vector3::new(98.0 * c, 114.0 * sn, 6.0 * sn) * s
            })
            .collect();
        scene.strap(&ring, |_| (2.5, 6.0), 0.10);
        for i in [6, 14, 26, 34] {
            let p: Vector3<f64> = ring[i];
            scene.rod(
                &[p + (p - centre) * 0.12, centre + (p - centre) * 0.76],
                |t| 2.6 - 1.2 * t,
                0.3,
            );
            scene.rod(
                &[p + (p - centre) * 0.03, p + (p - centre) * 0.14],
                |_| 5.0,
                0.2,
            );
        }
        for side in [-1.0, 1.0] {
            let a = centre + Vector3::new(side * 98.0, 0.0, 2.0) * s;
            scene.rod(
                &[
                    a,
                    a + Vector3::new(0.0, 0.0, 60.0) * s,
                    centre + Vector3::new(0.0, 0.0, 150.0) * s,
                ],
                |_| 2.2,
                0.22,
            );
        }
    }
}

/// Where a rod passes a vertebra.
pub(super) fn rod_at(v: &Vertebra, side: f64, s: f64) -> Vector3<f64> {
    v.centre - v.turned[1] * (v.half.y + 18.0 * s) + v.turned[0] * (side * v.half.x * 0.62)
}
