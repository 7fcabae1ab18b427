//! Bones as closed surfaces: an outer one for the cortex and an inner one for what is spongy.

use super::build::Build;
use super::patient::{Patient, Vertebra};
use super::random::Random;
use super::render::{Ring, Scene, ellipse};
use nalgebra::Vector3;

/// Coefficients over soft tissue, per mm: cortex and spongy bone. Chosen by eye against real films.
const CORTEX: f64 = 0.080;
const SPONGY: f64 = 0.021;

/// The axes of the patient.
pub(super) const UNIT: [Vector3<f64>; 3] = [
    Vector3::new(1.0, 0.0, 0.0),
    Vector3::new(0.0, 1.0, 0.0),
    Vector3::new(0.0, 0.0, 1.0),
];

/// The surface of a vertebral body inset by `inset` mm: waisted, plates concave, back hollowed.
fn body_surface(v: &Vertebra, b: &Build, inset: f64) -> Vec<Ring> {
    let (side, end) = (inset / v.half.x.min(v.half.y), (0.75 * inset) / v.half.z);
    // Plates are concave by an eighth of the half height in the middle; the rim is flat.
    let plate = |r: f64| 1.0 - 0.13 * b.plate_hollow * (1.0 - (r / 0.85f64).powi(2)).max(0.0);
    let narrow = 0.115 * b.waist;
    let mut profile: Vec<(f64, f64)> = Vec::new();
    for r in [0.04, 0.3, 0.55, 0.75, 0.86, 0.985f64] {
        profile.push((r.min(0.985 - side), -(plate(r) - end)));
    }
    for c in [-0.93, -0.75, -0.4, 0.0, 0.4, 0.75, 0.93] {
        profile.push((
            1.015 - narrow + narrow * f64::abs(c).powi(2) - side,
            c * (1.0 - end),
        ));
    }
    for r in [0.985, 0.86, 0.75, 0.55, 0.3, 0.04f64] {
        profile.push((r.min(0.985 - side), plate(r) - end));
    }
    profile
        .into_iter()
        .map(|(r, c)| {
            (0..36)
                .map(|i| {
                    let (s, k) = (f64::from(i) * std::f64::consts::TAU / 36.0).sin_cos();
                    let hollow = if s < 0.0 {
                        1.0 - 0.16 * (-(k / 0.45).powi(2)).exp()
                    } else {
                        1.0
                    };
                    v.at(r * k, r * s * hollow, c)
                })
                .collect()
        })
        .collect()
}

/// A body alone.
pub(super) fn body(scene: &mut Scene<'_>, v: &Vertebra, b: &Build, density: f64) {
    let (shell, core) = (CORTEX * b.body_shell, SPONGY * b.body_core);
    scene.solid(&body_surface(v, b, 0.0), shell * density);
    scene.solid(
        &body_surface(v, b, 0.75 * b.body_wall),
        -(shell - core) * density,
    );
    if b.texture > 0.0 {
        let mut r = Random::new(v.centre.z.to_bits());
        let mut within = |most: f64| most * (2.0 * r.uniform() - 1.0);
        for _ in 0..14 {
            let at = v.at(within(0.75), within(0.75), within(0.8));
            let size = Vector3::new(3.0 + within(1.5), 3.0 + within(1.5), 3.0 + within(1.5));
            scene.ellipsoid(at, UNIT, size, b.texture * within(0.01));
        }
    }
}

/// A long bone along points: cortex `wall` mm thick.
fn bone(
    scene: &mut Scene<'_>,
    points: &[Vector3<f64>],
    radii: impl Fn(f64) -> (f64, f64),
    wall: f64,
    density: f64,
) {
    scene.strap(points, &radii, 0.8 * CORTEX * density);
    let inner = |t: f64| {
        let (a, b) = radii(t);
        ((a - wall).max(0.05), (b - wall).max(0.05))
    };
    scene.strap(points, inner, -(0.8 * CORTEX - 0.6 * SPONGY) * density);
}

