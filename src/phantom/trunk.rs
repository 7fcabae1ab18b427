//! Skin, lungs, heart, gut: what lies round the bones.

use super::bones::{UNIT, arm, rib, rib_end};
use super::patient::{Patient, Vertebra};
use super::pelvis::hip;
use super::random::Random;
use super::render::{Ring, Scene};
use nalgebra::Vector3;

/// Coefficient of soft tissue per mm; the lungs take most of it away.
const SOFT: f64 = 0.0165;
const LUNG: f64 = -0.0128;

/// Extent of the ribs by height: right, left (patient's x), front, back.
pub(super) struct Cage {
    bottom: f64,
    step: f64,
    extent: Vec<[f64; 4]>,
}

impl Cage {
    /// The cage of a spine.
    pub(super) fn of(spine: &[Vertebra], s: f64) -> Cage {
        let points: Vec<Vector3<f64>> = (1..=12)
            .flat_map(|n| {
                [-1.0, 1.0]
                    .into_iter()
                    .flat_map(move |side| rib(spine, n, side, s, 8.0, rib_end(n)))
            })
            .collect();
        let range = |f: fn(f64, f64) -> f64, start: f64| points.iter().map(|p| p.z).fold(start, f);
        let (bottom, top) = (range(f64::min, f64::MAX), range(f64::max, f64::MIN));
        let step = 4.0 * s;
        let n = ((top - bottom) / step) as usize + 1;
        let raw: Vec<[f64; 4]> = (0..n)
            .map(|k| {
                let z = bottom + step * k as f64;
                let mut e = [f64::MIN, f64::MAX, f64::MIN, f64::MAX];
                for p in points.iter().filter(|p| (p.z - z).abs() < 14.0 * s) {
                    e = [e[0].max(p.x), e[1].min(p.x), e[2].max(p.y), e[3].min(p.y)];
                }
                e
            })
            .collect();
        let extent = (0..n)
            .map(|k| {
                let (a, b) = (k.saturating_sub(5), (k + 6).min(n));
                [0, 1, 2, 3].map(|i| raw[a..b].iter().map(|e| e[i]).sum::<f64>() / (b - a) as f64)
            })
            .collect();
        Cage {
            bottom,
            step,
            extent,
        }
    }

    fn at(&self, z: f64) -> [f64; 4] {
        let k = ((z - self.bottom) / self.step).clamp(0.0, self.extent.len() as f64 - 1.001);
        let (i, t) = (k as usize, k.fract());
        let (a, b) = (
            self.extent[i],
            self.extent[(i + 1).min(self.extent.len() - 1)],
        );
        [0, 1, 2, 3].map(|j| a[j] + (b[j] - a[j]) * t)
    }
}

/// The spine's middle at a height.
fn spine_at(spine: &[Vertebra], z: f64) -> Vector3<f64> {
    let k = spine
        .iter()
        .position(|v| v.centre.z < z)
        .unwrap_or(18)
        .max(1);
    let (a, b) = (spine[k - 1].centre, spine[k].centre);
    let t = ((a.z - z) / (a.z - b.z)).clamp(0.0, 1.0);
    a + (b - a) * t
}

/// A rounded cross-section between two edges in x and two in y.
fn section(z: f64, e: [f64; 4], n: usize) -> Ring {
    let (cx, cy) = ((e[0] + e[1]) / 2.0, (e[2] + e[3]) / 2.0);
    let (a, b) = ((e[0] - e[1]) / 2.0, (e[2] - e[3]) / 2.0);
    (0..n)
        .map(|i| {
            let (s, c) = (i as f64 * std::f64::consts::TAU / n as f64).sin_cos();
            let round = |v: f64| v.signum() * v.abs().powf(0.84);
            Vector3::new(cx + a * round(c), cy + b * round(s), z)
        })
        .collect()
}

