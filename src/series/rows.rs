//! The rows of a comparison.

use super::change::{change, percent_sd};
use super::choose::{Milestones, baseline, best_reader, counterpart, in_other_plane, marked_films};
use super::curve_type::curve_type;
use super::indices::{course_indices, main_angles};
use super::junction::both_conditions;
use super::measured::{Measure, fixed_ends, main_cobb, measure, rename_curves, rib_pairs};
use super::notes::notes;
use super::{CompareOptions, Comparison, FilmColumn, LevelPolicy, SeriesError, published_error};
use crate::case::{Case, Cause, FilmRecord, Phase, Reading};
use crate::measure::{Measured, Region, Status};
use crate::units::{Date, Side, Toward, Unit};

/// One measure on one film, beside its baseline.
#[derive(Clone, Debug)]
pub struct Row {
    /// Measure key.
    pub measure: &'static str,
    /// Curve, named as on the baseline.
    pub curve: Option<String>,
    /// Levels on this film.
    pub levels: Option<String>,
    /// The patient's side the measure is taken on.
    pub side: Option<Side>,
    /// Region of the curve.
    pub region: Option<Region>,
    /// The film.
    pub film: String,
    /// Its date.
    pub date: Option<Date>,
    /// Its phase.
    pub phase: Option<Phase>,
    /// The value on this film.
    pub value: Option<f64>,
    /// Its standard deviation.
    pub sd: Option<f64>,
    /// Unit.
    pub unit: Unit,
    /// Where it points.
    pub toward: Option<Toward>,
    /// Status on this film.
    pub status: Status,
    /// What is missing on this film.
    pub needs: Vec<String>,
    /// Reference line.
    pub reference: Option<String>,
    /// Method.
    pub method: Option<String>,
    /// Caution, and why a change is absent.
    pub note: Option<String>,
    /// The baseline's value of this measure.
    pub baseline_value: Option<f64>,
    /// Its standard deviation.
    pub baseline_sd: Option<f64>,
    /// Value minus the baseline's.
    pub change: Option<f64>,
    /// Standard deviation of the change.
    pub change_sd: Option<f64>,
    /// Per cent correction, (baseline − value) / baseline.
    pub percent: Option<f64>,
    /// Standard deviation of that per cent by the placement of marks on both films.
    pub percent_sd: Option<f64>,
    /// Share of the total gained, (baseline − value) / (baseline − last).
    pub share_of_total: Option<f64>,
    /// Whether the total itself is within error, so that shares of it say little.
    pub total_within_error: Option<bool>,
    /// Smallest change beyond error.
    pub error: Option<f64>,
    /// Where the error comes from.
    pub error_source: Option<String>,
    /// Whether the change reaches the error.
    pub beyond_error: Option<bool>,
    /// The film before this one in the same plane.
    pub previous: Option<String>,
    /// Change from the film before.
    pub change_from_previous: Option<f64>,
    /// Whether the change from the film before reaches the error.
    pub beyond_error_from_previous: Option<bool>,
}

