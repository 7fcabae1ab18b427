//! Marks that stand where they cannot: said at once.

use super::{FilmFrame, Placement, PlaneMarks, Plate};
use crate::landmark::{Edge, Landmark, LandmarkSet, Level, spoken};
use crate::units::Side;

/// Sentences on marks whose order cannot be: a plate above the one over it (levels in the wrong
/// order, or the ends of a plate exchanged), left and right of a pair exchanged.
///
/// A plate's own direction tells which way is down the spine, so curves of any size are judged.
#[must_use]
pub fn out_of_place(frame: &FilmFrame, marks: &LandmarkSet) -> Vec<String> {
    let plane = PlaneMarks::new(frame, marks, &Placement::default());
    let plates: Vec<(Level, Edge, Plate)> = Level::all()
        .flat_map(|level| [Edge::Upper, Edge::Lower].map(|edge| (level, edge)))
        .filter_map(|(level, edge)| Some((level, edge, plane.plate(level, edge)?)))
        .collect();
    let mut out = Vec::new();
    for w in plates.windows(2) {
        let [(upper, edge, plate), (lower, lower_edge, next)] = w else {
            continue;
        };
        let mut up = (plate.from.y.v - plate.to.y.v, plate.to.x.v - plate.from.x.v);
        // While the side is unknown the plane may be mirrored: up is then what points up the film.
        if !plane.side_known() && up.1 < 0.0 {
            up = (-up.0, -up.1);
        }
        let (from, to) = (plate.middle(), next.middle());
        if (to.x.v - from.x.v) * up.0 + (to.y.v - from.y.v) * up.1 > 0.0 {
            out.push(format!(
                "{lower} {lower_edge} plate stands above {upper} {edge} plate: levels in the wrong order, or the ends of {upper} exchanged"
            ));
        }
    }
    if plane.side_known() && !frame.lateral {
        for (name, _) in marks.iter() {
            let Landmark::Paired(pair, Side::Left) = name else {
                continue;
            };
            let other = plane.point(Landmark::Paired(pair, Side::Right));
            if let (Some(left), Some(right)) = (plane.point(name), other)
                && left.x.v > right.x.v
            {
                out.push(format!("{}: left and right exchanged", spoken(name)));
            }
        }
    }
    out
}
