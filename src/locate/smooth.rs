//! A chain drawn toward what spines have in common.

use super::chain::{Chain, Guess, gap, unwrapped};
use super::least_squares::System;
use nalgebra::{DMatrix, DVector, Vector2};

/// SD of the bend of the course of heights from level to level (second difference), mm: of bodies and
/// of discs (assumption; adult tables bend by about 1 and 0.5 mm).
const BODY_BEND: f64 = 0.8;
const DISC_BEND: f64 = 0.5;

/// SD of the third difference of tilts from plate to plate, radians. The second would flatten a curve's
/// ends, where the tilt turns round, and with them its angle.
const THIRD_SD: f64 = 0.05;

/// SD of the plates' slants against the spine's course, radians: the least, the ratio of those tried each to
/// the one before, and how many; the mean expected (assumption: most spines lean little to the beam). A
/// vertebra that turns about its axis and leans to the beam shows its own ends slanting against its axis, by
/// the product of both; its neighbours slant much alike, from plate to plate by this share.
const SLANT: f64 = 0.03;
const SLANT_RATIO: f64 = 1.5;
const SLANTS: i32 = 7;
const SLANT_MEAN: f64 = 0.1;
const SLANT_STEP: f64 = 0.4;
/// The same before the course is traced.
const MARKED_SLANT: f64 = 0.08;

/// The direction, radians, of a plate that lies across a line toward the feet, unwrapped to `near`; `down`
/// as the chain's.
pub(super) fn across(toward: Vector2<f64>, down: f64, near: f64) -> f64 {
    unwrapped((-toward.x * down).atan2(toward.y * down), near)
}

/// What a direction across the course says of plate `i` of `n`: its tilt less its slant, times `share`.
pub(super) fn over_course(i: usize, n: usize, share: f64) -> [(usize, f64); 2] {
    [(i, share), (n + i, -share)]
}

/// Slants of the plates of a chain, unknowns from `first` on: small, and much alike in neighbours.
fn slants(chain: &Chain, slant: f64, first: usize, system: &mut System) {
    let plates = &chain.plates;
    for i in 0..plates.len() {
        system.add(&[(first + i, 1.0)], 0.0, slant);
        if i > 0 {
            let many = gap(&plates[i - 1], &plates[i]) as f64;
            let terms = [(first + i - 1, -1.0), (first + i, 1.0)];
            system.add(&terms, 0.0, slant * SLANT_STEP * many.sqrt());
        }
    }
}

impl Chain {
    /// What is known of the tilts from the marks and from each other, and of the plates' slants against the
    /// course of the spine, of SD `slant`: unknowns after the tilts. Further equations are for the caller.
    pub(super) fn tilts(&self, rough: &Chain, slant: f64) -> System {
        let n = rough.plates.len();
        let mut system = System::new(2 * n);
        slants(rough, slant, n, &mut system);
        for (i, p) in rough.plates.iter().enumerate() {
            system.add(&[(i, 1.0)], p.tilt, self.tilt_sd(p));
        }
        for i in 0..n.saturating_sub(3) {
            if gap(&rough.plates[i], &rough.plates[i + 3]) <= 4 {
                let terms = [(i, -1.0), (i + 1, 3.0), (i + 2, -3.0), (i + 3, 1.0)];
                system.add(&terms, 0.0, THIRD_SD);
            }
        }
        system
    }

    /// SD of the tilt of a marked plate, radians.
    fn tilt_sd(&self, plate: &Guess) -> f64 {
        std::f64::consts::SQRT_2 * self.noise / (2.0 * plate.half.max(7.0))
    }

    /// SD of the slants of marked plates against a course, radians: the likeliest one, from the directions
    /// across the course at the plates (none where it does not tell) and their SD.
    pub(super) fn slant(&self, rough: &Chain, across: &[Option<f64>], across_sd: f64) -> f64 {
        let off: Vec<(usize, f64)> = across
            .iter()
            .enumerate()
            .filter_map(|(i, across)| Some((i, rough.plates[i].tilt - (*across)?)))
            .collect();
        if off.is_empty() {
            return SLANT;
        }
        let values = DVector::from_iterator(off.len(), off.iter().map(|o| o.1));
        let likelihood = |slant: f64| {
            let mut known = System::new(across.len());
            slants(rough, slant, 0, &mut known);
            let together = known.spread();
            let mut spread =
                DMatrix::from_fn(off.len(), off.len(), |a, b| together[(off[a].0, off[b].0)]);
            for (k, (i, _)) in off.iter().enumerate() {
                spread[(k, k)] += self.tilt_sd(&rough.plates[*i]).powi(2) + across_sd.powi(2);
            }
            spread.cholesky().map_or(f64::NEG_INFINITY, |c| {
                let log = c.l_dirty().diagonal().iter().map(|d| d.ln()).sum::<f64>();
                -0.5 * values.dot(&c.solve(&values)) - log - slant / SLANT_MEAN
            })
        };
        let tried = (0..SLANTS).map(|k| SLANT * SLANT_RATIO.powi(k));
        tried
            .map(|slant| (slant, likelihood(slant)))
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map_or(SLANT, |best| best.0)
    }

    /// Gives the plates their tilts.
    pub(super) fn turn(&mut self, tilts: &DVector<f64>) {
        for (p, tilt) in self.plates.iter_mut().zip(tilts.iter()) {
            p.tilt = *tilt;
        }
    }

