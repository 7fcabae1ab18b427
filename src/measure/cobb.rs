//! Curves in the coronal plane: Cobb angle, apex, apical translation.

use super::context::{Context, Standing};
use super::curves::{Curve, Region};
use super::{Measured, TranslationReference};
use crate::landmark::{Edge, Level, Levels};
use crate::units::{Toward, Unit, wrap_degrees};

pub(super) const KEYS: &[&str] = &["cobb", "apex", "apical_translation"];

/// How far a plate must out-tilt a fixed end vertebra before it is pointed out: below this it is
/// within what re-measuring gives (Pruijs 1994: SD 2.0°).
const NOTICEABLE_DEG: f64 = 2.0;

pub(super) fn measure(context: &Context<'_>, out: &mut Vec<Measured>) {
    for curve in &context.curves {
        out.push(cobb(context, curve));
    }
    for ends in context.ends {
        if !context.curves.iter().any(|c| c.levels == ends.levels) {
            let mut result = Measured::new("cobb", Unit::Degree)
                .at(ends.levels)
                .by("fixed end vertebrae");
            result.curve = Some(ends.name.clone().unwrap_or_else(|| "main".to_owned()));
            out.push(result.missing(ends_needs(context, ends.levels)));
        }
    }
    if context.curves.is_empty() && context.ends.is_empty() {
        let needs = ["end-plates of two vertebrae".to_owned()];
        out.push(Measured::new("cobb", Unit::Degree).missing(needs.clone()));
        out.push(Measured::new("apex", Unit::None).missing(needs.clone()));
        out.push(Measured::new("apical_translation", Unit::Millimetre).missing(needs));
        return;
    }
    for curve in &context.curves {
        out.push(apex(context, curve));
        out.push(translation(context, curve));
    }
}

/// The plates a curve between these ends waits for.
fn ends_needs(context: &Context<'_>, levels: Levels) -> Vec<String> {
    [(levels.upper, Edge::Upper), (levels.lower, Edge::Lower)]
        .into_iter()
        .filter(|(level, edge)| context.standing(*level, *edge).is_none())
        .flat_map(|(level, edge)| {
            let edge = if level == Level::S1 {
                Edge::Upper
            } else {
                edge
            };
            context
                .plane
                .missing(&context.plane.plate_names(level, edge))
        })
        .collect()
}

fn of_curve(key: &'static str, unit: Unit, curve: &Curve) -> Measured {
    let mut result = Measured::new(key, unit);
    result.curve = Some(curve.name.clone());
    result.region = curve.region();
    result
}

fn cobb(context: &Context<'_>, curve: &Curve) -> Measured {
    let mut result = of_curve("cobb", Unit::Degree, curve)
        .at(curve.levels)
        .of_marks(curve.plate_marks(context))
        .unscaled(curve.angle.abs(), context.sd())
        .by(if curve.fixed {
            "fixed end vertebrae"
        } else {
            "found end vertebrae"
        });
    result.toward = curve.convex(context).map(Toward::from);
    result.needs.extend(context.side_needs());
    let lone = |level: Level, edge: Edge, used: Standing| match used {
        Standing::Plate(used) => (edge != used && level != Level::S1)
            .then(|| format!("{level}: only the {used} end-plate is marked")),
        Standing::Pedicles => Some(format!(
            "{level}: no end-plate is marked, the line of its pedicles is used"
        )),
    };
    for note in [
        lone(curve.levels.upper, Edge::Upper, curve.plates[0]),
        lone(curve.levels.lower, Edge::Lower, curve.plates[1]),
        steeper_plate(context, curve),
        named(&context.left_out()).map(|l| format!("{l}: stated absent, the marks are left out")),
    ]
    .into_iter()
    .flatten()
    {
        result = result.noting(note);
    }
    result
}

