//! A last look at each plate by a small network trained on invented films: where the plate lies from where
//! the chain put it. With overview.rs all that was learned here; docs/METHODS.md says from what.

use super::chain::Chain;
use super::convolution::Convolution;
use super::net::{Along, Linear, Maps, Weights, positive};
use super::seen::Seen;
use super::views::{NEAR, TOLD, View, Views, WIDE, about, views};
use nalgebra::DMatrix;
use rayon::prelude::*;
use std::sync::LazyLock;

static FRONTAL: LazyLock<Network> =
    LazyLock::new(|| Network::read(include_bytes!("weights/frontal.f16")));
static LATERAL: LazyLock<Network> =
    LazyLock::new(|| Network::read(include_bytes!("weights/lateral.f16")));

/// Channels of a view's convolutions, and numbers that it is brought to.
const MANY: [usize; 4] = [16, 32, 48, 48];
const SEEN: usize = 48;
const HIDDEN: usize = 96;
/// The farthest a plate is moved, mm, and turned, degrees.
const MOST: (f64, f64) = (3.0, 8.0);
/// A place across and a turn whose spread is this, mm and degrees, are believed by half, of more spread less: so it
/// is on films of a kind that was not trained on, seldom on others.
const BELIEVED: (f64, f64) = (1.0, 4.0);

/// How often each plate is looked at, from where the look before put it: from a better place more is seen, and the
/// neighbours' tilts are told better.
const LOOKS: usize = 2;
/// How far aside the two looks of a lateral film start, mm along the plates. From one start, marks carried onto a film and
/// onto its mirror image were up to 1.8° apart.
const ASIDE: f64 = 1.2;

/// How far a plate lies from where it was put.
#[derive(Clone, Copy, Debug)]
struct Shift {
    /// Toward the feet, mm.
    feet: f64,
    /// Along the plate toward its second end, mm.
    along: f64,
    /// Turn of the second end toward the feet, degrees.
    turn: f64,
    /// Factor of the half width.
    wider: f64,
    spread: Spread,
}

/// How uncertain a plate's tilt, degrees, and its place toward the feet, mm, are.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spread {
    pub(super) turn: f64,
    pub(super) offset: f64,
}

impl Shift {
    /// From the network's numbers of a plate; `body` is +1 where its body lies toward the feet, else −1.
    fn read(o: &[f32], body: f64) -> Shift {
        let spread = |v: f32| f64::from(v.clamp(-3.0, 3.0)).exp();
        let (turn_sd, feet_sd) = (spread(o[4]), 0.4 * spread(o[5]));
        let believed = |sd: f64, half: f64| 1.0 / (1.0 + (sd / half).powi(4));
        let (turn, feet) = (f64::from(o[0]), f64::from(o[1]));
        Shift {
            turn: body * turn.clamp(-MOST.1, MOST.1) * believed(turn_sd, BELIEVED.1),
            feet: body * feet.clamp(-MOST.0, MOST.0) * believed(feet_sd, BELIEVED.0),
            along: f64::from(o[2]).clamp(-MOST.0, MOST.0),
            wider: (f64::from(o[3]) / 10.0).clamp(-0.2, 0.2).exp(),
            spread: Spread {
                turn: turn_sd,
                offset: feet_sd,
            },
        }
    }
}

struct Eye {
    layers: [Convolution; 4],
    last: Linear,
}

impl Eye {
    fn read(from: &mut Weights<'_>, channels: usize, view: &View) -> Eye {
        let layers = [
            Convolution::read(from, channels, MANY[0], 5, 2),
            Convolution::read(from, MANY[0], MANY[1], 3, 2),
            Convolution::read(from, MANY[1], MANY[2], 3, 2),
            Convolution::read(from, MANY[2], MANY[3], 3, 1),
        ];
        Eye {
            layers,
            last: Linear::read(from, MANY[3] * view.rows / 8 * view.columns / 8, SEEN),
        }
    }

