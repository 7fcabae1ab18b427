//! A suggestion of the surgical curve type of idiopathic scoliosis (three parts, published 2001).
//!
//! Only for idiopathic cases; a suggestion with the facts behind each part, never a decision. Limits:
//! 25° on side-bending and T10–L2 20° are confirmed, the touch of a pedicle (B) too; T2–T5 20°, A, C
//! and the sagittal limits are common practice, no source confirmed (handbook §1).

use super::measured::Measure;
use crate::geometry::Placement;
use crate::landmark::{Edge, Landmark, LandmarkSet, Level};
use crate::measure::{Context, FilmInput, Measured, Region, Settings};
use crate::units::Side;

/// The suggestion.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CurveType {
    /// Curve type, lumbar modifier and sagittal modifier, `1AN`; absent while anything is missing.
    pub code: Option<String>,
    /// The facts behind each part.
    pub facts: Vec<String>,
    /// What is missing.
    pub needs: Vec<String>,
}

/// A minor curve is structural from here on side-bending, degrees.
const STIFF_DEG: f64 = 25.0;
/// A minor curve is structural where the kyphosis over it reaches this, degrees.
const KYPHOTIC_DEG: f64 = 20.0;
/// Half the width of a pedicle's image as a share of the body's width (assumption).
const PEDICLE_HALF: f64 = 0.1;

/// An angle in a fact; the minus is the typographic one, as in every table.
fn degrees(v: f64) -> String {
    format!("{v:.0}°").replace('-', "\u{2212}")
}

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Part {
    Proximal,
    Main,
    Lumbar,
}

impl Part {
    const ALL: [Part; 3] = [Part::Proximal, Part::Main, Part::Lumbar];

    fn words(self) -> &'static str {
        match self {
            Part::Proximal => "proximal thoracic",
            Part::Main => "main thoracic",
            Part::Lumbar => "thoracolumbar/lumbar",
        }
    }

    /// The part a curve belongs to by its apex: proximal thoracic to T5 (common practice, no source).
    fn of(region: Region, apex: &str) -> Option<Part> {
        match region {
            Region::Thoracic => {
                let level: Level = apex.split('/').next()?.parse().ok()?;
                Some(if level.thoracic_number()? <= 5 {
                    Part::Proximal
                } else {
                    Part::Main
                })
            }
            Region::Cervicothoracic => Some(Part::Proximal),
            Region::Thoracolumbar | Region::Lumbar => Some(Part::Lumbar),
            _ => None,
        }
    }

    fn kyphosis(self) -> &'static str {
        match self {
            Part::Proximal => "T2-T5",
            Part::Main | Part::Lumbar => "T10-L2",
        }
    }
}

struct Found {
    part: Part,
    name: String,
    cobb: f64,
    apex: String,
}

fn found(results: &[Measured]) -> Vec<Found> {
    let mut out: Vec<Found> = Vec::new();
    for r in results.iter().filter(|r| r.key == "cobb") {
        let apex = results
            .iter()
            .find(|a| a.key == "apex" && a.curve == r.curve)
            .and_then(|a| a.levels.clone());
        let (Some(value), Some(region), Some(apex), Some(name)) =
            (&r.value, r.region, apex, &r.curve)
        else {
            continue;
        };
        let Some(part) = Part::of(region, &apex) else {
            continue;
        };
        let new = Found {
            part,
            name: name.clone(),
            cobb: value.v,
            apex,
        };
        match out.iter_mut().find(|f| f.part == part) {
            Some(old) if old.cobb < new.cobb => *old = new,
            Some(_) => {}
            None => out.push(new),
        }
    }
    out
}

fn value(results: &[Measured], key: &str, levels: &str) -> Option<f64> {
    let r = results
        .iter()
        .find(|r| r.key == key && r.levels.as_deref() == Some(levels))?;
    r.value.as_ref().map(|v| v.v)
}