/// Compares the films of a case that the reader marked, unaccepted proposals left out.
///
/// # Errors
/// [`SeriesError`]: nothing marked, no such film or reader, baseline unmarked.
pub fn compare(case: &Case, options: &CompareOptions) -> Result<Comparison, SeriesError> {
    let reader = match &options.reader {
        Some(reader) if case.readers(None).contains(&reader.as_str()) => reader.clone(),
        Some(reader) => return Err(SeriesError::NoReader(reader.clone())),
        None => best_reader(case).ok_or(SeriesError::NothingMarked)?,
    };
    let placement = &case.placement(&reader);
    let films = marked_films(case, &reader);
    let base = baseline(case, &films, options, &reader)?;
    let other_base = counterpart(&films, base, true);

    let own = |film: &FilmRecord| {
        measure(
            case,
            find(&films, film),
            &reader,
            &case.settings,
            placement,
            &film.fixed_ends(),
        )
    };
    let bases: Vec<Measure<'_>> = [Some(base), other_base]
        .into_iter()
        .flatten()
        .map(own)
        .collect();
    let coronal_base = bases.iter().find(|b| b.film.is_lateral() == Some(false));
    let ends = coronal_base.map(fixed_ends).unwrap_or_default();
    let mut settings = case.settings.clone();
    if let Some(pairs) = coronal_base.and_then(rib_pairs) {
        settings.rib_pairs = settings.rib_pairs.or(Some(pairs));
    }
    let fixed: Vec<Measure<'_>> = films
        .iter()
        .map(|f| measure(case, f, &reader, &settings, placement, &ends))
        .collect();
    let milestones = milestones(base, &fixed);
    let indices = main_angles(&milestones, &fixed).map_or(Vec::new(), |a| course_indices(&a));
    let curve_type = coronal_base
        .filter(|_| case.cause == Some(Cause::Idiopathic))
        .map(|base| {
            let bending: Vec<&Measure<'_>> = fixed
                .iter()
                .filter(|f| f.film.phase() == Some(Phase::Flexibility))
                .collect();
            let lateral = bases.iter().find(|b| b.film.is_lateral() == Some(true));
            let marks = case
                .newest(&base.film.id, &reader)
                .map(Reading::accepted)
                .unwrap_or_default();
            curve_type(base, &bending, lateral, &marks, &case.settings)
        });

    let mut measured = match options.levels {
        LevelPolicy::Fixed => fixed,
        LevelPolicy::Free => films.iter().map(|f| own(f)).collect(),
    };
    if let (LevelPolicy::Free, Some(base)) = (options.levels, coronal_base) {
        for film in &mut measured {
            rename_curves(film, base);
        }
    }
    let base_ids: Vec<&str> = bases.iter().map(|b| b.film.id.as_str()).collect();
    let mut rows = rows(&measured, &base_ids, case);
    let side = bases.iter().find(|b| b.film.is_lateral() == Some(true));
    both_conditions(&mut rows, side.and_then(|b| b.film.phase()));
    Ok(Comparison {
        baseline: base.id.clone(),
        other_baseline: other_base.map(|f| f.id.clone()),
        levels: options.levels,
        cause: case.cause,
        placement: placement.source.clone(),
        reader,
        films: films.iter().map(|f| column(f)).collect(),
        other_milestones: other_base.map(|o| in_other_plane(&milestones, o, &films)),
        milestones,
        indices,
        curve_type,
        rows,
        notes: notes(base, other_base, &films),
    })
}

fn find<'c>(films: &[&'c FilmRecord], film: &FilmRecord) -> &'c FilmRecord {
    films
        .iter()
        .find(|f| f.id == film.id)
        .copied()
        .unwrap_or(films[0])
}

fn column(film: &FilmRecord) -> FilmColumn {
    FilmColumn {
        id: film.id.clone(),
        date: film.date(),
        view: film.view(),
        phase: film.phase(),
        posture: film.stated.posture.clone(),
        traction_kg: film.stated.traction_kg,
        body_weight_kg: film.stated.body_weight_kg,
        percent_body_weight: film.percent_body_weight(),
    }
}

