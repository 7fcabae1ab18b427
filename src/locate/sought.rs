//! The vertebrae of one film looked for on another by how they look, all together: what stands beside
//! the spine (ribs, articular processes, shoulders) is told from it by the film before, not by a rule.

use super::expected::{BEYOND, Expected};
use super::footprint::Footprint;
use super::least_squares::System;
use super::look::{Look, samples};
use super::overview::Overview;
use super::path::COARSE;
use crate::film::GreyPlane;
use nalgebra::{Rotation2, Vector2};
use rayon::prelude::*;
use std::collections::{HashMap, HashSet};

/// Where a vertebra is looked for about a place: steps to each side, along the spine and of turning, their
/// lengths in coarse pixels and radians; of those on the film that lie within `apart` steps of each other the
/// likeliest is kept, of those beyond it every `sparse`th.
#[derive(Clone, Copy)]
struct Search {
    side: i32,
    along: i32,
    stride: i32,
    turns: i32,
    turn: f64,
    apart: i32,
    sparse: i32,
}

/// Over the film, and about what was found.
const WIDE: Search = Search {
    side: 25,
    along: 35,
    stride: 2,
    turns: 5,
    turn: 0.13,
    apart: 1,
    sparse: 3,
};
const FINE: Search = Search {
    side: 3,
    along: 3,
    stride: 1,
    turns: 2,
    turn: 0.05,
    apart: 0,
    sparse: 1,
};
/// Places kept of each vertebra.
const KEPT: usize = 300;
/// Weight of likeness.
const WEIGHT: f64 = 10.0;
/// SD of a place about the one expected and of what a hint says, mm.
const PLACE_SD: f64 = 40.0;
pub(super) const HINT_SD: f64 = 3.0;
/// How much longer than before the spine is tried to be where fewer than two hints hold it: traction stretches
/// discs (how much is assumed).
const LONGER: [f64; 2] = [1.0, 1.08];
/// SD of a neighbour's place about its own, mm and as a share of their distance (a spine that straightens
/// turns toward the film), and of its turn, radians.
const STEP_SD: f64 = 2.0;
const STRETCH: f64 = 0.05;
const TURN_SD: f64 = 0.1;

/// Where a vertebra was found: its middle, mm, how far it was turned against the expected direction, and
/// how alike it is (none where it lies off the film), and what the overview says of it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sighting {
    pub(super) middle: Vector2<f64>,
    pub(super) turn: f64,
    pub(super) alike: Option<f64>,
    told: f64,
}

impl Sighting {
    fn likely(&self) -> f64 {
        WEIGHT * self.alike.unwrap_or(0.0) + self.told
    }
}

/// A place tried: steps to the side, along and of turning, and what was seen there.
type Tried = ([i32; 3], Sighting);

/// The places of one vertebra about one: those on the film, and those beyond it.
fn places(
    look: &Look,
    film: &GreyPlane,
    down: f64,
    about: &Sighting,
    by: &Search,
) -> (Vec<Tried>, Vec<Sighting>) {
    let points = samples(look.half);
    let frame = |turn: f64| {
        let along = Rotation2::new(turn) * look.across;
        (along, Vector2::new(-along.y, along.x) * down)
    };
    let (along, feet) = frame(about.turn);
    let stride = f64::from(by.stride) * COARSE;
    let (mut all, mut off_film) = (Vec::new(), Vec::new());
    for t in -by.turns..=by.turns {
        let turn = about.turn + f64::from(t) * by.turn;
        let (a, f) = frame(turn);
        let at: Vec<(i32, i32)> = points
            .iter()
            .map(|s| {
                let p = (a * s.x + f * s.y) / COARSE;
                (p.x.round() as i32, p.y.round() as i32)
            })
            .collect();
        let footprint = Footprint::of(&at, &look.grey, film);
        for v in -by.along..=by.along {
            for u in -by.side..=by.side {
                let off = along * (f64::from(u) * stride) + feet * (f64::from(v) * stride);
                let p = (about.middle + off) / COARSE;
                let (x, y) = (p.x.floor() as i32, p.y.floor() as i32);
                let alike = footprint.alike(x, y);
                let seen = Sighting {
                    middle: Vector2::new(f64::from(x) + 0.5, f64::from(y) + 0.5) * COARSE,
                    turn,
                    alike,
                    told: BEYOND,
                };
                if alike.is_some() {
                    all.push(([u, v, t], seen));
                } else if [u, v, t].iter().all(|k| k % by.sparse == 0) {
                    off_film.push(seen);
                }
            }
        }
    }
    (all, off_film)
}

