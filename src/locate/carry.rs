//! Marks laid on a film that has none: last film's vertebrae, or those of a usual spine, along the
//! spine found on the film.

use super::chain::{Chain, Guess, Steps};
use super::evidence::Grid;
use super::likeness::Likeness;
use super::midline::{Place, borders, nearest, resampled, trace};
use super::moved::{Found, Moved, found};
use super::path::{coarse, path};
use super::pattern::Pattern;
use super::refine::{Refined, Round, fit};
use crate::film::GreyPlane;
use crate::landmark::{Landmark, Level};
use crate::units::FilmPx;
use nalgebra::Vector2;

/// Why marks cannot be laid.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LayError {
    /// A hint names nothing of the spine that is laid.
    #[error("the hint {0} is no end-plate or centre of the spine that is laid")]
    Hint(Landmark),
    /// Both ends are needed.
    #[error("the spine needs a hint near each end, as C7.center=X,Y and S1.center=X,Y")]
    Ends,
    /// Nothing there looks like the film before.
    #[error(
        "the spine of the film before was not recognised; it needs a hint near each end, as C7.center=X,Y and S1.center=X,Y"
    )]
    Unlike,
    /// The hints put it beyond the film's edge.
    #[error("the spine would lie off the film")]
    Off,
}

/// The hints as places along the pattern and on the film, from the head down. Both ends of one plate
/// count as its middle.
fn anchors(
    pattern: &Pattern,
    hints: &[(Landmark, Vector2<f64>)],
) -> Result<Vec<(f64, Vector2<f64>)>, LayError> {
    let mut out: Vec<(f64, Vector2<f64>, f64)> = Vec::new();
    for (name, at) in hints {
        let along = pattern.along_of(*name).ok_or(LayError::Hint(*name))?;
        match out.iter_mut().find(|a| (a.0 - along).abs() < 1e-9) {
            Some(a) => {
                a.1 += at;
                a.2 += 1.0;
            }
            None => out.push((along, *at, 1.0)),
        }
    }
    out.sort_by(|a, b| a.0.total_cmp(&b.0));
    Ok(out.into_iter().map(|a| (a.0, a.1 / a.2)).collect())
}

/// How much longer than the straight line between its ends a spine may be.
const LONGER: [f64; 4] = [1.0, 1.1, 1.22, 1.35];
/// Vertebrae less alike than this in the mean are not taken for those of the film before.
const ALIKE: f64 = 0.5;
/// SD of a place that a hint gives, mm.
const HELD_SD: f64 = 1.5;

const FIRST: Round = Round {
    grid: Grid {
        offsets: (16, 0.75),
        turns: (4, 0.06),
        openings: (3, 3.0),
    },
    body: 0.0,
    place_sd: 5.0,
    height_sd: 1.5,
    tilt_sd: 0.06,
};

/// Lays a pattern along the spine of a film between hints and fits it to what the film shows. `hand` is
/// +1 when a plate's first end (left, or posterior) lies on the left with the head up, else −1.
///
/// # Errors
/// A hint that names nothing of the pattern, fewer than two places along it.
pub fn lay(
    plane: &GreyPlane,
    steps: Steps,
    pattern: &Pattern,
    hints: &[(Landmark, FilmPx)],
    hand: f64,
) -> Result<Vec<Refined>, LayError> {
    let hints: Vec<(Landmark, Vector2<f64>)> =
        hints.iter().map(|(n, p)| (*n, steps.mm(*p))).collect();
    let anchors = anchors(pattern, &hints)?;
    let film = coarse(plane, steps);
    if pattern.looks.is_empty() {
        return proposed(plane, steps, &film, pattern, &anchors, hand);
    }
    let likeness = Likeness::of(plane, steps, &pattern.pieces);
    let (mut chain, heights) = as_before(plane, steps, &film, pattern, &anchors, hand)?;
    likeness.place(&mut chain);
    let beliefs = fit(plane, steps, &mut chain, &heights, &FIRST, Some(&likeness));
    Ok(super::refine::finished(chain, &beliefs, steps))
}