    /// The chain drawn toward what spines have in common, and the expected heights between plates.
    pub(super) fn smoothed(&self) -> (Chain, Vec<f64>) {
        let mut chain = self.clone();
        chain.smooth_tilts(self);
        let noise = std::f64::consts::SQRT_2 * self.noise;
        let mut heights = chain.expected_heights(noise);
        for _ in 0..2 {
            chain.smooth_middles(self, &heights);
            heights = chain.expected_heights(noise);
            chain.smooth_tilts(self);
        }
        chain.smooth_widths();
        (chain, heights)
    }

    /// Tilts from the marks, from the line of the middles, and from each other.
    fn smooth_tilts(&mut self, rough: &Chain) {
        let n = self.plates.len();
        let mut system = self.tilts(rough, MARKED_SLANT);
        for span in [1usize, 3, 5] {
            for i in 0..n.saturating_sub(span) {
                let j = i + span;
                if gap(&rough.plates[i], &rough.plates[j]) > span + 1 {
                    continue;
                }
                let d = self.plates[j].middle - self.plates[i].middle;
                let across = across(d, self.down, self.plates[(i + j) / 2].tilt);
                let sd = (1.4 * self.noise / d.norm().max(2.0)).hypot(0.07) * 1.7;
                let share = 1.0 / (span + 1) as f64;
                let terms: Vec<(usize, f64)> =
                    (i..=j).flat_map(|k| over_course(k, n, share)).collect();
                system.add(&terms, across, sd);
            }
        }
        self.turn(&system.solve());
    }

    /// Heights of bodies and of discs, each a smooth course over the levels: they change slowly, but
    /// neither straight nor by a table. `noise` is the SD of a height as the chain has it, mm. A body
    /// or disc far from its course (a wedged or half vertebra) keeps its own height.
    pub(super) fn expected_heights(&self, noise: f64) -> Vec<f64> {
        let n = self.plates.len();
        let height = |i: usize| {
            let (a, b) = (&self.plates[i], &self.plates[i + 1]);
            (b.middle - a.middle).dot(&self.feet((a.tilt + b.tilt) / 2.0))
        };
        let mut out: Vec<f64> = (0..n - 1).map(|i| height(i).max(0.5)).collect();
        for body in [true, false] {
            let steps: Vec<usize> = (0..n - 1)
                .filter(|i| {
                    let (is_body, many) = self.step(*i);
                    many == 1 && is_body == body
                })
                .collect();
            if steps.len() < 4 {
                continue;
            }
            let bend = if body { BODY_BEND } else { DISC_BEND };
            let mut weights = vec![1.0; steps.len()];
            let mut course = DVector::zeros(steps.len());
            for _ in 0..3 {
                let mut system = System::new(steps.len());
                for (k, i) in steps.iter().enumerate() {
                    system.add(&[(k, 1.0)], height(*i), noise / weights[k]);
                }
                for k in 1..steps.len() - 1 {
                    let terms = [(k - 1, 1.0), (k, -2.0), (k + 1, 1.0)];
                    system.add(&terms, 0.0, bend);
                }
                course = system.solve();
                for (k, i) in steps.iter().enumerate() {
                    let off = (height(*i) - course[k]).abs() / noise;
                    weights[k] = (1.8 / off.max(1.8)).sqrt();
                }
            }
            for (k, i) in steps.into_iter().enumerate() {
                out[i] = course[k].max(1.0);
            }
        }
        out
    }

    /// Middles from the marks, from the heights, and from lying over each other.
    fn smooth_middles(&mut self, rough: &Chain, heights: &[f64]) {
        let n = self.plates.len();
        let mut system = System::new(2 * n);
        let sd = self.noise / std::f64::consts::SQRT_2;
        for (i, p) in rough.plates.iter().enumerate() {
            system.add(&[(2 * i, 1.0)], p.middle.x, sd);
            system.add(&[(2 * i + 1, 1.0)], p.middle.y, sd);
        }
        for (i, height) in heights.iter().enumerate().take(n - 1) {
            let (_, many) = self.step(i);
            if many > 2 {
                continue;
            }
            let tilt = (self.plates[i].tilt + self.plates[i + 1].tilt) / 2.0;
            let (f, t) = (self.feet(tilt), Vector2::new(tilt.cos(), tilt.sin()));
            let loose = many as f64;
            let row = |v: Vector2<f64>| {
                [
                    (2 * i, -v.x),
                    (2 * i + 1, -v.y),
                    (2 * i + 2, v.x),
                    (2 * i + 3, v.y),
                ]
            };
            system.add(&row(f), *height, 1.1 * loose);
            system.add(&row(t), 0.0, 1.0 * loose);
        }
        let x = system.solve();
        for (i, p) in self.plates.iter_mut().enumerate() {
            p.middle = Vector2::new(x[2 * i], x[2 * i + 1]);
        }
    }

    /// Half widths from the marks and from their neighbours.
    fn smooth_widths(&mut self) {
        let n = self.plates.len();
        let mut system = System::new(n);
        for (i, p) in self.plates.iter().enumerate() {
            system.add(&[(i, 1.0)], p.half, self.noise / std::f64::consts::SQRT_2);
        }
        for i in 0..n.saturating_sub(1) {
            let (_, many) = self.step(i);
            system.add(&[(i, -1.0), (i + 1, 1.0)], 0.0, 0.7 * many as f64);
        }
        for (p, half) in self.plates.iter_mut().zip(system.solve().iter()) {
            p.half = half.max(4.0);
        }
    }
}
