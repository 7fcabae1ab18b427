//! The circle through rim points.

use super::Point;
use crate::units::Dual;

/// Centre of the circle through three or more rim points, least squares of the radial distances.
///
/// Solved by Gauss–Newton from the algebraic circle; the derivatives come from one last step
/// taken in duals at the solution. `None` for fewer than three points or points on a line.
#[must_use]
pub fn circle_centre(points: &[Point]) -> Option<Point> {
    if points.len() < 3 {
        return None;
    }
    let n = points.len() as f64;
    let (mx, my) = (
        points.iter().map(|p| p.x.v).sum::<f64>() / n,
        points.iter().map(|p| p.y.v).sum::<f64>() / n,
    );
    // Algebraic start: x² + y² = a x + b y + c about the mean, where c decouples.
    let (mut sxx, mut sxy, mut syy, mut sxr, mut syr) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for p in points {
        let (x, y) = (p.x.v - mx, p.y.v - my);
        let r = x * x + y * y;
        sxx += x * x;
        sxy += x * y;
        syy += y * y;
        sxr += x * r;
        syr += y * r;
    }
    let det = sxx * syy - sxy * sxy;
    if det.abs() <= 1e-9 * (sxx + syy).powi(2) {
        return None;
    }
    let (mut cx, mut cy) = (
        mx + (sxr * syy - syr * sxy) / (2.0 * det),
        my + (syr * sxx - sxr * sxy) / (2.0 * det),
    );
    for _ in 0..50 {
        let step = gauss_newton_step(points, cx, cy)?;
        cx += step.0.v;
        cy += step.1.v;
        if step.0.v.hypot(step.1.v) < 1e-12 * (1.0 + cx.abs() + cy.abs()) {
            break;
        }
    }
    let last = gauss_newton_step(points, cx, cy)?;
    Some(Point {
        x: last.0.offset(cx),
        y: last.1.offset(cy),
    })
}

/// One step of the centre toward the least-squares circle, from a fixed centre.
fn gauss_newton_step(points: &[Point], cx: f64, cy: f64) -> Option<(Dual, Dual)> {
    let n = points.len() as f64;
    let mut rays = Vec::with_capacity(points.len());
    for p in points {
        let (dx, dy) = (p.x.offset(-cx), p.y.offset(-cy));
        let r = dx.hypot(&dy);
        if r.v <= 0.0 {
            return None;
        }
        rays.push((&dx / &r, &dy / &r, r));
    }
    // Residual r_i − mean r; columns of the Jacobian are −(u_i − mean u).
    let k = 1.0 / n;
    let mu = Dual::weighted_sum(rays.iter().map(|q| (k, &q.0)));
    let mv = Dual::weighted_sum(rays.iter().map(|q| (k, &q.1)));
    let mr = Dual::weighted_sum(rays.iter().map(|q| (k, &q.2)));
    let zero = || Dual::constant(0.0);
    let (mut a, mut b, mut d, mut e, mut f) = (zero(), zero(), zero(), zero(), zero());
    for (u, v, r) in &rays {
        let (u, v, r) = (u - &mu, v - &mv, r - &mr);
        a = &a + &(&u * &u);
        b = &b + &(&u * &v);
        d = &d + &(&v * &v);
        e = &e + &(&u * &r);
        f = &f + &(&v * &r);
    }
    let det = &(&a * &d) - &(&b * &b);
    if det.v.abs() < 1e-14 {
        return None;
    }
    Some((
        &(&(&e * &d) - &(&f * &b)) / &det,
        &(&(&f * &a) - &(&e * &b)) / &det,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rim(cx: f64, cy: f64, r: f64, angles: &[f64]) -> Vec<Point> {
        angles
            .iter()
            .enumerate()
            .map(|(i, a)| Point {
                x: Dual::variable(cx + r * a.to_radians().cos(), 2 * i as u32),
                y: Dual::variable(cy + r * a.to_radians().sin(), 2 * i as u32 + 1),
            })
            .collect()
    }

    #[test]
    fn a_short_arc_still_gives_the_centre() {
        let c = circle_centre(&rim(12.0, -7.0, 21.0, &[80.0, 100.0, 120.0, 141.0]));
        assert!(c.is_some_and(|c| (c.x.v - 12.0).abs() < 1e-9 && (c.y.v + 7.0).abs() < 1e-9));
        assert!(circle_centre(&rim(0.0, 0.0, 5.0, &[10.0, 20.0])).is_none());
    }

    #[test]
    fn derivatives_agree_with_central_differences() {
        let mut points = rim(3.0, 4.0, 20.0, &[10.0, 70.0, 130.0, 200.0]);
        points[1].x.v += 0.4; // off the circle, so that residuals are not zero
        let c = circle_centre(&points);
        let h = 1e-5;
        for (variable, slope) in c
            .as_ref()
            .map(|c| c.x.gradient().to_vec())
            .unwrap_or_default()
        {
            let moved = |by: f64| {
                let mut q = points.clone();
                let p = &mut q[variable as usize / 2];
                if variable % 2 == 0 {
                    p.x.v += by
                } else {
                    p.y.v += by
                }
                circle_centre(&q).map_or(f64::NAN, |c| c.x.v)
            };
            let numeric = (moved(h) - moved(-h)) / (2.0 * h);
            assert!(
                (slope - numeric).abs() < 2e-2,
                "{variable}: {slope} against {numeric}"
            );
        }
        assert_eq!(c.map(|c| c.x.gradient().len()), Some(8));
    }
}
