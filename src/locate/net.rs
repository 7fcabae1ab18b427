//! The few layers of a small network, and its weights.

use nalgebra::DMatrix;
use rayon::prelude::*;
use std::ops::Range;

/// A picture of several channels, each row by row.
#[derive(Clone)]
pub(super) struct Maps {
    pub(super) rows: usize,
    pub(super) columns: usize,
    pub(super) data: Vec<f32>,
}

/// Weights read in order from numbers of 16 bits (IEEE 754 binary16, little-endian).
pub(super) struct Weights<'a>(pub(super) &'a [u8]);

impl Weights<'_> {
    fn take(&mut self, many: usize) -> Vec<f32> {
        let (own, rest) = self.0.split_at(2 * many);
        self.0 = rest;
        own.chunks_exact(2)
            .map(|b| whole(u16::from_le_bytes([b[0], b[1]])))
            .collect()
    }
}

/// A number of 16 bits as one of 32; infinities and what is no number do not occur.
fn whole(bits: u16) -> f32 {
    let sign = if bits >> 15 == 0 { 1.0 } else { -1.0 };
    let (power, part) = (i32::from(bits >> 10 & 31), f32::from(bits & 1023) / 1024.0);
    let size = if power == 0 {
        part * 2f32.powi(-14)
    } else {
        (1.0 + part) * 2f32.powi(power - 15)
    };
    sign * size
}

/// A convolution of a picture.
pub(super) struct Convolution {
    /// Inputs and places of the kernel by outputs.
    weights: DMatrix<f32>,
    bias: Vec<f32>,
    size: usize,
    stride: usize,
    /// Distance of the kernel's places, pixels.
    apart: usize,
}

/// Rows of the output are computed in strips of about so many pixels: what the kernel sees of more would not stay
/// in the processor's cache.
const STRIP: usize = 2048;

impl Convolution {
    pub(super) fn read(
        from: &mut Weights<'_>,
        inputs: usize,
        outputs: usize,
        size: usize,
        stride: usize,
    ) -> Convolution {
        let many = inputs * size * size;
        Convolution {
            weights: DMatrix::from_vec(many, outputs, from.take(many * outputs)),
            bias: from.take(outputs),
            size,
            stride,
            apart: 1,
        }
    }

    /// The same with its kernel's places so far apart.
    pub(super) fn wide(mut self, apart: usize) -> Convolution {
        self.apart = apart;
        self
    }

    /// What is negative is cut off.
    pub(super) fn of(&self, maps: &Maps) -> Maps {
        let mut out = self.linear(maps);
        out.data.iter_mut().for_each(|v| *v = v.max(0.0));
        out
    }

    pub(super) fn linear(&self, maps: &Maps) -> Maps {
        let (rows, columns) = (
            maps.rows.div_ceil(self.stride),
            maps.columns.div_ceil(self.stride),
        );
        let strip = (STRIP / columns.max(1)).max(1);
        let strips: Vec<(usize, DMatrix<f32>)> = (0..rows.div_ceil(strip))
            .into_par_iter()
            .map(|k| {
                let own = k * strip..((k + 1) * strip).min(rows);
                (own.start, self.strip(maps, own, columns))
            })
            .collect();
        let many = rows * columns;
        let mut data = vec![0f32; many * self.bias.len()];
        for (start, part) in strips {
            let to = data.chunks_exact_mut(many).zip(part.column_iter());
            for ((to, part), bias) in to.zip(&self.bias) {
                let to = &mut to[start * columns..][..part.len()];
                to.iter_mut().zip(&part).for_each(|(t, v)| *t = v + bias);
            }
        }
        Maps {
            rows,
            columns,
            data,
        }
    }

    /// Some rows of the output, a column for each channel.
    fn strip(&self, maps: &Maps, own: Range<usize>, columns: usize) -> DMatrix<f32> {
        let pad = self.size / 2 * self.apart;
        let many = own.len() * columns;
        let mut seen = vec![0f32; many * self.weights.nrows()];
        let channels: Vec<&[f32]> = maps.data.chunks_exact(maps.rows * maps.columns).collect();
        for (i, part) in seen.chunks_exact_mut(many).enumerate() {
            let (kx, ky) = (i % self.size, i / self.size % self.size);
            let (kx, ky) = (kx * self.apart, ky * self.apart);
            let channel = channels[i / (self.size * self.size)];
            // Beyond the picture is nought.
            let first = pad.saturating_sub(kx).div_ceil(self.stride).min(columns);
            let from = (first * self.stride + kx)
                .saturating_sub(pad)
                .min(maps.columns);
            for (line, row) in part.chunks_exact_mut(columns).zip(own.clone()) {
                let y = (row * self.stride + ky).wrapping_sub(pad);
                if y < maps.rows {
                    let own = &channel[y * maps.columns + from..(y + 1) * maps.columns];
                    let every = own.iter().step_by(self.stride);
                    line[first..]
                        .iter_mut()
                        .zip(every)
                        .for_each(|(to, v)| *to = *v);
                }
            }
        }
        DMatrix::from_vec(many, self.weights.nrows(), seen) * &self.weights
    }
}

