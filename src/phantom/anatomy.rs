//! What is drawn of the patient, tissue by tissue.

use super::patient::{Patient, Vertebra};
use super::render::Canvas;
use crate::landmark::Level;
use nalgebra::Vector3;

/// Half width of the rib cage by rib of a child of size 1, mm (from a CT's ribs, scaled down).
const CAGE: [f64; 12] = [
    62.0, 84.0, 97.0, 104.0, 110.0, 113.0, 117.0, 121.0, 123.0, 122.0, 117.0, 100.0,
];

pub(super) fn rib(
    v: &Vertebra,
    n: usize,
    side: f64,
    size: f64,
    from: f64,
    to: f64,
) -> Vec<Vector3<f64>> {
    let (a, b) = (CAGE[n - 1] * size, (72.0 + 4.0 * n.min(8) as f64) * size);
    // A third of the vertebra's tilt and half of its rotation carry over to the rib ring.
    let up = (v.axes[2] + Vector3::new(0.0, 0.0, 2.0)).normalize();
    let turned = v.turned[0] + v.axes[0];
    let right = (turned - up * turned.dot(&up)).normalize();
    let front = up.cross(&right);
    let head = v.at(side * 0.75, -0.8, 0.55);
    let drop = (55.0 + 6.0 * n.min(9) as f64) * size;
    (0..=36)
        .map(|i| {
            let phi = (from + (to - from) * f64::from(i) / 36.0).to_radians();
            let start = 8f64.to_radians();
            let x = a * (phi.sin() - start.sin()) + 2.0;
            let y =
                b * (start.cos() - phi.cos()) - 16.0 * size * (1.0 - (-4.0 * (phi - start)).exp());
            let z = -drop * (1.0 - phi.cos()) / 2.0 + 3.0 * size;
            head + right * (side * x) + front * y + up * z
        })
        .collect()
}

const UNIT: [Vector3<f64>; 3] = [
    Vector3::new(1.0, 0.0, 0.0),
    Vector3::new(0.0, 1.0, 0.0),
    Vector3::new(0.0, 0.0, 1.0),
];

pub(super) fn soft_tissue(canvas: &mut Canvas<'_>, spine: &[Vertebra], size: f64) {
    let at = |i: usize| spine[i].centre;
    let s = size;
    let mid = (at(6) + at(12)) / 2.0;
    let sag = Vector3::new(0.0, 62.0 * s, 0.0);
    let blob = |c: &mut Canvas<'_>, p: Vector3<f64>, h: [f64; 3], mu: f64| {
        c.ellipsoid(p, UNIT, Vector3::new(h[0], h[1], h[2]) * s, mu);
    };
    // Trunk: overlapping ellipsoids make a smooth torso; shoulders, neck, head, hips, arms.
    let high = at(0).z - at(18).z;
    blob(
        canvas,
        mid + sag - Vector3::new(0.0, 0.0, 30.0),
        [158.0, 108.0, 265.0],
        0.0125,
    );
    blob(canvas, at(15) + sag * 0.8, [150.0, 100.0, 215.0], 0.0095);
    blob(
        canvas,
        at(18) + sag * 0.7 - Vector3::new(0.0, 0.0, 60.0),
        [172.0, 110.0, 150.0],
        0.0085,
    );
    blob(
        canvas,
        at(2) + sag * 0.4 - Vector3::new(0.0, 0.0, 25.0),
        [185.0, 70.0, 75.0],
        0.0115,
    );
    blob(
        canvas,
        at(0) + Vector3::new(0.0, 25.0, 60.0) * s,
        [58.0, 58.0, 95.0],
        0.012,
    );
    blob(
        canvas,
        at(0) + Vector3::new(0.0, 45.0, 165.0) * s,
        [75.0, 95.0, 95.0],
        0.016,
    );
    for side in [-1.0, 1.0] {
        blob(
            canvas,
            at(5) + Vector3::new(side * 205.0, 20.0, -60.0) * s,
            [40.0, 42.0, 210.0],
            0.011,
        );
        blob(
            canvas,
            at(18) + Vector3::new(side * 85.0, 40.0, -210.0) * s,
            [78.0, 80.0, 210.0],
            0.010,
        );
        // Lungs take tissue away; the right diaphragm stands a little higher.
        let c = mid
            + Vector3::new(
                side * 74.0,
                55.0,
                42.0 + if side > 0.0 { 10.0 } else { 0.0 },
            ) * s;
        blob(canvas, c, [56.0, 76.0, 0.40 * high / s], -0.0128);
    }
    // Heart and mediastinum, liver, bowel gas.
    blob(
        canvas,
        mid + Vector3::new(-22.0, 92.0, -18.0) * s,
        [58.0, 48.0, 66.0],
        0.0085,
    );
    blob(
        canvas,
        mid + Vector3::new(0.0, 60.0, 60.0) * s,
        [26.0, 40.0, 110.0],
        0.007,
    );
    blob(
        canvas,
        at(13) + Vector3::new(58.0, 72.0, 20.0) * s,
        [78.0, 70.0, 62.0],
        0.0035,
    );
    for (x, z, r) in [
        (-62.0, 25.0, 24.0),
        (-80.0, -45.0, 20.0),
        (48.0, -70.0, 22.0),
        (10.0, -95.0, 17.0),
        (72.0, -125.0, 19.0),
    ] {
        blob(
            canvas,
            at(14) + Vector3::new(x, 80.0, z) * s,
            [r, r * 0.9, r * 1.2],
            -0.011,
        );
    }
}

