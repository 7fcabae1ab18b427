//! The measures of films as a table for people.

use super::words::{self, Group};
use super::{CAUTION, FilmResults, rounding};
use crate::measure::{Measured, Status};
use std::collections::BTreeMap;
use std::fmt::Write as _;

const LABEL: usize = 33;

/// `measure` for people: each film's values by group, then what is missing and why.
#[must_use]
pub fn measure_table(films: &[FilmResults]) -> String {
    let mut out = String::new();
    for film in films {
        let _ = writeln!(out, "{}", film.heading);
        film_table(&mut out, &film.results);
        if film.results.iter().any(|m| m.sd.is_some()) {
            let _ = writeln!(
                out,
                "  \u{b1} one SD from the placement of the marks, {}",
                film.placement
            );
        }
        if !film.cautions.is_empty() {
            let _ = writeln!(out, "  What this film cannot tell");
            for caution in &film.cautions {
                let _ = writeln!(out, "    {caution}");
            }
        }
        out.push('\n');
    }
    out + CAUTION + "\n"
}

/// How a value reads for people, `112° ± 3, convex right`.
#[must_use]
pub fn value_words(m: &Measured) -> String {
    let number = m
        .value
        .as_ref()
        .map(|v| words::value(m.key, v.v, m.sd, m.unit));
    // A value that rounds to nothing points nowhere.
    let flat = m
        .value
        .as_ref()
        .is_some_and(|v| rounding::value(v.v, m.unit) == "0");
    let toward = m.toward.filter(|_| !flat).map(|t| match m.key {
        "cobb" | "apex" => format!("convex {}", t.word()),
        "t1_tilt"
        | "l4_tilt"
        | "lowest_instrumented_tilt"
        | "clavicle_angle"
        | "shoulder_height"
        | "coracoid_height"
        | "pelvic_obliquity" => {
            format!("{} side high", t.word())
        }
        "rib_spread_convex" | "rib_spread_concave" => t.word().to_owned(),
        "lowest_instrumented_disc_angle" => format!("opens to the {}", t.word()),
        _ => format!("to the {}", t.word()),
    });
    let level = (m.key == "apex").then(|| m.levels.clone()).flatten();
    [level, number, toward]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(", ")
}

/// `grade III (II to IV)`.
fn grade_words(m: &Measured) -> String {
    let grade = m
        .value
        .as_ref()
        .map_or(String::new(), |v| words::value(m.key, v.v, None, m.unit));
    let range = m.note.as_ref().and_then(|n| {
        let (range, _) = n.split_once(" by the placement")?;
        Some(format!(" ({range})"))
    });
    format!("grade {grade}{}", range.unwrap_or_default())
}

fn remarks(m: &Measured) -> String {
    let mut parts = Vec::new();
    if m.status == Status::Uncorrected {
        parts.push("not corrected for magnification".to_owned());
    }
    if m.toward.is_none() && m.needs.iter().any(|n| n == "side of the film") {
        parts.push("convex side unknown until the side of the film is stated".to_owned());
    }
    parts.extend(m.reference.as_ref().map(|r| format!("from {r}")));
    parts.extend(
        m.method
            .as_ref()
            .filter(|_| m.key != "cobb" || m.method.as_deref() != Some("found end vertebrae"))
            .cloned(),
    );
    parts.extend(m.note.clone());
    parts.join("; ")
}

fn line(out: &mut String, label: &str, value: &str, remarks: &str) {
    let text = format!("    {label:LABEL$} {value:26}  {remarks}");
    let _ = writeln!(out, "{}", text.trim_end());
}

fn label(m: &Measured) -> String {
    let mut label = words::measure(m.key);
    if words::shows_levels(m.key)
        && let Some(levels) = &m.levels
    {
        label = format!("{label} {levels}");
    }
    if let Some(side) = m.side.filter(|_| m.toward.is_none()) {
        label = format!("{label} {side}");
    }
    label
}

fn film_table(out: &mut String, results: &[Measured]) {
    let has_value = |m: &&Measured| matches!(m.status, Status::Ok | Status::Uncorrected);
    let mut curves: Vec<&str> = Vec::new();
    for m in results
        .iter()
        .filter(|m| words::group(m.key) == Group::Curve)
    {
        if let Some(curve) = m.curve.as_deref().filter(|c| !curves.contains(c)) {
            curves.push(curve);
        }
    }
    for curve in curves {
        let of_curve = |m: &&Measured| {
            m.curve.as_deref() == Some(curve) && words::group(m.key) == Group::Curve
        };
        let levels = results
            .iter()
            .filter(of_curve)
            .find(|m| m.key == "cobb")
            .and_then(|m| m.levels.clone());
        let region = results
            .iter()
            .filter(of_curve)
            .find_map(|m| m.region)
            .map(|r| format!(", {}", r.word()));
        let _ = writeln!(
            out,
            "  {} {}{}",
            words::curve(curve),
            levels.unwrap_or_default(),
            region.unwrap_or_default()
        );
        for m in results.iter().filter(of_curve).filter(has_value) {
            line(out, &label(m), &value_words(m), &remarks(m));
        }
    }
    let mut groups: BTreeMap<Group, Vec<&Measured>> = BTreeMap::new();
    for m in results
        .iter()
        .filter(has_value)
        .filter(|m| words::group(m.key) != Group::Curve)
    {
        groups.entry(words::group(m.key)).or_default().push(m);
    }
    for (group, measures) in groups {
        let _ = writeln!(out, "  {}", group.heading());
        let mut said: Option<(&str, String)> = None;
        for m in measures.iter().filter(|m| m.key != "rotation_grade") {
            let grade = measures
                .iter()
                .find(|g| g.key == "rotation_grade" && g.levels == m.levels)
                .filter(|_| m.key == "vertebral_rotation");
            let value = match grade {
                Some(grade) => format!("{}, {}", value_words(m), grade_words(grade)),
                None => value_words(m),
            };
            // What holds for every line of a measure is said on its first.
            let remarks = remarks(m);
            let again = said
                .as_ref()
                .is_some_and(|s| *s == (m.key, remarks.clone()));
            line(
                out,
                &label(m),
                &value,
                if again { "" } else { remarks.as_str() },
            );
            said = Some((m.key, remarks));
        }
    }
    missing(out, results);
}

fn missing(out: &mut String, results: &[Measured]) {
    let mut lines: Vec<(String, String)> = Vec::new();
    for m in results
        .iter()
        .filter(|m| matches!(m.status, Status::Missing | Status::Uncalibrated))
    {
        let mut name = label(m);
        if let Some(curve) = &m.curve {
            name = format!("{name}, {}", words::curve(curve).to_lowercase());
        }
        let reason = if m.status == Status::Uncalibrated {
            "no scale; needs "
        } else {
            "needs "
        };
        lines.push((name, format!("{reason}{}", m.needs.join(", "))));
    }
    if !lines.is_empty() {
        let _ = writeln!(out, "  Not measured");
        for (name, reason) in lines {
            let text = format!("    {name:34} {reason}");
            let _ = writeln!(out, "{}", text.trim_end());
        }
    }
    let mut other: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for m in results.iter().filter(|m| m.status == Status::NotApplicable) {
        other
            .entry(m.note.as_deref().unwrap_or(""))
            .or_default()
            .push(words::measure(m.key));
    }
    for (why, mut names) in other {
        names.dedup();
        let _ = writeln!(out, "  Not on this film ({why}): {}", names.join(", "));
    }
}
