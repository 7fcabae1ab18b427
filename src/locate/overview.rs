//! What a whole film shows at 2 mm a pixel: where the spine runs, and which level lies where. Told by a small network
//! trained on invented films, as the last look at each plate is; it chooses among places, it moves no mark.

use super::convolution::Convolution;
use super::expected::Told;
use super::net::{Maps, Weights};
use super::path::COARSE;
use crate::film::{GreyPlane, local_contrast};
use nalgebra::Vector2;
use std::sync::LazyLock;

static FRONTAL: LazyLock<Network> =
    LazyLock::new(|| Network::read(include_bytes!("weights/overview_frontal.f16")));
static LATERAL: LazyLock<Network> =
    LazyLock::new(|| Network::read(include_bytes!("weights/overview_lateral.f16")));

/// Distance of the places told of, mm.
const CELL: f64 = 4.0;
/// Half sides of the squares by which the film is levelled, pixels, and the bound of what is left.
const SQUARES: [usize; 2] = [8, 40];
const BOUND: f32 = 3.0;
const CHANNELS: [usize; 4] = [2, 12, 24, 32];
const DEEP: usize = 48;
const TOLD: usize = 5;

/// A convolution whose output is cut off at nought and added to its input where nothing changes size.
struct Unit {
    by: Convolution,
    adds: bool,
}

impl Unit {
    fn read(from: &mut Weights<'_>, channels: [usize; 2], size: usize, stride: usize) -> Unit {
        Unit {
            by: Convolution::read(from, channels[0], channels[1], size, stride),
            adds: channels[0] == channels[1] && stride == 1,
        }
    }

    fn wide(from: &mut Weights<'_>, channels: usize, apart: usize) -> Unit {
        let unit = Unit::read(from, [channels; 2], 3, 1);
        Unit {
            by: unit.by.wide(apart),
            ..unit
        }
    }

    fn of(&self, maps: &Maps) -> Maps {
        let mut out = self.by.of(maps);
        if self.adds {
            out.data
                .iter_mut()
                .zip(&maps.data)
                .for_each(|(o, v)| *o += v);
        }
        out
    }
}

struct Network {
    down: [Vec<Unit>; 3],
    up: [(Convolution, Unit); 2],
    out: Convolution,
}

impl Network {
    fn read(bytes: &[u8]) -> Network {
        let mut from = Weights(bytes);
        let from = &mut from;
        let [seen, a, b, c] = CHANNELS;
        let first = vec![
            Unit::read(from, [seen, a], 5, 2),
            Unit::read(from, [a, b], 3, 1),
        ];
        let deeper = |from: &mut Weights<'_>, channels: [usize; 2], wide: &[usize]| {
            let mut out = vec![Unit::read(from, channels, 3, 2)];
            out.extend(wide.iter().map(|w| Unit::wide(from, channels[1], *w)));
            out
        };
        let second = deeper(from, [b, c], &[1, 2, 4]);
        let third = deeper(from, [c, DEEP], &[1, 2, 4, 1]);
        let up = [[DEEP, c], [c, b]].map(|[many, few]| {
            let by = Convolution::read(from, many, few, 1, 1);
            (by, Unit::wide(from, few, 1))
        });
        Network {
            down: [first, second, third],
            up,
            out: Convolution::read(from, b, TOLD, 1, 1),
        }
    }

    fn of(&self, seen: Maps) -> Maps {
        let mut x = seen;
        let mut kept = Vec::new();
        for part in &self.down {
            for unit in part {
                x = unit.of(&x);
            }
            kept.push(x.clone());
        }
        for ((up, back), before) in self.up.iter().zip([&kept[1], &kept[0]]) {
            x = back.of(&sum_of(&up.linear(&x), before));
        }
        self.out.linear(&x)
    }
}