pub(super) fn ribs(canvas: &mut Canvas<'_>, spine: &[Vertebra], size: f64) {
    for (n, v) in spine.iter().enumerate().take(13).skip(1) {
        let to = if n == 12 {
            62.0
        } else if n == 11 {
            95.0
        } else {
            150.0
        };
        for side in [-1.0, 1.0] {
            let (r, i) = (5.2 * size, 3.9 * size);
            canvas.tube(&rib(v, n, side, size, 8.0, to), r, i, 0.055, 0.012);
        }
    }
    for side in [-1.0, 1.0] {
        let a = spine[2].centre + Vector3::new(side * 18.0, 105.0, 0.0) * size;
        let bow = |t: f64| {
            let x = side * 130.0 * t;
            a + Vector3::new(
                x,
                -75.0 * t + 18.0 * (3.0 * t).sin(),
                26.0 * t + 8.0 * (5.0 * t).sin(),
            ) * size
        };
        let clavicle: Vec<_> = (0..=20).map(|i| bow(f64::from(i) / 20.0)).collect();
        canvas.tube(&clavicle, 5.5 * size, 3.6 * size, 0.06, 0.015);
        let shoulder = clavicle[20];
        let humerus: Vec<_> = (0..=12)
            .map(|i| shoulder + Vector3::new(side * 22.0, 5.0, -14.0 - 20.0 * f64::from(i)) * size)
            .collect();
        canvas.ellipsoid(
            humerus[0],
            UNIT,
            Vector3::new(20.0, 20.0, 20.0) * size,
            0.022,
        );
        canvas.tube(&humerus, 10.0 * size, 6.5 * size, 0.06, 0.01);
        // Border of the shoulder blade.
        let blade: Vec<_> = (0..=10)
            .map(|i| {
                shoulder
                    + Vector3::new(
                        -side * (28.0 + 3.0 * f64::from(i)),
                        -22.0,
                        -10.0 - 9.0 * f64::from(i),
                    ) * size
            })
            .collect();
        canvas.tube(&blade, 3.2 * size, 1.0, 0.03, 0.02);
    }
}

