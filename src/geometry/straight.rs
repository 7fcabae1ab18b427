//! A film laid out along a line: the line runs straight down, and what lies across it lies level.

use crate::units::FilmPx;

/// A place of the line and its direction, in columns.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Knot {
    at: (f64, f64),
    toward: (f64, f64),
}

/// The layout. Its own coordinates are `x` across the line, positive to the right when the line runs
/// down, and `y` along it from its start; both in columns of the film. Lengths along the line hold;
/// beside it they are stretched on the outer side of a bend and shortened on the inner one.
#[derive(Clone, Debug, PartialEq)]
pub struct Straight {
    knots: Vec<Knot>,
    /// Distance between knots, columns.
    step: f64,
    /// Height of a row in columns.
    aspect: f64,
}

/// Knots of a line.
const KNOTS: usize = 240;
/// SD of its smoothing, as a share of its length: about half a vertebra.
const SMOOTHING: f64 = 0.025;

impl Straight {
    /// The layout along points of the film in order, `aspect` columns to a row. None with fewer than
    /// four points or when all lie at one place.
    #[must_use]
    pub fn along(points: &[FilmPx], aspect: f64) -> Option<Straight> {
        let points: Vec<(f64, f64)> = points.iter().map(|p| (p.x, p.y * aspect)).collect();
        if points.len() < 4 {
            return None;
        }
        // Smoothing shortens bends, so the smooth line is measured anew.
        let (smooth, total) = evenly(&smoothed(&evenly(&points)?.0))?;
        let knots = (0..=KNOTS)
            .map(|i| {
                let (a, b) = (smooth[i.saturating_sub(1)], smooth[(i + 1).min(KNOTS)]);
                Knot {
                    at: smooth[i],
                    toward: unit((b.0 - a.0, b.1 - a.1)),
                }
            })
            .collect();
        Some(Straight {
            knots,
            step: total / KNOTS as f64,
            aspect,
        })
    }

    /// Length of the line, columns.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.step * (self.knots.len() - 1) as f64
    }

    fn knot(&self, along: f64) -> Knot {
        let last = self.knots.len() - 1;
        let k = along / self.step;
        if k <= 0.0 || k >= last as f64 {
            let (knot, over) = if k <= 0.0 {
                (self.knots[0], along)
            } else {
                (self.knots[last], along - self.length())
            };
            let (at, toward) = (knot.at, knot.toward);
            return Knot {
                at: (at.0 + toward.0 * over, at.1 + toward.1 * over),
                toward,
            };
        }
        let (i, t) = (k as usize, k.fract());
        let (a, b) = (&self.knots[i], &self.knots[i + 1]);
        Knot {
            at: between(a.at, b.at, t),
            toward: unit(between(a.toward, b.toward, t)),
        }
    }

    /// The film pixel at a place of the layout; exact.
    #[must_use]
    pub fn to_film(&self, p: FilmPx) -> FilmPx {
        let Knot { at, toward } = self.knot(p.y);
        FilmPx::new(at.0 + toward.1 * p.x, (at.1 - toward.0 * p.x) / self.aspect)
    }

    /// The place of the layout that shows a film pixel; where a bend shows it twice, the one nearer to
    /// the line. Inverse of [`Straight::to_film`].
    #[must_use]
    pub fn from_film(&self, p: FilmPx) -> FilmPx {
        let p = (p.x, p.y * self.aspect);
        let beyond = |along: f64| {
            let k = self.knot(along);
            (p.0 - k.at.0) * k.toward.0 + (p.1 - k.at.1) * k.toward.1
        };
        let across = |along: f64| {
            let k = self.knot(along);
            (p.0 - k.at.0) * k.toward.1 - (p.1 - k.at.1) * k.toward.0
        };
        let mut found: Vec<f64> = Vec::new();
        let (first, last) = (beyond(0.0), beyond(self.length()));
        if first <= 0.0 {
            found.push(first);
        }
        if last >= 0.0 {
            found.push(self.length() + last);
        }
        let mut before = first;
        for i in 1..self.knots.len() {
            let here = beyond(i as f64 * self.step);
            if before >= 0.0 && here <= 0.0 {
                let (mut a, mut b) = ((i - 1) as f64 * self.step, i as f64 * self.step);
                for _ in 0..50 {
                    let middle = (a + b) / 2.0;
                    if beyond(middle) >= 0.0 {
                        a = middle;
                    } else {
                        b = middle;
                    }
                }
                found.push((a + b) / 2.0);
            }
            before = here;
        }
        let along = found
            .into_iter()
            .min_by(|a, b| across(*a).abs().total_cmp(&across(*b).abs()))
            .unwrap_or(0.0);
        FilmPx::new(across(along), along)
    }
}

