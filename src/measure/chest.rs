//! Ribs: spacing of neighbouring ribs and spread about the apex.

use super::Measured;
use super::context::Context;
use super::curves::{Apex, Curve};
use crate::geometry::{PlaneMarks, ScaleState, mean_distance};
use crate::landmark::{Landmark, RibPart};
use crate::units::{Dual, Side, Toward, Unit};

pub(super) const KEYS: &[&str] = &[
    "rib_spacing",
    "rib_spread_convex",
    "rib_spread_concave",
    "rib_spread_difference",
    "rib_spread_ratio",
];

/// Distance of two neighbouring ribs on one side.
struct Spacing {
    upper: u8,
    side: Side,
    distance: Dual,
    method: &'static str,
    marks: [Landmark; 2],
}

const AT_PROCESS: &str = "at the transverse processes";
const MIDLINES: &str = "mean of the midlines";

pub(super) fn measure(context: &Context<'_>, out: &mut Vec<Measured>) {
    let spacings: Vec<Spacing> = Side::BOTH
        .iter()
        .flat_map(|side| (1..=12).filter_map(|rib| spacing(context, rib, *side)))
        .collect();
    if spacings.is_empty() {
        out.push(
            Measured::new("rib_spacing", Unit::Millimetre)
                .missing(["two neighbouring ribs of one side".to_owned()]),
        );
    }
    for s in &spacings {
        let mut result = Measured::new("rib_spacing", Unit::Millimetre)
            .at(format!("rib{}-rib{}", s.upper, s.upper + 1))
            .by(s.method)
            .of_marks(s.marks)
            .scaled(s.distance.clone(), &context.plane.scale, context.sd());
        result.side = Some(s.side);
        out.push(result);
    }
    spread(context, &spacings, out);
}

/// Sun 2013 measures at the lateral ends of the transverse processes; where these are not
/// marked, the mean distance of the midlines over their common course stands in (contract).
fn spacing(context: &Context<'_>, rib: u8, side: Side) -> Option<Spacing> {
    let tp = [rib, rib + 1].map(|n| PlaneMarks::rib_name(n, side, RibPart::Tp));
    if let (Some(a), Some(b)) = (context.plane.point(tp[0]), context.plane.point(tp[1])) {
        return Some(Spacing {
            upper: rib,
            side,
            distance: a.distance(&b),
            method: AT_PROCESS,
            marks: tp,
        });
    }
    let lines = [rib, rib + 1].map(|n| PlaneMarks::rib_name(n, side, RibPart::Midline));
    let distance = mean_distance(&context.plane.line(lines[0]), &context.plane.line(lines[1]))?;
    Some(Spacing {
        upper: rib,
        side,
        distance,
        method: MIDLINES,
        marks: lines,
    })
}

/// First and last rib of the spread about an apex: five pairs about a disc, four about a body.
#[must_use]
pub(super) fn ribs_about(apex: Apex) -> Option<(u8, u8)> {
    let (first, last) = match apex {
        Apex::Body(level) => {
            let n = level.thoracic_number()?;
            (n.checked_sub(2)?, n + 2)
        }
        Apex::Disc(level, _) => {
            let n = level.thoracic_number()?;
            (n.checked_sub(2)?, n + 3)
        }
    };
    (first >= 1 && last <= 13).then_some((first, last))
}

/// The curve whose ribs are spread: the largest with a thoracic apex that has its ribs; where the
/// ribs are stated, the largest thoracic curve, else the largest.
fn chest_curve<'c>(context: &'c Context<'_>) -> Option<&'c Curve> {
    let has_ribs = |c: &Curve| c.apex.as_ref().is_some_and(|a| ribs_about(a.0).is_some());
    let stated = context.settings.rib_pairs.is_some();
    context
        .curves
        .iter()
        .filter(|c| stated || has_ribs(c))
        .max_by(|a, b| {
            has_ribs(a)
                .cmp(&has_ribs(b))
                .then(a.angle.v.abs().total_cmp(&b.angle.v.abs()))
        })
}

