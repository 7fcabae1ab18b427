//! Pictures that make end-plates easier to see. Nothing is measured on them that is not measured
//! on the film: positions stay.

use super::GreyPlane;
use rayon::prelude::*;

/// Mean over a square of `2 r + 1` pixels, by running sums; border repeated.
#[must_use]
pub fn box_mean(plane: &GreyPlane, r: usize) -> GreyPlane {
    let (w, h) = (plane.width, plane.height);
    let k = 1.0 / (2 * r + 1) as f32;
    let mut rows = vec![0.0f32; w * h];
    rows.par_chunks_mut(w)
        .zip(plane.data.par_chunks(w))
        .for_each(|(out, line)| {
            let at = |i: isize| line[i.clamp(0, w as isize - 1) as usize];
            let mut sum: f64 = (-(r as isize)..=r as isize).map(|i| f64::from(at(i))).sum();
            for (x, o) in out.iter_mut().enumerate() {
                *o = sum as f32 * k;
                sum += f64::from(at(x as isize + r as isize + 1))
                    - f64::from(at(x as isize - r as isize));
            }
        });
    let mut out = vec![0.0f32; w * h];
    // Columns in strips, so that each thread walks down rows that are contiguous in memory.
    let strip = 64;
    let strips: Vec<(usize, Vec<f32>)> = (0..w.div_ceil(strip))
        .into_par_iter()
        .map(|s| {
            let (x0, x1) = (s * strip, ((s + 1) * strip).min(w));
            let n = x1 - x0;
            let row = |y: isize| {
                let y = y.clamp(0, h as isize - 1) as usize;
                &rows[y * w + x0..y * w + x1]
            };
            let mut sum = vec![0.0f64; n];
            for y in -(r as isize)..=r as isize {
                sum.iter_mut()
                    .zip(row(y))
                    .for_each(|(s, v)| *s += f64::from(*v));
            }
            let mut part = vec![0.0f32; n * h];
            for y in 0..h {
                part[y * n..(y + 1) * n]
                    .iter_mut()
                    .zip(&sum)
                    .for_each(|(o, s)| *o = *s as f32 * k);
                let (add, drop) = (
                    row(y as isize + r as isize + 1),
                    row(y as isize - r as isize),
                );
                for i in 0..n {
                    sum[i] += f64::from(add[i]) - f64::from(drop[i]);
                }
            }
            (x0, part)
        })
        .collect();
    for (x0, part) in strips {
        let n = part.len() / h.max(1);
        for y in 0..h {
            out[y * w + x0..y * w + x0 + n].copy_from_slice(&part[y * n..(y + 1) * n]);
        }
    }
    GreyPlane {
        width: w,
        height: h,
        data: out,
    }
}

/// Local contrast: each value by how far it stands from the mean of its neighbourhood, in its
/// standard deviations, `radius` pixels about; 0 is the neighbourhood's mean, ±1 one deviation.
#[must_use]
pub fn local_contrast(plane: &GreyPlane, radius: usize) -> GreyPlane {
    let mean = box_mean(plane, radius);
    let squares = GreyPlane {
        width: plane.width,
        height: plane.height,
        data: plane
            .data
            .par_iter()
            .zip(&mean.data)
            .map(|(v, m)| (v - m) * (v - m))
            .collect(),
    };
    let variance = box_mean(&squares, radius);
    // A floor from the whole film keeps flat parts (air, collimation) from turning into noise.
    let floor = (squares.data.par_iter().map(|v| f64::from(*v)).sum::<f64>()
        / squares.data.len().max(1) as f64)
        .sqrt() as f32
        * 0.1;
    let data = plane
        .data
        .par_iter()
        .zip(&mean.data)
        .zip(&variance.data)
        // Running sums may leave a flat part a little less than nothing.
        .map(|((v, m), s)| (v - m) / (s.max(0.0).sqrt() + floor).max(f32::MIN_POSITIVE))
        .collect();
    GreyPlane {
        width: plane.width,
        height: plane.height,
        data,
    }
}

/// Edge emphasis: the film plus `gain` times what a mean over `radius` pixels leaves out.
#[must_use]
pub fn edge_emphasis(plane: &GreyPlane, radius: usize, gain: f32) -> GreyPlane {
    let mean = box_mean(plane, radius);
    let data = plane
        .data
        .par_iter()
        .zip(&mean.data)
        .map(|(v, m)| v + gain * (v - m))
        .collect();
    GreyPlane {
        width: plane.width,
        height: plane.height,
        data,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plane(width: usize, height: usize, f: impl Fn(usize, usize) -> f32) -> GreyPlane {
        GreyPlane {
            width,
            height,
            data: (0..width * height)
                .map(|i| f(i % width, i / width))
                .collect(),
        }
    }

    #[test]
    fn the_running_mean_is_the_mean() {
        let p = plane(70, 9, |x, y| (x * 3 + y * y) as f32);
        let m = box_mean(&p, 2);
        let want: f32 = (0..25)
            .map(|i| p.at(30 + i % 5 - 2, 4 + i / 5 - 2))
            .sum::<f32>()
            / 25.0;
        assert!((m.at(30, 4) - want).abs() < 1e-3);
    }

    #[test]
    fn local_contrast_does_not_depend_on_gain_or_offset() {
        let p = plane(80, 40, |x, y| ((x / 7 + y / 5) % 3) as f32);
        let q = GreyPlane {
            data: p.data.iter().map(|v| 40.0 * v - 7.0).collect(),
            ..p.clone()
        };
        let (a, b) = (local_contrast(&p, 6), local_contrast(&q, 6));
        assert!(
            a.data
                .iter()
                .zip(&b.data)
                .all(|(x, y)| (x - y).abs() < 1e-3)
        );
        assert!(edge_emphasis(&p, 3, 0.0) == p);
    }

    /// Beside a bright body a running sum lost the squares of its faint edge, and took them away again over black: the
    /// root of less than nothing was no number, and black came out as numbers of 28 digits.
    #[test]
    fn a_black_background_stays_flat() {
        let body = |x: usize, y: usize| ((x * 37 + y * 101) % 97) as f32;
        let p = plane(400, 90, |x, y| match x {
            0..150 => body(x, y),
            150..166 => 1e-9 * body(x, y),
            _ => 0.0,
        });
        let out = local_contrast(&p, 8);
        assert!(out.data.iter().all(|v| v.abs() < 20.0));
        assert!((0..90).all(|y| out.at(300, y).abs() < 1e-3));
    }
}