    fn of(&self, maps: &Maps) -> Vec<f32> {
        let first = self.layers[0].of(maps);
        self.layers[1..]
            .iter()
            .fold(first, |m, layer| layer.of(&m))
            .data
    }
}

struct Network {
    near: Eye,
    wide: Eye,
    along: [Along; 3],
    out: Linear,
}

impl Network {
    fn read(bytes: &[u8]) -> Network {
        let mut from = Weights(bytes);
        let from = &mut from;
        let told = 2 * SEEN + TOLD;
        Network {
            near: Eye::read(from, 2, &NEAR),
            wide: Eye::read(from, 1, &WIDE),
            along: [
                Along::read(from, told, HIDDEN, 5),
                Along::read(from, HIDDEN, HIDDEN, 5),
                Along::read(from, HIDDEN, HIDDEN, 5),
            ],
            out: Linear::read(from, HIDDEN + told, 8),
        }
    }

    /// The mean of what is said of the plates as they are and of their mirror images.
    fn of_both(&self, plates: &[Views]) -> DMatrix<f32> {
        let mirrored: Vec<Views> = plates.iter().map(Views::mirrored).collect();
        let mut other = self.of(&mirrored);
        // Turn and place along change their sides.
        for row in [0, 2] {
            other.row_mut(row).neg_mut();
        }
        (self.of(plates) + other) / 2.0
    }

    /// The mean of what is said of the plates from two starts, [`ASIDE`] to each side along them: where front and
    /// back are no mirror images, a second look of another kind, for the chain knows least where a plate lies along.
    fn aside_of(&self, film: Seen<'_>, chain: &Chain, quality: &[f64]) -> DMatrix<f32> {
        let look = |aside: f64| {
            let mut start = chain.clone();
            for p in &mut start.plates {
                p.middle += p.along() * aside;
            }
            let mut out = self.of(&views(film, &start, quality));
            out.row_mut(2).add_scalar_mut(aside as f32);
            out
        };
        (look(ASIDE) + look(-ASIDE)) / 2.0
    }

    /// Of each plate of a chain, column by column: turn (degrees) and place across (mm), both toward its body,
    /// place along (mm), ten times the logarithm of the width, and the logarithms of their spreads.
    fn of(&self, plates: &[Views]) -> DMatrix<f32> {
        let many = plates.len();
        let eyes: Vec<[Vec<f32>; 2]> = plates
            .par_iter()
            .map(|p| [self.near.of(&p.near), self.wide.of(&p.wide)])
            .collect();
        let column = |k: usize| {
            let parts: Vec<f32> = eyes.iter().flat_map(|e| e[k].iter().copied()).collect();
            DMatrix::from_vec(parts.len() / many.max(1), many, parts)
        };
        let mut x = DMatrix::zeros(2 * SEEN + TOLD, many);
        x.rows_mut(0, SEEN)
            .copy_from(&self.near.last.of(&column(0)));
        x.rows_mut(SEEN, SEEN)
            .copy_from(&self.wide.last.of(&column(1)));
        for (i, p) in plates.iter().enumerate() {
            x.view_mut((2 * SEEN, i), (TOLD, 1))
                .copy_from_slice(&p.told);
        }
        let x = positive(&x);
        let mut h = self.along[0].of(&x);
        for layer in &self.along[1..] {
            h += layer.of(&h);
        }
        let mut last = DMatrix::zeros(HIDDEN + x.nrows(), many);
        last.rows_mut(0, HIDDEN).copy_from(&h);
        last.rows_mut(HIDDEN, x.nrows()).copy_from(&x);
        self.out.of(&last)
    }
}