/// Maps of half the size, each pixel taken twice each way, added to others.
fn sum_of(small: &Maps, to: &Maps) -> Maps {
    let mut out = to.clone();
    let lines = out.data.chunks_exact_mut(to.columns);
    for (i, line) in lines.enumerate() {
        let (channel, row) = (i / to.rows, i % to.rows);
        let from = &small.data[(channel * small.rows + row / 2) * small.columns..];
        for (x, v) in line.iter_mut().enumerate() {
            *v += from[x / 2];
        }
    }
    out
}

/// How a film lies: quarter turns that bring its head up.
#[derive(Clone, Copy)]
struct Lying {
    quarters: usize,
    /// Size of the film as it lies, mm.
    size: Vector2<f64>,
}

impl Lying {
    /// A film on which the feet lie toward `feet`.
    fn of(film: &GreyPlane, feet: Vector2<f64>) -> Lying {
        let ways = [Vector2::y(), Vector2::x(), -Vector2::y(), -Vector2::x()];
        let quarters = (0..4).fold(0, |best, k| {
            if ways[k].dot(&feet) > ways[best].dot(&feet) + 1e-9 {
                k
            } else {
                best
            }
        });
        Lying {
            quarters,
            size: Vector2::new(film.width as f64, film.height as f64) * COARSE,
        }
    }

    /// A place of the film on the upright one.
    fn upright(&self, p: Vector2<f64>) -> Vector2<f64> {
        match self.quarters {
            0 => p,
            1 => Vector2::new(self.size.y - p.y, p.x),
            2 => self.size - p,
            _ => Vector2::new(p.y, self.size.x - p.x),
        }
    }

    fn turned(&self, film: &GreyPlane) -> GreyPlane {
        let (w, h) = (film.width, film.height);
        let (width, height) = if self.quarters.is_multiple_of(2) {
            (w, h)
        } else {
            (h, w)
        };
        let data = (0..width * height).map(|i| {
            let (x, y) = (i % width, i / width);
            let (x, y) = match self.quarters {
                0 => (x, y),
                1 => (y, h - 1 - x),
                2 => (w - 1 - x, h - 1 - y),
                _ => (w - 1 - y, x),
            };
            film.data[y * w + x]
        });
        GreyPlane {
            width,
            height,
            data: data.collect(),
        }
    }
}

/// What is told of every place of a film.
pub(super) struct Overview {
    lying: Lying,
    maps: Maps,
}

impl Overview {
    /// Of a film at 2 mm a pixel with bone bright, its feet toward `feet`.
    pub(super) fn of(film: &GreyPlane, lateral: bool, feet: Vector2<f64>) -> Overview {
        let lying = Lying::of(film, feet);
        let upright = lying.turned(film);
        let data = SQUARES.iter().flat_map(|square| {
            let seen = local_contrast(&upright, *square).data;
            seen.into_iter().map(|v| v.clamp(-BOUND, BOUND))
        });
        let seen = Maps {
            rows: upright.height,
            columns: upright.width,
            data: data.collect(),
        };
        let network: &Network = if lateral { &LATERAL } else { &FRONTAL };
        Overview {
            lying,
            maps: network.of(seen),
        }
    }

