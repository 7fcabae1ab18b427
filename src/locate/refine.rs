//! Rough end-plate marks moved onto the end-plates that the film shows.

use super::answer::{by_chain, looked_again};
use super::chain::{Chain, Steps};
use super::evidence::{ACROSS, Grid, evidence};
use super::infer::{Belief, Link, Node, infer};
use super::likeness::Likeness;
use super::metal::Metal;
use super::midline::{Borders, EVEN, borders, trace};
use super::seen::{Part, Seen};
use super::walls::walls;
use crate::film::GreyPlane;
use crate::landmark::{Edge, LandmarkSet, Level};
use crate::units::FilmPx;
use rayon::prelude::*;

/// Quality below which a mark stays where the reader put it.
pub const THRESHOLD: f64 = 0.1;

/// A plate after refinement.
#[derive(Clone, Debug, PartialEq)]
pub struct Refined {
    /// Level.
    pub level: Level,
    /// Upper or lower.
    pub edge: Edge,
    /// Its ends: left and right, or posterior and anterior.
    pub ends: [FilmPx; 2],
    /// How far the answer is to be trusted, 0 to 1, from its spread.
    pub quality: f64,
    /// Whether it was moved; else it stands where it stood.
    pub refined: bool,
}

/// Placement SD of the starts, mm in each coordinate (assumption: marks placed quickly).
const START_SD: f64 = 2.0;
/// Weight of a unit of evidence.
const TRUST: f64 = 4.0;

/// What differs between a film from the front or back and a lateral one.
struct View {
    /// Weight of the likeness of a vertebra's halves; on a lateral film front and back share no more than
    /// the plates.
    halves: f64,
    /// Weight of the likeness of the rows down a body; none on a lateral film, where pedicles hide the back
    /// wall and ribs cross slantwise.
    walls: f64,
    /// How far a laid middle is taken onto the traced course.
    onto: f64,
    /// Whether places that metal covers give no evidence. On a lateral film rods lie behind the bodies, and
    /// plates crossed by screws came out no better so.
    past_metal: bool,
}

const FRONTAL: View = View {
    halves: 3.0,
    walls: 20.0,
    onto: 0.2,
    past_metal: true,
};
const LATERAL: View = View {
    halves: 1.0,
    walls: 0.0,
    onto: 0.3,
    past_metal: false,
};

fn view(chain: &Chain) -> &'static View {
    if chain.lateral { &LATERAL } else { &FRONTAL }
}

/// The film as a chain's plates are looked for: past its metal or as it is.
pub(super) fn past<'a>(film: Seen<'a>, chain: &Chain) -> Seen<'a> {
    film.past(film.metal.filter(|_| view(chain).past_metal))
}

/// Pixel of the film at most, mm: profiles are read in steps of this.
const FINE: f64 = ACROSS;
/// How far about plates the film is read: half widths along them and across, and mm by which a fit may move those that
/// were marked and those that were laid.
const NEAR: [f64; 2] = [3.3, 4.0];
const MARKED: f64 = 15.0;
pub(super) const LAID: f64 = 40.0;

/// SD of the tilt about the base chain, radians.
const TILT_SD: f64 = 0.09;
/// SD of the difference across a disc about the base chain's, radians.
const DISC_SD: f64 = 0.10;

/// Weight of looking like the same plate on the other film.
const LOOK: f64 = 14.0;
/// SD of a height known from another film, mm.
const KNOWN_SD: f64 = 0.8;
/// SD of the difference of opening of neighbouring plates, mm.
const OPENING_SD: f64 = 1.2;
/// The same for the two plates of a body, which lie alike to the rays.
const BODY_OPENING_SD: f64 = 0.6;
/// Height of a body whose other plate is not in the chain, mm.
const BODY: f64 = 14.0;

/// What differs from round to round: how finely and how far the answer is looked for.
#[derive(Clone, Copy, Debug)]
pub(super) struct Round {
    pub(super) grid: Grid,
    /// Share of the weight of what the body says: it is read where the plate is taken to lie.
    pub(super) body: f64,
    /// SD of the place about the base chain, mm.
    pub(super) place_sd: f64,
    /// SD of the height between neighbours, mm.
    pub(super) height_sd: f64,
    /// SD of the tilt about the base chain, radians.
    pub(super) tilt_sd: f64,
}

