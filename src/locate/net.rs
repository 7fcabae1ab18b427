//! The few layers of a small network, and its weights.

use nalgebra::DMatrix;

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
    pub(super) fn take(&mut self, many: usize) -> Vec<f32> {
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
}
