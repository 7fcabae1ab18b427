//! Attenuation along the rays of closed surfaces.
//!
//! Each triangle of a closed surface adds its distance from the source times the attenuation
//! coefficient, positive where the ray leaves the solid and negative where it enters; the sum is
//! the exact length of the ray inside, concave solids included.

use super::beam::Beam;
use nalgebra::Vector3;
use rayon::prelude::*;

/// A closed ring of points; rings in order make a solid.
pub(super) type Ring = Vec<Vector3<f64>>;

/// Sub-pixel grid of the rasteriser: whole numbers make neighbouring triangles meet without gaps.
const GRID: f64 = 256.0;

struct Triangle {
    x: [i64; 3],
    y: [i64; 3],
    /// Distance from the source less the solid's own, times the coefficient.
    value: [f32; 3],
}

/// Surfaces gathered for one film.
pub(super) struct Scene<'b> {
    beam: &'b Beam,
    triangles: Vec<Triangle>,
}

impl<'b> Scene<'b> {
    pub(super) fn new(beam: &'b Beam) -> Scene<'b> {
        Scene {
            beam,
            triangles: Vec::new(),
        }
    }

    /// A solid of rings of equal length, closed at both ends, of coefficient `mu` per mm; a
    /// negative one takes away from what surrounds it.
    pub(super) fn solid(&mut self, rings: &[Ring], mu: f64) {
        let (Some(first), Some(last)) = (rings.first(), rings.last()) else {
            return;
        };
        let n = first.len();
        let source = self.beam.source();
        let middle = |r: &Ring| r.iter().sum::<Vector3<f64>>() / r.len() as f64;
        let ends = [middle(first), middle(last)];
        let own = ((ends[0] + ends[1]) / 2.0 - source).norm();
        let place = |p: &Vector3<f64>| {
            let at = self.beam.project(*p);
            let grid = |v: f64| (v * GRID).round() as i64;
            (
                grid(at.x),
                grid(at.y),
                (((p - source).norm() - own) * mu) as f32,
            )
        };
        let placed: Vec<Vec<_>> = rings
            .iter()
            .map(|r| r.iter().map(place).collect())
            .collect();
        let caps = ends.map(|e| place(&e));
        let mut add = |a: (i64, i64, f32), b: (i64, i64, f32), c: (i64, i64, f32)| {
            self.triangles.push(Triangle {
                x: [a.0, b.0, c.0],
                y: [a.1, b.1, c.1],
                value: [a.2, b.2, c.2],
            });
        };
        for i in 0..n {
            let j = (i + 1) % n;
            add(caps[0], placed[0][j], placed[0][i]);
            let end = &placed[rings.len() - 1];
            add(caps[1], end[i], end[j]);
            for w in placed.windows(2) {
                add(w[0][i], w[0][j], w[1][i]);
                add(w[0][j], w[1][j], w[1][i]);
            }
        }
        // Whether rings run clockwise seen along the lofting decides which side is out; the volume tells.
        let mut volume = 0.0;
        let about = ends[0];
        for i in 0..n {
            let j = (i + 1) % n;
            let six = |a: Vector3<f64>, b: Vector3<f64>, c: Vector3<f64>| {
                (a - about).cross(&(b - about)).dot(&(c - about))
            };
            volume += six(ends[1], last[i], last[j]) + six(ends[0], first[j], first[i]);
            for w in rings.windows(2) {
                volume += six(w[0][i], w[0][j], w[1][i]) + six(w[0][j], w[1][j], w[1][i]);
            }
        }
        if volume < 0.0 {
            let count = n * 2 * rings.len();
            let from = self.triangles.len() - count;
            for t in &mut self.triangles[from..] {
                t.x.swap(1, 2);
                t.y.swap(1, 2);
                t.value.swap(1, 2);
            }
        }
    }

    /// An ellipsoid with half axes along `axes`.
    pub(super) fn ellipsoid(
        &mut self,
        centre: Vector3<f64>,
        axes: [Vector3<f64>; 3],
        half: Vector3<f64>,
        mu: f64,
    ) {
        let rings: Vec<Ring> = (0..=16)
            .map(|k| {
                let (s, c) = ((f64::from(k) / 16.0 - 0.5) * 3.1).sin_cos();
                let at = centre + axes[2] * (half.z * s);
                ellipse(at, axes[0] * (half.x * c), axes[1] * (half.y * c), 28)
            })
            .collect();
        self.solid(&rings, mu);
    }

    /// A round rod along points with a radius at each.
    pub(super) fn rod(&mut self, points: &[Vector3<f64>], radius: impl Fn(f64) -> f64, mu: f64) {
        self.strap(points, |t| (radius(t), radius(t)), mu);
    }

    /// A bar of elliptical section along points: the radii lie across and along the z axis.
    pub(super) fn strap(
        &mut self,
        points: &[Vector3<f64>],
        radii: impl Fn(f64) -> (f64, f64),
        mu: f64,
    ) {
        let last = points.len() - 1;
        let rings: Vec<Ring> = points
            .iter()
            .enumerate()
            .map(|(i, p)| {
                let along = (points[(i + 1).min(last)] - points[i.saturating_sub(1)]).normalize();
                let mut across = along.cross(&Vector3::z());
                if across.norm() < 0.2 {
                    across = along.cross(&Vector3::y());
                }
                let across = across.normalize();
                let (a, b) = radii(i as f64 / last as f64);
                ellipse(*p, across * a, across.cross(&along) * b, 14)
            })
            .collect();
        self.solid(&rings, mu);
    }

    /// Sums the attenuation over a film of `width` × `height` pixels.
    pub(super) fn attenuation(&self, width: usize, height: usize) -> Vec<f32> {
        let mut out = vec![0f32; width * height];
        let band = height.div_ceil(rayon::current_num_threads() * 4).max(1);
        out.par_chunks_mut(width * band)
            .enumerate()
            .for_each(|(k, rows)| {
                let (from, to) = (k * band, k * band + rows.len() / width);
                for t in &self.triangles {
                    t.add(rows, width, from, to);
                }
            });
        out
    }
}

impl Triangle {
    /// Adds the triangle's values on the rows `from..to`.
    fn add(&self, rows: &mut [f32], width: usize, from: usize, to: usize) {
        let [ax, bx, cx] = self.x;
        let [ay, by, cy] = self.y;
        let area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay);
        if area == 0 {
            return;
        }
        // Facing away from the source: the ray leaves. Screen y runs down.
        let sign = if area > 0 { 1.0 } else { -1.0f32 };
        let order = if area > 0 { [0, 1, 2] } else { [0, 2, 1] };
        let (x, y) = (order.map(|i| self.x[i]), order.map(|i| self.y[i]));
        let value = order.map(|i| self.value[i]);
        let grid = GRID as i64;
        let half = grid / 2;
        let first = |v: i64| (v - half + grid - 1).div_euclid(grid);
        let (top, bottom) = (*y.iter().min().unwrap_or(&0), *y.iter().max().unwrap_or(&0));
        let r0 = first(top).max(from as i64);
        let r1 = (bottom - half).div_euclid(grid).min(to as i64 - 1);
        let (left, right) = (*x.iter().min().unwrap_or(&0), *x.iter().max().unwrap_or(&0));
        let c0 = first(left).max(0);
        let c1 = (right - half).div_euclid(grid).min(width as i64 - 1);
        if r0 > r1 || c0 > c1 {
            return;
        }
        let inverse = 1.0 / area.abs() as f64;
        for row in r0..=r1 {
            let py = row * grid + half;
            // The span of pixel centres inside, edge by edge; a shared edge belongs to one side only.
            let (mut lo, mut hi) = (c0, c1);
            for i in 0..3 {
                let j = (i + 1) % 3;
                let (dx, dy) = (x[j] - x[i], y[j] - y[i]);
                let fixed = dx * (py - y[i]);
                let owned = dy < 0 || (dy == 0 && dx > 0);
                let need = if owned { 0 } else { 1 };
                // Inside where fixed − dy (px − x_i) ≥ need.
                let rest = fixed + dy * x[i] - need;
                match dy.signum() {
                    1 => hi = hi.min((rest.div_euclid(dy) - half).div_euclid(grid)),
                    -1 => {
                        let least = -(rest.div_euclid(-dy));
                        lo = lo.max(first(least));
                    }
                    _ if rest < 0 => hi = lo - 1,
                    _ => {}
                }
            }
            if lo > hi {
                continue;
            }
            let weight = |i: usize, px: i64| {
                let j = (i + 1) % 3;
                ((x[j] - x[i]) * (py - y[i]) - (y[j] - y[i]) * (px - x[i])) as f64 * inverse
            };
            let at = |px: i64| {
                weight(1, px) * f64::from(value[0])
                    + weight(2, px) * f64::from(value[1])
                    + weight(0, px) * f64::from(value[2])
            };
            let start = at(lo * grid + half);
            let step = at((lo + 1) * grid + half) - start;
            let line = (row as usize - from) * width;
            for (k, o) in rows[line + lo as usize..=line + hi as usize]
                .iter_mut()
                .enumerate()
            {
                *o += sign * (start + step * k as f64) as f32;
            }
        }
    }
}