/// The pattern's vertebrae where they look as they did on the film before, with their heights.
fn as_before(
    plane: &GreyPlane,
    steps: Steps,
    film: &GreyPlane,
    pattern: &Pattern,
    anchors: &[(f64, Vector2<f64>)],
    hand: f64,
) -> Result<(Chain, Vec<f64>), LayError> {
    let middle = Vector2::new(
        plane.width as f64 * steps.column,
        plane.height as f64 * steps.row,
    ) / 2.0;
    let moved = Moved::onto(pattern, anchors, middle);
    let found = found(film, pattern, &moved, anchors, hand).ok_or(LayError::Off)?;
    if anchors.len() < 2 && found.alike < ALIKE {
        return Err(LayError::Unlike);
    }
    let chain = Chain {
        held: held(pattern, anchors),
        ..Chain::new(found.plates, hand, pattern.lateral, 2.0)
    };
    Ok((chain, found.heights))
}

/// The middles of vertebrae where the film shows what usually looks like them, between two hints.
fn usual_middles(
    film: &GreyPlane,
    pattern: &Pattern,
    anchors: &[(f64, Vector2<f64>)],
    hand: f64,
) -> Option<Vec<Vector2<f64>>> {
    let (first, last) = (anchors.first()?, anchors.last()?);
    let chord = (last.1 - first.1).norm() / (last.0 - first.0).max(1e-6);
    let mut best: Option<Found> = None;
    for longer in LONGER {
        let size = chord * longer;
        let pattern = pattern.sized(size, hand);
        let anchors: Vec<_> = anchors.iter().map(|a| (a.0 * size, a.1)).collect();
        let moved = Moved::onto(&pattern, &anchors, Vector2::zeros());
        let found = found(film, &pattern, &moved, &anchors, hand)?;
        if best.as_ref().is_none_or(|b| found.score > b.score) {
            best = Some(found);
        }
    }
    Some(best?.plates.iter().map(|p| p.middle).collect())
}

/// A usual spine laid along the spine's path and, on a lateral film, where vertebrae look as they usually
/// do: on a real chest what lies behind the bodies is brighter than they are. The one whose plates stand
/// out more of noise is kept.
fn proposed(
    plane: &GreyPlane,
    steps: Steps,
    film: &GreyPlane,
    pattern: &Pattern,
    anchors: &[(f64, Vector2<f64>)],
    hand: f64,
) -> Result<Vec<Refined>, LayError> {
    let [first, .., last] = anchors else {
        return Err(LayError::Ends);
    };
    // A spine is expected near the straight line, very loosely.
    let guide: Vec<Vector2<f64>> = (0..=20)
        .map(|i| first.1 + (last.1 - first.1) * f64::from(i) / 20.0)
        .collect();
    let mut points: Vec<Vector2<f64>> = Vec::new();
    for pair in anchors.windows(2) {
        let part = path(film, pair[0].1, pair[1].1, &guide);
        points.extend(part.iter().skip(usize::from(!points.is_empty())));
    }
    let mut lines = vec![points];
    if pattern.lateral {
        lines.extend(usual_middles(film, pattern, anchors, hand));
    }
    let mut best: Option<(f64, Vec<Refined>)> = None;
    for points in lines {
        let mut chain = along_line(plane, steps, &points, pattern, anchors, hand);
        let heights = chain.heights();
        let beliefs = fit(plane, steps, &mut chain, &heights, &FIRST, None);
        let distinct = beliefs.iter().map(|b| b.distinct).sum::<f64>();
        if best.as_ref().is_none_or(|b| distinct > b.0) {
            best = Some((distinct, super::refine::finished(chain, &beliefs, steps)));
        }
    }
    best.map(|b| b.1).ok_or(LayError::Off)
}

