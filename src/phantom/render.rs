//! Attenuation along the rays, primitive by primitive.

use super::beam::Beam;
use nalgebra::Vector3;

/// Attenuation summed along each ray (no unit).
pub(super) struct Canvas<'b> {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) data: Vec<f32>,
    pub(super) beam: &'b Beam,
}

impl<'b> Canvas<'b> {
    pub(super) fn new(width: usize, height: usize, beam: &'b Beam) -> Canvas<'b> {
        Canvas {
            width,
            height,
            data: vec![0.0; width * height],
            beam,
        }
    }

    fn each(&mut self, x: (f64, f64), y: (f64, f64), mut f: impl FnMut(f64, f64) -> f64) {
        let clip = |v: f64, n: usize| v.clamp(0.0, n as f64) as usize;
        let (x0, x1) = (clip(x.0.floor(), self.width), clip(x.1.ceil(), self.width));
        let (y0, y1) = (
            clip(y.0.floor(), self.height),
            clip(y.1.ceil(), self.height),
        );
        for row in y0..y1 {
            for column in x0..x1 {
                let add = f(column as f64 + 0.5, row as f64 + 0.5);
                self.data[row * self.width + column] += add as f32;
            }
        }
    }

    /// An ellipsoid with axes along `axes` scaled by `half`: chord length × `mu`.
    pub(super) fn ellipsoid(
        &mut self,
        centre: Vector3<f64>,
        axes: [Vector3<f64>; 3],
        half: Vector3<f64>,
        mu: f64,
    ) {
        let reach = half.max();
        let (_, _, depth) = self.beam.axes(centre);
        let m = self.beam.magnification(depth) / self.beam.pixel;
        let at = self.beam.project(centre);
        let beam = self.beam;
        let along = beam.direction();
        let k = axes.map(|a| a);
        let local = |v: Vector3<f64>| {
            Vector3::new(
                v.dot(&k[0]) / half.x,
                v.dot(&k[1]) / half.y,
                v.dot(&k[2]) / half.z,
            )
        };
        let d = local(along);
        let dd = d.dot(&d);
        let (h, v) = beam.screen();
        self.each(
            (at.x - reach * m, at.x + reach * m),
            (at.y - reach * m, at.y + reach * m),
            |x, y| {
                let p = local(h * ((x - at.x) / m) + v * ((at.y - y) / m));
                let b = p.dot(&d);
                let disc = b * b - dd * (p.dot(&p) - 1.0);
                if disc > 0.0 {
                    mu * 2.0 * disc.sqrt() / dd
                } else {
                    0.0
                }
            },
        );
    }

    /// A vertebral body: an elliptical cylinder with a waist, concave end-plates and cortex, by
    /// steps along the ray.
    pub(super) fn body(&mut self, v: &super::Vertebra, density: f64) {
        let reach = v.half.norm() * 1.15;
        let (_, _, depth) = self.beam.axes(v.centre);
        let m = self.beam.magnification(depth) / self.beam.pixel;
        let at = self.beam.project(v.centre);
        let along = self.beam.direction();
        let (h, w) = self.beam.screen();
        const STEPS: usize = 44;
        let step = 2.0 * reach / STEPS as f64;
        self.each(
            (at.x - reach * m, at.x + reach * m),
            (at.y - reach * m, at.y + reach * m),
            |x, y| {
                let p = h * ((x - at.x) / m) + w * ((at.y - y) / m);
                let mut sum = 0.0;
                for s in 0..STEPS {
                    let q = p + along * ((s as f64 + 0.5) * step - reach);
                    let (a, b, c) = (
                        q.dot(&v.axes[0]) / v.half.x,
                        q.dot(&v.axes[1]) / v.half.y,
                        q.dot(&v.axes[2]) / v.half.z,
                    );
                    // Waist of a tenth at mid height; a kidney-shaped back is left out.
                    let waist = 0.90 + 0.10 * c * c;
                    let r = (a * a + b * b).sqrt() / waist;
                    if r > 1.0 {
                        continue;
                    }
                    // Plates are concave by a tenth of the half height in the middle; the rim is flat.
                    let plate = 1.0 - 0.13 * (1.0 - (r / 0.85).powi(2)).max(0.0);
                    if c.abs() > plate {
                        continue;
                    }
                    let shell = (1.0 - r) * v.half.x.min(v.half.y) < 0.8
                        || (plate - c.abs()) * v.half.z < 0.9;
                    sum += if shell { 0.115 } else { 0.026 };
                }
                density * sum * step
            },
        );
    }

    /// A tube of radii `outer` and `inner` along points: cortex between, spongy bone within.
    pub(super) fn tube(
        &mut self,
        points: &[Vector3<f64>],
        outer: f64,
        inner: f64,
        mu: f64,
        within: f64,
    ) {
        let along = self.beam.direction();
        let places: Vec<_> = points
            .iter()
            .map(|p| {
                let (_, _, depth) = self.beam.axes(*p);
                (
                    self.beam.project(*p),
                    self.beam.magnification(depth) / self.beam.pixel,
                )
            })
            .collect();
        let reach = outer * places.iter().map(|p| p.1).fold(0.0, f64::max) + 1.0;
        let bound = |f: &dyn Fn(&(crate::units::FilmPx, f64)) -> f64| {
            places
                .iter()
                .map(f)
                .fold((f64::MAX, f64::MIN), |r, v| (r.0.min(v), r.1.max(v)))
        };
        let (x, y) = (bound(&|p| p.0.x), bound(&|p| p.0.y));
        // Seen along the tube the ray stays in it longer, up to a bound.
        let slant: Vec<f64> = points
            .windows(2)
            .map(|w| {
                let t = (w[1] - w[0]).normalize();
                1.0 / (1.0 - t.dot(&along).powi(2)).sqrt().max(0.3)
            })
            .collect();
        let mut best: Vec<(f64, usize)> = Vec::new();
        self.each(
            (x.0 - reach, x.1 + reach),
            (y.0 - reach, y.1 + reach),
            |px, py| {
                best.clear();
                // A rib may pass the ray twice, behind and in front: take each local nearest segment.
                for (i, w) in places.windows(2).enumerate() {
                    let (ax, ay) = (w[0].0.x, w[0].0.y);
                    let (dx, dy) = (w[1].0.x - ax, w[1].0.y - ay);
                    let t = (((px - ax) * dx + (py - ay) * dy) / (dx * dx + dy * dy).max(1e-9))
                        .clamp(0.0, 1.0);
                    let d = (px - ax - t * dx).hypot(py - ay - t * dy) / w[0].1;
                    if d < outer {
                        match best.last_mut() {
                            Some(last) if i - last.1 <= 2 => {
                                if d < last.0 {
                                    *last = (d, i);
                                } else {
                                    last.1 = i;
                                }
                            }
                            _ => best.push((d, i)),
                        }
                    }
                }
                best.iter()
                    .map(|(d, i)| {
                        let o = 2.0 * (outer * outer - d * d).max(0.0).sqrt();
                        let n = 2.0 * (inner * inner - d * d).max(0.0).sqrt();
                        slant[*i] * (mu * (o - n) + within * n)
                    })
                    .sum()
            },
        );
    }
}

impl Beam {
    /// Unit vector along the central ray, toward the source.
    pub(super) fn direction(&self) -> Vector3<f64> {
        match self.plane {
            super::Plane::Pa => Vector3::new(0.0, -1.0, 0.0),
            super::Plane::Lateral => Vector3::new(1.0, 0.0, 0.0),
        }
    }

    /// Unit vectors to the image's right and up.
    pub(super) fn screen(&self) -> (Vector3<f64>, Vector3<f64>) {
        let right = match self.plane {
            super::Plane::Pa => Vector3::new(1.0, 0.0, 0.0),
            super::Plane::Lateral => Vector3::new(0.0, 1.0, 0.0),
        };
        (right, Vector3::new(0.0, 0.0, 1.0))
    }
}
