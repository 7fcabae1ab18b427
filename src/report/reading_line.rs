//! A measure of two films as a reader takes it in: then, now, the change in words.

use super::{compare_table, rounding, words};
use crate::series::Row;
use crate::units::Unit;

/// A line of the reading sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReadingLine {
    /// Measure key.
    pub key: String,
    /// Curve.
    pub curve: Option<String>,
    /// The measure by name, with its curve, levels and side.
    pub name: String,
    /// The baseline's value; a dash without one.
    pub then: String,
    /// The value; a dash without one.
    pub now: String,
    /// The change in words; empty without one.
    pub change: String,
    /// Whether the change is beyond measurement error.
    pub beyond: Option<bool>,
    /// Marks or facts that are missing.
    pub needs: Vec<String>,
    /// Levels, reference, method, error and its source, cautions.
    pub note: String,
}

/// The line of a row of the comparison.
#[must_use]
pub fn reading_line(row: &Row) -> ReadingLine {
    let shown = |value: Option<f64>, sd| match value {
        Some(v) => words::value(row.measure, v, sd, row.unit),
        None => "—".to_owned(),
    };
    let mut name = compare_table::name(row);
    if let Some(curve) = &row.curve {
        name = format!("{name}, {}", words::curve(curve).to_lowercase());
    }
    if row.measure == "cobb"
        && let Some(levels) = &row.levels
    {
        name = format!("{name} {levels}");
    }
    let mut note = Vec::new();
    note.extend(row.levels.clone());
    note.extend(row.toward.map(|t| format!("toward {}", t.word())));
    note.extend(row.reference.as_ref().map(|r| format!("from {r}")));
    note.extend(row.method.clone());
    note.extend(row.note.clone());
    if let (Some(e), Some(source)) = (row.error, &row.error_source) {
        note.push(format!(
            "error {} ({source})",
            rounding::with_sd(e, None, row.unit)
        ));
    }
    ReadingLine {
        key: row.measure.to_owned(),
        curve: row.curve.clone(),
        name,
        then: shown(row.baseline_value, row.baseline_sd),
        now: shown(row.value, row.sd),
        change: change_in_words(row),
        beyond: row.beyond_error,
        needs: row.needs.clone(),
        note: note.join(" · "),
    }
}

/// `34° less`, `no change`, `12 mm, other way`: of a signed value it is the size that is more or
/// less; a value that crossed to the other side says so.
fn change_in_words(row: &Row) -> String {
    let (Some(change), Some(then), Some(now)) = (row.change, row.baseline_value, row.value) else {
        return String::new();
    };
    if row.unit == Unit::None {
        let word = if change == 0.0 {
            "no change"
        } else {
            "changed"
        };
        return word.to_owned();
    }
    let size = rounding::value(change.abs(), row.unit);
    let sign = rounding::unit_sign(row.unit);
    // A magnitude that changed its side changes by the sum of both.
    let crossed = then * now < 0.0 || (now - then - change).abs() > 1e-9 * change.abs();
    if size.bytes().all(|b| b == b'0' || b == b'.') {
        "no change".to_owned()
    } else if crossed {
        format!("{size}{sign}, other way")
    } else if now.abs() < then.abs() {
        format!("{size}{sign} less")
    } else {
        format!("{size}{sign} more")
    }
}