/// The place of the middle of a pedicle.
pub(super) fn pedicle(v: &Vertebra, b: &Build, side: f64, s: f64) -> Vector3<f64> {
    v.centre - v.turned[1] * (v.half.y + 4.0 * s)
        + v.turned[0] * (side * v.half.x * (0.56 * b.pedicle_apart))
        + v.axes[2] * (v.half.z * (0.25 * b.pedicle_high))
}

/// Vertebra by vertebra: body, pedicles, processes, facets.
pub(super) fn vertebrae(scene: &mut Scene<'_>, spine: &[Vertebra], patient: &Patient) {
    let (s, d, b) = (patient.size, patient.density, &patient.build);
    for (i, v) in spine.iter().enumerate().take(18) {
        body(scene, v, b, d);
        let [right, front] = v.turned;
        let up = v.axes[2];
        let lumbar = i >= 13;
        for side in [-1.0, 1.0] {
            let mid = pedicle(v, b, side, s);
            let wide = v.half.x * 0.17 * b.pedicle_wide;
            let ring = |k: f64, scale: f64| {
                ellipse(
                    mid + front * (k * 5.0 * s),
                    right * (wide * scale),
                    up * (0.36 * v.half.z + 1.6 * s) * scale,
                    18,
                )
            };
            let shell = CORTEX * d * b.pedicle_dense;
            scene.solid(&[ring(-1.0, 1.0), ring(1.3, 1.0)], shell);
            let core = -(CORTEX - SPONGY) * d * b.pedicle_dense * b.pedicle_core;
            scene.solid(&[ring(-1.0, 0.62), ring(1.3, 0.62)], core);
            let back = mid - front * (6.0 * s);
            let out = if lumbar { 1.15 } else { 0.95 };
            let tip = back + right * (side * v.half.x * out)
                - front * (if lumbar { 2.0 } else { 11.0 } * s)
                + up * (3.0 * s);
            bone(
                scene,
                &[back, (back + tip) / 2.0, tip],
                |_| (3.0 * s * b.transverse_thick, 4.2 * s * b.transverse_thick),
                0.9,
                0.8 * d * b.transverse_dense,
            );
            let lamina = v.centre - front * (v.half.y + 19.0 * s) - up * (3.0 * s);
            bone(
                scene,
                &[back, (back + lamina) / 2.0 - up * s, lamina],
                |_| {
                    (
                        2.6 * s * b.lamina_thick,
                        (0.45 * v.half.z + 2.0 * s) * b.lamina_thick,
                    )
                },
                0.8,
                0.7 * d * b.lamina_dense,
            );
            for (h, y) in [(0.95, -3.0), (-1.0, -7.0)] {
                let facet = back + up * (v.half.z * h) + front * (y * s) + right * (side * 1.5 * s);
                scene.ellipsoid(
                    facet,
                    [right, front, up],
                    Vector3::new(3.6, 3.2, 6.5) * s,
                    0.032 * d * b.facet_dense,
                );
            }
        }
        let root = v.centre - front * (v.half.y + 17.0 * s) - up * (3.0 * s);
        let (length, fall) = if lumbar {
            (19.0, 4.0)
        } else {
            (17.0, 4.0 + 13.0 * (-((i as f64 - 7.0) / 4.0).powi(2)).exp())
        };
        let tip = root - front * (length * s * b.spinous_long) - up * (fall * s * b.spinous_fall);
        bone(
            scene,
            &[root, (root + tip) / 2.0, tip],
            |t| {
                (
                    (2.2 * s + t * s) * b.spinous_thick,
                    (4.0 + 2.5 * t) * s * b.spinous_thick,
                )
            },
            0.8,
            d * b.spinous_dense,
        );
    }
}

/// Half width of the rib cage by rib of a person of size 1, mm (from a CT's ribs, scaled).
const CAGE: [f64; 12] = [
    62.0, 84.0, 97.0, 104.0, 110.0, 113.0, 117.0, 121.0, 123.0, 122.0, 117.0, 100.0,
];