fn smooth(t: f64) -> f64 {
    let t = t.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// Skin edges of the trunk at a height: right, left, front, back.
fn skin(spine: &[Vertebra], cage: &Cage, patient: &Patient, z: f64) -> [f64; 4] {
    let s = patient.size;
    let at = spine_at(spine, z.clamp(0.0, spine[0].centre.z));
    let (t1, t4, t10) = (spine[1].centre.z, spine[4].centre.z, spine[10].centre.z);
    let around = |c: Vector3<f64>, x: f64, front: f64, back: f64| {
        [c.x + x * s, c.x - x * s, c.y + front * s, c.y - back * s]
    };
    let mix = |a: [f64; 4], b: [f64; 4], t: f64| [0, 1, 2, 3].map(|i| a[i] + (b[i] - a[i]) * t);
    let neck = around(at + Vector3::new(0.0, 6.0 * s, 0.0), 50.0, 56.0, 48.0);
    let shoulders = around(at, 172.0, 84.0, 62.0);
    let mut chest = cage.at(z);
    chest = [
        chest[0] + 12.0 * s,
        chest[1] - 12.0 * s,
        chest[2].max(at.y + 70.0 * s) + 12.0 * s,
        (chest[3] - 12.0 * s).min(at.y - 52.0 * s),
    ];
    let belly = around(Vector3::new(at.x * 0.45, at.y, z), 122.0, 128.0, 58.0);
    let hips = around(
        Vector3::new(spine[18].centre.x, spine[18].centre.y, z),
        152.0,
        98.0,
        84.0,
    );
    let shoulder_top = t1 - 10.0 * s;
    if z > shoulder_top {
        let t = ((z - shoulder_top) / (52.0 * s)).clamp(0.0, 1.0);
        // Steep at the neck, falling away toward the shoulder.
        mix(shoulders, neck, 1.0 - (1.0 - t).powf(2.2))
    } else if z > t4 {
        mix(chest, shoulders, smooth((z - t4) / (shoulder_top - t4)))
    } else if z > t10 {
        chest
    } else if z > 62.0 * s {
        mix(belly, chest, smooth((z - 62.0 * s) / (t10 - 62.0 * s)))
    } else {
        mix(hips, belly, smooth((z + 90.0 * s) / (152.0 * s)))
    }
}

/// Everything soft.
pub(super) fn soft_tissue(
    scene: &mut Scene<'_>,
    spine: &[Vertebra],
    patient: &Patient,
    lateral: bool,
) {
    let s = patient.size;
    let cage = Cage::of(spine, s);
    let top = spine[0].centre.z + 128.0 * s;
    let end = -150.0 * s;
    // Trunk with neck; it thins out where the thighs begin so that no edge is seen.
    let rings: Vec<Ring> = (0..=110)
        .map(|k| {
            let z = top + (end - top) * f64::from(k) / 110.0;
            let mut e = skin(spine, &cage, patient, z);
            let thin = smooth((z - end) / (80.0 * s)).max(0.002);
            let along = if lateral { 0 } else { 2 };
            let (m, h) = (
                (e[along] + e[along + 1]) / 2.0,
                (e[along] - e[along + 1]) / 2.0,
            );
            e[along] = m + h * thin;
            e[along + 1] = m - h * thin;
            section(z, e, 56)
        })
        .collect();
    scene.solid(&rings, SOFT);
    for side in [-1.0, 1.0] {
        let hip = hip(spine, patient, side);
        let thigh: Vec<Ring> = (0..=40)
            .map(|k| {
                let z = -60.0 * s - 330.0 * s * f64::from(k) / 40.0;
                let full = smooth((-70.0 * s - z) / (80.0 * s)).max(0.002);
                let wide = (80.0 - 8.0 * f64::from(k) / 40.0) * s;
                let (deep, wide) = if lateral {
                    (88.0 * s, wide * full)
                } else {
                    (88.0 * s * full, wide)
                };
                let (x, y) = (hip.x + side * 2.0 * s, hip.y - 25.0 * s);
                section(z, [x + wide, x - wide, y + deep, y - deep], 40)
            })
            .collect();
        scene.solid(&thigh, SOFT);
        let line = arm(spine, side, s, lateral);
        let mut flesh = vec![
            line[0] + Vector3::new(-side * 44.0, 0.0, 12.0) * s,
            line[0] + Vector3::new(-side * 20.0, 0.0, 6.0) * s,
        ];
        flesh.extend(line.iter().skip(1));
        let girth = [
            8.0, 24.0, 36.0, 41.0, 42.0, 42.0, 41.0, 40.0, 39.0, 37.0, 36.0, 35.0, 34.0, 33.0,
        ];
        scene.rod(
            &flesh,
            |t| girth[((t * 13.0).round() as usize).min(13)] * s,
            0.85 * SOFT,
        );
        let elbow = line[12];
        let hand = elbow
            + if lateral {
                Vector3::new(-side * 60.0, 60.0, 190.0)
            } else {
                Vector3::new(side * 26.0, 40.0, -215.0)
            } * s;
        let fore: Vec<_> = (0..=10)
            .map(|i| elbow + (hand - elbow) * (f64::from(i) / 10.0))
            .collect();
        scene.rod(&fore, |t| (33.0 - 12.0 * t) * s, 0.85 * SOFT);
        for gap in [-9.0, 9.0] {
            let one: Vec<_> = fore
                .iter()
                .map(|p| {
                    p + Vector3::new(
                        if lateral { 0.0 } else { gap },
                        if lateral { gap } else { 0.0 },
                        0.0,
                    ) * s
                })
                .collect();
            scene.rod(&one, |_| 6.0 * s, 0.05);
            scene.rod(&one, |_| 3.5 * s, -0.04);
        }
        lung(scene, spine, &cage, patient, side);
    }
    let c7 = spine[0].centre;
    scene.ellipsoid(
        c7 + Vector3::new(0.0, 42.0, 160.0) * s,
        UNIT,
        Vector3::new(84.0, 102.0, 104.0) * s,
        0.9 * SOFT,
    );
    organs(scene, spine, &cage, patient);
}

/// The dome of a half of the diaphragm.
pub(super) fn dome(spine: &[Vertebra], cage: &Cage, side: f64, s: f64) -> Vector3<f64> {
    let z = spine[10].centre.z + if side > 0.0 { 8.0 } else { -2.0 } * s;
    let e = cage.at(z);
    let at = spine_at(spine, z);
    let lateral = if side > 0.0 { e[0] } else { e[1] };
    Vector3::new(
        (at.x + side * 20.0 * s + lateral) / 2.0,
        (e[2] + e[3]) / 2.0 + 8.0 * s,
        z,
    )
}

fn lung(scene: &mut Scene<'_>, spine: &[Vertebra], cage: &Cage, patient: &Patient, side: f64) {
    let (s, b) = (patient.size, &patient.build);
    let apex = spine[1].centre.z + 12.0 * s;
    let dome = dome(spine, cage, side, s);
    let base = dome.z - 46.0 * s;
    let edges = |z: f64, in_by: f64| {
        let e = cage.at(z);
        let at = spine_at(spine, z);
        let lateral = if side > 0.0 {
            e[0] - 4.0 * s
        } else {
            e[1] + 4.0 * s
        };
        let medial = at.x * 0.8 + 0.2 * (e[0] + e[1]) / 2.0 + side * (17.0 * s);
        // Never thinner than a finger, however far the spine has moved over.
        let medial = if side > 0.0 {
            medial.min(lateral - 22.0 * s)
        } else {
            medial.max(lateral + 22.0 * s)
        };
        let (a, b) = if side > 0.0 {
            (lateral, medial)
        } else {
            (medial, lateral)
        };
        let (front, back) = (e[2] - 8.0 * s, e[3] + 6.0 * s);
        let shrink = |p: f64, q: f64| {
            let (m, h) = ((p + q) / 2.0, (p - q) / 2.0 * in_by);
            (m + h, m - h)
        };
        let (x, y) = (shrink(a, b), shrink(front, back));
        [x.0, x.1, y.0, y.1]
    };
    let mut rings: Vec<Ring> = (0..=40)
        .map(|k| {
            let z = apex + (base - apex) * f64::from(k) / 40.0;
            let round = (((apex - z) / (52.0 * s)).clamp(0.003, 1.0)).sqrt();
            section(z, edges(z, round), 40)
        })
        .collect();
    for k in 1..=14 {
        let r = 1.0 - f64::from(k) / 14.2;
        let z = base + (dome.z - base) * (1.0 - r * r);
        let mut ring = section(z, edges(base, r), 40);
        let shift = (dome - ring.iter().sum::<Vector3<f64>>() / 40.0) * (1.0 - r);
        ring.iter_mut().for_each(|p| {
            p.x += shift.x;
            p.y += shift.y;
        });
        rings.push(ring);
    }
    scene.solid(&rings, LUNG * b.lung);
    // Vessels fan out from the root of the lung.
    let mut random = Random::new(if side > 0.0 { 71 } else { 72 });
    let z = spine[6].centre.z;
    let e = edges(z, 1.0);
    let medial = if side > 0.0 { e[1] } else { e[0] };
    let root = Vector3::new(medial + side * 6.0 * s, (e[2] + e[3]) / 2.0, z);
    for _ in 0..22 {
        let to_z = z + (base + 12.0 * s - z) * 1.0 + (apex - base - 30.0 * s) * random.uniform();
        let f = edges(to_z, 0.9);
        let end = Vector3::new(
            f[1] + (f[0] - f[1]) * (0.1 + 0.85 * random.uniform()),
            f[3] + (f[2] - f[3]) * (0.15 + 0.7 * random.uniform()),
            to_z,
        );
        let thick = 1.6 + 2.2 * random.uniform();
        let line: Vec<_> = (0..=8)
            .map(|i| {
                let t = f64::from(i) / 8.0;
                root + (end - root) * t
                    + Vector3::new(3.0, 2.0, 5.0) * (s * (t * 3.1).sin() * random.normal() * 0.5)
            })
            .collect();
        scene.rod(&line, |t| (thick * (1.0 - t) + 0.4) * s, -LUNG * b.vessels);
        let twig = line[4]
            + (end - root) * 0.35
            + Vector3::new(random.normal(), random.normal(), random.normal()) * (12.0 * s);
        scene.rod(
            &[line[4], (line[4] + twig) / 2.0, twig],
            |t| (0.5 * thick * (1.0 - t) + 0.3) * s,
            -LUNG,
        );
    }
}

/// Heart and great vessels (where they take the lungs' place), windpipe, gut gas.
fn organs(scene: &mut Scene<'_>, spine: &[Vertebra], cage: &Cage, patient: &Patient) {
    let (s, z) = (patient.size, spine[8].centre.z);
    let (e, at) = (cage.at(z), spine_at(spine, z));
    let x = at.x * 0.6 + 0.4 * (e[0] + e[1]) / 2.0;
    let tilt = [
        Vector3::new(0.86, -0.3, 0.42).normalize(),
        Vector3::new(0.33, 0.94, 0.0).normalize(),
        Vector3::new(-0.42, 0.0, 0.9).normalize(),
    ];
    scene.ellipsoid(
        Vector3::new(x - 20.0 * s, e[2] - 52.0 * s, z - 4.0 * s),
        tilt,
        Vector3::new(50.0, 38.0, 62.0) * s,
        0.0085 * patient.build.heart,
    );
    let aorta: Vec<_> = [
        (-2.0, 62.0, -1.0),
        (4.0, 60.0, 40.0),
        (-8.0, 40.0, 60.0),
        (-20.0, 18.0, 44.0),
        (-20.0, 10.0, 0.0),
        (-16.0, 10.0, -60.0),
    ]
    .iter()
    .map(|(a, b, c)| Vector3::new(at.x * 0.8 + a * s, at.y + b * s, spine[6].centre.z + c * s))
    .collect();
    scene.rod(&aorta, |_| 11.0 * s, 0.006);
    let pipe: Vec<_> = (0..=10)
        .map(|i| {
            let z = spine[0].centre.z
                + 60.0 * s
                + (spine[5].centre.z - spine[0].centre.z - 60.0 * s) * f64::from(i) / 10.0;
            spine_at(spine, z) + Vector3::new(4.0 * s, 34.0 * s, z - spine_at(spine, z).z)
        })
        .collect();
    scene.rod(&pipe, |_| 7.5 * s, -0.0145);
    let mut random = Random::new(5);
    let l2 = spine[14].centre;
    // Stomach bubble under the left dome, then loops of bowel.
    scene.ellipsoid(
        dome(spine, cage, -1.0, s) + Vector3::new(10.0, 14.0, -34.0) * s,
        UNIT,
        Vector3::new(34.0, 26.0, 20.0) * s,
        -0.012,
    );
    for k in 0..26 {
        let around = f64::from(k) / 26.0 * std::f64::consts::TAU;
        let r = (9.0 + 9.0 * random.uniform()) * s;
        let at = Vector3::new(
            l2.x * 0.4 + (88.0 * around.cos() + 12.0 * random.normal()) * s,
            l2.y + (62.0 + 14.0 * random.normal()) * s,
            l2.z + (-48.0 + 78.0 * around.sin() + 10.0 * random.normal()) * s,
        );
        scene.ellipsoid(
            at,
            UNIT,
            Vector3::new(
                r * (0.8 + 0.7 * random.uniform()),
                r,
                r * (0.7 + 0.4 * random.uniform()),
            ),
            -0.0105,
        );
    }
}
