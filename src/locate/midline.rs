//! The spine's course on the film: its middle and half width, found between its two borders.
//!
//! A guide (rough middles, or a path over the film) is followed with a strip across it; the two
//! borders, bright inside and darker outside, are found as a pair along the whole strip at once.

use super::seen::Seen;
use nalgebra::Vector2;
use rayon::prelude::*;

/// Step along the course, mm.
pub(super) const ALONG: f64 = 2.0;
/// Step across, mm.
const ACROSS: f64 = 0.7;
/// How far the middle may lie from the guide at most, and the SD of that, mm.
const OFF: f64 = 14.0;
const OFF_SD: f64 = 8.0;
/// Reach of the two sides of a border, mm.
const SIDE: f64 = 2.5;
/// Half widths tried, as shares of the expected one.
const WIDTHS: [f64; 9] = [0.7, 0.77, 0.84, 0.92, 1.0, 1.08, 1.17, 1.27, 1.38];
/// SD of the middle's step against the guide, mm, and of the width's, in steps of the list.
const STEP_SD: f64 = 0.5;
const WIDTH_SD: f64 = 0.6;
/// Weight of a unit of evidence.
const TRUST: f64 = 1.2;
/// Both borders alike.
pub(super) const EVEN: Borders = Borders {
    weights: [1.0, 1.0],
    front: None,
};
/// Shares of a spine's front and back border on a lateral film.
const FRONT: f64 = 1.5;
const BACK: f64 = 0.5;
/// Where a further edge before the front border speaks against it, mm from it: before the spine lies plain
/// lung, while pedicles and bands that cross the bodies have the spine's own front before them.
const BEYOND: [f64; 2] = [3.0, 9.0];

/// A place of the course.
#[derive(Clone, Copy, Debug)]
pub(super) struct Place {
    /// Middle, mm of the film.
    pub(super) middle: Vector2<f64>,
    /// Direction toward the feet.
    pub(super) toward: Vector2<f64>,
    /// Half width, mm.
    pub(super) half: f64,
    /// Distance along the course from its first place, mm.
    pub(super) along: f64,
}

/// A line through points resampled at even steps with its directions, extended at both ends.
pub(super) fn resampled(points: &[Vector2<f64>], halves: &[f64], beyond: f64) -> Vec<Place> {
    let mut at = vec![0.0];
    for w in points.windows(2) {
        at.push(at[at.len() - 1] + (w[1] - w[0]).norm().max(1e-6));
    }
    let total = at[at.len() - 1];
    let n = ((total + 2.0 * beyond) / ALONG).ceil() as usize + 1;
    let place = |s: f64| -> (Vector2<f64>, f64) {
        let k = at.partition_point(|a| *a <= s).clamp(1, at.len() - 1);
        let t = (s - at[k - 1]) / (at[k] - at[k - 1]);
        let half = halves[k - 1] + (halves[k] - halves[k - 1]) * t.clamp(0.0, 1.0);
        (points[k - 1] + (points[k] - points[k - 1]) * t, half)
    };
    (0..n)
        .map(|i| {
            let s = i as f64 * ALONG - beyond;
            let (middle, half) = place(s);
            // Beyond an end as at that end.
            let near = s.clamp(0.0, total);
            let toward = place(near + 5.0).0 - place(near - 5.0).0;
            Place {
                middle,
                toward: toward.normalize(),
                half,
                along: s + beyond,
            }
        })
        .collect()
}

/// Border strength at each place across a strip's row: how much brighter the right side is.
fn row(film: Seen<'_>, p: &Place, n: usize) -> Vec<f32> {
    let across = Vector2::new(p.toward.y, -p.toward.x);
    let (mut grey, mut line) = (vec![0f32; n], vec![0f32; n]);
    let first = p.middle - across * ((n / 2) as f64 * ACROSS);
    for a in [-1.5, 0.0, 1.5] {
        film.greys(first + p.toward * a, across * ACROSS, &mut line);
        grey.iter_mut().zip(&line).for_each(|(g, v)| *g += v / 3.0);
    }
    let reach = (SIDE / ACROSS).round() as usize;
    let mut out = vec![0f32; n];
    for k in reach..n - reach {
        let right: f32 = grey[k..k + reach].iter().sum();
        let left: f32 = grey[k - reach..k].iter().sum();
        out[k] = (right - left) / reach as f32;
    }
    let mut size: Vec<f32> = out.iter().map(|v| v.abs()).collect();
    let (_, scale, _) = size.select_nth_unstable_by(n * 7 / 10, f32::total_cmp);
    let scale = scale.max(1e-6);
    out.iter_mut()
        .for_each(|v| *v = (*v / scale).clamp(-2.0, 2.0));
    out
}