/// The one round of refinement. A second at half the grid made the chain a tenth better in tilt where plates are
/// clear and nothing of it was left after the last look; it took twice the time.
const ROUND: Round = Round {
    grid: Grid {
        offsets: (12, 0.5),
        turns: (12, 0.021),
        openings: (5, 1.9),
    },
    body: 1.0,
    place_sd: 1.1,
    height_sd: 1.0,
    tilt_sd: TILT_SD,
};

/// Refines the complete plates among the marks. Bone must be bright in `plane`. Empty when fewer
/// than two plates are complete.
///
/// Method (own): the plates are fitted as one chain; see docs/METHODS.md, refinement.
#[must_use]
pub fn refine(plane: &GreyPlane, steps: Steps, marks: &LandmarkSet, lateral: bool) -> Vec<Refined> {
    refine_past(plane, None, steps, marks, lateral)
}

/// As [`refine`], past metal that was found on the film; a plate's quality above the threshold loses the share
/// of its line that metal covers.
#[must_use]
pub fn refine_past(
    plane: &GreyPlane,
    metal: Option<&Metal>,
    steps: Steps,
    marks: &LandmarkSet,
    lateral: bool,
) -> Vec<Refined> {
    let Some(rough) = Chain::of(marks, lateral, steps, START_SD) else {
        return Vec::new();
    };
    let part = near(Seen::new(plane, steps, None), &rough, MARKED);
    let film = part.seen(metal);
    let (chain, beliefs) = fitted(film, &rough);
    let mut found = looked_again(film, steps, &rough, chain, &beliefs);
    // They stay refined: under metal they still come nearer than rough marks.
    for plate in found.iter_mut().filter(|p| p.refined) {
        let free = 1.0 - metal.map_or(0.0, |m| m.over(plate.ends));
        plate.quality = THRESHOLD + (plate.quality - THRESHOLD) * free;
    }
    found
}

/// As [`refine`], without the last look: what that look is trained on, and measured against.
#[must_use]
pub fn refine_by_chain(
    plane: &GreyPlane,
    steps: Steps,
    marks: &LandmarkSet,
    lateral: bool,
) -> Vec<Refined> {
    Chain::of(marks, lateral, steps, START_SD).map_or_else(Vec::new, |rough| {
        let part = near(Seen::new(plane, steps, None), &rough, MARKED);
        let (chain, beliefs) = fitted(part.seen(None), &rough);
        by_chain(steps, &rough, &chain, &beliefs)
    })
}

/// The film about a chain that may move so far, no finer than plates need.
pub(super) fn near<'a>(film: Seen<'a>, chain: &Chain, moves: f64) -> Part<'a> {
    Part::about(film, chain, FINE, (NEAR, moves))
}

/// A chain of marks fitted to the film.
fn fitted(film: Seen<'_>, rough: &Chain) -> (Chain, Vec<Belief>) {
    let (mut chain, heights) = rough.smoothed();
    // About marks both borders are near; with the front weighed more lateral films came out worse.
    follow(film, &mut chain, rough, 0.0, EVEN);
    let beliefs = step(film, &mut chain, &heights, &ROUND, None);
    (chain, beliefs)
}

/// Fits a chain that was laid, not marked: a far and coarse round first, then those of refinement with
/// the course traced anew.
pub(super) fn fit(
    film: Seen<'_>,
    chain: &mut Chain,
    heights: &[f64],
    first: &Round,
    before: Option<&Likeness>,
) -> Vec<Belief> {
    for k in 0..2 {
        let nearer = Round {
            place_sd: first.place_sd / f64::from(k + 1),
            ..*first
        };
        step(film, chain, heights, &nearer, before);
        let laid = chain.clone();
        let sides = borders(chain.lateral, chain.down);
        follow(film, chain, &laid, view(chain).onto, sides);
    }
    let known = Round {
        height_sd: KNOWN_SD,
        ..ROUND
    };
    step(film, chain, heights, &known, before)
}

