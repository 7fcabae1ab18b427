//! Results as JSON: the contract's shapes, full precision.

use super::FilmResults;
use crate::measure::Measured;
use crate::series::{Comparison, FilmColumn, Milestones, Row};
use serde_json::{Value, json};

fn unit(unit: crate::units::Unit) -> Value {
    match unit.key() {
        "" => Value::Null,
        key => key.into(),
    }
}

fn result(film: &FilmResults, m: &Measured) -> Value {
    json!({
        "film": film.film,
        "reader": film.reader,
        "measure": m.key,
        "curve": m.curve,
        "levels": m.levels,
        "value": m.value.as_ref().map(|v| v.v),
        "unit": unit(m.unit),
        "sd": m.sd,
        "toward": m.toward.map(crate::units::Toward::word),
        "status": m.status.word(),
        "needs": m.needs,
        "reference": m.reference,
        "method": m.method,
        "side": m.side.map(crate::units::Side::word),
        "region": m.region.map(crate::measure::Region::word),
        "note": m.note,
        "marks": m.marks.iter().map(ToString::to_string).collect::<Vec<_>>(),
    })
}

/// `measure --format json`.
#[must_use]
pub fn measure_json(films: &[FilmResults]) -> String {
    let results: Vec<Value> = films
        .iter()
        .flat_map(|film| film.results.iter().map(move |m| result(film, m)))
        .collect();
    let about: Vec<Value> = films
        .iter()
        .map(|f| {
            json!({
                "film": f.film,
                "reader": f.reader,
                "placement": f.placement,
                "cautions": f.cautions,
            })
        })
        .collect();
    pretty(&json!({ "results": results, "films": about }))
}

fn row(r: &Row) -> Value {
    json!({
        "measure": r.measure,
        "curve": r.curve,
        "levels": r.levels,
        "side": r.side.map(crate::units::Side::word),
        "region": r.region.map(crate::measure::Region::word),
        "film": r.film,
        "date": r.date.map(|d| d.to_string()),
        "phase": r.phase.map(crate::case::Phase::word),
        "value": r.value,
        "unit": unit(r.unit),
        "sd": r.sd,
        "toward": r.toward.map(crate::units::Toward::word),
        "status": r.status.word(),
        "needs": r.needs,
        "reference": r.reference,
        "method": r.method,
        "note": r.note,
        "change": r.change,
        "change_sd": r.change_sd,
        "percent": r.percent,
        "percent_sd": r.percent_sd,
        "share_of_total": r.share_of_total,
        "total_within_error": r.total_within_error,
        "error": r.error,
        "error_source": r.error_source,
        "beyond_error": r.beyond_error,
        "previous": r.previous,
        "change_from_previous": r.change_from_previous,
        "beyond_error_from_previous": r.beyond_error_from_previous,
    })
}

fn film(f: &FilmColumn) -> Value {
    json!({
        "film": f.id,
        "date": f.date.map(|d| d.to_string()),
        "view": f.view.map(crate::film::View::word),
        "phase": f.phase.map(crate::case::Phase::word),
        "posture": f.posture,
        "traction_kg": f.traction_kg,
        "body_weight_kg": f.body_weight_kg,
        "percent_body_weight": f.percent_body_weight,
    })
}

fn milestones(m: &Milestones) -> Value {
    json!({
        "baseline": m.baseline,
        "flexibility": m.flexibility,
        "best_traction": m.best_traction,
        "after_fusion": m.after_fusion,
        "follow_up": m.follow_up,
    })
}

/// `compare --format json`.
#[must_use]
pub fn compare_json(c: &Comparison) -> String {
    pretty(&json!({
        "baseline": c.baseline,
        "other_baseline": c.other_baseline,
        "levels": c.levels.word(),
        "cause": c.cause.map(crate::case::Cause::word),
        "reader": c.reader,
        "placement": c.placement,
        "milestones": milestones(&c.milestones),
        "other_milestones": c.other_milestones.as_ref().map(milestones),
        "films": c.films.iter().map(film).collect::<Vec<_>>(),
        "indices": c.indices.iter().map(|i| json!({
            "index": i.key,
            "value": i.value,
            "unit": unit(i.unit),
            "formula": i.formula,
        })).collect::<Vec<_>>(),
        "curve_type": c.curve_type.as_ref().map(|t| json!({
            "suggestion": t.code,
            "facts": t.facts,
            "needs": t.needs,
        })),
        "rows": c.rows.iter().map(row).collect::<Vec<_>>(),
        "notes": c.notes,
    }))
}

/// Pretty text; the values hold no NaN (JSON has none and every stage refuses it).
fn pretty(value: &Value) -> String {
    format!("{value:#}\n")
}
