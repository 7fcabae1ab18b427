//! The correction table for people.

use super::words::{self, Group};
use super::{CAUTION, rounding};
use crate::film::View;
use crate::series::{Comparison, FilmColumn, Milestones, Row};
use crate::units::Unit;
use std::collections::BTreeSet;
use std::fmt::Write as _;

const LABEL: usize = 30;
const CELL: usize = 22;

/// `compare` for people: the milestones side by side, then the course film by film.
#[must_use]
pub fn compare_table(c: &Comparison) -> String {
    let mut out = String::new();
    let cause = c.cause.map_or("cause not stated", crate::case::Cause::word);
    let policy = match c.levels {
        crate::series::LevelPolicy::Fixed => format!("end vertebrae fixed from {}", c.baseline),
        crate::series::LevelPolicy::Free => "end vertebrae found on each film".to_owned(),
    };
    let _ = writeln!(
        out,
        "Correction · {cause} · {policy} · reader {}\n",
        c.reader
    );
    let mut planes = vec![(&c.milestones, c.baseline.as_str())];
    if let (Some(m), Some(b)) = (&c.other_milestones, &c.other_baseline) {
        planes.push((m, b));
    }
    for (milestones, _) in planes {
        plane(&mut out, c, milestones);
        out.push('\n');
    }
    super::course::course(&mut out, c);
    super::course::indices(&mut out, c);
    super::course::curve_type(&mut out, c);
    errors(&mut out, c);
    for note in &c.notes {
        let _ = writeln!(out, "{note}");
    }
    let _ = writeln!(
        out,
        "\u{b1} one SD from the placement of the marks, {}",
        c.placement
    );
    let _ = writeln!(out, "\n{CAUTION}");
    out
}

fn film<'c>(c: &'c Comparison, id: &str) -> Option<&'c FilmColumn> {
    c.films.iter().find(|f| f.id == id)
}

fn view(film: &FilmColumn) -> &'static str {
    match film.view {
        Some(View::Pa) => "PA",
        Some(View::Ap) => "AP",
        Some(View::Lateral) => "lateral",
        _ => "view?",
    }
}

fn row_line(out: &mut String, label: &str, cells: &[String]) {
    let pad = LABEL.saturating_sub(label.chars().count()).max(1);
    let mut text = format!("{label}{}", " ".repeat(pad));
    for cell in cells {
        let pad = CELL.saturating_sub(cell.chars().count());
        text += cell;
        text += &" ".repeat(pad.max(1));
    }
    let _ = writeln!(out, "{}", text.trim_end());
}

/// Traction as `10.5 kg, 47 % BW`.
#[must_use]
pub fn traction(film: &FilmColumn) -> String {
    match (film.traction_kg, film.percent_body_weight) {
        (Some(kg), Some(percent)) => {
            format!(
                "{} kg, {} BW",
                rounding::number(kg, 1),
                rounding::percent(percent)
            )
        }
        (Some(kg), None) => format!("{} kg, BW unknown", rounding::number(kg, 1)),
        _ => "—".to_owned(),
    }
}

