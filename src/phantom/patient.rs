//! A spine in three dimensions. Axes: x to the patient's right, y to the front, z up; mm.

use super::build::Build;
use crate::landmark::Level;
use nalgebra::Vector3;

/// Body width, depth, posterior height and disc below of an adult, by level (Panjabi 1991, 1992,
/// remembered; disc heights anchored on Fletcher 2015). C7 to S1.
const ADULT: [(f64, f64, f64, f64); 19] = [
    (22.6, 17.5, 12.8, 5.5),
    (26.2, 19.1, 14.1, 4.4),
    (26.2, 20.6, 15.6, 3.6),
    (25.3, 23.0, 15.7, 3.2),
    (25.3, 23.9, 16.2, 3.0),
    (26.0, 25.1, 16.2, 3.2),
    (27.2, 26.5, 17.4, 3.6),
    (28.5, 28.0, 18.2, 4.0),
    (30.0, 28.7, 18.7, 4.4),
    (31.8, 30.2, 19.3, 4.8),
    (33.7, 31.1, 20.2, 5.3),
    (37.0, 31.9, 21.3, 6.0),
    (40.6, 33.1, 22.7, 6.8),
    (42.3, 34.7, 23.8, 7.9),
    (44.1, 34.8, 24.3, 9.3),
    (46.1, 35.0, 23.8, 10.3),
    (48.1, 34.7, 24.1, 10.9),
    (48.4, 34.0, 22.9, 10.0),
    (50.0, 33.5, 30.0, 0.0),
];

/// The described patient.
#[derive(Clone, Debug, PartialEq)]
pub struct Patient {
    /// Linear size against an adult spine of 435 mm T1–S1; a nine-year-old is about 0.74.
    pub size: f64,
    /// Coronal tilt of each level from C7 to S1, degrees, + right end high.
    pub coronal: Vec<f64>,
    /// Sagittal tilt of each level from C7 to S1, degrees, + front end high.
    pub sagittal: Vec<f64>,
    /// Axial rotation of each level, degrees, + spinous process to the patient's right.
    pub rotation: Vec<f64>,
    /// Share of that rotation which the bodies take on with their plates; the parts behind have it whole. With
    /// none a lateral film's marks are the plates' sections with the sagittal plane, else their own ends.
    pub bodies_turn: f64,
    /// Wedging of each level's body, degrees: coronal, + taller at the right end, and sagittal, + taller
    /// in front. Its two plates lean by half of it each from the level's own tilt.
    pub wedge: Vec<[f64; 2]>,
    /// Height of the discs against a usual one's; traction opens them.
    pub discs: f64,
    /// Rods and screws from level index to level index (C7 = 0).
    pub instrumented: Option<(usize, usize)>,
    /// Halo ring on the skull.
    pub halo: bool,
    /// Pelvic obliquity, degrees, + left crest high.
    pub obliquity: f64,
    /// Bone density against a healthy child's, 1 as usual.
    pub density: f64,
    /// What differs between people in what a film shows of them.
    pub build: Build,
}

/// One vertebra placed in the patient.
#[derive(Clone, Debug)]
pub struct Vertebra {
    /// Level.
    pub level: Level,
    /// Middle of the body.
    pub centre: Vector3<f64>,
    /// Unit vectors: along the plates to their right ends, to their front ends, up.
    pub axes: [Vector3<f64>; 3],
    /// Right and front of the parts behind the body, which have the axial rotation whole.
    pub turned: [Vector3<f64>; 2],
    /// Right before any axial rotation.
    pub flat: Vector3<f64>,
    /// Half width, half depth, half height.
    pub half: Vector3<f64>,
    /// Slopes of the upper plate against the axes to the right and to the front; the lower plate has the
    /// opposite ones.
    pub slope: [f64; 2],
}

impl Vertebra {
    /// A point by its place in half sizes along right, front and up.
    #[must_use]
    pub fn at(&self, right: f64, front: f64, up: f64) -> Vector3<f64> {
        let (x, y) = (right * self.half.x, front * self.half.y);
        let height = self.half.z + x * self.slope[0] + y * self.slope[1];
        self.centre + self.axes[0] * x + self.axes[1] * y + self.axes[2] * (up * height)
    }

    /// Unit vector across the upper plate (`up` +1) or the lower one (−1), toward the head.
    #[must_use]
    pub fn normal(&self, up: f64) -> Vector3<f64> {
        let [right, front, axis] = self.axes;
        (axis - (right * self.slope[0] + front * self.slope[1]) * up).normalize()
    }
}

/// The levels of a patient, C7 to S1.
#[must_use]
pub fn levels() -> Vec<Level> {
    Level::all()
        .filter(|l| *l >= Level::C7)
        .filter(|l| l.is_usual())
        .collect()
}

