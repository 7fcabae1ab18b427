//! Rotation by the pedicles, rib-vertebra angles, space available for the lungs.

use super::Measured;
use super::context::Context;
use super::curves::Curve;
use crate::geometry::{PlaneMarks, Point};
use crate::landmark::{Edge, Landmark, Level, Pair, RibPart};
use crate::units::{Dual, Side, Toward, Unit, wrap_degrees};

pub(super) const KEYS: &[&str] = &[
    "vertebral_rotation",
    "rotation_grade",
    "rib_vertebra_angle",
    "rib_vertebra_angle_difference",
    "space_available_for_lung",
];

/// Interpedicular width over depth where the case states none: an assumption, no source found.
const ASSUMED_RATIO: f64 = 1.2;

pub(super) fn measure(context: &Context<'_>, out: &mut Vec<Measured>) {
    let before = out.len();
    let found: Vec<Offsets> = Level::all()
        .filter(|l| !context.settings.is_absent(*l))
        .filter_map(|level| offsets(context, level))
        .collect();
    out.extend(found.iter().map(|o| rotation(context, o)));
    out.extend(found.iter().map(|o| grade(context, o)));
    if out.len() == before {
        let needs = ["pedicles and end-plates of a vertebra".to_owned()];
        out.push(Measured::new("vertebral_rotation", Unit::Degree).missing(needs.clone()));
        out.push(Measured::new("rotation_grade", Unit::None).missing(needs));
    }
    rib_angles(context, out);
    out.push(lung_space(context));
}

/// The pedicles of a level across its body.
struct Offsets {
    level: Level,
    /// Distance of the right pedicle from the body's centre line, outward.
    right: Dual,
    /// Distance of the left pedicle, outward.
    left: Dual,
    marks: Vec<Landmark>,
}

fn offsets(context: &Context<'_>, level: Level) -> Option<Offsets> {
    let names = Side::BOTH.map(|s| Landmark::Pedicle(level, s));
    let (left, right) = (
        context.plane.point(names[0])?,
        context.plane.point(names[1])?,
    );
    let (upper, lower) = (
        context.plate(level, Edge::Upper)?,
        context.plate(level, Edge::Lower)?,
    );
    let (top, bottom) = (upper.middle(), lower.middle());
    // Across the body: perpendicular to the line of the plates' middles, toward the patient's right.
    let (dx, dy) = (&top.x - &bottom.x, &top.y - &bottom.y);
    let length = dx.hypot(&dy);
    let across = |p: &Point| {
        let (px, py) = (&p.x - &bottom.x, &p.y - &bottom.y);
        &(&(&px * &dy) - &(&py * &dx)) / &length
    };
    let mut marks = names.to_vec();
    marks.extend(context.plane.plate_names(level, Edge::Upper));
    marks.extend(context.plane.plate_names(level, Edge::Lower));
    Some(Offsets {
        level,
        right: across(&right),
        left: across(&left).scale(-1.0),
        marks,
    })
}

/// Pedicle offset (Stokes 1986): tan θ = (w/2d)(a − b)/(a + b), a and b the distances of the right
/// and left pedicle from the body's centre line, each outward on its own side. Positive when the
/// spinous process turns to the patient's right; `toward` names that side.
fn rotation(context: &Context<'_>, offsets: &Offsets) -> Measured {
    let (a, b) = (&offsets.right, &offsets.left);
    let ratio = context.settings.width_depth_ratio.unwrap_or(ASSUMED_RATIO);
    let quotient = &(a - b) / &(a + b);
    let assumed = if context.settings.width_depth_ratio.is_some() {
        "stated"
    } else {
        "assumed"
    };
    let result = Measured::new("vertebral_rotation", Unit::Degree)
        .at(offsets.level)
        .by(format!(
            "pedicle offset, width/depth ratio {ratio} {assumed}"
        ))
        .of_marks(offsets.marks.clone());
    if !context.plane.side_known() {
        return result.missing(context.side_needs());
    }
    let angle = quotient.scale(ratio / 2.0).atan_degrees();
    result
        .unscaled(angle, context.sd())
        .pointing(Toward::Left, Toward::Right)
}

/// Grades of a pedicle's way toward the midline.
const GRADES: [&str; 5] = ["0", "I", "II", "III", "IV"];

/// The grade of a way, 0 symmetric to 1 at the midline: the grades' wordings place the pedicle at
/// none, one third, two thirds, all of the way and beyond; the limits lie halfway between.
fn grade_of(way: f64) -> usize {
    [1.0 / 6.0, 0.5, 5.0 / 6.0, 7.0 / 6.0]
        .iter()
        .filter(|limit| way >= **limit)
        .count()
}

/// The five-grade reading (Nash and Moe 1969, wording from memory) of the same marks: how far the
/// pedicle that moves toward the midline has gone from where a vertebra without rotation has it,
/// |a − b| / (a + b). A grade is a displacement, no angle.
fn grade(context: &Context<'_>, offsets: &Offsets) -> Measured {
    let (a, b) = (&offsets.right, &offsets.left);
    let way = (&(a - b) / &(a + b)).abs();
    let result = Measured::new("rotation_grade", Unit::None)
        .at(offsets.level)
        .by("pedicle's way to the midline in thirds (five grades, Nash and Moe 1969)")
        .of_marks(offsets.marks.clone());
    if !context.plane.side_known() {
        return result.missing(context.side_needs());
    }
    if !way.v.is_finite() || (a + b).v <= 0.0 {
        return result.missing(["pedicles that lie apart".to_owned()]);
    }
    let sd = way.variance(context.sd()).sqrt();
    let found = grade_of(way.v);
    let (least, most) = (grade_of(way.v - sd), grade_of(way.v + sd));
    let mut result = result.unscaled(Dual::constant(found as f64), |_| 0.0);
    if least != most {
        result = result.noting(format!(
            "{} to {} by the placement of the marks",
            GRADES[least], GRADES[most]
        ));
    }
    // A grade is a size; it points where the rotation does.
    let right = a.v >= b.v;
    result.toward = (found > 0).then_some(if right { Toward::Right } else { Toward::Left });
    result
}