fn plane(out: &mut String, c: &Comparison, milestones: &Milestones) {
    let columns: Vec<(&str, &FilmColumn)> = milestones
        .in_order()
        .into_iter()
        .filter_map(|(h, id)| film(c, id).map(|f| (h, f)))
        .collect();
    let cells =
        |of: &dyn Fn(&(&str, &FilmColumn)) -> String| columns.iter().map(of).collect::<Vec<_>>();
    row_line(out, "", &cells(&|x| x.0.to_owned()));
    row_line(out, "", &cells(&|x| format!("{} {}", x.1.id, view(x.1))));
    row_line(
        out,
        "date",
        &cells(&|x| x.1.date.map_or("—".to_owned(), |d| d.to_string())),
    );
    if columns.iter().any(|x| x.1.traction_kg.is_some()) {
        row_line(out, "traction", &cells(&|x| traction(x.1)));
    }
    let ids: Vec<&str> = columns.iter().map(|x| x.1.id.as_str()).collect();
    let rows: Vec<&Row> = c
        .rows
        .iter()
        .filter(|r| ids.contains(&r.film.as_str()))
        .collect();
    let mut done: BTreeSet<Key> = BTreeSet::new();
    let mut heading = String::new();
    let mut missing: Vec<String> = Vec::new();
    let mut ordered: Vec<&Row> = rows
        .iter()
        .filter(|r| !matches!(r.measure, "rib_spacing" | "rotation_grade"))
        .copied()
        .collect();
    ordered.sort_by_key(|r| (words::group(r.measure), curve_order(r)));
    for first in ordered {
        if !done.insert(key(first)) {
            continue;
        }
        let line: Vec<Option<&Row>> = ids
            .iter()
            .map(|id| {
                rows.iter()
                    .find(|r| r.film == *id && key(r) == key(first))
                    .copied()
            })
            .collect();
        if !line
            .iter()
            .flatten()
            .any(|r| r.value.is_some() || r.measure == "apex" && r.levels.is_some())
        {
            let needs = short(&first.needs);
            missing.push(format!("{} ({needs})", name(first)));
            continue;
        }
        let group = group_heading(first, &rows);
        if group != heading {
            let _ = writeln!(out, "{group}");
            heading = group;
        }
        measure_lines(out, first, &line, &ids);
    }
    if !missing.is_empty() {
        let _ = writeln!(out, "not measured: {}", missing.join("; "));
    }
}

/// Whether a per cent correction can be read: not of a growing measure, nor of a baseline that
/// does not itself exceed the error, nor of a change that rounds to nothing.
fn percent_says_something(r: &Row) -> bool {
    let (Some(value), Some(change)) = (r.value, r.change) else {
        return false;
    };
    // A curve that crossed over is printed by its magnitude; its baseline is the larger reading.
    let baseline = (value - change).abs();
    !grows(r.measure)
        && rounding::value(change, r.unit) != "0"
        && r.error.is_none_or(|error| baseline >= error)
}

/// The first few of a list, and how many more.
fn short(needs: &[String]) -> String {
    match needs {
        [a, b, rest @ ..] if rest.len() > 2 => format!("{a}, {b} and {} more", rest.len()),
        all => all.join(", "),
    }
}

type Key = (
    &'static str,
    Option<String>,
    Option<String>,
    Option<crate::units::Side>,
);

fn key(r: &Row) -> Key {
    let levels = if words::shows_levels(r.measure) && r.measure != "kyphosis_max" {
        r.levels.clone()
    } else {
        None
    };
    let side = r.side.filter(|_| !r.measure.starts_with("rib_spread"));
    (r.measure, r.curve.clone(), levels, side)
}

fn curve_order(r: &Row) -> (usize, String) {
    let curve = r.curve.clone().unwrap_or_default();
    (usize::from(curve != "main"), curve)
}

/// The measure by name, with the levels or the side that tell it from its like.
pub(super) fn name(r: &Row) -> String {
    let mut name = words::measure(r.measure);
    if words::shows_levels(r.measure)
        && r.measure != "kyphosis_max"
        && let Some(levels) = &r.levels
    {
        name = format!("{name} {levels}");
    }
    if let Some(side) = key(r).3 {
        name = format!("{name} {side}");
    }
    name
}

fn group_heading(r: &Row, rows: &[&Row]) -> String {
    let group = words::group(r.measure);
    let (Group::Curve, Some(curve)) = (group, &r.curve) else {
        return group.heading().to_owned();
    };
    let cobb = rows
        .iter()
        .find(|x| x.measure == "cobb" && x.curve.as_ref() == Some(curve));
    let levels = cobb.and_then(|x| x.levels.as_deref()).unwrap_or("");
    let side = cobb
        .and_then(|x| x.toward)
        .map(|t| format!(", convex {}", t.word()))
        .unwrap_or_default();
    let region = rows
        .iter()
        .find(|x| x.curve.as_ref() == Some(curve) && x.region.is_some())
        .and_then(|x| x.region)
        .map(|x| format!(", {}", x.word()))
        .unwrap_or_default();
    format!("{} {levels}{side}{region}", words::curve(curve))
}