/// How the left and the right border, head up, are weighed, and which of them is a lateral film's front.
#[derive(Clone, Copy, Debug)]
pub(super) struct Borders {
    weights: [f64; 2],
    front: Option<usize>,
}

/// The borders of a view. On a lateral film the front stands against the lung; the back lies under
/// pedicles and ribs. `hand` is +1 when a plate's first end lies on the left.
pub(super) fn borders(lateral: bool, hand: f64) -> Borders {
    let front = usize::from(hand > 0.0);
    let mut weights = [BACK; 2];
    weights[front] = FRONT;
    if lateral {
        Borders {
            weights,
            front: Some(front),
        }
    } else {
        EVEN
    }
}

/// A row's strength as each of the two borders, + where it is one.
fn sides(row: &[f32], front: Option<usize>) -> [Vec<f32>; 2] {
    let mut out = [row.to_vec(), row.iter().map(|v| -v).collect()];
    if let Some(front) = front {
        let [from, to] = BEYOND.map(|mm| (mm / ACROSS) as usize);
        let own = out[front].clone();
        for (k, strength) in out[front].iter_mut().enumerate() {
            let before = if front == 1 {
                (k + from).min(own.len())..(k + to).min(own.len())
            } else {
                k.saturating_sub(to)..k.saturating_sub(from)
            };
            *strength -= own[before].iter().copied().fold(0.0, f32::max);
        }
    }
    out
}

/// The course near a guide by its borders, up to [`OFF`] mm from it.
pub(super) fn trace(film: Seen<'_>, guide: &[Place], by: Borders) -> Vec<Place> {
    let offsets = 2 * (OFF / ACROSS) as usize + 1;
    let widest = guide.iter().map(|g| g.half).fold(0.0, f64::max) * WIDTHS[WIDTHS.len() - 1];
    let n = 2 * ((OFF + widest + SIDE + 1.0) / ACROSS) as usize + 3;
    let states = offsets * WIDTHS.len();
    let off = |k: usize| (k as f64 - (offsets / 2) as f64) * ACROSS;
    let own: Vec<Vec<f64>> = guide
        .par_iter()
        .map(|p| {
            let [left, right] = sides(&row(film, p, n), by.front);
            let at = |border: &[f32], t: f64| {
                let k = (t / ACROSS + (n / 2) as f64).clamp(0.0, (n - 2) as f64);
                let (i, f) = (k as usize, k.fract() as f32);
                f64::from(border[i] + (border[i + 1] - border[i]) * f)
            };
            let mut out = vec![0.0; states];
            for o in 0..offsets {
                for (w, share) in WIDTHS.iter().enumerate() {
                    let half = share * p.half;
                    let pair = by.weights[0] * at(&left, off(o) - half)
                        + by.weights[1] * at(&right, off(o) + half);
                    let prior = ((share - 1.0) / 0.2).powi(2) + (off(o) / OFF_SD).powi(2);
                    out[o * WIDTHS.len() + w] = (TRUST * pair - 0.5 * prior).exp();
                }
            }
            out
        })
        .collect();
    let kernel = |sd: f64, d: f64| (-0.5 * (d / sd).powi(2)).exp() + 1e-4;
    let m = WIDTHS.len();
    let reach = (3.5 * STEP_SD / ACROSS).ceil() as usize;
    let beside: Vec<f64> = (0..=reach)
        .map(|k| kernel(STEP_SD, k as f64 * ACROSS))
        .collect();
    let wider: Vec<f64> = (0..m).map(|k| kernel(WIDTH_SD, k as f64)).collect();
    let pass = |from: &[f64]| -> Vec<f64> {
        let mut half = vec![0.0; states];
        for (to, half) in half.chunks_exact_mut(m).enumerate() {
            for o in to.saturating_sub(reach)..(to + reach + 1).min(offsets) {
                let w = beside[to.abs_diff(o)];
                let from = &from[o * m..(o + 1) * m];
                half.iter_mut().zip(from).for_each(|(h, f)| *h += w * f);
            }
        }
        let mut out = vec![0.0; states];
        for (out, half) in out.chunks_exact_mut(m).zip(half.chunks_exact(m)) {
            for (to, out) in out.iter_mut().enumerate() {
                *out = (0..m).map(|k| wider[to.abs_diff(k)] * half[k]).sum();
            }
        }
        let top = out.iter().copied().fold(0.0, f64::max).max(1e-300);
        out.iter_mut().for_each(|v| *v = (*v / top).max(1e-12));
        out
    };
    let count = guide.len();
    let times =
        |a: &[f64], b: &[f64]| -> Vec<f64> { a.iter().zip(b).map(|(x, y)| x * y).collect() };
    let (mut down, mut up) = (
        vec![vec![1.0; states]; count],
        vec![vec![1.0; states]; count],
    );
    rayon::join(
        || (1..count).for_each(|i| down[i] = pass(&times(&own[i - 1], &down[i - 1]))),
        || {
            for i in (0..count.saturating_sub(1)).rev() {
                up[i] = pass(&times(&own[i + 1], &up[i + 1]));
            }
        },
    );
    let mut out: Vec<Place> = guide
        .iter()
        .enumerate()
        .map(|(i, p)| {
            let (mut sum, mut at, mut half) = (0.0, 0.0, 0.0);
            for o in 0..offsets {
                for (w, share) in WIDTHS.iter().enumerate() {
                    let k = o * WIDTHS.len() + w;
                    let weight = own[i][k] * down[i][k] * up[i][k];
                    sum += weight;
                    at += weight * off(o);
                    half += weight * share * p.half;
                }
            }
            let across = Vector2::new(p.toward.y, -p.toward.x);
            Place {
                middle: p.middle + across * (at / sum),
                half: half / sum,
                ..*p
            }
        })
        .collect();
    straighten(&mut out);
    out
}