/// `T6, T7`; none for no level.
fn named(levels: &[Level]) -> Option<String> {
    let names: Vec<String> = levels.iter().map(Level::to_string).collect();
    (!names.is_empty()).then(|| names.join(", "))
}

/// Points out that a fixed end vertebra is no longer the most tilted of its end of the curve.
fn steeper_plate(context: &Context<'_>, curve: &Curve) -> Option<String> {
    if !curve.fixed {
        return None;
    }
    let sign = curve.sign();
    let at = |level: Level, edge: Edge| context.standing(level, edge).map(|s| s.2.v);
    let (top, bottom) = (
        at(curve.levels.upper, Edge::Upper)?,
        at(curve.levels.lower, Edge::Lower)?,
    );
    // Look within three levels of each fixed end: farther plates belong to another curve.
    let near = |a: Level, b: Level| a.index().abs_diff(b.index()) <= 3 && a != b && a != Level::S1;
    let best = |fixed: Level, edge: Edge, fixed_tilt: f64, direction: f64| {
        Level::all()
            .filter(|l| near(*l, fixed))
            .filter_map(|l| Some((direction * wrap_degrees(at(l, edge)? - fixed_tilt), l)))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .filter(|b| b.0 > NOTICEABLE_DEG)
            .map(|(more, l)| {
                format!("{l} is {more:.1}° more tilted than the fixed end vertebra {fixed}")
            })
    };
    let notes: Vec<String> = [
        best(curve.levels.upper, Edge::Upper, top, sign),
        best(curve.levels.lower, Edge::Lower, bottom, -sign),
    ]
    .into_iter()
    .flatten()
    .collect();
    (!notes.is_empty()).then(|| notes.join("; "))
}

fn apex(context: &Context<'_>, curve: &Curve) -> Measured {
    let result = of_curve("apex", Unit::None, curve);
    match &curve.apex {
        Some((apex, _, reference)) => {
            let mut result = result.at(apex).from_reference(reference);
            // The apex is the farthest of what is marked: unmarked bodies may lie farther.
            let unseen: Vec<Level> = Level::all()
                .filter(|l| *l > curve.levels.upper && *l < curve.levels.lower && l.is_usual())
                .filter(|l| !context.settings.is_absent(*l) && context.centre(*l).is_none())
                .collect();
            if let Some(levels) = named(&unseen) {
                result = result.noting(format!("only among what is marked: {levels} are not"));
            }
            result.status = super::Status::Ok;
            result.toward = curve.convex(context).map(Toward::from);
            result.needs.extend(context.side_needs());
            result
        }
        None => result.missing(curve.apex_needs.clone()),
    }
}

/// Apical translation from the C7 plumb (thoracic apices) or the CSVL, + toward the patient's right.
fn translation(context: &Context<'_>, curve: &Curve) -> Measured {
    let result = of_curve("apical_translation", Unit::Millimetre, curve);
    let Some((apex, centre, _)) = &curve.apex else {
        return result.missing(curve.apex_needs.clone());
    };
    let result = result.at(apex);
    let by_plumb = context.settings.translation_reference == TranslationReference::ByRegion
        && matches!(
            Region::of(*apex),
            Region::Thoracic | Region::Cervicothoracic | Region::Cervical
        );
    let (line, needs) = if by_plumb {
        (context.c7_plumb(), context.centre_needs(Level::C7))
    } else {
        (context.csvl(), context.csvl_needs())
    };
    let Some(line) = line else {
        let name = if by_plumb { "C7 plumb" } else { "CSVL" };
        return result
            .from_reference(name)
            .missing(needs.into_iter().chain(context.side_needs()));
    };
    let result = result
        .from_reference(line.name)
        .by(line.construction)
        .of_marks(line.marks.clone());
    if !context.plane.side_known() {
        return result.missing(context.side_needs());
    }
    let offset = line.offset(centre);
    result
        .scaled(offset, &context.plane.scale, context.sd())
        .pointing(Toward::Left, Toward::Right)
}