/// Traces the spine's course about a chain by its borders, weighed by `sides`, and draws the chain to it
/// by `onto`, its tilts held by `held`: about these tilts the plates are then looked for.
fn follow(film: Seen<'_>, chain: &mut Chain, held: &Chain, onto: f64, sides: Borders) {
    let course = trace(film, &chain.guide(), sides);
    chain.drawn_to(&course, held, onto);
    chain.rest();
}

/// One round: evidence, inference, the chain moved to the mean of the belief.
fn step(
    film: Seen<'_>,
    chain: &mut Chain,
    heights: &[f64],
    round: &Round,
    before: Option<&Likeness>,
) -> Vec<Belief> {
    let grid = &round.grid;
    let view = view(chain);
    let film = past(film, chain);
    let nodes: Vec<Node> = chain
        .plates
        .par_iter()
        .enumerate()
        .map(|(i, plate)| {
            let held = chain.held_at(i);
            let (expected, place_sd) = held.map_or((0.0, round.place_sd), |([off, _], sd)| {
                (off, sd.min(round.place_sd))
            });
            let body = chain.body(i).unwrap_or(BODY);
            let seen = evidence(film, chain, plate, grid, body);
            let walls = (view.walls > 0.0).then(|| {
                // Upper plates are turned less than the body by half of what it wedges, lower ones more.
                let axis = -plate.disc() * chain.wedge(i).0 / 2.0;
                walls(film, chain, plate, grid, body, axis)
            });
            let mut log = seen.own;
            let looks = before.map(|b| b.over(chain, i, grid));
            for layer in 0..grid.layers() {
                for row in 0..grid.rows() {
                    let o = (grid.offset(row) - expected) / place_sd;
                    for column in 0..grid.columns() {
                        let t = (plate.tilt + grid.turn(column) - chain.base[i]) / round.tilt_sd;
                        let l = &mut log[grid.at(layer, row, column)];
                        let look = looks
                            .as_ref()
                            .map_or(0.0, |l| f64::from(l[row * grid.columns() + column]));
                        let walls = walls.as_ref().map_or(0.0, |w| f64::from(w[column]));
                        let halves = f64::from(seen.halves[column]);
                        let body = round.body * (view.halves * halves + view.walls * walls);
                        let prior = -0.5 * (o * o + t * t);
                        *l = (TRUST * f64::from(*l) + body + LOOK * look + prior) as f32;
                    }
                }
            }
            Node {
                log,
                distinct: seen.distinct,
            }
        })
        .collect();
    let links: Vec<Option<Link>> = (0..chain.plates.len() - 1)
        .map(|i| {
            let (body, many) = chain.step(i);
            let (a, b) = (&chain.plates[i], &chain.plates[i + 1]);
            // A body's plates differ by its share of the bend there, a disc's as the base chain has it.
            let (expected, turn_sd, opening_sd) = if body {
                let (wedge, sd) = chain.wedge(i);
                (wedge, sd, BODY_OPENING_SD)
            } else {
                (chain.base[i + 1] - chain.base[i], DISC_SD, OPENING_SD)
            };
            let difference = expected - (b.tilt - a.tilt);
            if many > 3 {
                return None;
            }
            let feet = chain.feet((a.tilt + b.tilt) / 2.0);
            let height = (b.middle - a.middle).dot(&feet);
            let loose = (many as f64).sqrt();
            Some(Link {
                offset: (heights[i] - height, round.height_sd * loose),
                turn: (difference, turn_sd * loose),
                opening_sd: opening_sd * loose,
            })
        })
        .collect();
    let beliefs = infer(&nodes, &links, grid);
    let feet: Vec<_> = chain.plates.iter().map(|p| chain.feet(p.tilt)).collect();
    for ((p, b), feet) in chain.plates.iter_mut().zip(&beliefs).zip(feet) {
        p.middle += feet * b.offset;
        p.tilt += b.turn;
    }
    beliefs
}