/// The likeliest places of a vertebra of which that is expected, where the film is as it is or (`sign` −1) its negative.
fn likeliest(tried: &[Tried], by: &Search, view: &Reading, expected: &Expected) -> Vec<Sighting> {
    let mut all: Vec<Tried> = tried.to_vec();
    let mut told: HashMap<[i32; 2], f64> = HashMap::new();
    for ([u, v, _], seen) in &mut all {
        seen.alike = seen.alike.map(|a| view.sign * a);
        let here = || view.overview.at(seen.middle).of(expected);
        seen.told = *told.entry([*u, *v]).or_insert_with(here);
    }
    // Each that is kept drops its neighbours: more than so many are never asked.
    let most = KEPT * (2 * by.apart + 1).pow(3) as usize;
    let likelier = |a: &Tried, b: &Tried| b.1.likely().total_cmp(&a.1.likely());
    if all.len() > most {
        all.select_nth_unstable_by(most, likelier);
        all.truncate(most);
    }
    all.sort_by(likelier);
    let mut near: HashSet<[i32; 3]> = HashSet::new();
    let mut kept = Vec::new();
    for (at, seen) in all {
        if near.contains(&at) {
            continue;
        }
        kept.push(seen);
        if kept.len() == KEPT {
            break;
        }
        let each = || -by.apart..=by.apart;
        for u in each() {
            for v in each() {
                near.extend(each().map(|t| [at[0] + u, at[1] + v, at[2] + t]));
            }
        }
    }
    kept
}

/// A film read as it is (`sign` +1) or as its negative (−1).
pub(super) struct Reading {
    pub(super) sign: f64,
    pub(super) overview: Overview,
}

/// What is looked for on a levelled coarse film: looks where they are expected on it, `scale` times as far
/// apart as they are. A hint holds a place of the film to a place among the expected ones.
pub(super) struct Sought<'a> {
    pub(super) looks: &'a [Look],
    /// What the overview is expected to tell of each.
    pub(super) expected: &'a [Expected],
    pub(super) film: &'a GreyPlane,
    pub(super) down: f64,
    pub(super) scale: f64,
    pub(super) hints: &'a [(Vector2<f64>, Vector2<f64>)],
    /// Whether the hints tell its size: else it is tried longer besides.
    pub(super) sized: bool,
}

/// Vertebrae chosen together: how likely all is, whether the film was read as it is (+1) or as its negative
/// (−1), and how much longer the spine was taken to be than before.
pub(super) struct Chosen {
    pub(super) sightings: Vec<Sighting>,
    pub(super) score: f64,
    pub(super) sign: f64,
    longer: f64,
}

