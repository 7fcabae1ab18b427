//! Convolutions of pictures: most of a small network's work, so done many numbers at once.

use super::net::{Maps, Weights};
use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;
use std::ops::Range;

/// A convolution of a picture, nought beyond its edges.
pub(super) struct Convolution {
    /// Blocks of outputs; in a block, for each input and place of the kernel, the weights of its outputs.
    weights: Vec<f32>,
    inputs: usize,
    bias: Vec<f32>,
    size: usize,
    stride: usize,
    /// Distance of the kernel's places, pixels.
    apart: usize,
}

/// Rows of the output are computed in strips of about so many pixels.
const STRIP: usize = 2048;
/// Pixels computed at once, and vectors of outputs of each: as many sums as the processor holds.
const AT_ONCE: usize = 6;
const VECTORS: usize = 2;

/// Numbers in one of this processor's vectors.
struct Lanes;

impl WithSimd for Lanes {
    type Output = usize;

    fn with_simd<S: Simd>(self, _: S) -> usize {
        S::F32_LANES
    }
}

/// Outputs in a block.
fn block() -> usize {
    VECTORS * Arch::new().dispatch(Lanes)
}

impl Convolution {
    /// As PyTorch has them: output by output, input by input, row by row.
    pub(super) fn read(
        from: &mut Weights<'_>,
        inputs: usize,
        outputs: usize,
        size: usize,
        stride: usize,
    ) -> Convolution {
        let many = inputs * size * size;
        let own = from.take(many * outputs);
        let block = block();
        let mut weights = vec![0f32; outputs.div_ceil(block) * block * many];
        for (o, own) in own.chunks_exact(many).enumerate() {
            let of_block = &mut weights[o / block * block * many..];
            for (to, w) in of_block[o % block..].iter_mut().step_by(block).zip(own) {
                *to = *w;
            }
        }
        Convolution {
            weights,
            inputs,
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

    /// As it is.
    pub(super) fn linear(&self, maps: &Maps) -> Maps {
        let (rows, columns) = (
            maps.rows.div_ceil(self.stride),
            maps.columns.div_ceil(self.stride),
        );
        let strip = (STRIP / columns.max(1)).max(1);
        let strips: Vec<(usize, Vec<f32>)> = (0..rows.div_ceil(strip))
            .into_par_iter()
            .map(|k| {
                let own = k * strip..((k + 1) * strip).min(rows);
                (own.start, self.strip(maps, own, columns))
            })
            .collect();
        let many = rows * columns;
        let mut data = vec![0f32; many * self.bias.len()];
        for (start, part) in strips {
            let to = data.chunks_exact_mut(many);
            for (to, part) in to.zip(part.chunks_exact(part.len() / self.bias.len())) {
                to[start * columns..][..part.len()].copy_from_slice(part);
            }
        }
        Maps {
            rows,
            columns,
            data,
        }
    }

    /// Some rows of the output, channel by channel.
    fn strip(&self, maps: &Maps, own: Range<usize>, columns: usize) -> Vec<f32> {
        let reach = (self.size - 1) * self.apart;
        let (rows, wide) = (
            (own.len() - 1) * self.stride + 1 + reach,
            maps.columns + reach,
        );
        let seen = self.framed(maps, own.start * self.stride, [rows, wide]);
        let at = |channel: usize, y: usize, x: usize| {
            channel * rows * wide + y * self.apart * wide + x * self.apart
        };
        let offsets: Vec<usize> = (0..self.inputs)
            .flat_map(|c| {
                (0..self.size).flat_map(move |y| (0..self.size).map(move |x| at(c, y, x)))
            })
            .collect();
        let starts: Vec<usize> = (0..own.len())
            .flat_map(|y| (0..columns).map(move |x| (y * wide + x) * self.stride))
            .collect();
        let mut out = vec![0f32; starts.len() * self.bias.len()];
        Arch::new().dispatch(Sums {
            seen: &seen,
            starts: &starts,
            offsets: &offsets,
            weights: &self.weights,
            bias: &self.bias,
            out: &mut out,
        });
        out
    }

    /// Rows of a picture from `first` less the kernel's reach, with noughts where it has none.
    fn framed(&self, maps: &Maps, first: usize, [rows, wide]: [usize; 2]) -> Vec<f32> {
        let pad = self.size / 2 * self.apart;
        let mut seen = vec![0f32; self.inputs * rows * wide];
        let channels = maps.data.chunks_exact(maps.rows * maps.columns);
        for (to, channel) in seen.chunks_exact_mut(rows * wide).zip(channels) {
            for (y, to) in to.chunks_exact_mut(wide).enumerate() {
                let y = (first + y).wrapping_sub(pad);
                if y < maps.rows {
                    to[pad..][..maps.columns]
                        .copy_from_slice(&channel[y * maps.columns..][..maps.columns]);
                }
            }
        }
        seen
    }
}

/// Weighted sums over what is seen from each start, at the same offsets from all.
struct Sums<'a> {
    seen: &'a [f32],
    starts: &'a [usize],
    offsets: &'a [usize],
    weights: &'a [f32],
    bias: &'a [f32],
    /// Channel by channel.
    out: &'a mut [f32],
}

impl WithSimd for Sums<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let (block, many) = (VECTORS * S::F32_LANES, self.starts.len());
        let reach = self.offsets.last().map_or(0, |o| o + 1);
        let mut sums = vec![0f32; AT_ONCE * block];
        let blocks = self.weights.chunks_exact(block * self.offsets.len());
        let outs = self.out.chunks_mut(block * many);
        for ((weights, bias), out) in blocks.zip(self.bias.chunks(block)).zip(outs) {
            let weights = S::as_simd_f32s(weights).0;
            for first in (0..many).step_by(AT_ONCE) {
                let own = first..(first + AT_ONCE).min(many);
                // The last pixel again where there are no more.
                let seen: [&[f32]; AT_ONCE] = std::array::from_fn(|p| {
                    &self.seen[self.starts[(first + p).min(many - 1)]..][..reach]
                });
                let mut sum = [[simd.splat_f32s(0.0); VECTORS]; AT_ONCE];
                for (offset, weights) in self.offsets.iter().zip(weights.chunks_exact(VECTORS)) {
                    // By index and copied: through iterators the sums stay in memory, which takes half as long again.
                    let weights: [S::f32s; VECTORS] = std::array::from_fn(|v| weights[v]);
                    for p in 0..AT_ONCE {
                        let x = simd.splat_f32s(seen[p][*offset]);
                        for v in 0..VECTORS {
                            sum[p][v] = simd.mul_add_f32s(x, weights[v], sum[p][v]);
                        }
                    }
                }
                let to = S::as_mut_simd_f32s(&mut sums).0;
                for p in 0..AT_ONCE {
                    for v in 0..VECTORS {
                        to[p * VECTORS + v] = sum[p][v];
                    }
                }
                for (o, (out, bias)) in out.chunks_exact_mut(many).zip(bias).enumerate() {
                    let own_sums = sums[o..].iter().step_by(block);
                    for (to, sum) in out[own.clone()].iter_mut().zip(own_sums) {
                        *to = sum + bias;
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers of 16 bits whose values are known: a sign, a power of two and up to three quarters of it more.
    fn numbers(many: usize) -> (Vec<u8>, Vec<f32>) {
        let bits = |k: usize| {
            (((k * 7 + k / 3) % 2) << 15) | ((13 + k * 5 % 3) << 10) | ((k * 11 % 4) << 8)
        };
        let value = |k: usize| {
            let size = 2f32.powi((k * 5 % 3) as i32 - 2) * (1.0 + (k * 11 % 4) as f32 / 4.0);
            if (k * 7 + k / 3).is_multiple_of(2) {
                size
            } else {
                -size
            }
        };
        let bytes = (0..many).flat_map(|k| (bits(k) as u16).to_le_bytes());
        (bytes.collect(), (0..many).map(value).collect())
    }

    #[test]
    fn a_convolution_is_the_sum_over_its_kernel_with_nought_beyond_the_picture() {
        for [inputs, outputs, size, stride, apart, rows, columns] in [
            [1, 1, 3, 2, 1, 3, 4],
            [2, 16, 5, 2, 1, 96, 64],
            [16, 37, 3, 1, 4, 11, 7],
            [3, 5, 1, 1, 1, 70, 61],
            [2, 48, 3, 1, 2, 9, 301],
        ] {
            let many = inputs * size * size;
            let (bytes, own) = numbers((many + 1) * outputs);
            let c =
                Convolution::read(&mut Weights(&bytes), inputs, outputs, size, stride).wide(apart);
            let maps = Maps {
                rows,
                columns,
                data: (0..inputs * rows * columns)
                    .map(|k| (k as f32 * 0.37).sin())
                    .collect(),
            };
            let out = c.linear(&maps);
            assert_eq!(
                (out.rows, out.columns),
                (rows.div_ceil(stride), columns.div_ceil(stride))
            );
            assert_eq!(out.data.len(), outputs * out.rows * out.columns);
            for (i, found) in out.data.iter().enumerate() {
                let (o, y, x) = (
                    i / out.columns / out.rows,
                    i / out.columns % out.rows,
                    i % out.columns,
                );
                let place =
                    |k: usize, at: usize| (at * stride + k * apart).checked_sub(size / 2 * apart);
                let mut sum = own[many * outputs + o];
                for k in 0..many {
                    let (channel, y, x) = (
                        k / size / size,
                        place(k / size % size, y),
                        place(k % size, x),
                    );
                    let (Some(y), Some(x)) = (y.filter(|y| *y < rows), x.filter(|x| *x < columns))
                    else {
                        continue;
                    };
                    sum += own[o * many + k] * maps.data[(channel * rows + y) * columns + x];
                }
                assert!((found - sum).abs() < 1e-3, "{i}: {found} {sum}");
            }
            let cut = c.of(&maps);
            assert!(
                cut.data
                    .iter()
                    .zip(&out.data)
                    .all(|(a, b)| *a == b.max(0.0))
            );
        }
    }
}
