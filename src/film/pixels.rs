//! Stored pixels.

use rayon::prelude::*;

/// More pixels than any film has; larger claims are refused before memory is taken.
pub const MAX_PIXELS: u64 = 400_000_000;

/// Stored samples in the narrowest type that holds them.
#[derive(Clone, Debug, PartialEq)]
pub enum Samples {
    /// Unsigned, 8 bit.
    U8(Vec<u8>),
    /// Unsigned, up to 16 bit.
    U16(Vec<u16>),
    /// Signed, up to 16 bit.
    I16(Vec<i16>),
}

/// The stored image, row by row from the top.
#[derive(Clone, Debug, PartialEq)]
pub struct Pixels {
    /// Columns.
    pub columns: u32,
    /// Rows.
    pub rows: u32,
    /// Samples, `rows × columns`.
    pub samples: Samples,
    /// Stored values (first to last, inclusive) that are padding, not film.
    pub padding: Option<(i32, i32)>,
}

/// A plane of grey values, row by row.
#[derive(Clone, Debug, PartialEq)]
pub struct GreyPlane {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// `width × height` values; larger is brighter.
    pub data: Vec<f32>,
}

impl GreyPlane {
    /// What is bright dark, and the other way round.
    #[must_use]
    pub fn negative(&self) -> GreyPlane {
        GreyPlane {
            data: self.data.iter().map(|v| -v).collect(),
            ..*self
        }
    }

    /// Value of a pixel, the border repeated outside.
    #[must_use]
    pub fn at(&self, column: isize, row: isize) -> f32 {
        let c = column.clamp(0, self.width as isize - 1) as usize;
        let r = row.clamp(0, self.height as isize - 1) as usize;
        self.data[r * self.width + c]
    }

    /// Bilinear value at a film-pixel position (pixel centres at n + 0.5).
    #[must_use]
    pub fn sample(&self, x: f64, y: f64) -> f32 {
        let (x, y) = (x - 0.5, y - 0.5);
        let (c, r) = (floor(x), floor(y));
        let (fx, fy) = ((x - c as f64) as f32, (y - r as f64) as f32);
        let (across, down) = (c as usize, r as usize);
        let inside = c >= 0 && r >= 0 && across + 1 < self.width && down + 1 < self.height;
        let [a, b, c, d] = if inside {
            let i = down * self.width + across;
            let (upper, lower) = (&self.data[i..i + 2], &self.data[i + self.width..]);
            [upper[0], upper[1], lower[0], lower[1]]
        } else {
            let (next, below) = (c.saturating_add(1), r.saturating_add(1));
            [(c, r), (next, r), (c, below), (next, below)].map(|(c, r)| self.at(c, r))
        };
        between([a, b], [c, d], fx, fy)
    }

    /// Bilinear values, as [`GreyPlane::sample`] has them, at evenly spaced film-pixel positions: from `from` in steps
    /// of `by`.
    pub(crate) fn sample_line(&self, from: [f64; 2], by: [f64; 2], out: &mut [f32]) {
        let last = out.len().saturating_sub(1) as f64;
        let inside = |k: usize, length: usize| {
            let range = 0.5..length as f64 - 1.5;
            length < 1 << 30
                && [from[k], from[k] + by[k] * last]
                    .iter()
                    .all(|v| range.contains(v))
        };
        if !(inside(0, self.width) && inside(1, self.height)) {
            for (k, value) in out.iter_mut().enumerate() {
                let k = k as f64;
                *value = self.sample(from[0] + by[0] * k, from[1] + by[1] * k);
            }
            return;
        }
        // Pixels and their 2³²ths, in whole numbers: they are told apart at no cost.
        const ONE: f64 = (1i64 << 32) as f64;
        const SHARE: f32 = 1.0 / (1u32 << 24) as f32;
        let [mut x, mut y] = from.map(|v| ((v - 0.5) * ONE) as i64);
        let [across, down] = by.map(|v| (v * ONE) as i64);
        let share = |v: i64| (v as u32 >> 8) as f32 * SHARE;
        for value in out {
            let i = (y >> 32) as usize * self.width + (x >> 32) as usize;
            let (upper, lower) = (&self.data[i..i + 2], &self.data[i + self.width..][..2]);
            *value = between(
                [upper[0], upper[1]],
                [lower[0], lower[1]],
                share(x),
                share(y),
            );
            x += across;
            y += down;
        }
    }
}