/// A chain's plates where they lie after [`LOOKS`] looks past the film's metal, and how uncertain each is by the
/// last. `quality` is each plate's quality as the chain has it.
pub(super) fn looked_at(seen: Seen<'_>, mut chain: Chain, quality: &[f64]) -> (Chain, Vec<Spread>) {
    let net: &Network = if chain.lateral { &LATERAL } else { &FRONTAL };
    let part = about(seen, &chain);
    let film = part.seen(None);
    let mut spreads = Vec::new();
    for _ in 0..LOOKS {
        let out = if chain.lateral {
            net.aside_of(film, &chain, quality)
        } else {
            net.of_both(&views(film, &chain, quality))
        };
        let by: Vec<Shift> = out
            .column_iter()
            .zip(&chain.plates)
            .map(|(o, p)| Shift::read(o.as_slice(), -p.disc()))
            .collect();
        shift(&mut chain, &by);
        spreads = by.iter().map(|s| s.spread).collect();
    }
    (chain, spreads)
}

/// Moves a chain's plates by their shifts.
fn shift(chain: &mut Chain, by: &[Shift]) {
    let down = chain.down;
    for (i, s) in by.iter().enumerate() {
        let feet = chain.feet(chain.plates[i].tilt);
        let p = &mut chain.plates[i];
        p.middle += feet * s.feet + p.along() * s.along;
        p.tilt += s.turn.to_radians() * down;
        p.half *= s.wider;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Views and told numbers that anybody can write down.
    fn plain(i: usize) -> Views {
        let waves = |many: usize, by: f32| -> Vec<f32> {
            (0..many)
                .map(|k| (by * k as f32 + i as f32).sin())
                .collect()
        };
        Views {
            near: NEAR.maps(waves(2 * 96 * 64, 0.37)),
            wide: WIDE.maps(waves(64 * 48, 0.11)),
            told: std::array::from_fn(|k| (k as f32 - 3.0) / 5.0),
        }
    }

    #[test]
    fn the_network_gives_what_pytorch_gives() {
        // By benches/trained/network.py with the same weights (torch 2.15), of three plates; all of the weights
        // are read, else the last would be wrong.
        let expected: [[[f32; 8]; 3]; 2] = [
            [
                [
                    -0.5019, -0.1469, 0.0485, 0.2019, 1.0398, 0.8015, 0.6392, 0.0474,
                ],
                [
                    -0.4075, -0.3958, 0.0518, -0.1359, 0.9793, 0.9474, 0.4914, -0.0564,
                ],
                [
                    0.3664, 0.8196, 0.0392, 0.1030, 1.3238, 0.9269, 0.6817, 0.0978,
                ],
            ],
            [
                [
                    2.3976, -0.2530, -0.8502, 0.5073, 1.4699, 0.8058, 0.0524, -0.1966,
                ],
                [
                    -0.0756, 0.3532, -1.2065, 0.4329, 1.5669, 0.7845, -0.0054, -0.3395,
                ],
                [
                    2.9301, -0.4333, -0.7977, 0.1934, 1.3733, 0.6993, 0.0184, -0.3255,
                ],
            ],
        ];
        for (net, expected) in [&*FRONTAL, &*LATERAL].into_iter().zip(expected) {
            let views: Vec<Views> = (0..3).map(plain).collect();
            let out = net.of(&views);
            for (found, expected) in out.column_iter().zip(expected) {
                for (a, b) in found.iter().zip(expected) {
                    assert!((a - b).abs() < 2e-3, "{found} {expected:?}");
                }
            }
        }
    }

    #[test]
    fn of_the_mirror_image_the_mirrored_answer_is_given() {
        let views: Vec<Views> = (0..3).map(plain).collect();
        let mirrored: Vec<Views> = views.iter().map(Views::mirrored).collect();
        let [a, b] = [&views, &mirrored].map(|v| FRONTAL.of_both(v));
        for (x, y) in a.column_iter().zip(b.column_iter()) {
            for (k, (x, y)) in x.iter().zip(y.iter()).enumerate() {
                let side = if k == 0 || k == 2 { -1.0 } else { 1.0 };
                assert!((x - side * y).abs() < 1e-4, "{k}: {x} {y}");
            }
            assert!(x[0].abs() > 0.01);
        }
    }
}
