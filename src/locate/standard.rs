//! Views brought to one measure, so that a film's greys, its gamma and its broad shadows matter little.

/// Half the side of the square whose mean is taken off, samples.
const SQUARE: usize = 12;

/// Values less their mean in their SD, bounded at 3.
pub(super) fn standard(v: &[f32]) -> Vec<f32> {
    let n = v.len() as f32;
    let mean = v.iter().sum::<f32>() / n;
    let sd = (v.iter().map(|x| (x - mean).powi(2)).sum::<f32>() / (n - 1.0)).sqrt();
    v.iter()
        .map(|x| ((x - mean) / sd.max(1e-6)).clamp(-3.0, 3.0))
        .collect()
}

/// Values less the mean of a square about each, in the SD of that difference, bounded at 3. Beyond the edge the
/// view is mirrored.
pub(super) fn local(v: &[f32], w: usize, h: usize) -> Vec<f32> {
    let down = mean_across(v, w, h);
    let both = mean_down(&down, w, h);
    let off: Vec<f32> = v.iter().zip(&both).map(|(a, b)| a - b).collect();
    let sd = (off.iter().map(|x| x * x).sum::<f32>() / off.len() as f32).sqrt();
    off.iter()
        .map(|x| (x / sd.max(1e-6)).clamp(-3.0, 3.0))
        .collect()
}

/// A place mirrored into a line: −1 is 1, `n` is n − 2.
fn mirrored(k: isize, n: usize) -> usize {
    let last = n as isize - 1;
    (last - (last - k.abs()).abs()) as usize
}

fn mean_across(v: &[f32], w: usize, h: usize) -> Vec<f32> {
    let mut out = vec![0.0; w * h];
    let (s, share) = (SQUARE as isize, 1.0 / (2 * SQUARE + 1) as f32);
    for (line, to) in v.chunks_exact(w).zip(out.chunks_exact_mut(w)) {
        let mut sum: f32 = (-s..=s).map(|k| line[mirrored(k, w)]).sum();
        for (x, to) in to.iter_mut().enumerate() {
            *to = sum * share;
            let x = x as isize;
            sum += line[mirrored(x + s + 1, w)] - line[mirrored(x - s, w)];
        }
    }
    out
}

fn mean_down(v: &[f32], w: usize, h: usize) -> Vec<f32> {
    let mut out = vec![0.0; w * h];
    let (s, share) = (SQUARE as isize, 1.0 / (2 * SQUARE + 1) as f32);
    let row = |y: isize| &v[mirrored(y, h) * w..(mirrored(y, h) + 1) * w];
    let mut sum = vec![0f32; w];
    for k in -s..=s {
        sum.iter_mut().zip(row(k)).for_each(|(a, b)| *a += b);
    }
    for (y, to) in out.chunks_exact_mut(w).enumerate() {
        let y = y as isize;
        to.iter_mut().zip(&sum).for_each(|(t, s)| *t = s * share);
        let (come, go) = (row(y + s + 1), row(y - s));
        for ((a, b), c) in sum.iter_mut().zip(come).zip(go) {
            *a += b - c;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_mirrored_beyond_its_ends() {
        let places = [-2, -1, 0, 3, 4, 5].map(|k| mirrored(k, 5));
        assert_eq!(places, [2, 1, 0, 3, 4, 3]);
        // The mean about a corner takes what lies within twice, but for the corner's own row and column.
        let v: Vec<f32> = (0..1200).map(|i| ((i * 7919) % 101) as f32).collect();
        let mean = mean_down(&mean_across(&v, 40, 30), 40, 30);
        let s = SQUARE as isize;
        let mut sum = 0.0;
        for y in -s..=s {
            for x in -s..=s {
                sum += v[mirrored(29 + y, 30) * 40 + mirrored(39 + x, 40)];
            }
        }
        assert!((mean[1199] - sum / 625.0).abs() < 1e-3);
        assert!(local(&v, 40, 30).iter().all(|v| v.abs() <= 3.0));
    }
}