/// The curve type of a case from its upright film, its bending films at the same end vertebrae and the
/// lateral film of the baseline.
pub(super) fn curve_type(
    base: &Measure<'_>,
    bending: &[&Measure<'_>],
    lateral: Option<&Measure<'_>>,
    marks: &LandmarkSet,
    settings: &Settings,
) -> CurveType {
    let mut out = CurveType::default();
    let curves = found(&base.results);
    let of = |part: Part| curves.iter().find(|c| c.part == part);
    let (main, lumbar) = (of(Part::Main), of(Part::Lumbar));
    let major = match (main, lumbar) {
        (Some(m), Some(l)) if l.cobb > m.cobb => l,
        (Some(m), _) => m,
        (None, Some(l)) => l,
        (None, None) => {
            out.needs
                .push("a thoracic or lumbar curve with its apex".to_owned());
            return out;
        }
    };
    out.facts.push(format!(
        "major curve: {} {}",
        major.part.words(),
        degrees(major.cobb)
    ));
    let side = lateral.map(|l| l.results.as_slice()).unwrap_or_default();
    let mut structural = |part: Part| -> Option<bool> {
        if part == major.part {
            return Some(true);
        }
        let Some(curve) = of(part) else {
            out.facts.push(format!("{}: no curve of 10°", part.words()));
            return Some(false);
        };
        let bent = bending
            .iter()
            .filter_map(|f| {
                let r = f
                    .results
                    .iter()
                    .find(|r| r.key == "cobb" && r.curve.as_deref() == Some(&curve.name))?;
                r.value.as_ref().map(|v| v.v)
            })
            .min_by(f64::total_cmp);
        let kyphosis = value(side, "kyphosis", part.kyphosis());
        let words = |v: Option<f64>| v.map_or("not measured".to_owned(), degrees);
        out.facts.push(format!(
            "{} {}, apex {}: on side-bending {}, kyphosis {} {}",
            part.words(),
            degrees(curve.cobb),
            curve.apex,
            words(bent),
            part.kyphosis(),
            words(kyphosis)
        ));
        let stiff = bent
            .map(|b| b >= STIFF_DEG)
            .or((curve.cobb < STIFF_DEG).then_some(false));
        match (stiff, kyphosis.map(|k| k >= KYPHOTIC_DEG)) {
            (Some(true), _) | (_, Some(true)) => Some(true),
            (Some(false), Some(false)) => Some(false),
            (stiff, kyphotic) => {
                if stiff.is_none() {
                    out.needs
                        .push(format!("a side-bending film of the {} curve", part.words()));
                }
                if kyphotic.is_none() {
                    out.needs.push(format!("kyphosis {}", part.kyphosis()));
                }
                None
            }
        }
    };
    let parts = Part::ALL.map(&mut structural);
    let number = match (parts, major.part) {
        ([Some(p), Some(m), Some(l)], major) => match (p, m, l, major) {
            (false, true, false, _) => Some(1),
            (true, true, false, _) => Some(2),
            (false, true, true, Part::Main) => Some(3),
            (true, true, true, _) => Some(4),
            (false, false, true, _) => Some(5),
            (false, true, true, _) => Some(6),
            _ => {
                out.facts
                    .push("these structural curves are none of the six types".to_owned());
                None
            }
        },
        _ => None,
    };
    let modifier = lumbar_modifier(base, marks, settings, lumbar, &mut out);
    let sagittal = match value(side, "kyphosis", "T5-T12") {
        Some(k) => {
            out.facts.push(format!("kyphosis T5-T12 {}", degrees(k)));
            Some(if k < 10.0 {
                "−"
            } else if k > 40.0 {
                "+"
            } else {
                "N"
            })
        }
        None => {
            out.needs.push("kyphosis T5-T12".to_owned());
            None
        }
    };
    if let (Some(number), Some(modifier), Some(sagittal)) = (number, modifier, sagittal) {
        out.code = Some(format!("{number}{modifier}{sagittal}"));
    }
    out
}

/// Where the CSVL meets the apical lumbar vertebra: between its pedicles A, at the pedicle or between
/// it and the body's edge B, beside the body C.
fn lumbar_modifier(
    base: &Measure<'_>,
    marks: &LandmarkSet,
    settings: &Settings,
    lumbar: Option<&Found>,
    out: &mut CurveType,
) -> Option<char> {
    let Some(lumbar) = lumbar else {
        out.facts
            .push("lumbar modifier: no lumbar curve of 10°".to_owned());
        return Some('A');
    };
    let frame = base.film.frame()?;
    let placement = Placement::default();
    let input = FilmInput {
        frame: Some(frame.clone()),
        photo: false,
        marks,
        settings,
        placement: &placement,
        ends: &[],
    };
    let context = Context::new(&frame, &input);
    // Of a disc apex the vertebra above it stands for both.
    let level: Level = lumbar.apex.split('/').next()?.parse().ok()?;
    let pedicles = Side::BOTH.map(|s| Landmark::Pedicle(level, s));
    let plates = [Edge::Upper, Edge::Lower].map(|e| context.plate(level, e));
    let (Some(csvl), [Some(left), Some(right)], [Some(upper), Some(lower)]) = (
        context.csvl(),
        pedicles.map(|p| context.plane.point(p)),
        plates,
    ) else {
        out.needs.extend(context.csvl_needs());
        out.needs.extend(context.plane.missing(&pedicles));
        for edge in [Edge::Upper, Edge::Lower] {
            out.needs.extend(
                context
                    .plane
                    .missing(&context.plane.plate_names(level, edge)),
            );
        }
        return None;
    };
    // Places across the body, the CSVL at nought; the left side is the smaller.
    let at = |p: &crate::geometry::Point| csvl.offset(p).v;
    let (left, right) = (at(&left), at(&right));
    let body = [
        (at(&upper.from) + at(&lower.from)) / 2.0,
        (at(&upper.to) + at(&lower.to)) / 2.0,
    ];
    let half = PEDICLE_HALF * (body[1] - body[0]).abs();
    let modifier = if left + half < 0.0 && right - half > 0.0 {
        'A'
    } else if body[0].min(left - half) <= 0.0 && body[1].max(right + half) >= 0.0 {
        'B'
    } else {
        'C'
    };
    let words = match modifier {
        'A' => "between the pedicles",
        'B' => "at a pedicle or the body's edge",
        _ => "beside the body",
    };
    out.facts
        .push(format!("the CSVL passes {words} of {level}"));
    Some(modifier)
}