fn milestones(base: &FilmRecord, films: &[Measure<'_>]) -> Milestones {
    let same_plane = || {
        films
            .iter()
            .filter(|f| f.film.is_lateral() == base.is_lateral())
    };
    let of = |phase: Phase| same_plane().filter(move |f| f.film.phase() == Some(phase));
    let id = |f: &Measure<'_>| f.film.id.clone();
    Milestones {
        baseline: base.id.clone(),
        flexibility: of(Phase::Flexibility).map(id).next(),
        best_traction: of(Phase::Traction)
            .filter_map(|f| main_cobb(f).map(|c| (c, f)))
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .map(|f| id(f.1)),
        after_fusion: of(Phase::Postop).map(id).next(),
        follow_up: of(Phase::Followup).map(id).next_back(),
    }
}

/// Measures whose levels are part of what is measured, not found on the film.
fn levels_identify(key: &str) -> bool {
    matches!(
        key,
        "kyphosis"
            | "lordosis"
            | "rib_spacing"
            | "vertebral_rotation"
            | "rotation_grade"
            | "rib_vertebra_angle"
            | "t1_t12_height"
            | "t1_s1_height"
            | "t1_t12_length"
            | "t1_s1_length"
    )
}

fn same_measure(a: &Measured, b: &Measured) -> bool {
    a.key == b.key
        && a.curve == b.curve
        && (a.side == b.side || matches!(a.key, "rib_spread_convex" | "rib_spread_concave"))
        && (!levels_identify(a.key) || a.levels == b.levels)
}

fn rows(films: &[Measure<'_>], base_ids: &[&str], case: &Case) -> Vec<Row> {
    let mut out = Vec::new();
    for (index, film) in films.iter().enumerate() {
        let base = films.iter().find(|b| {
            base_ids.contains(&b.film.id.as_str()) && b.film.is_lateral() == film.film.is_lateral()
        });
        let same_plane = |f: &&Measure<'_>| f.film.is_lateral() == film.film.is_lateral();
        let last = films.iter().rfind(same_plane);
        let previous = films[..index].iter().rfind(same_plane);
        for result in film
            .results
            .iter()
            .filter(|r| r.status != Status::NotApplicable || r.note.is_none())
        {
            out.push(row(film, result, base, last, previous, case));
        }
    }
    out
}

fn partner<'m>(film: Option<&'m Measure<'_>>, result: &Measured) -> Option<&'m Measured> {
    film?.results.iter().find(|r| same_measure(r, result))
}

fn row(
    film: &Measure<'_>,
    result: &Measured,
    base_film: Option<&Measure<'_>>,
    last_film: Option<&Measure<'_>>,
    previous_film: Option<&Measure<'_>>,
    case: &Case,
) -> Row {
    let mut row = Row {
        measure: result.key,
        curve: result.curve.clone(),
        levels: result.levels.clone(),
        side: result.side,
        region: result.region,
        film: film.film.id.clone(),
        date: film.film.date(),
        phase: film.film.phase(),
        value: result.value.as_ref().map(|v| v.v),
        sd: result.sd,
        unit: result.unit,
        toward: result.toward,
        status: result.status,
        needs: result.needs.clone(),
        reference: result.reference.clone(),
        method: result.method.clone(),
        note: result.note.clone(),
        baseline_value: None,
        baseline_sd: None,
        change: None,
        change_sd: None,
        percent: None,
        percent_sd: None,
        share_of_total: None,
        total_within_error: None,
        error: None,
        error_source: None,
        beyond_error: None,
        previous: None,
        change_from_previous: None,
        beyond_error_from_previous: None,
    };
    let Some((base, base_film)) = partner(base_film, result).zip(base_film) else {
        return row;
    };
    row.baseline_value = base.value.as_ref().map(|v| v.v);
    row.baseline_sd = base.sd;
    let here = (result, film.film);
    let is_base = film.film.id == base_film.film.id;
    match change(here, (base, base_film.film), base) {
        Ok((value, sd)) => {
            row.change = Some(value);
            row.change_sd = sd;
        }
        Err(Some(why)) => row.note = Some(joined(row.note.take(), why)),
        Err(None) => {}
    }
    let published = published_error(result.key, case.cause);
    let propagated = |sd: Option<f64>| sd.map(|sd| 1.96 * sd);
    if result.value.is_some() && result.unit != Unit::None {
        row.error = published
            .map(|p| p.value)
            .or_else(|| propagated(row.change_sd));
        row.error_source = published.map(|p| p.source.to_owned()).or_else(|| {
            row.error.map(|_| {
                "1.96 SD of the change by the placement of marks: no published figure found"
                    .to_owned()
            })
        });
    }
    if let (Some(change), Some(error), false) = (row.change, row.error, is_base) {
        row.beyond_error = Some(change.abs() >= error);
    }
    if let Some(change) = row.change {
        // 0 − 0 is no −0.
        row.percent = row
            .baseline_value
            .filter(|base| *base != 0.0)
            .map(|base| 0.0 - change / base * 100.0);
        row.percent_sd = row
            .percent
            .and_then(|_| percent_sd((row.baseline_value?, base.sd?), (row.value?, result.sd?)));
        if let Some((last, last_film)) = partner(last_film, result).zip(last_film)
            && let Ok((total, sd)) = change_of(last, last_film, base, base_film)
            && total != 0.0
        {
            row.share_of_total = Some(change / total * 100.0);
            row.total_within_error = published
                .map(|p| p.value)
                .or_else(|| propagated(sd))
                .map(|e| total.abs() < e);
        }
    }
    if let Some((before, previous)) = partner(previous_film, result).zip(previous_film) {
        row.previous = Some(previous.film.id.clone());
        if let Ok((step, sd)) = change(here, (before, previous.film), base) {
            row.change_from_previous = Some(step);
            let error = published.map(|p| p.value).or_else(|| propagated(sd));
            row.beyond_error_from_previous = error.map(|e| step.abs() >= e);
        }
    }
    row
}

fn change_of(
    to: &Measured,
    to_film: &Measure<'_>,
    from: &Measured,
    from_film: &Measure<'_>,
) -> Result<(f64, Option<f64>), Option<&'static str>> {
    change((to, to_film.film), (from, from_film.film), from)
}

fn joined(old: Option<String>, new: &str) -> String {
    old.map_or_else(|| new.to_owned(), |old| format!("{old}; {new}"))
}