pub(super) fn bones(canvas: &mut Canvas<'_>, spine: &[Vertebra], patient: &Patient) {
    let s = patient.size;
    for v in spine.iter().filter(|v| v.level != Level::S1) {
        canvas.body(v, 1.0);
        let [right, front] = v.turned;
        let up = v.axes[2];
        let back = v.centre - front * v.half.y;
        for side in [-1.0, 1.0] {
            let pedicle = back + right * (side * v.half.x * 0.56) + up * (v.half.z * 0.25)
                - front * (4.0 * s);
            let rim: Vec<_> = (0..=16)
                .map(|i| {
                    let (sn, c) = (f64::from(i) * std::f64::consts::TAU / 16.0).sin_cos();
                    pedicle + right * (2.7 * s * c) + up * (4.3 * s * sn)
                })
                .collect();
            canvas.tube(&rim, 1.3 * s, 0.2, 0.075, 0.0);
            let tp = pedicle + right * (side * v.half.x * 0.9) - front * (9.0 * s) + up * (2.0 * s);
            canvas.tube(
                &[pedicle, (pedicle + tp) / 2.0, tp],
                3.6 * s,
                2.6 * s,
                0.04,
                0.01,
            );
            let facet = pedicle - front * (8.0 * s) + up * (v.half.z * 0.8);
            canvas.ellipsoid(
                facet,
                [right, front, up],
                Vector3::new(3.5, 4.5, 7.0) * s,
                0.03,
            );
        }
        let spinous = back - front * (20.0 * s) - up * (5.0 * s);
        canvas.tube(
            &[
                back - front * (10.0 * s),
                spinous,
                spinous - front * (10.0 * s) - up * (6.0 * s),
            ],
            3.0 * s,
            1.8 * s,
            0.05,
            0.015,
        );
    }
    let sacrum = &spine[18];
    for (k, half) in [(0.0, 25.0), (-22.0, 21.0), (-42.0, 16.0), (-60.0, 11.0)] {
        let c = sacrum.centre + sacrum.axes[2] * (k * s) + Vector3::new(0.0, -0.25 * k, 0.0) * s;
        canvas.ellipsoid(c, sacrum.axes, Vector3::new(half, 14.0, 15.0) * s, 0.026);
    }
    for side in [-1.0, 1.0] {
        canvas.ellipsoid(
            sacrum.centre + Vector3::new(side * 34.0, -8.0, -8.0) * s,
            UNIT,
            Vector3::new(20.0, 11.0, 26.0) * s,
            0.018,
        );
        let wing = sacrum.centre + Vector3::new(side * 78.0, 22.0, 12.0) * s;
        let tilt = [
            Vector3::new(0.9, -0.35 * side, -0.2 * side).normalize(),
            Vector3::new(0.36 * side, 0.93, 0.0),
            UNIT[2],
        ];
        canvas.ellipsoid(wing, tilt, Vector3::new(44.0, 6.0, 50.0) * s, 0.03);
        let crest: Vec<_> = (0..=20)
            .map(|i| {
                let t = (f64::from(i) * 9.0 - 10.0).to_radians();
                wing + Vector3::new(side * 46.0 * t.cos(), 0.0, 52.0 * t.sin()) * s
            })
            .collect();
        canvas.tube(&crest, 3.4 * s, 2.0 * s, 0.06, 0.02);
        let head = hip(sacrum, side, s);
        canvas.ellipsoid(head, UNIT, Vector3::new(20.0, 20.0, 20.0) * s, 0.03);
        canvas.ellipsoid(head, UNIT, Vector3::new(18.0, 18.0, 18.0) * s, -0.012);
        let shaft: Vec<_> = [
            (0.0, 0.0),
            (28.0, -22.0),
            (48.0, -40.0),
            (52.0, -90.0),
            (50.0, -180.0),
        ]
        .iter()
        .map(|(x, z)| head + Vector3::new(side * x, 0.0, *z) * s)
        .collect();
        canvas.tube(&shaft, 13.0 * s, 9.0 * s, 0.05, 0.014);
        let pubis: Vec<_> = [
            (0.0, 0.0),
            (-30.0, -14.0),
            (-66.0, -26.0),
            (-58.0, -58.0),
            (-22.0, -62.0),
            (2.0, -30.0),
        ]
        .iter()
        .map(|(x, z)| head + Vector3::new(side * x, 14.0, *z) * s)
        .collect();
        canvas.tube(&pubis, 8.0 * s, 6.0 * s, 0.045, 0.012);
    }
    // Skull base and jaw.
    let skull = spine[0].centre + Vector3::new(0.0, 40.0, 170.0) * s;
    canvas.ellipsoid(skull, UNIT, Vector3::new(68.0, 88.0, 84.0) * s, 0.012);
    canvas.ellipsoid(skull, UNIT, Vector3::new(64.0, 84.0, 80.0) * s, -0.008);
    for k in 1..6 {
        let c = spine[0].centre + Vector3::new(0.0, 2.0 * f64::from(k), 16.5 * f64::from(k)) * s;
        canvas.ellipsoid(c, UNIT, Vector3::new(10.5, 8.5, 6.6) * s, 0.028);
    }
}

pub(super) fn hip(sacrum: &Vertebra, side: f64, s: f64) -> Vector3<f64> {
    sacrum.centre + Vector3::new(side * 82.0, 34.0, -82.0) * s
}

pub(super) fn metal(canvas: &mut Canvas<'_>, spine: &[Vertebra], patient: &Patient) {
    let s = patient.size;
    if let Some((first, last)) = patient.instrumented {
        for side in [-1.0, 1.0] {
            let place = |v: &Vertebra| {
                v.centre - v.turned[1] * (v.half.y + 16.0 * s)
                    + v.turned[0] * (side * v.half.x * 0.6)
            };
            let rod: Vec<_> = spine[first..=last].iter().map(place).collect();
            canvas.tube(&rod, 2.8, 0.1, 0.9, 0.9);
            for v in &spine[first..=last] {
                let head = place(v);
                let tip = v.centre
                    + v.turned[0] * (side * v.half.x * 0.35)
                    + v.turned[1] * (v.half.y * 0.4);
                canvas.tube(&[head, tip], 2.4, 0.1, 0.9, 0.9);
                canvas.ellipsoid(head, UNIT, Vector3::new(4.5, 5.0, 4.5), 0.9);
            }
        }
    }
    if patient.halo {
        let skull = spine[0].centre + Vector3::new(0.0, 40.0, 205.0) * s;
        let ring: Vec<_> = (0..=48)
            .map(|i| {
                let (sn, c) = (f64::from(i) * std::f64::consts::TAU / 48.0).sin_cos();
                skull + Vector3::new(95.0 * c, 112.0 * sn, 0.0) * s
            })
            .collect();
        canvas.tube(&ring, 4.0, 0.1, 0.6, 0.6);
        for i in [6, 18, 30, 42] {
            let p: Vector3<f64> = ring[i];
            canvas.tube(&[p, p + (skull - p) * 0.28], 2.2, 0.1, 0.7, 0.7);
        }
    }
}
