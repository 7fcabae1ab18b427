//! Attenuation to stored values: blur, scatter, quantum noise, grid, shutters, output curve.

use super::beam::Plane;
use super::film::Exposure;
use super::random::Random;
use crate::film::{GreyPlane, box_mean};
use image::{ImageBuffer, Luma};
use imageproc::filter::gaussian_blur_f32;
use rayon::prelude::*;

/// A plane blurred by a Gaussian of `sigma` pixels.
fn blurred(plane: GreyPlane, sigma: f64) -> GreyPlane {
    let (width, height) = (plane.width, plane.height);
    let image = ImageBuffer::<Luma<f32>, _>::from_raw(width as u32, height as u32, plane.data);
    GreyPlane {
        width,
        height,
        data: image.map_or_else(Vec::new, |i| gaussian_blur_f32(&i, sigma as f32).into_raw()),
    }
}

/// Five by seven points of the letters a technician lays on the film.
const LETTERS: [(char, [u8; 7]); 2] = [
    ('L', [16, 16, 16, 16, 16, 16, 31]),
    ('R', [30, 17, 17, 30, 20, 18, 17]),
];

/// Lays a lead letter near the film's upper edge, on the patient's right or left.
fn lay_marker(sum: &mut [f32], e: &Exposure) {
    let (w, h) = e.size;
    let dot = (2.0 / e.pixel).max(1.0) as usize;
    let (letter, x0) = match e.plane {
        Plane::Pa => ('R', w.saturating_sub(dot * 5 + (26.0 / e.pixel) as usize)),
        Plane::Lateral => ('L', (26.0 / e.pixel) as usize),
    };
    let y0 = h / 6;
    let Some((_, rows)) = LETTERS.iter().find(|(c, _)| *c == letter) else {
        return;
    };
    for (r, bits) in rows.iter().enumerate() {
        for c in 0..5 {
            if bits >> (4 - c) & 1 == 0 {
                continue;
            }
            for y in y0 + r * dot..(y0 + (r + 1) * dot).min(h) {
                for x in x0 + c * dot..(x0 + (c + 1) * dot).min(w) {
                    sum[y * w + x] += 4.0;
                }
            }
        }
    }
}

/// Develops a film.
pub(super) fn develop(mut sum: Vec<f32>, e: &Exposure, seed: u64) -> Vec<u16> {
    let (w, h) = e.size;
    if e.marker {
        lay_marker(&mut sum, e);
    }
    sum.par_iter_mut().for_each(|a| *a = (-a.max(0.0)).exp());
    let mut primary = GreyPlane {
        width: w,
        height: h,
        data: sum,
    };
    if e.blur / e.pixel > 0.15 {
        primary = blurred(primary, e.blur / e.pixel);
    }
    let broad = box_mean(&primary, (38.0 / e.pixel) as usize);
    let scatter = e.scatter as f32;
    let margin = (e.shutter / e.pixel) as usize;
    let lead = |x: usize, y: usize| x < margin || y < margin || x + margin >= w || y + margin >= h;
    // Optical density of what the detector counts.
    let mut seen = primary;
    seen.data
        .par_chunks_mut(w)
        .enumerate()
        .for_each(|(row, line)| {
            let mut random = Random::new(seed ^ (row as u64).wrapping_mul(0x9E37_79B9));
            let mut last = 0.0;
            for (column, o) in line.iter_mut().enumerate() {
                let mut signal = f64::from(*o + scatter * broad.data[row * w + column])
                    / f64::from(1.0 + scatter);
                if lead(column, row) {
                    signal = signal * 0.003 + 0.0008;
                }
                let phase = column as f64 * e.pixel / e.grid.0 * std::f64::consts::TAU;
                signal *= 1.0 - e.grid.1 * (0.5 + 0.5 * phase.sin());
                let noise = random.normal() * 0.8 + last * 0.35;
                last = noise;
                let counted = signal + noise * (signal.max(1e-6) / e.quanta).sqrt();
                *o = -(counted.max(2e-5).ln() as f32);
            }
        });
    let base = box_mean(&seen, (30.0 / e.pixel) as usize);
    let top = f64::from((1u32 << e.bits) - 1);
    // The curve spans air to hips; a lateral film is exposed for its longer way through the patient.
    let (thin, thick) = if e.plane == Plane::Pa {
        (0.5, 4.6)
    } else {
        (0.6, 6.2)
    };
    let middle = (thin + thick) / 2.0;
    let wide = (thick - thin) * (1.0 - 0.45 * e.levelling);
    let mut out = vec![0u16; w * h];
    out.par_chunks_mut(w).enumerate().for_each(|(row, line)| {
        for (column, o) in line.iter_mut().enumerate() {
            let i = row * w + column;
            let (a, b) = (f64::from(seen.data[i]), f64::from(base.data[i]));
            // Broad brightness is drawn toward the middle; detail stays whole.
            let level = a - e.levelling * (b.clamp(thin, thick) - middle);
            let p = 5.4 * (level - middle) / wide;
            let mut p = (1.0 / (1.0 + (-p).exp())).powf(e.gamma);
            if lead(column, row) {
                p = 0.0; // shutters are blacked out, as readers are used to
            }
            let p = if e.inverted { 1.0 - p } else { p };
            *o = (p * top).round() as u16;
        }
    });
    out
}
