//! Marks laid on a film that has none: last film's vertebrae, or those of a usual spine, along the
//! spine found on the film.

use super::chain::{Chain, Guess, Steps};
use super::evidence::Grid;
use super::likeness::Likeness;
use super::midline::{CLOSE, Place, WIDE, borders, nearest, resampled, trace};
use super::path::{coarse, find_piece, path};
use super::pattern::Pattern;
use super::refine::{Refined, Round, fit};
use crate::film::GreyPlane;
use crate::landmark::{Landmark, LandmarkSet, Level};
use crate::units::FilmPx;
use nalgebra::Vector2;

/// Why marks cannot be laid.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LayError {
    /// A hint names nothing of the spine that is laid.
    #[error("the hint {0} is no end-plate or centre of the spine that is laid")]
    Hint(Landmark),
    /// Both ends are needed.
    #[error("{0}")]
    Ends(&'static str),
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

/// Finds the two ends of a marked film on another by how their surroundings look: the pelvis about the
/// sacrum and the neck about the first plate.
#[must_use]
pub fn find_ends(
    from: (&GreyPlane, Steps, &LandmarkSet),
    to: (&GreyPlane, Steps),
    lateral: bool,
) -> Vec<(Landmark, FilmPx, f64)> {
    let Some(chain) = Chain::of(from.2, lateral, from.1, 1.0) else {
        return Vec::new();
    };
    let (a, b) = (coarse(from.0, from.1), coarse(to.0, to.1));
    let flat = |g: &GreyPlane| crate::film::local_contrast(g, 20);
    let (a, b) = (flat(&a), flat(&b));
    let size = |g: &GreyPlane| Vector2::new(g.width as f64, g.height as f64) * super::path::COARSE;
    let shift = (size(&b) - size(&a)) / 2.0;
    let ends = [chain.plates.first(), chain.plates.last()];
    ends.into_iter()
        .flatten()
        .zip([(46.0, 34.0), (64.0, 46.0)])
        .filter_map(|(plate, half)| {
            let (at, alike) =
                find_piece(&a, plate.middle, half, &b, (plate.middle + shift, 110.0))?;
            // Then its own bone alone: the neck stretches, shoulders and skin move.
            let (at, _) = find_piece(&a, plate.middle, (22.0, 20.0), &b, (at, 9.0))?;
            let name = Landmark::plate_ends(plate.level, plate.edge, lateral)[0];
            Some((name, to.1.film(at), alike))
        })
        .collect()
}

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
    let [first, .., last] = &anchors[..] else {
        return Err(LayError::Ends(
            "the spine needs a hint near each end, as C7.center=X,Y and S1.center=X,Y",
        ));
    };
    let guide = warped(&pattern.course, pattern, first, last);
    let film = coarse(plane, steps);
    let mut points: Vec<Vector2<f64>> = Vec::new();
    for pair in anchors.windows(2) {
        let part = path(&film, pair[0].1, pair[1].1, &guide);
        points.extend(part.iter().skip(usize::from(!points.is_empty())));
    }
    // Half widths at the film's own scale.
    let scale = length(&points) / (last.0 - first.0).max(1.0);
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
    let found = resampled(&points, &halves, beyond);
    let old = (!pattern.course.is_empty()).then(|| {
        let halves: Vec<f64> = pattern.plates.iter().map(|p| p.half * scale).collect();
        resampled(&guide, &halves, beyond)
    });
    let (course, other) = courses(plane, steps, pattern.lateral, hand, &found, old.as_deref());
    let likeness = Likeness::of(plane, steps, &pattern.pieces);
    let laid = |course: &[Place]| {
        let mut chain = along_course(pattern, course, &anchors, hand);
        // Bodies keep their heights from film to film: the laid ones hold throughout.
        let heights = chain.heights();
        let alike = likeness.as_ref().map_or(0.0, |l| l.place(&mut chain));
        (chain, heights, alike)
    };
    let mut best = laid(&course);
    if let Some(other) = other {
        // Of two, the one where the plates look more as they did.
        let other = laid(&other);
        if other.2 > best.2 {
            best = other;
        }
    }
    let (mut chain, heights, _) = best;
    let beliefs = fit(
        plane,
        steps,
        &mut chain,
        &heights,
        &FIRST,
        likeness.as_ref(),
    );
    Ok(super::refine::finished(chain, &beliefs, steps))
}

/// Courses to lay the chain along: about the path found on the film, and about where the film before leads
/// one to expect it.
fn courses(
    plane: &GreyPlane,
    steps: Steps,
    lateral: bool,
    hand: f64,
    found: &[Place],
    old: Option<&[Place]>,
) -> (Vec<Place>, Option<Vec<Place>>) {
    let by = borders(lateral, hand);
    let mut course = trace(plane, steps, found, by, CLOSE);
    if !lateral {
        // Once more about where it was found: the path may run beside the spine. On a lateral film that
        // leads further off it.
        for (place, guide) in course.iter_mut().zip(found) {
            place.half = guide.half;
        }
        course = trace(plane, steps, &course, by, CLOSE);
    }
    (course, old.map(|old| trace(plane, steps, old, by, WIDE)))
}

fn length(points: &[Vector2<f64>]) -> f64 {
    points.windows(2).map(|w| (w[1] - w[0]).norm()).sum()
}

/// The old course moved, turned and stretched so that its ends lie on the new ones: where the path is
/// expected, loosely.
fn warped(
    course: &[Vector2<f64>],
    pattern: &Pattern,
    first: &(f64, Vector2<f64>),
    last: &(f64, Vector2<f64>),
) -> Vec<Vector2<f64>> {
    if course.is_empty() {
        // A usual spine is expected near the straight line, very loosely.
        return (0..=20)
            .map(|i| first.1 + (last.1 - first.1) * f64::from(i) / 20.0)
            .collect();
    }
    let nearest = |along: f64| {
        let k = pattern.plates.iter().enumerate().min_by(|a, b| {
            (a.1.along - along)
                .abs()
                .total_cmp(&(b.1.along - along).abs())
        });
        course[k.map_or(0, |k| k.0)]
    };
    let (a, b) = (nearest(first.0), nearest(last.0));
    let (old, new) = (b - a, last.1 - first.1);
    // Complex ratio new / old: turn and scale in one.
    let d = old.norm_squared().max(1e-9);
    let (re, im) = (old.dot(&new) / d, (old.x * new.y - old.y * new.x) / d);
    course
        .iter()
        .map(|p| {
            let v = p - a;
            first.1 + Vector2::new(re * v.x - im * v.y, im * v.x + re * v.y)
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
    let held = pattern
        .plates
        .iter()
        .enumerate()
        .filter_map(|(i, p)| {
            let anchor = anchors.iter().find(|a| (a.0 - p.along).abs() < 1e-6)?;
            Some((i, anchor.1, HELD_SD))
        })
        .collect();
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
        held,
        ..Chain::new(plates, hand, pattern.lateral, 2.0)
    }
}
