//! The course of the main curve, film by film.

use super::compare_table::{change_words, traction};
use super::rounding;
use crate::series::Comparison;
use std::fmt::Write as _;

/// One line a film: Cobb angle, change since the baseline and since the film before.
pub(super) fn course(out: &mut String, c: &Comparison) {
    let _ = writeln!(out, "Course, main curve");
    let header = [
        "film",
        "date",
        "phase",
        "traction",
        "Cobb",
        "since baseline",
        "since the film before",
    ];
    let widths = [8, 12, 16, 20, 10, 24, 24];
    let put = |out: &mut String, cells: &[String]| {
        let mut text = String::from("  ");
        for (cell, width) in cells.iter().zip(widths) {
            let pad = usize::saturating_sub(width, cell.chars().count()).max(1);
            text += cell;
            text += &" ".repeat(pad);
        }
        let _ = writeln!(out, "{}", text.trim_end());
    };
    put(out, &header.map(str::to_owned));
    for film in &c.films {
        let row = c.rows.iter().find(|r| {
            r.film == film.id && r.measure == "cobb" && r.curve.as_deref() == Some("main")
        });
        let Some(row) = row else { continue };
        let step = row.change_from_previous.map_or(String::new(), |step| {
            let word = match row.beyond_error_from_previous {
                Some(true) => "  beyond",
                Some(false) => "  within",
                None => "",
            };
            format!("{}{word}", rounding::change(step, row.unit))
        });
        let value = row
            .value
            .map_or("—".to_owned(), |v| rounding::with_sd(v, None, row.unit));
        let change = if film.id == c.baseline {
            String::new()
        } else {
            change_words(row)
        };
        put(
            out,
            &[
                film.id.clone(),
                film.date.map_or("—".to_owned(), |d| d.to_string()),
                film.phase.map_or("—".to_owned(), |p| p.words().to_owned()),
                traction(film),
                value,
                change,
                step,
            ],
        );
    }
    out.push('\n');
}

/// The indices of the main curve's course, each with its formula.
pub(super) fn indices(out: &mut String, c: &Comparison) {
    if c.indices.is_empty() {
        return;
    }
    let _ = writeln!(out, "Indices, main curve");
    for i in &c.indices {
        let value = rounding::with_sd(i.value, None, i.unit);
        let _ = writeln!(out, "  {:36}{value:10}{}", i.name, i.formula);
    }
    out.push('\n');
}

/// The suggested curve type with its facts, or what it waits for.
pub(super) fn curve_type(out: &mut String, c: &Comparison) {
    let Some(t) = &c.curve_type else { return };
    let code = t.code.as_deref().unwrap_or("open");
    let _ = writeln!(
        out,
        "Surgical curve type (idiopathic, three parts, published 2001), a suggestion: {code}"
    );
    for fact in &t.facts {
        let _ = writeln!(out, "  {fact}");
    }
    if !t.needs.is_empty() {
        let _ = writeln!(out, "  needs {}", t.needs.join(", "));
    }
    out.push('\n');
}
