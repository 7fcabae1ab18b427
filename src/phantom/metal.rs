//! Halo, rods and screws.

use super::patient::{Patient, Vertebra};
use super::render::Scene;
use nalgebra::Vector3;

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