fn spread(context: &Context<'_>, spacings: &[Spacing], out: &mut Vec<Measured>) {
    let units = [
        Unit::Millimetre,
        Unit::Millimetre,
        Unit::Millimetre,
        Unit::Ratio,
    ];
    let blank = || {
        KEYS[1..]
            .iter()
            .zip(units)
            .map(|(key, unit)| Measured::new(key, unit))
    };
    let Some(curve) = chest_curve(context) else {
        if let Some(curve) = context.curves.iter().find(|c| c.apex.is_some()) {
            let why = format!(
                "the apex of the {} curve has no ribs on both sides of it",
                curve.name
            );
            out.extend(blank().map(|r| r.not_applicable(&why)));
        } else {
            let needs = match context.curves.first() {
                Some(curve) => curve.apex_needs.clone(),
                None => vec!["end-plates of two vertebrae".to_owned()],
            };
            out.extend(blank().map(|r| r.missing(needs.clone())));
        }
        return;
    };
    let stated = context.settings.rib_pairs.map(|[a, b]| (a, b));
    let Some((first, last)) = stated.or_else(|| curve.apex.as_ref().and_then(|a| ribs_about(a.0)))
    else {
        return;
    };
    let blank = || {
        blank().map(|r| {
            let mut r = r.at(format!("rib{first}-rib{last}"));
            r.curve = Some(curve.name.clone());
            r.region = curve.region();
            r
        })
    };
    // A ratio must not mix methods; a side whose pairs mix them says so.
    let sum = |side: Side| {
        let found: Vec<&Spacing> = (first..last)
            .filter_map(|rib| spacings.iter().find(|s| s.upper == rib && s.side == side))
            .collect();
        (found.len() == usize::from(last - first)).then(|| {
            let total = Dual::weighted_sum(found.iter().map(|s| (1.0, &s.distance)));
            let by_process = found.iter().filter(|s| s.method == AT_PROCESS).count();
            let method = match by_process {
                0 => MIDLINES.to_owned(),
                n if n == found.len() => AT_PROCESS.to_owned(),
                n => format!("{n} pairs {AT_PROCESS}, {} {MIDLINES}", found.len() - n),
            };
            (
                total,
                method,
                found.iter().flat_map(|s| s.marks).collect::<Vec<_>>(),
            )
        })
    };
    let side_needs = |side: Side| -> Vec<String> {
        (first..=last)
            .map(|rib| PlaneMarks::rib_name(rib, side, RibPart::Tp))
            .filter(|tp| {
                let Landmark::Rib(n, s, _) = *tp else {
                    return false;
                };
                !context.plane.marks.has(*tp)
                    && !context
                        .plane
                        .marks
                        .has(PlaneMarks::rib_name(n, s, RibPart::Midline))
            })
            .map(|n| n.to_string())
            .collect()
    };
    let Some(convex_side) = curve.convex(context) else {
        out.extend(blank().map(|r| r.missing(context.side_needs())));
        return;
    };
    let concave_side = convex_side.other();
    let (convex, concave) = (sum(convex_side), sum(concave_side));
    for (index, result) in blank().enumerate() {
        let sides = match index {
            0 => vec![convex_side],
            1 => vec![concave_side],
            _ => vec![convex_side, concave_side],
        };
        let mut result = result;
        result.toward = (index < 2).then(|| Toward::from(sides[0]));
        result.side = (index < 2).then(|| sides[0]);
        let value = match (index, &convex, &concave) {
            (0, Some(a), _) | (1, _, Some(a)) => Some((a.0.clone(), a.1.clone(), a.2.clone())),
            (2, Some(a), Some(b)) => {
                Some((&a.0 - &b.0, joined(&a.1, &b.1), [&a.2[..], &b.2].concat()))
            }
            (3, Some(a), Some(b)) => {
                Some((&b.0 / &a.0, joined(&a.1, &b.1), [&a.2[..], &b.2].concat()))
            }
            _ => None,
        };
        out.push(match value {
            Some((value, method, marks)) => {
                let scale = if index == 3 {
                    &ScaleState::Calibrated
                } else {
                    &context.plane.scale
                };
                result
                    .by(method)
                    .of_marks(marks)
                    .scaled(value, scale, context.sd())
            }
            None => {
                let needs = sides.into_iter().flat_map(side_needs).collect::<Vec<_>>();
                let needs = if needs.is_empty() {
                    vec!["rib midlines that share a course".to_owned()]
                } else {
                    needs
                };
                result.missing(needs)
            }
        });
    }
}

fn joined(convex: &str, concave: &str) -> String {
    if convex == concave {
        convex.to_owned()
    } else {
        format!("convex {convex}, concave {concave}")
    }
}