    /// What is told of a place of the film, mm.
    pub(super) fn at(&self, p: Vector2<f64>) -> Told {
        let at = self.lying.upright(p) / CELL;
        let (rows, columns) = (self.maps.rows, self.maps.columns);
        let axis = |t: f64, n: usize| {
            let t = (t - 0.5).clamp(0.0, (n - 1) as f64);
            let k = (t as usize).min(n.saturating_sub(2));
            (k, (k + 1).min(n - 1), t - k as f64)
        };
        let ((x, x1, fx), (y, y1, fy)) = (axis(at.x, columns), axis(at.y, rows));
        let own = |channel: usize| {
            let map = &self.maps.data[channel * rows * columns..];
            let row = |y: usize| {
                let (a, b) = (map[y * columns + x], map[y * columns + x1]);
                f64::from(a) + f64::from(b - a) * fx
            };
            row(y) + (row(y1) - row(y)) * fy
        };
        Told {
            spine: 1.0 / (1.0 + (-own(0)).exp()),
            level: 9.0 + 3.0 * own(1),
            level_sd: 3.0 * own(2).clamp(-4.0, 2.0).exp(),
            phase: Vector2::new(own(3), own(4)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn film() -> GreyPlane {
        let (width, height) = (51, 77);
        let data = (0..width * height).map(|i| {
            let (x, y) = ((i % width) as f32, (i / width) as f32);
            (0.37 * x + 0.011 * x * y).sin() * 3.0 + (0.23 * y).cos() * 2.0 + 0.05 * x
        });
        GreyPlane {
            width,
            height,
            data: data.collect(),
        }
    }

    /// Computed by PyTorch from the same weights (benches/trained).
    const SAID: [[[f32; TOLD]; 2]; 2] = [
        [
            [-6.9765, 0.3162, 0.5135, -0.1613, -0.0540],
            [-5.8068, 0.5808, 0.2677, -0.1963, 0.0351],
        ],
        [
            [-6.2141, -0.0327, -0.5493, -0.0038, -0.1409],
            [-6.6130, -0.3348, -0.1420, 0.0510, -0.2096],
        ],
    ];

    #[test]
    fn the_network_says_what_it_says_elsewhere() {
        for (lateral, said) in [(false, SAID[0]), (true, SAID[1])] {
            let o = Overview::of(&film(), lateral, Vector2::y());
            assert_eq!((o.maps.rows, o.maps.columns), (39, 26));
            for ((y, x), said) in [(9, 7), (30, 20)].into_iter().zip(said) {
                for (channel, said) in said.into_iter().enumerate() {
                    let own = o.maps.data[(channel * 39 + y) * 26 + x];
                    assert!(
                        (own - said).abs() < 2e-3,
                        "{lateral} {channel}: {own}, {said}"
                    );
                }
            }
        }
    }

    /// A kernel wider than the film once ended the program.
    #[test]
    fn a_film_of_one_pixel_is_told_of() {
        let film = GreyPlane {
            width: 1,
            height: 1,
            data: vec![0.5],
        };
        let o = Overview::of(&film, true, Vector2::y());
        let told = o.at(Vector2::new(1.0, 900.0));
        assert!(told.spine.is_finite() && told.level.is_finite());
    }

    #[test]
    fn a_film_lying_otherwise_is_told_the_same() {
        let upright = film();
        let told = Overview::of(&upright, false, Vector2::y());
        let place = Vector2::new(31.0, 77.0);
        // The same film with its feet to the right, up and to the left: its columns and rows changed.
        let (w, h) = (upright.width, upright.height);
        let right = GreyPlane {
            width: h,
            height: w,
            data: (0..w * h)
                .map(|i| upright.data[(i % h) * w + (w - 1 - i / h)])
                .collect(),
        };
        let up = GreyPlane {
            data: upright.data.iter().rev().copied().collect(),
            ..upright
        };
        let left = GreyPlane {
            data: right.data.iter().rev().copied().collect(),
            ..right
        };
        let (wide, high) = (w as f64 * COARSE, h as f64 * COARSE);
        let all = [
            (right, Vector2::x(), Vector2::new(place.y, wide - place.x)),
            (
                up,
                -Vector2::y(),
                Vector2::new(wide - place.x, high - place.y),
            ),
            (left, -Vector2::x(), Vector2::new(high - place.y, place.x)),
        ];
        for (film, feet, p) in all {
            let other = Overview::of(&film, false, feet);
            assert_eq!((other.maps.rows, other.maps.columns), (39, 26));
            let (a, b) = (told.at(place), other.at(p));
            assert!((a.level - b.level).abs() < 1e-3, "{} {}", a.level, b.level);
            assert!((a.spine - b.spine).abs() < 1e-3);
        }
    }
}