/// The value at shares of the way across and down four neighbours.
fn between(upper: [f32; 2], lower: [f32; 2], across: f32, down: f32) -> f32 {
    let [top, bottom] = [upper, lower].map(|[a, b]| a * (1.0 - across) + b * across);
    top * (1.0 - down) + bottom * down
}

/// The whole number not above `x`: `f64::floor` is a call where the processor's own may not be presumed, and
/// sampling asks it twice a time.
fn floor(x: f64) -> isize {
    let whole = x as isize;
    whole.saturating_sub(isize::from(whole as f64 > x))
}

impl Pixels {
    /// Number of pixels.
    #[must_use]
    pub fn len(&self) -> usize {
        match &self.samples {
            Samples::U8(s) => s.len(),
            Samples::U16(s) => s.len(),
            Samples::I16(s) => s.len(),
        }
    }

    /// Whether there is no pixel.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Stored value at an index.
    #[must_use]
    pub fn value(&self, index: usize) -> i32 {
        match &self.samples {
            Samples::U8(s) => i32::from(s[index]),
            Samples::U16(s) => i32::from(s[index]),
            Samples::I16(s) => i32::from(s[index]),
        }
    }

    /// Stored value of a pixel.
    #[must_use]
    pub fn get(&self, column: u32, row: u32) -> i32 {
        self.value(row as usize * self.columns as usize + column as usize)
    }

    /// Whether a stored value is padding.
    #[must_use]
    pub fn is_padding(&self, value: i32) -> bool {
        self.padding.is_some_and(|(a, b)| (a..=b).contains(&value))
    }

    /// Smallest and largest value the storage type holds.
    #[must_use]
    pub fn storage_range(&self) -> (i32, i32) {
        match &self.samples {
            Samples::U8(_) => (0, 255),
            Samples::U16(_) => (0, 65_535),
            Samples::I16(_) => (-32_768, 32_767),
        }
    }

    /// A function of every stored value, in parallel.
    pub fn map<T: Send>(&self, f: impl Fn(i32) -> T + Sync + Send) -> Vec<T> {
        match &self.samples {
            Samples::U8(s) => s.par_iter().map(|v| f(i32::from(*v))).collect(),
            Samples::U16(s) => s.par_iter().map(|v| f(i32::from(*v))).collect(),
            Samples::I16(s) => s.par_iter().map(|v| f(i32::from(*v))).collect(),
        }
    }

    /// Values at about `count` places spread evenly, padding left out, sorted.
    #[must_use]
    pub fn sorted_sample(&self, count: usize) -> Vec<i32> {
        // A step prime to usual row lengths, so that samples do not stand in columns.
        let step = (self.len() / count.max(1)).max(1) | 1;
        let mut values: Vec<i32> = (0..self.len())
            .step_by(step)
            .map(|i| self.value(i))
            .filter(|v| !self.is_padding(*v))
            .collect();
        values.sort_unstable();
        values
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_of_samples_is_its_samples_inside_across_and_beyond_the_film() {
        let (width, height) = (31, 17);
        let plane = GreyPlane {
            width,
            height,
            data: (0..width * height)
                .map(|i| (i as f32 * 0.7).sin())
                .collect(),
        };
        for (from, by) in [
            ([3.2, 2.9], [0.61, 0.33]),
            ([28.4, 15.1], [-0.61, -0.33]),
            ([0.5, 0.5], [0.0, 0.3]),
            ([-5.0, 3.0], [1.0, 0.25]),
            ([20.0, 20.0], [0.7, -0.7]),
            ([29.6, 4.0], [0.0, 0.1]),
            ([1e12, -1e12], [1.0, 1.0]),
        ] {
            let mut line = [0f32; 40];
            plane.sample_line(from, by, &mut line);
            for (k, found) in line.iter().enumerate() {
                let [x, y] = [0, 1].map(|i| from[i] + by[i] * k as f64);
                let own = plane.sample(x, y);
                assert!((found - own).abs() < 1e-4, "{from:?} {k}: {found} {own}");
            }
        }
        plane.sample_line([3.0, 3.0], [1.0, 1.0], &mut []);
    }
}