/// The midline of a rib from `from` to `to` degrees of its way round, in 36 steps.
pub(super) fn rib(
    spine: &[Vertebra],
    n: usize,
    side: f64,
    size: f64,
    from: f64,
    to: f64,
) -> Vec<Vector3<f64>> {
    let v = &spine[n];
    let (a, b) = (CAGE[n - 1] * size, (72.0 + 4.0 * n.min(8) as f64) * size);
    // Two fifths of the vertebra's tilt and half of its rotation carry over to the rib ring.
    let up = (v.axes[2] + Vector3::new(0.0, 0.0, 1.5)).normalize();
    let turned = v.turned[0] + v.flat;
    let right = (turned - up * turned.dot(&up)).normalize();
    let front = up.cross(&right);
    let head = v.at(side * 0.75, -0.8, 0.55);
    let drop = (55.0 + 6.0 * n.min(9) as f64) * size;
    // The fronts gather at a breast bone that follows the spine's offset by half.
    let offset = spine[n].centre.x - (spine[1].centre.x + spine[12].centre.x) / 2.0;
    (0..=36)
        .map(|i| {
            let degrees = from + (to - from) * f64::from(i) / 36.0;
            let phi = degrees.to_radians();
            let start = 8f64.to_radians();
            let x = a * (phi.sin() - start.sin()) + 2.0;
            let y =
                b * (start.cos() - phi.cos()) - 16.0 * size * (1.0 - (-4.0 * (phi - start)).exp());
            let z = -drop * (1.0 - phi.cos()) / 2.0 + 3.0 * size;
            let round = ((degrees - 20.0) / 110.0).clamp(0.0, 1.0);
            head + right * (side * x) + front * y + up * z
                - Vector3::new(0.5 * offset * round * round * (3.0 - 2.0 * round), 0.0, 0.0)
        })
        .collect()
}

/// How far round a rib is bony, degrees.
pub(super) fn rib_end(n: usize) -> f64 {
    match n {
        12 => 62.0,
        11 => 95.0,
        1 => 140.0,
        _ => 150.0,
    }
}