/// A linear map of columns.
pub(super) struct Linear {
    weights: DMatrix<f32>,
    bias: Vec<f32>,
}

impl Linear {
    pub(super) fn read(from: &mut Weights<'_>, inputs: usize, outputs: usize) -> Linear {
        Linear {
            weights: DMatrix::from_vec(inputs, outputs, from.take(inputs * outputs)).transpose(),
            bias: from.take(outputs),
        }
    }

    /// Of each column of `x`.
    pub(super) fn of(&self, x: &DMatrix<f32>) -> DMatrix<f32> {
        let mut out = &self.weights * x;
        for mut column in out.column_iter_mut() {
            column.iter_mut().zip(&self.bias).for_each(|(v, b)| *v += b);
        }
        out
    }
}

/// A convolution along a row of columns: a linear map of `size` neighbours, nought beyond the ends.
pub(super) struct Along {
    linear: Linear,
    size: usize,
}

impl Along {
    pub(super) fn read(
        from: &mut Weights<'_>,
        inputs: usize,
        outputs: usize,
        size: usize,
    ) -> Along {
        Along {
            linear: Linear::read(from, inputs * size, outputs),
            size,
        }
    }

    /// What is negative is cut off.
    pub(super) fn of(&self, x: &DMatrix<f32>) -> DMatrix<f32> {
        let (inputs, many) = x.shape();
        let mut seen = DMatrix::zeros(inputs * self.size, many);
        for column in 0..many {
            for k in 0..self.size {
                let Some(from) = (column + k)
                    .checked_sub(self.size / 2)
                    .filter(|c| *c < many)
                else {
                    continue;
                };
                // PyTorch's order: input by input, within it place by place.
                for i in 0..inputs {
                    seen[(i * self.size + k, column)] = x[(i, from)];
                }
            }
        }
        self.linear.of(&seen).map(|v| v.max(0.0))
    }
}

/// What is negative cut off.
pub(super) fn positive(x: &DMatrix<f32>) -> DMatrix<f32> {
    x.map(|v| v.max(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_sixteen_bits_are_read_as_the_standard_has_them() {
        // IEEE 754-2008, binary16: 1, −2, the largest, the smallest normal and the smallest number, a third.
        for (bits, value) in [
            (0x3C00, 1.0),
            (0xC000, -2.0),
            (0x7BFF, 65504.0),
            (0x0400, 6.103_515_6e-5),
            (0x0001, 5.960_464_5e-8),
            (0x3555, 0.333_251_95),
            (0x8000, 0.0),
        ] {
            assert_eq!(whole(bits), value);
        }
    }

    #[test]
    fn a_convolution_is_the_sum_over_its_kernel_with_nought_beyond_the_picture() {
        // One channel in, one out, a kernel that tells its places apart, every second place.
        let kernel: Vec<f32> = (0..9).map(|k| 2f32.powi(k)).collect();
        let c = Convolution {
            weights: DMatrix::from_vec(9, 1, kernel),
            bias: vec![-1.0],
            size: 3,
            stride: 2,
            apart: 1,
        };
        let out = c.of(&Maps {
            rows: 3,
            columns: 4,
            data: (1..=12).map(|v| v as f32).collect(),
        });
        assert_eq!((out.rows, out.columns), (2, 2));
        // Top left: places 4, 5, 7, 8 of the kernel meet 1, 2, 5, 6; and so on.
        let at = |places: [(i32, f32); 4]| {
            places.iter().map(|(k, v)| 2f32.powi(*k) * v).sum::<f32>() - 1.0
        };
        assert_eq!(out.data[0], at([(4, 1.0), (5, 2.0), (7, 5.0), (8, 6.0)]));
        assert_eq!(out.data[2], at([(1, 5.0), (2, 6.0), (4, 9.0), (5, 10.0)]));
    }
}
