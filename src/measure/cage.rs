//! Width of the rib cage and the apical body's place in it.

use super::Measured;
use super::context::Context;
use super::curves::Apex;
use crate::geometry::PlaneMarks;
use crate::landmark::{Edge, Landmark, Pair};
use crate::units::{Side, Unit};

pub(super) const KEYS: &[&str] = &["thoracic_width", "apical_body_rib_ratio"];

pub(super) fn measure(context: &Context<'_>, out: &mut Vec<Measured>) {
    out.push(width(context));
    out.push(body_rib_ratio(context));
}

/// Horizontal distance of the lateral rib margins at the apex level (the level where a width is
/// taken differs between papers; the marks are the contract's).
fn width(context: &Context<'_>) -> Measured {
    let names = PlaneMarks::pair_names(Pair::Ribcage);
    let result = Measured::new(KEYS[0], Unit::Millimetre)
        .by("lateral rib margins at the apex level")
        .of_marks(names);
    match (context.plane.point(names[0]), context.plane.point(names[1])) {
        (Some(l), Some(r)) => {
            result.scaled((&r.x - &l.x).abs(), &context.plane.scale, context.sd())
        }
        _ => result.missing(context.plane.missing(&names)),
    }
}

/// Distance from the lateral border of the apical body to the chest wall, concave over convex
/// (Sun 2013 names the distances, confirmed; which side is divided by which is common practice, no
/// source). The body's border is the middle of its two plate ends on that side.
fn body_rib_ratio(context: &Context<'_>) -> Measured {
    let margins = PlaneMarks::pair_names(Pair::Ribcage);
    let result = Measured::new(KEYS[1], Unit::Ratio).by("concave / convex, horizontal distances");
    let curve = context.curves.iter().find(|c| {
        c.apex
            .as_ref()
            .is_some_and(|a| a.0.level().thoracic_number().is_some())
    });
    let Some((curve, apex)) = curve.and_then(|c| Some((c, c.apex.as_ref()?.0))) else {
        return result.missing(["a curve with a thoracic apex".to_owned()]);
    };
    let mut result = result.at(apex);
    result.curve = Some(curve.name.clone());
    result.region = curve.region();
    // A disc has no border of its own: the plates that face it stand for it.
    let [above, below] = match apex {
        Apex::Body(level) => [(level, Edge::Upper), (level, Edge::Lower)],
        Apex::Disc(above, below) => [(above, Edge::Lower), (below, Edge::Upper)],
    };
    let mut names: Vec<Landmark> = margins.to_vec();
    for (level, edge) in [above, below] {
        names.extend(context.plane.plate_names(level, edge));
    }
    let needs = context.plane.missing(&names);
    let (Some(convex), true) = (curve.convex(context), needs.is_empty()) else {
        return result.missing(needs.into_iter().chain(context.side_needs()));
    };
    let distance = |side: Side| {
        let end = usize::from(side == Side::Right);
        let wall = context.plane.point(margins[end])?;
        let border = |(level, edge)| {
            let plate = context.plate(level, edge)?;
            Some(if side == Side::Left {
                plate.from.x.clone()
            } else {
                plate.to.x.clone()
            })
        };
        let border = (&border(above)? + &border(below)?).scale(0.5);
        let outward = &wall.x - &border;
        Some(if side == Side::Left {
            outward.scale(-1.0)
        } else {
            outward
        })
    };
    match (distance(convex.other()), distance(convex)) {
        (Some(concave), Some(convex)) => result
            .of_marks(names)
            .unscaled(&concave / &convex, context.sd()),
        _ => result.missing(["end-plates that have two ends apart".to_owned()]),
    }
}