/// Ribs, collar bones, shoulder blades, upper arms.
pub(super) fn chest(scene: &mut Scene<'_>, spine: &[Vertebra], patient: &Patient, lateral: bool) {
    let (s, d, b) = (patient.size, patient.density, &patient.build);
    for n in 1..=12 {
        for side in [-1.0, 1.0] {
            let thick = b.rib_thick * if n == 1 { 1.25 } else { 1.0 };
            bone(
                scene,
                &rib(spine, n, side, s, 8.0, rib_end(n)),
                |t| {
                    (
                        2.9 * s * thick,
                        (5.4 - 0.8 * (2.0 * t - 0.8).abs()) * s * thick,
                    )
                },
                0.75 * s,
                0.85 * d * b.rib_dense,
            );
        }
    }
    for side in [-1.0, 1.0] {
        bone(
            scene,
            &clavicle(spine, side, s),
            |t| {
                (
                    (4.6 + 2.2 * (2.0 * t - 1.0).powi(2)) * s,
                    (4.6 + 1.2 * (2.0 * t - 1.0).powi(2)) * s,
                )
            },
            1.3 * s,
            0.9 * d,
        );
        let arm = arm(spine, side, s, lateral);
        scene.ellipsoid(arm[0], UNIT, Vector3::new(21.0, 21.0, 21.0) * s, 0.030 * d);
        scene.ellipsoid(arm[0], UNIT, Vector3::new(19.5, 19.5, 19.5) * s, -0.012 * d);
        bone(
            scene,
            &arm,
            |t| {
                (
                    (14.0 - 4.5 * (4.0 * t).min(1.0) + 5.0 * (6.0 * t - 5.0).max(0.0)) * s,
                    (14.0 - 4.5 * (4.0 * t).min(1.0)) * s,
                )
            },
            3.0 * s,
            0.8 * d,
        );
        // Shoulder blade: a thin sheet behind the upper ribs, a thick outer border, spine and coracoid.
        let top = clavicle(spine, side, s)[20];
        let glenoid = arm[0] - Vector3::new(side * 20.0, 4.0, 2.0) * s;
        let lower = glenoid - Vector3::new(side * 46.0, 34.0, 108.0) * s;
        let upper = glenoid + Vector3::new(-side * 82.0, -34.0, 16.0) * s;
        let inner = |t: f64| upper + (lower - upper) * t;
        let outer = |t: f64| glenoid + (lower - glenoid) * t;
        let sheet: Vec<Ring> = (0..=10)
            .map(|k| {
                let t = f64::from(k) / 10.0;
                let (a, b) = (inner(t), outer(t));
                ellipse(
                    (a + b) / 2.0,
                    (a - b) / 2.0 + Vector3::new(0.02, 0.0, 0.0),
                    Vector3::new(0.0, 1.6 * s, 0.0),
                    16,
                )
            })
            .collect();
        scene.solid(&sheet, 0.075 * d);
        bone(
            scene,
            &[outer(0.0), outer(0.5), outer(1.0)],
            |t| ((4.5 - 2.0 * t) * s, (5.5 - 2.5 * t) * s),
            1.0,
            0.7 * d,
        );
        bone(
            scene,
            &[
                inner(0.22),
                (inner(0.3) + top) / 2.0,
                top + Vector3::new(0.0, -9.0, 5.0) * s,
            ],
            |t| (3.0 * s, (4.0 + 3.0 * t) * s),
            1.0,
            0.6 * d,
        );
        scene.ellipsoid(glenoid, UNIT, Vector3::new(7.0, 8.0, 16.0) * s, 0.03 * d);
        scene.ellipsoid(
            coracoid(spine, side, s, lateral),
            UNIT,
            Vector3::new(6.0, 14.0, 5.5) * s,
            0.038 * d,
        );
    }
}

/// The midline of a collar bone from the breast bone out, 21 points.
pub(super) fn clavicle(spine: &[Vertebra], side: f64, s: f64) -> Vec<Vector3<f64>> {
    let tilt = (spine[1].axes[0].z * 0.35 + spine[2].axes[0].z * 0.15) * side;
    let x0 = spine[2].centre.x;
    let a = Vector3::new(
        x0,
        spine[2].centre.y + 88.0 * s,
        spine[2].centre.z - 6.0 * s,
    );
    (0..=20)
        .map(|i| {
            let t = f64::from(i) / 20.0;
            let reach = (16.0 + 146.0 * t) * s;
            a + Vector3::new(
                side * reach,
                (-86.0 * t + 16.0 * (3.0 * t).sin()) * s,
                (22.0 * t + 6.0 * (5.0 * t).sin()) * s + tilt * reach,
            )
        })
        .collect()
}

/// The upper arm from shoulder to elbow: hanging, or raised forward for a lateral film.
pub(super) fn arm(spine: &[Vertebra], side: f64, s: f64, lateral: bool) -> Vec<Vector3<f64>> {
    let top = clavicle(spine, side, s)[20] + Vector3::new(side * 14.0, -2.0, -22.0) * s;
    let way = if lateral {
        Vector3::new(side * -10.0, 205.0, -85.0)
    } else {
        Vector3::new(side * 48.0, 14.0, -235.0)
    };
    (0..=12)
        .map(|i| top + way * (s * f64::from(i) / 12.0))
        .collect()
}

/// The coracoid process.
pub(super) fn coracoid(spine: &[Vertebra], side: f64, s: f64, lateral: bool) -> Vector3<f64> {
    arm(spine, side, s, lateral)[0] + Vector3::new(-side * 24.0, 20.0, 12.0) * s
}
