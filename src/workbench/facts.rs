//! Checks on stated facts.

use super::hints::check_size;
use super::{FilmRecord, Refusal, StatedFacts};
use crate::film::{ImageEdge, SpacingKind, View};
use crate::landmark::Levels;
use crate::locate::Steps;

/// Facts that contradict what the file says, one sentence each.
#[must_use]
pub fn contradictions(film: &FilmRecord, stated: &StatedFacts) -> Vec<String> {
    let mut out = Vec::new();
    let mut differ = |what: &str, said: Option<String>, now: Option<String>| {
        if let (Some(said), Some(now)) = (said, now)
            && said != now
        {
            out.push(format!("{what}: the file says {said}, stated is {now}"));
        }
    };
    differ(
        "date",
        film.said.date.map(|d| d.to_string()),
        stated.date.map(|d| d.to_string()),
    );
    let word = |v: Option<View>| v.map(|v| v.word().to_owned());
    differ("view", word(film.said.view), word(stated.view));
    let edge = |e: Option<ImageEdge>| e.map(|e| e.word().to_owned());
    differ(
        "patient's left",
        edge(film.said.left_on),
        edge(stated.left_on),
    );
    differ(
        "patient's front",
        edge(film.said.anterior_on),
        edge(stated.anterior_on),
    );
    differ("head", edge(film.said.head_on), edge(stated.head_on));
    if let (Some([row, column]), true) =
        (stated.spacing, film.said.spacing.kind != SpacingKind::None)
    {
        let same = |a: f64, b: f64| (a - b).abs() <= 1e-6 * b;
        let s = &film.said.spacing;
        if !same(row, s.row) || !same(column, s.column) {
            out.push(format!(
                "spacing: the file says {},{}, stated is {row},{column}",
                s.row, s.column
            ));
        }
    }
    out
}

/// Refuses facts that cannot be: no number, not positive, wrong edge for the view.
pub(super) fn check(film: &FilmRecord, new: &StatedFacts) -> Result<(), Refusal> {
    let mut all = film.stated.clone();
    all.take_over(new);
    let refuse = |fact: String| Err(Refusal::new(format!("film \"{}\": {fact}", film.id)));
    let positive = [
        ("--body-weight-kg", new.body_weight_kg),
        ("--magnification", new.magnification),
        ("--scale-mm", new.scale_mm),
        ("--spacing", new.spacing.map(|s| s[0])),
        ("--spacing", new.spacing.map(|s| s[1])),
    ];
    for (flag, value) in positive {
        if let Some(v) = value.filter(|v| !(v.is_finite() && *v > 0.0)) {
            return refuse(format!(
                "{flag} {v} is not above zero; state a positive number"
            ));
        }
    }
    if let Some(v) = new.traction_kg.filter(|v| !(v.is_finite() && *v >= 0.0)) {
        return refuse(format!("--traction-kg {v} is no weight; state kilograms"));
    }
    if let Some(m) = new.magnification.filter(|m| *m < 1.0 || *m > 3.0) {
        return refuse(format!(
            "--magnification {m} is no magnification of a film; it is 1 or a little more"
        ));
    }
    if let Some([row, column]) = new.spacing {
        check_size(film, Steps { column, row })?;
    }
    let spacing_kind = if all.spacing.is_some() {
        SpacingKind::Detector
    } else {
        film.said.spacing.kind
    };
    if new.magnification.is_some() && spacing_kind == SpacingKind::Calibrated {
        return refuse(
            "its spacing is calibrated at the patient already; a magnification would correct it twice".to_owned(),
        );
    }
    let sideways = |e: ImageEdge| matches!(e, ImageEdge::ImageLeft | ImageEdge::ImageRight);
    for (flag, edge) in [
        ("--left-on", new.left_on),
        ("--anterior-on", new.anterior_on),
    ] {
        if edge.is_some_and(|e| !sideways(e)) {
            return refuse(format!(
                "{flag} names image-left or image-right, as seen with the head up"
            ));
        }
    }
    let view = all.view.or(film.said.view);
    if new.left_on.is_some() && view == Some(View::Lateral) {
        return refuse("is lateral; state its front with --anterior-on".to_owned());
    }
    if new.anterior_on.is_some() && view.is_some_and(View::is_coronal) {
        return refuse("is coronal; state its side with --left-on".to_owned());
    }
    for ends in &new.ends {
        ends.parse::<Levels>().map_err(Refusal::new)?;
    }
    Ok(())
}