/// Measures that treatment makes larger: a per cent correction would read backwards.
fn grows(measure: &str) -> bool {
    measure.contains("height") && measure.starts_with("t1_")
        || measure.contains("length")
        || matches!(
            measure,
            "space_available_for_lung" | "rib_spread_ratio" | "rib_spread_concave"
        )
}

fn measure_lines(out: &mut String, first: &Row, line: &[Option<&Row>], ids: &[&str]) {
    let label = format!("  {}", name(first));
    let values: Vec<String> = line
        .iter()
        .map(|r| match r {
            Some(r) if r.measure == "apex" => r.levels.clone().unwrap_or_else(|| "—".to_owned()),
            Some(r) => match r.value {
                Some(v) => {
                    let sd = words::value(r.measure, v, r.sd, r.unit);
                    let flag = if r.status == crate::measure::Status::Uncorrected {
                        "*"
                    } else {
                        ""
                    };
                    format!("{sd}{flag}")
                }
                None => "—".to_owned(),
            },
            None => "—".to_owned(),
        })
        .collect();
    row_line(out, &label, &values);
    if first.unit == Unit::None {
        return;
    }
    let base = ids.first().copied().unwrap_or_default();
    let changes: Vec<String> = line
        .iter()
        .map(|r| match r {
            Some(r) if r.film != base => change_words(r),
            _ => String::new(),
        })
        .collect();
    if changes.iter().any(|c| !c.is_empty()) {
        row_line(out, "", &changes);
    }
    if first.measure == "cobb" || first.measure == "kyphosis_max" {
        let shares: Vec<String> = line
            .iter()
            .map(|r| match r {
                Some(r) if r.film != base && r.total_within_error != Some(true) => {
                    r.share_of_total.map(rounding::percent).unwrap_or_default()
                }
                _ => String::new(),
            })
            .collect();
        if shares.iter().any(|s| !s.is_empty()) {
            row_line(out, "    share of the total", &shares);
        }
    }
}

/// `−34  30 %  beyond`.
#[must_use]
pub fn change_words(r: &Row) -> String {
    let Some(change) = r.change else {
        return String::new();
    };
    let mut text = rounding::change(change, r.unit);
    if let Some(percent) = r.percent.filter(|_| percent_says_something(r)) {
        text = format!("{text}  {}", rounding::percent(percent));
    }
    match r.beyond_error {
        Some(true) => text + "  beyond",
        Some(false) => text + "  within",
        None => text,
    }
}

fn errors(out: &mut String, c: &Comparison) {
    let mut seen: Vec<(String, String)> = Vec::new();
    // An error matters where a change was set beside it.
    for r in c.rows.iter().filter(|r| r.beyond_error.is_some()) {
        if let (Some(error), Some(source)) = (r.error, &r.error_source) {
            let published = !source.starts_with("1.96");
            let text = if published {
                format!("{} ({})", rounding::with_sd(error, None, r.unit), source)
            } else {
                source.clone()
            };
            let name = words::measure(r.measure);
            if !seen
                .iter()
                .any(|s| s.1 == text && (s.0 == name || !published))
            {
                seen.push((
                    if published {
                        name
                    } else {
                        "other measures".to_owned()
                    },
                    text,
                ));
            }
        }
    }
    if !seen.is_empty() {
        let _ = writeln!(out, "beyond / within measurement error:");
        for (name, text) in seen {
            let _ = writeln!(out, "  {name}: {text}");
        }
    }
    if c.rows
        .iter()
        .any(|r| r.status == crate::measure::Status::Uncorrected)
    {
        let _ = writeln!(out, "* millimetres not corrected for magnification");
    }
}