/// An ellipse about `c` of half axes `a` and `b` in `n` points.
pub(super) fn ellipse(c: Vector3<f64>, a: Vector3<f64>, b: Vector3<f64>, n: usize) -> Ring {
    (0..n)
        .map(|i| {
            let (s, k) = (i as f64 * std::f64::consts::TAU / n as f64).sin_cos();
            c + a * k + b * s
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::phantom::Plane;
    use crate::units::FilmPx;

    /// The chord of a sphere of radius 30 at distance d is 2 √(30² − d²), whichever way it is lofted.
    #[test]
    fn a_sphere_attenuates_by_its_chord() {
        for plane in [Plane::Pa, Plane::Lateral] {
            let beam = Beam {
                plane,
                source_detector: 1e7,
                object_detector: 0.0,
                pixel: 0.5,
                centre: FilmPx::new(100.0, 100.0),
                height: 0.0,
                roll: 0.0,
            };
            for flip in [1.0, -1.0] {
                let mut scene = Scene::new(&beam);
                let rings: Vec<Ring> = (0..=160)
                    .map(|k| {
                        let (s, c) =
                            ((f64::from(k) / 160.0 - 0.5) * std::f64::consts::PI).sin_cos();
                        ellipse(
                            Vector3::new(0.0, 0.0, 30.0 * s * flip),
                            Vector3::new(30.0 * c, 0.0, 0.0),
                            Vector3::new(0.0, 30.0 * c, 0.0),
                            160,
                        )
                    })
                    .collect();
                scene.solid(&rings, 0.02);
                let sum = scene.attenuation(200, 200);
                for (x, y) in [(100, 100), (130, 100), (100, 60), (125, 130), (20, 20)] {
                    let d = (f64::from(x) + 0.5 - 100.0).hypot(f64::from(y) + 0.5 - 100.0) * 0.5;
                    let want = 0.02 * 2.0 * (900.0 - d * d).max(0.0).sqrt();
                    let got = f64::from(sum[y as usize * 200 + x as usize]);
                    assert!((got - want).abs() < 0.01, "{x},{y}: {got} for {want}");
                }
            }
        }
    }
}