impl Patient {
    /// A patient with a right thoracic main curve T5–T12 of `cobb` degrees, balancing curves above
    /// and below, and a kyphosis T5–T12 of `kyphosis` degrees.
    #[must_use]
    pub fn scoliosis(size: f64, cobb: f64, kyphosis: f64) -> Patient {
        // Index of T5 is 5, of T12 12, of S1 18. Tilts pass smoothly through the end vertebrae.
        let smooth = |t: f64| 0.5 - 0.5 * (std::f64::consts::PI * t.clamp(0.0, 1.0)).cos();
        let half = cobb / 2.0;
        let coronal = (0..19)
            .map(|i| {
                let x = i as f64;
                if x <= 5.0 {
                    half * smooth(x / 5.0)
                } else if x <= 12.0 {
                    half - cobb * smooth((x - 5.0) / 7.0)
                } else {
                    -half * (1.0 - smooth((x - 12.0) / 6.0))
                }
            })
            .collect();
        let sagittal = (0..19)
            .map(|i| {
                let x = i as f64;
                let (top, bottom, sacrum) = (-kyphosis * 0.55, kyphosis * 0.45, -38.0);
                if x <= 5.0 {
                    -15.0 + (top + 15.0) * smooth(x / 5.0)
                } else if x <= 12.0 {
                    top + (bottom - top) * smooth((x - 5.0) / 7.0)
                } else {
                    bottom + (sacrum - bottom) * smooth((x - 12.0) / 6.0)
                }
            })
            .collect();
        // Rotation follows the curve: spinous processes turn toward the concavity.
        let rotation = (0..19)
            .map(|i| {
                let x: f64 = (i as f64 - 8.5) / 3.5;
                -0.28 * cobb * (-x * x).exp()
            })
            .collect();
        Patient {
            size,
            coronal,
            sagittal,
            rotation,
            bodies_turn: 0.0,
            wedge: vec![[0.0; 2]; 19],
            discs: 1.0,
            instrumented: None,
            halo: false,
            obliquity: 0.0,
            density: 1.0,
            build: Build::default(),
        }
    }

    /// The same patient with bodies that have taken on a share of the bend at their level, as they do in
    /// stiff curves; the discs keep the rest.
    #[must_use]
    pub fn wedged(mut self, share: f64) -> Patient {
        // C7 and the sacrum end the spine: their bend is not known.
        for i in 1..18 {
            let bend = |tilts: &[f64]| (tilts[i - 1] - tilts[i + 1]) / 2.0;
            self.wedge[i] = [share * bend(&self.coronal), share * bend(&self.sagittal)];
        }
        self
    }

    /// The same patient with the sides exchanged.
    #[must_use]
    pub fn mirrored(mut self) -> Patient {
        self.coronal.iter_mut().for_each(|a| *a = -*a);
        self.rotation.iter_mut().for_each(|a| *a = -*a);
        self.wedge.iter_mut().for_each(|w| w[0] = -w[0]);
        self.obliquity = -self.obliquity;
        self
    }

    /// Turns a direction or an offset in the pelvis by the pelvic obliquity.
    #[must_use]
    pub fn pelvic(&self, offset: Vector3<f64>) -> Vector3<f64> {
        // + left high: the right (x) end goes down.
        let (s, c) = self.obliquity.to_radians().sin_cos();
        Vector3::new(
            c * offset.x + s * offset.z,
            offset.y,
            c * offset.z - s * offset.x,
        )
    }

    /// The vertebrae, the middle of S1's upper plate at the origin.
    #[must_use]
    pub fn vertebrae(&self) -> Vec<Vertebra> {
        let mut out: Vec<Vertebra> = Vec::new();
        let mut top = Vector3::zeros();
        for (i, level) in levels().into_iter().enumerate().rev() {
            let (width, depth, height, _) = ADULT[i];
            // Children's bodies are wider for their height.
            let half = Vector3::new(
                width * self.size.powf(0.85),
                depth * self.size.powf(0.85),
                height * self.size,
            ) / 2.0;
            let (a, b) = (self.coronal[i].to_radians(), self.sagittal[i].to_radians());
            let up = Vector3::new(-a.tan(), -b.tan(), 1.0).normalize();
            let right = Vector3::new(1.0, 0.0, a.tan()).normalize();
            let front = up.cross(&right).normalize();
            let (s, c) = self.rotation[i].to_radians().sin_cos();
            let turned = [right * c + front * s, front * c - right * s];
            let (s, c) = (self.rotation[i] * self.bodies_turn).to_radians().sin_cos();
            let own = [right * c + front * s, front * c - right * s];
            let centre = if level == Level::S1 {
                top - up * half.z
            } else {
                top + up * half.z
            };
            if level != Level::S1 {
                top = centre + up * half.z;
            }
            // The disc above lies along the mean direction of its two bodies.
            if i > 0 {
                let disc = ADULT[i - 1].3 * self.size * self.discs;
                let next = Vector3::new(
                    -(self.coronal[i - 1].to_radians()).tan(),
                    -(self.sagittal[i - 1].to_radians()).tan(),
                    1.0,
                )
                .normalize();
                top += (up + next).normalize() * disc;
            }
            out.push(Vertebra {
                level,
                centre,
                axes: [own[0], own[1], up],
                turned,
                flat: right,
                half,
                slope: self.wedge[i].map(|w| (w / 2.0).to_radians().tan()),
            });
        }
        out.reverse();
        out
    }
}
