//! Lines of several points: rib midlines.

use super::Point;
use crate::units::Dual;

/// Samples taken along each line; the mean changes by less than 0.1 % beyond this on rib shapes.
const SAMPLES: usize = 48;

/// Mean distance of two lines over their common course, in plane units.
///
/// Each line is walked in equal steps; a step counts when the nearest place of the other line
/// lies inside that line rather than at an end it merely runs past. The mean is over the steps
/// of both lines. `None` where the lines share no course.
#[must_use]
pub fn mean_distance(a: &[Point], b: &[Point]) -> Option<Dual> {
    if a.len() < 2 || b.len() < 2 {
        return None;
    }
    let mut terms = Terms {
        sum: 0.0,
        count: 0,
        a: vec![(0.0, 0.0); a.len()],
        b: vec![(0.0, 0.0); b.len()],
    };
    walk(a, b, &mut terms, false);
    walk(b, a, &mut terms, true);
    if terms.count == 0 {
        return None;
    }
    let k = 1.0 / terms.count as f64;
    let gradient = Dual::weighted_sum(
        a.iter()
            .zip(&terms.a)
            .chain(b.iter().zip(&terms.b))
            .flat_map(|(p, g)| [(g.0 * k, &p.x), (g.1 * k, &p.y)]),
    );
    Some(Dual::with_gradient(
        terms.sum * k,
        gradient.gradient().to_vec(),
    ))
}

/// Sum of the distances and its derivatives by the lines' points.
struct Terms {
    sum: f64,
    count: usize,
    a: Vec<(f64, f64)>,
    b: Vec<(f64, f64)>,
}

fn walk(from: &[Point], to: &[Point], terms: &mut Terms, swapped: bool) {
    let lengths: Vec<f64> = from
        .windows(2)
        .map(|w| (w[1].position() - w[0].position()).length())
        .collect();
    let total: f64 = lengths.iter().sum();
    if total <= 0.0 {
        return;
    }
    for step in 0..SAMPLES {
        let mut rest = total * (step as f64 + 0.5) / SAMPLES as f64;
        let mut segment = 0;
        while segment + 1 < lengths.len() && rest > lengths[segment] {
            rest -= lengths[segment];
            segment += 1;
        }
        let t = if lengths[segment] > 0.0 {
            (rest / lengths[segment]).clamp(0.0, 1.0)
        } else {
            0.0
        };
        let (p0, p1) = (from[segment].position(), from[segment + 1].position());
        let here = (p0.x + t * (p1.x - p0.x), p0.y + t * (p1.y - p0.y));
        let Some((other, u, dx, dy, d)) = nearest(to, here) else {
            continue;
        };
        terms.sum += d;
        terms.count += 1;
        if d > 0.0 {
            // At the nearest place the distance does not change to first order along the other
            // line, so the weights may be held fixed.
            let (nx, ny) = (dx / d, dy / d);
            let (f, g) = if swapped {
                (&mut terms.b, &mut terms.a)
            } else {
                (&mut terms.a, &mut terms.b)
            };
            for (slot, w) in [(segment, 1.0 - t), (segment + 1, t)] {
                f[slot].0 += w * nx;
                f[slot].1 += w * ny;
            }
            for (slot, w) in [(other, 1.0 - u), (other + 1, u)] {
                g[slot].0 -= w * nx;
                g[slot].1 -= w * ny;
            }
        }
    }
}

/// Nearest place of a line: segment, position in it, vector from there to `at`, distance.
/// `None` when it is an end that `at` lies beyond.
fn nearest(line: &[Point], at: (f64, f64)) -> Option<(usize, f64, f64, f64, f64)> {
    let mut best: Option<(usize, f64, f64, f64, f64, bool)> = None;
    for (i, w) in line.windows(2).enumerate() {
        let (p, q) = (w[0].position(), w[1].position());
        let (sx, sy) = (q.x - p.x, q.y - p.y);
        let length2 = sx * sx + sy * sy;
        if length2 <= 0.0 {
            continue;
        }
        let free = ((at.0 - p.x) * sx + (at.1 - p.y) * sy) / length2;
        let u = free.clamp(0.0, 1.0);
        let (dx, dy) = (at.0 - p.x - u * sx, at.1 - p.y - u * sy);
        let d = dx.hypot(dy);
        let beyond = (i == 0 && free < -1e-9) || (i + 2 == line.len() && free > 1.0 + 1e-9);
        if best.is_none_or(|b| d < b.4) {
            best = Some((i, u, dx, dy, d, beyond));
        }
    }
    best.filter(|b| !b.5).map(|b| (b.0, b.1, b.2, b.3, b.4))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(points: &[(f64, f64)], first: u32) -> Vec<Point> {
        points
            .iter()
            .enumerate()
            .map(|(i, p)| Point {
                x: Dual::variable(p.0, first + 2 * i as u32),
                y: Dual::variable(p.1, first + 2 * i as u32 + 1),
            })
            .collect()
    }

    #[test]
    fn parallel_lines_are_their_distance_apart_over_the_common_course() {
        let a = line(&[(0.0, 0.0), (40.0, 0.0), (100.0, 0.0)], 0);
        let b = line(&[(30.0, 17.0), (160.0, 17.0)], 6);
        let d = mean_distance(&a, &b).unwrap_or_default();
        assert!((d.v - 17.0).abs() < 1e-12);
        // Moving the whole of one line up changes the distance by as much.
        let up: f64 = d
            .gradient()
            .iter()
            .filter(|g| g.0 >= 6 && g.0 % 2 == 1)
            .map(|g| g.1)
            .sum();
        assert!((up - 1.0).abs() < 1e-12);
        assert!(mean_distance(&a, &line(&[(120.0, 17.0), (160.0, 17.0)], 6)).is_none());
    }

    #[test]
    fn concentric_arcs_are_their_radii_apart() {
        let arc = |r: f64, first| {
            let points: Vec<(f64, f64)> = (0..=60)
                .map(|i| (f64::from(i) * 1.5).to_radians())
                .map(|t: f64| (r * t.cos(), r * t.sin()))
                .collect();
            line(&points, first)
        };
        let d = mean_distance(&arc(100.0, 0), &arc(120.0, 200)).unwrap_or_default();
        assert!((d.v - 20.0).abs() < 0.02, "{}", d.v);
    }
}
