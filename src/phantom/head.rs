//! Skull, jaw and neck.

use super::bones::{UNIT, body};
use super::patient::{Patient, Vertebra};
use super::render::Scene;
use crate::landmark::Level;
use nalgebra::Vector3;

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
        body(scene, &v, &patient.build, 0.8 * d);
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