/// The pattern's plates along a line down the spine on the film.
fn along_line(
    plane: &GreyPlane,
    steps: Steps,
    points: &[Vector2<f64>],
    pattern: &Pattern,
    anchors: &[(f64, Vector2<f64>)],
    hand: f64,
) -> Chain {
    let (first, last) = (anchors[0], anchors[anchors.len() - 1]);
    // Half widths at the film's own scale.
    let scale = length(points) / (last.0 - first.0).max(1.0);
    let halves: Vec<f64> = (0..points.len())
        .map(|i| {
            let s = first.0 + (last.0 - first.0) * i as f64 / (points.len() - 1).max(1) as f64;
            let near = pattern
                .plates
                .iter()
                .min_by(|a, b| (a.along - s).abs().total_cmp(&(b.along - s).abs()));
            near.map_or(14.0, |p| p.half) * scale
        })
        .collect();
    let beyond = ((pattern.plates.last().map_or(0.0, |p| p.along) - last.0)
        .max(first.0 - pattern.plates[0].along)
        .max(0.0)
        * scale)
        + 8.0;
    let found = resampled(points, &halves, beyond);
    let by = borders(pattern.lateral, hand);
    let mut course = trace(plane, steps, &found, by);
    if !pattern.lateral {
        // Once more about where it was found: the path may run beside the spine. On a lateral film that
        // leads further off it.
        for (place, guide) in course.iter_mut().zip(&found) {
            place.half = guide.half;
        }
        course = trace(plane, steps, &course, by);
    }
    along_course(pattern, &course, anchors, hand)
}

fn length(points: &[Vector2<f64>]) -> f64 {
    points.windows(2).map(|w| (w[1] - w[0]).norm()).sum()
}

/// Plates that a hint names.
fn held(pattern: &Pattern, anchors: &[(f64, Vector2<f64>)]) -> Vec<(usize, Vector2<f64>, f64)> {
    pattern
        .plates
        .iter()
        .enumerate()
        .filter_map(|(i, p)| {
            let anchor = anchors.iter().find(|a| (a.0 - p.along).abs() < 1e-6)?;
            Some((i, anchor.1, HELD_SD))
        })
        .collect()
}

/// The pattern's plates along a course, stretched evenly between the anchors.
fn along_course(
    pattern: &Pattern,
    course: &[Place],
    anchors: &[(f64, Vector2<f64>)],
    hand: f64,
) -> Chain {
    let on: Vec<(f64, f64)> = anchors
        .iter()
        .filter_map(|(along, p)| Some((*along, nearest(course, *p)?.along)))
        .collect();
    let at = |along: f64| {
        let k = on.partition_point(|a| a.0 <= along).clamp(1, on.len() - 1);
        let (a, b) = (on[k - 1], on[k]);
        a.1 + (along - a.0) * (b.1 - a.1) / (b.0 - a.0).max(1e-6)
    };
    let scale = (on[on.len() - 1].1 - on[0].1) / (on[on.len() - 1].0 - on[0].0).max(1e-6);
    let mut tilt_before: Option<f64> = None;
    let plates = pattern
        .plates
        .iter()
        .map(|p| {
            let s = at(p.along);
            let k = course
                .partition_point(|c| c.along <= s)
                .clamp(1, course.len() - 1);
            let (a, b) = (&course[k - 1], &course[k]);
            let t = (s - a.along) / (b.along - a.along).max(1e-6);
            let middle = a.middle + (b.middle - a.middle) * t;
            let toward = (a.toward + (b.toward - a.toward) * t.clamp(0.0, 1.0)).normalize();
            let across = Vector2::new(toward.y, -toward.x) * hand;
            let mut tilt = across.y.atan2(across.x);
            if let Some(before) = tilt_before {
                let turn = std::f64::consts::TAU;
                tilt -= ((tilt - before) / turn).round() * turn;
            }
            if let Some(before) = tilt_before.filter(|_| p.level == Level::S1) {
                tilt = before + p.lean;
            }
            tilt_before = Some(tilt);
            Guess {
                level: p.level,
                edge: p.edge,
                middle,
                tilt,
                half: p.half * scale,
            }
        })
        .collect();
    Chain {
        held: held(pattern, anchors),
        ..Chain::new(plates, hand, pattern.lateral, 2.0)
    }
}