/// Angle between a rib's line (neck to head) and the perpendicular of the apical end-plate, 0–180°.
fn rib_angle(
    context: &Context<'_>,
    level: Level,
    rib: u8,
    side: Side,
) -> Option<(Dual, Vec<Landmark>)> {
    let names = [RibPart::Neck, RibPart::Head].map(|part| PlaneMarks::rib_name(rib, side, part));
    let (neck, head) = (
        context.plane.point(names[0])?,
        context.plane.point(names[1])?,
    );
    let edge = context.standing_plate(level, Edge::Lower)?;
    let tilt = context.tilt(level, edge)?;
    // Up along the body, against the way from the neck inward and up to the head.
    let angle = (&tilt.offset(90.0) - &neck.direction_to(&head)).wrapped();
    let mut marks = names.to_vec();
    marks.extend(context.plane.plate_names(level, edge));
    Some((
        angle.chain(wrap_degrees(angle.v).abs(), angle.v.signum()),
        marks,
    ))
}

/// The largest curve whose apex is, or lies just below, a thoracic vertebra.
fn apical<'c>(context: &'c Context<'_>) -> Option<(&'c Curve, Level, u8)> {
    context
        .curves
        .iter()
        .filter_map(|c| {
            let level = c.apex.as_ref()?.0.level();
            Some((c, level, level.thoracic_number().filter(|n| *n <= 12)?))
        })
        .max_by(|a, b| a.0.angle.v.abs().total_cmp(&b.0.angle.v.abs()))
}

fn rib_angles(context: &Context<'_>, out: &mut Vec<Measured>) {
    let blank = |key: &'static str| Measured::new(key, Unit::Degree);
    let Some((curve, level, rib)) = apical(context) else {
        let needs = ["a curve with a thoracic apex".to_owned()];
        out.push(blank("rib_vertebra_angle").missing(needs.clone()));
        out.push(blank("rib_vertebra_angle_difference").missing(needs));
        return;
    };
    let of_curve = |key: &'static str| {
        let mut r = blank(key).at(level);
        r.curve = Some(curve.name.clone());
        r.region = curve.region();
        r
    };
    let needs = |side: Side| {
        let names =
            [RibPart::Neck, RibPart::Head].map(|part| PlaneMarks::rib_name(rib, side, part));
        let mut needs = context.plane.missing(&names);
        if context.standing_plate(level, Edge::Lower).is_none() {
            needs.extend(
                context
                    .plane
                    .missing(&context.plane.plate_names(level, Edge::Lower)),
            );
        }
        needs
    };
    for side in Side::BOTH {
        let mut r = of_curve("rib_vertebra_angle");
        r.side = Some(side);
        out.push(match rib_angle(context, level, rib, side) {
            Some((angle, marks)) => r.of_marks(marks).unscaled(angle, context.sd()),
            None => r.missing(needs(side)),
        });
    }
    // Concave − convex (Mehta 1972); on a film largely projection (Brink 2018).
    let r = of_curve("rib_vertebra_angle_difference").by("concave − convex");
    let Some(convex) = curve.convex(context) else {
        out.push(r.missing(context.side_needs()));
        return;
    };
    out.push(
        match (
            rib_angle(context, level, rib, convex.other()),
            rib_angle(context, level, rib, convex),
        ) {
            (Some(concave), Some(convex)) => r
                .of_marks(concave.1)
                .of_marks(convex.1)
                .unscaled(&concave.0 - &convex.0, context.sd())
                .noting("on a film largely projection (Brink 2018)"),
            _ => r.missing(Side::BOTH.into_iter().flat_map(needs)),
        },
    );
}

/// Concave over convex height of the hemithorax, per cent (Campbell 2003; landmarks from memory:
/// middle of the first rib to the centre of the hemidiaphragm, vertical).
fn lung_space(context: &Context<'_>) -> Measured {
    let mut names = PlaneMarks::pair_names(Pair::FirstRib).to_vec();
    names.extend(PlaneMarks::pair_names(Pair::Hemidiaphragm));
    let result = Measured::new("space_available_for_lung", Unit::Percent)
        .by("concave / convex, vertical heights")
        .of_marks(names.clone());
    let height = |side: Side| {
        let (top, bottom) = (
            context
                .plane
                .point(Landmark::Paired(Pair::FirstRib, side))?,
            context
                .plane
                .point(Landmark::Paired(Pair::Hemidiaphragm, side))?,
        );
        Some(&top.y - &bottom.y)
    };
    let convex = context.curves.first().map(|c| c.convex(context));
    match (height(Side::Left), height(Side::Right), convex) {
        (Some(left), Some(right), Some(Some(convex))) => {
            let (concave, convex) = if convex == Side::Right {
                (left, right)
            } else {
                (right, left)
            };
            result.unscaled((&concave / &convex).scale(100.0), context.sd())
        }
        (_, _, convex) => {
            let curve = if convex.is_none() {
                vec!["end-plates of two vertebrae".to_owned()]
            } else {
                Vec::new()
            };
            result.missing(
                context
                    .plane
                    .missing(&names)
                    .into_iter()
                    .chain(curve)
                    .chain(context.side_needs()),
            )
        }
    }
}
