//! Films of the series measured, and their curves named as on the baseline.

use crate::case::{Case, FilmRecord};
use crate::geometry::Placement;
use crate::landmark::Levels;
use crate::measure::{FilmInput, FixedEnds, Measured, Settings, measure_film};
use crate::units::Toward;

/// A measured film of the series.
pub(super) struct Measure<'c> {
    pub(super) film: &'c FilmRecord,
    pub(super) results: Vec<Measured>,
}

pub(super) fn measure<'c>(
    case: &'c Case,
    film: &'c FilmRecord,
    reader: &str,
    settings: &Settings,
    placement: &Placement,
    ends: &[FixedEnds],
) -> Measure<'c> {
    let empty = crate::landmark::LandmarkSet::new();
    let accepted = case
        .newest(&film.id, reader)
        .map(crate::case::Reading::accepted);
    let input = FilmInput {
        frame: film.frame(),
        photo: film.view() == Some(crate::film::View::Photo),
        marks: accepted.as_ref().unwrap_or(&empty),
        settings,
        placement,
        ends,
    };
    Measure {
        film,
        results: measure_film(&input),
    }
}

/// The baseline's curves as fixed ends for every film.
pub(super) fn fixed_ends(base: &Measure<'_>) -> Vec<FixedEnds> {
    base.results
        .iter()
        .filter(|r| r.key == "cobb" && r.value.is_some())
        .filter_map(|r| {
            Some(FixedEnds {
                name: r.curve.clone(),
                levels: r.levels.as_deref()?.parse().ok()?,
            })
        })
        .collect()
}

/// The baseline's ribs of the spread, so that every film sums the same ones.
pub(super) fn rib_pairs(base: &Measure<'_>) -> Option<[u8; 2]> {
    let levels = base
        .results
        .iter()
        .find(|r| r.key == "rib_spread_convex")?
        .levels
        .as_deref()?;
    let (first, last) = levels.split_once('-')?;
    Some([
        first.strip_prefix("rib")?.parse().ok()?,
        last.strip_prefix("rib")?.parse().ok()?,
    ])
}

pub(super) fn main_cobb(film: &Measure<'_>) -> Option<f64> {
    film.results
        .iter()
        .find(|r| r.key == "cobb" && r.curve.as_deref() == Some("main"))
        .and_then(|r| r.value.as_ref().map(|v| v.v))
}

/// Gives the curves of a film found freely the names of the baseline's curves they continue:
/// same convex side, most shared levels. A curve that continues none keeps no baseline.
pub(super) fn rename_curves(film: &mut Measure<'_>, base: &Measure<'_>) {
    let curves = |m: &Measure<'_>| -> Vec<(String, Levels, Option<Toward>)> {
        m.results
            .iter()
            .filter(|r| r.key == "cobb" && r.value.is_some())
            .filter_map(|r| {
                Some((
                    r.curve.clone()?,
                    r.levels.as_deref()?.parse().ok()?,
                    r.toward,
                ))
            })
            .collect()
    };
    let mut free = curves(film);
    let mut names: Vec<(String, String)> = Vec::new();
    for (name, levels, toward) in curves(base) {
        let best = free
            .iter()
            .enumerate()
            .filter(|(_, c)| c.2 == toward)
            .map(|(i, c)| (c.1.overlap(levels), i))
            .filter(|(shared, _)| *shared >= 2)
            .max_by_key(|(shared, i)| (*shared, usize::MAX - i));
        if let Some((_, i)) = best {
            names.push((free.remove(i).0, name));
        }
    }
    for (left, _, _) in free {
        let new = format!("new-{left}");
        names.push((left, new));
    }
    for result in &mut film.results {
        if let Some(curve) = &mut result.curve
            && let Some((_, name)) = names.iter().find(|n| n.0 == *curve)
        {
            curve.clone_from(name);
        }
    }
}