/// A line's points at even steps, and its length; none for a line shorter than a column.
fn evenly(points: &[(f64, f64)]) -> Option<(Vec<(f64, f64)>, f64)> {
    let mut at = vec![0.0];
    for w in points.windows(2) {
        at.push(at[at.len() - 1] + (w[1].0 - w[0].0).hypot(w[1].1 - w[0].1));
    }
    let total = *at.last()?;
    let even = (0..=KNOTS).map(|i| {
        let s = total * i as f64 / KNOTS as f64;
        let k = at.partition_point(|a| *a <= s).clamp(1, at.len() - 1);
        let t = (s - at[k - 1]) / (at[k] - at[k - 1]).max(1e-9);
        between(points[k - 1], points[k], t)
    });
    (total >= 1.0).then(|| (even.collect(), total))
}

fn between(a: (f64, f64), b: (f64, f64), t: f64) -> (f64, f64) {
    (a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t)
}

fn unit(v: (f64, f64)) -> (f64, f64) {
    let n = v.0.hypot(v.1).max(1e-12);
    (v.0 / n, v.1 / n)
}

/// Gaussian means; beyond its ends the line goes on as its own mirror through the end point, so that the
/// ends stay.
fn smoothed(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let last = points.len() as isize - 1;
    let at = |i: isize| {
        let mirrored = |end: (f64, f64), j: isize| {
            let p = points[j.clamp(0, last) as usize];
            (2.0 * end.0 - p.0, 2.0 * end.1 - p.1)
        };
        if i < 0 {
            mirrored(points[0], -i)
        } else if i > last {
            mirrored(points[last as usize], 2 * last - i)
        } else {
            points[i as usize]
        }
    };
    let sd = SMOOTHING * points.len() as f64;
    let reach = (3.0 * sd).ceil() as isize;
    (0..=last)
        .map(|i| {
            let (mut sum, mut x, mut y) = (0.0, 0.0, 0.0);
            for k in -reach..=reach {
                let w = (-0.5 * (k as f64 / sd).powi(2)).exp();
                let p = at(i + k);
                sum += w;
                x += w * p.0;
                y += w * p.1;
            }
            (x / sum, y / sum)
        })
        .collect()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn bent() -> Straight {
        // An S of 100° in all, on a film of rows twice as high as columns.
        let points: Vec<FilmPx> = (0..38)
            .map(|i| {
                let s = f64::from(i) / 37.0;
                FilmPx::new(
                    500.0 + 120.0 * (s * std::f64::consts::TAU).sin(),
                    200.0 + 450.0 * s,
                )
            })
            .collect();
        Straight::along(&points, 2.0).unwrap()
    }

    /// A mark made in the straightened view lands on the film, and is shown where it was made: to a
    /// millionth of a pixel, beside the line and beyond its ends.
    #[test]
    fn layout_and_film_are_inverse() {
        let s = bent();
        for across in [-70.0, -12.5, 0.0, 33.3, 70.0] {
            for along in [-80.0, 0.0, 111.1, 433.0, s.length(), s.length() + 60.0] {
                let p = FilmPx::new(across, along);
                let back = s.from_film(s.to_film(p));
                assert!(back.distance(p) < 1e-6, "{p:?} {back:?}");
            }
        }
    }

    /// What lies across the line lies level, and lengths along it hold within 2 %.
    #[test]
    fn the_line_runs_down_and_what_crosses_it_is_level() {
        let s = bent();
        let on = |along: f64| s.to_film(FilmPx::new(0.0, along));
        for along in [60.0, 250.0, 480.0, 700.0] {
            let (a, b) = (on(along), on(along + 20.0));
            let length = (b.x - a.x).hypot((b.y - a.y) * 2.0);
            assert!((length / 20.0 - 1.0).abs() < 0.02, "{length}");
            let (left, right) = (FilmPx::new(-20.0, along), FilmPx::new(20.0, along));
            let (l, r) = (s.to_film(left), s.to_film(right));
            let (dx, dy) = (r.x - l.x, (r.y - l.y) * 2.0);
            let (ex, ey) = (b.x - a.x, (b.y - a.y) * 2.0);
            let cosine = (dx * ex + dy * ey) / (dx.hypot(dy) * ex.hypot(ey));
            assert!(cosine.abs() < 0.06, "{cosine}");
        }
        assert!(Straight::along(&[FilmPx::new(1.0, 1.0); 9], 1.0).is_none());
    }
}