impl Sought<'_> {
    /// Finds the vertebrae by the likeliest of the readings.
    pub(super) fn seek(&self, readings: &[Reading]) -> Chosen {
        let start: Vec<Sighting> = self
            .looks
            .iter()
            .map(|l| Sighting {
                middle: l.middle,
                turn: 0.0,
                alike: None,
                told: BEYOND,
            })
            .collect();
        let longer = if self.sized { &[1.0] } else { &LONGER[..] };
        let rough = self.chosen(&start, &WIDE, readings, longer);
        let own = readings.iter().position(|r| r.sign == rough.sign);
        let own = own.map_or(readings, |k| &readings[k..=k]);
        let mut fine = self.chosen(&rough.sightings, &FINE, own, &[rough.longer]);
        fine.sightings = smooth(self.looks, self.scale / rough.longer, &fine.sightings);
        fine
    }

    /// The places that together are likeliest, by the likelier of the readings and lengths.
    fn chosen(
        &self,
        about: &[Sighting],
        by: &Search,
        readings: &[Reading],
        longer: &[f64],
    ) -> Chosen {
        let tried: Vec<(Vec<Tried>, Vec<Sighting>)> = self
            .looks
            .par_iter()
            .zip(about)
            .map(|(l, a)| places(l, self.film, self.down, a, by))
            .collect();
        let mut best = Chosen {
            sightings: about.to_vec(),
            score: f64::NEG_INFINITY,
            sign: 1.0,
            longer: 1.0,
        };
        for reading in readings {
            let all: Vec<Vec<Sighting>> = tried
                .par_iter()
                .zip(self.expected)
                .map(|((on, off), expected)| {
                    let mut out = likeliest(on, by, reading, expected);
                    out.extend(off);
                    out
                })
                .collect();
            for longer in longer {
                let (sightings, score) = self.together(&all, *longer);
                if score > best.score {
                    best = Chosen {
                        sightings,
                        score,
                        sign: reading.sign,
                        longer: *longer,
                    };
                }
            }
        }
        best
    }

    /// Of the places of each vertebra those that together are likeliest.
    fn together(&self, all: &[Vec<Sighting>], longer: f64) -> (Vec<Sighting>, f64) {
        let (looks, hints) = (self.looks, self.hints);
        let scale = self.scale / longer;
        let own = |i: usize, f: &Sighting| {
            let mut out =
                f.likely() - 0.5 * ((f.middle - looks[i].middle).norm() / PLACE_SD).powi(2);
            for (expected, at) in hints {
                let by = expected - looks[i].middle;
                let nearest = looks
                    .iter()
                    .all(|l| (l.middle - expected).norm() >= by.norm() - 1e-9);
                if nearest {
                    let said = at - Rotation2::new(f.turn) * by;
                    out -= 0.5 * ((f.middle - said).norm() / HINT_SD).powi(2);
                }
            }
            out
        };
        // Half of each turn, so that two make the turn between: no sine is asked of each pair.
        let half = |f: &Sighting| Vector2::new((f.turn / 2.0).cos(), (f.turn / 2.0).sin());
        let mut score: Vec<f64> = all[0].iter().map(|f| own(0, f)).collect();
        let mut back: Vec<Vec<usize>> = Vec::new();
        for i in 1..looks.len() {
            let step = (looks[i].middle - looks[i - 1].middle) / scale;
            // The longer the step, the more it may stretch.
            let sd = STEP_SD + STRETCH * step.norm();
            let before: Vec<(&Sighting, Vector2<f64>)> = all[i - 1]
                .iter()
                .map(|a| (a, turned(half(a), step)))
                .collect();
            let next: Vec<(usize, f64)> = all[i]
                .par_iter()
                .map(|b| {
                    let own_half = half(b);
                    let mut best = (0, f64::NEG_INFINITY);
                    for (k, (a, step)) in before.iter().enumerate() {
                        let off = b.middle - a.middle - turned(own_half, *step);
                        let turn = (b.turn - a.turn) / TURN_SD;
                        let all = score[k] - 0.5 * (off.norm_squared() / (sd * sd) + turn * turn);
                        if all > best.1 {
                            best = (k, all);
                        }
                    }
                    (best.0, best.1 + own(i, b))
                })
                .collect();
            back.push(next.iter().map(|n| n.0).collect());
            score = next.iter().map(|n| n.1).collect();
        }
        let mut k =
            (0..score.len()).fold(0, |best, k| if score[k] > score[best] { k } else { best });
        let best = score[k];
        let mut out = vec![all[looks.len() - 1][k]];
        for i in (0..back.len()).rev() {
            k = back[i][k];
            out.push(all[i][k]);
        }
        out.reverse();
        (out, best)
    }
}

/// A vector turned (and scaled) by a complex number.
pub(super) fn turned(by: Vector2<f64>, v: Vector2<f64>) -> Vector2<f64> {
    Vector2::new(by.x * v.x - by.y * v.y, by.y * v.x + by.x * v.y)
}

/// The places found without the steps of the search.
fn smooth(looks: &[Look], scale: f64, found: &[Sighting]) -> Vec<Sighting> {
    let n = found.len();
    let mut turns = System::new(n);
    for (i, f) in found.iter().enumerate() {
        turns.add(&[(i, 1.0)], f.turn, FINE.turn);
    }
    for i in 1..n {
        turns.add(&[(i - 1, -1.0), (i, 1.0)], 0.0, FINE.turn);
    }
    let turns = turns.solve();
    let mut places = System::new(2 * n);
    for (i, f) in found.iter().enumerate() {
        places.add(&[(2 * i, 1.0)], f.middle.x, COARSE / 2.0);
        places.add(&[(2 * i + 1, 1.0)], f.middle.y, COARSE / 2.0);
    }
    for i in 1..n {
        let step = (looks[i].middle - looks[i - 1].middle) / scale;
        let step = Rotation2::new((turns[i - 1] + turns[i]) / 2.0) * step;
        for k in 0..2 {
            let pair = [(2 * i - 2 + k, -1.0), (2 * i + k, 1.0)];
            places.add(&pair, step[k], COARSE / 2.0);
        }
    }
    let places = places.solve();
    (0..n)
        .map(|i| Sighting {
            middle: Vector2::new(places[2 * i], places[2 * i + 1]),
            turn: turns[i],
            ..found[i]
        })
        .collect()
}