/// Smooths the middles over about a vertebra's height and takes the directions from them.
pub(super) fn straighten(places: &mut [Place]) {
    const REACH: isize = 5;
    let n = places.len() as isize;
    let middles: Vec<Vector2<f64>> = places.iter().map(|p| p.middle).collect();
    let mut smooth = middles.clone();
    for i in 0..n {
        // A parabola's own smoothing: the mean corrected for its curvature would shrink a bend, so
        // a quadratic is fitted; the two places at each end stay.
        let reach = REACH.min(i).min(n - 1 - i);
        if reach < 2 {
            continue;
        }
        let (mut s0, mut s2, mut s4) = (0.0, 0.0, 0.0);
        let (mut t0, mut t2) = (Vector2::zeros(), Vector2::zeros());
        for k in -reach..=reach {
            let x2 = (k * k) as f64;
            let p = middles[(i + k) as usize];
            s0 += 1.0;
            s2 += x2;
            s4 += x2 * x2;
            t0 += p;
            t2 += p * x2;
        }
        smooth[i as usize] = (t0 * s4 - t2 * s2) / (s0 * s4 - s2 * s2);
    }
    let mut along = 0.0;
    for i in 0..places.len() {
        places[i].middle = smooth[i];
        let (a, b) = (i.saturating_sub(3), (i + 3).min(places.len() - 1));
        let d = smooth[b] - smooth[a];
        if d.norm() > 1e-6 {
            places[i].toward = d.normalize();
        }
        if i > 0 {
            along += (smooth[i] - smooth[i - 1]).norm();
        }
        places[i].along = along;
    }
}

/// The middle at a distance along the course, and the direction toward the feet there.
pub(super) fn place_at(course: &[Place], along: f64) -> (Vector2<f64>, Vector2<f64>) {
    let k = course
        .partition_point(|c| c.along <= along)
        .clamp(1, course.len() - 1);
    let (a, b) = (&course[k - 1], &course[k]);
    let t = (along - a.along) / (b.along - a.along).max(1e-6);
    let toward = (a.toward + (b.toward - a.toward) * t.clamp(0.0, 1.0)).normalize();
    (a.middle + (b.middle - a.middle) * t, toward)
}

/// The place of the course nearest to a point.
pub(super) fn nearest(course: &[Place], p: Vector2<f64>) -> Option<Place> {
    let (i, _) = course
        .iter()
        .map(|c| (c.middle - p).norm_squared())
        .enumerate()
        .min_by(|a, b| a.1.total_cmp(&b.1))?;
    let at = course[i];
    // Along its own direction to the foot of the point.
    let by = (p - at.middle).dot(&at.toward).clamp(-ALONG, ALONG);
    Some(Place {
        middle: at.middle + at.toward * by,
        along: at.along + by,
        ..at
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rising at one place as a back border does, falling at two others as a band's edge and, fainter, the
    /// front of the spine.
    fn across() -> Vec<f32> {
        let mut row = vec![0f32; 60];
        (row[10], row[30], row[38]) = (2.0, -2.0, -1.3);
        row
    }

    fn strongest(side: &[f32]) -> usize {
        (0..side.len()).fold(0, |best, k| if side[k] > side[best] { k } else { best })
    }

    #[test]
    fn the_front_border_is_the_one_before_which_nothing_follows() {
        let [back, front] = sides(&across(), Some(1));
        assert_eq!((strongest(&back), strongest(&front)), (10, 38));
        assert_eq!(strongest(&sides(&across(), None)[1]), 30);
        // Hung the other way, the same from the other side.
        let turned: Vec<f32> = across().iter().rev().map(|v| -v).collect();
        let [front, back] = sides(&turned, Some(0));
        assert_eq!((strongest(&back), strongest(&front)), (49, 21));
    }
}
