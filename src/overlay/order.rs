//! Marks that stand where they cannot: said at once.

use super::walk::spoken;
use crate::geometry::FilmFrame;
use crate::landmark::{Edge, Landmark, LandmarkSet, Level, PlateEnd};
use crate::units::{FilmPx, Side};

/// Sentences on marks whose order cannot be: ends of a plate exchanged, a plate above the one over
/// it, sides of a pair exchanged.
#[must_use]
pub fn out_of_place(frame: &FilmFrame, marks: &LandmarkSet) -> Vec<String> {
    let mut out = Vec::new();
    let plane = |p: FilmPx| frame.plane_from_film(p);
    let known = frame.side_on.is_some();
    let (first, second) = if frame.lateral {
        (PlateEnd::Posterior, PlateEnd::Anterior)
    } else {
        (PlateEnd::Left, PlateEnd::Right)
    };
    let mut plates: Vec<(Level, Edge, FilmPx)> = Vec::new();
    for level in Level::all() {
        for edge in [Edge::Upper, Edge::Lower] {
            let at = |end| marks.point(Landmark::Plate(level, edge, end));
            if let (Some(a), Some(b)) = (at(first), at(second)) {
                plates.push((
                    level,
                    edge,
                    FilmPx::new((a.x + b.x) / 2.0, (a.y + b.y) / 2.0),
                ));
            }
        }
    }
    // Along the spine each plate must lie below the one before it, seen along its own axis; the
    // chain's direction stands in for up where the spine lies across.
    for w in plates.windows(2) {
        let ((l0, e0, p0), (l1, e1, p1)) = (w[0], w[1]);
        let direction = tilt_normal(frame, marks, l0, e0, first, second);
        let (a, b) = (plane(p0), plane(p1));
        let along = (b.x - a.x) * direction.0 + (b.y - a.y) * direction.1;
        if along > 0.0 {
            out.push(format!(
                "{l1} {} stands above {l0} {}: levels in the wrong order, or the ends of {l0} exchanged",
                word(e1),
                word(e0)
            ));
        }
    }
    if known && !frame.lateral {
        for (name, points) in marks.iter() {
            let Landmark::Paired(pair, Side::Left) = name else {
                continue;
            };
            let other = marks.point(Landmark::Paired(pair, Side::Right));
            if let (Some(l), Some(r)) = (points.first(), other)
                && plane(*l).x > plane(r).x
            {
                out.push(format!("{}: left and right exchanged", spoken(name)));
            }
        }
    }
    out
}

fn word(edge: Edge) -> &'static str {
    match edge {
        Edge::Upper => "upper plate",
        Edge::Lower => "lower plate",
    }
}

/// The direction out of the upper side of a plate, from its own ends.
fn tilt_normal(
    frame: &FilmFrame,
    marks: &LandmarkSet,
    level: Level,
    edge: Edge,
    first: PlateEnd,
    second: PlateEnd,
) -> (f64, f64) {
    let at = |end| {
        marks
            .point(Landmark::Plate(level, edge, end))
            .map(|p| frame.plane_from_film(p))
    };
    match (at(first), at(second)) {
        (Some(a), Some(b)) => {
            // An unknown side may mirror the plane; then up is what points up the film.
            let (x, y) = (-(b.y - a.y), b.x - a.x);
            if frame.side_on.is_none() && y < 0.0 {
                (-x, -y)
            } else {
                (x, y)
            }
        }
        _ => (0.0, 1.0),
    }
}
