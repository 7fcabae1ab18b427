//! From the fitted chain to the answer: a last look at each plate, and how far it is to be trusted.

use super::chain::{Chain, Steps};
use super::infer::Belief;
use super::refine::{Refined, THRESHOLD, past};
use super::seen::Seen;
use super::trained::{Spread, looked_at};

/// Evidence that stands out by this many SDs of noise counts for about two thirds.
const DISTINCT: f64 = 3.0;
/// Share of a plate's distinctness that its neighbour has by it, for its quality.
const NEAR: f64 = 0.5;
/// Where the plates within [`FAR`] steps stand out of noise by [`SHOWN`] in the mean, the chain knows a
/// plate better than a quick hand and it has this quality at least; elsewhere its own counts for less.
/// One plate alone says nothing: of forty, noise makes one stand out by 1.5.
const FAR: usize = 18;
const SHOWN: f64 = 0.95;
const BY_NEIGHBOURS: f64 = 0.11;
const UNSURE: f64 = 0.5;
/// Share of the SD of slants that counts as a tilt's spread for its quality.
const UNKNOWN_SLANT: f64 = 0.3;

/// The plates of a fitted chain with their quality, in the pixels of the film of these `steps`; those it cannot tell
/// stay where `rough` has them.
pub(super) fn by_chain(
    steps: Steps,
    rough: &Chain,
    chain: &Chain,
    beliefs: &[Belief],
) -> Vec<Refined> {
    let spreads: Vec<Spread> = beliefs
        .iter()
        .map(|b| Spread::of(b, chain.slanted))
        .collect();
    answer(steps, rough, chain, beliefs, &spreads)
}

/// The same after last looks at each.
pub(super) fn looked_again(
    film: Seen<'_>,
    steps: Steps,
    rough: &Chain,
    chain: Chain,
    beliefs: &[Belief],
) -> Vec<Refined> {
    let before = by_chain(steps, rough, &chain, beliefs);
    let quality: Vec<f64> = before.iter().map(|p| p.quality).collect();
    let past = past(film, &chain);
    let (chain, spreads) = looked_at(past, chain, &quality);
    answer(steps, rough, &chain, beliefs, &spreads)
}

impl Spread {
    /// As the chain has it: the tilts of plates that slant against the course are known less well than their own
    /// evidence says.
    fn of(belief: &Belief, slanted: f64) -> Spread {
        Spread {
            turn: belief.turn_sd.hypot(UNKNOWN_SLANT * slanted).to_degrees(),
            offset: belief.offset_sd,
        }
    }
}

/// Quality from the spread (half at 2.5° or 1.2 mm) and from how far the evidence stands out of what noise alone
/// would give: near 0 where the film shows no plate, whatever the neighbours say.
fn quality(spread: Spread, distinct: f64) -> f64 {
    let (t, o) = (spread.turn / 2.5, spread.offset / 1.2);
    let spread = 1.0 / (1.0 + t * t + o * o);
    // Noise alone mostly gives less than 1; a clear plate stands out by 5 and more.
    let distinct = (distinct.max(0.0) / DISTINCT).powi(2);
    spread * (1.0 - (-distinct).exp())
}

/// What plates show, each step along the chain lending [`NEAR`] of it to the next.
fn lent(own: &[f64]) -> Vec<f64> {
    let mut out = own.to_vec();
    for i in 1..out.len() {
        out[i] = out[i].max(out[i - 1] * NEAR);
    }
    for i in (1..out.len()).rev() {
        out[i - 1] = out[i - 1].max(out[i] * NEAR);
    }
    out
}

/// Mean of what the plates about each one show.
fn around(own: &[f64]) -> Vec<f64> {
    (0..own.len())
        .map(|i| {
            let part = &own[i.saturating_sub(FAR)..(i + FAR + 1).min(own.len())];
            part.iter().sum::<f64>() / part.len() as f64
        })
        .collect()
}

fn answer(
    steps: Steps,
    rough: &Chain,
    chain: &Chain,
    beliefs: &[Belief],
    spreads: &[Spread],
) -> Vec<Refined> {
    let own: Vec<f64> = beliefs.iter().map(|b| b.distinct).collect();
    let (near, around) = (lent(&own), around(&own));
    let plates = rough.plates.iter().zip(&chain.plates).zip(spreads);
    plates
        .enumerate()
        .map(|(i, ((start, plate), spread))| {
            let own = quality(*spread, near[i]);
            let quality = if around[i] >= SHOWN {
                own.max(BY_NEIGHBOURS)
            } else {
                own * UNSURE
            };
            let refined = quality >= THRESHOLD;
            // A plate left alone stands where it stood.
            let stands = if refined { plate } else { start };
            Refined {
                level: start.level,
                edge: start.edge,
                ends: stands.ends().map(|e| steps.film(e)),
                quality,
                refined,
            }
        })
        .collect()
}
