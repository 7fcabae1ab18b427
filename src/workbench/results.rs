//! What a case says: measures and comparison.

use super::{OpenCase, Refusal};
use crate::case::{Case, FilmRecord, Reading};
use crate::film::{SpacingKind, View};
use crate::geometry::{PixelScale, Placement, PlaneMarks};
use crate::landmark::{Landmark, LandmarkSet, Levels, TableRow, write_table};
use crate::measure::{
    FilmInput, FixedEnds, Measured, film_cautions, measure_film, true_curvature, turn_caution,
};
use crate::report::FilmResults;
use crate::series::{self, CompareOptions, Comparison};
use crate::units::FilmPx;

/// What to measure.
#[derive(Clone, Debug, Default)]
pub struct MeasureOptions {
    /// One film, or all.
    pub film: Option<String>,
    /// One reader, or every reader of each film.
    pub reader: Option<String>,
    /// End vertebrae fixed by the reader.
    pub ends: Vec<Levels>,
}

/// What a pixel of a film is worth by what is stated and by these marks; `None` without a view.
#[must_use]
pub fn film_scale(film: &FilmRecord, marks: &LandmarkSet) -> Option<PixelScale> {
    let frame = film.frame()?;
    Some(PlaneMarks::new(&frame, marks, &Placement::default()).pixel_scale())
}

/// What millimetres on a film are worth with these marks, with the reason.
#[must_use]
pub fn scale_words(film: &FilmRecord, marks: &LandmarkSet) -> String {
    let spacing = film.spacing();
    let reason = &spacing.reason;
    let ends = [Landmark::Scale(false), Landmark::Scale(true)];
    let mut waiting = String::new();
    if let Some(length) = film.stated.scale_mm {
        let missing: Vec<String> = ends
            .iter()
            .filter(|n| !marks.has(**n))
            .map(Landmark::to_string)
            .collect();
        if missing.is_empty() {
            return format!("by a known length of {length} mm between scale.a and scale.b");
        }
        waiting = format!(
            "; the stated length of {length} mm waits for {}",
            missing.join(" and ")
        );
    }
    let words = match (film.stated.magnification, spacing.kind) {
        (_, SpacingKind::None) => format!("none ({reason})"),
        (_, SpacingKind::Calibrated) => format!("calibrated at the patient ({reason})"),
        (Some(m), _) => format!("calibrated by the stated magnification {m}"),
        (_, SpacingKind::Unknown) => format!("uncorrected ({reason})"),
        (_, SpacingKind::Detector) => format!("detector plane, uncorrected ({reason})"),
    };
    words + &waiting
}

fn heading(film: &FilmRecord, reader: &str, marks: &LandmarkSet) -> String {
    let view = film.view().map_or("view unknown", |v| match v {
        View::Pa => "PA",
        View::Ap => "AP",
        View::Lateral => "lateral",
        View::Photo => "photograph",
    });
    let mut parts = vec![film.id.clone()];
    parts.extend(film.date().map(|d| d.to_string()));
    parts.push(view.to_owned());
    parts.extend(film.phase().map(|p| p.words().to_owned()));
    parts.extend(film.stated.posture.clone());
    if let (Some(kg), percent) = (film.stated.traction_kg, film.percent_body_weight()) {
        let share =
            percent.map(|p| format!(", {} of body weight", crate::report::rounding::percent(p)));
        parts.push(format!("{kg} kg{}", share.unwrap_or_default()));
    }
    parts.push(if reader.is_empty() {
        "not marked".to_owned()
    } else {
        format!("reader {reader}")
    });
    format!(
        "{}\n  scale: {}",
        parts.join(" · "),
        scale_words(film, marks)
    )
}

/// A film of the case with these marks, ready to be measured.
pub(super) fn film_input<'a>(
    case: &'a Case,
    film: &FilmRecord,
    marks: &'a LandmarkSet,
    placement: &'a Placement,
    ends: &'a [FixedEnds],
) -> FilmInput<'a> {
    FilmInput {
        frame: film.frame(),
        photo: film.view() == Some(View::Photo),
        marks,
        settings: &case.settings,
        placement,
        ends,
    }
}

fn measure_reading(
    case: &Case,
    film: &FilmRecord,
    reading: Option<&Reading>,
    ends: &[FixedEnds],
) -> FilmResults {
    let marks = reading.map_or_else(LandmarkSet::new, Reading::accepted);
    let reader = reading.map_or("", |r| r.reader.as_str());
    let placement = case.placement(reader);
    let input = film_input(case, film, &marks, &placement, ends);
    let mut results = measure_film(&input);
    let bounds = film.bounds();
    let middle = FilmPx::new(
        f64::from(bounds.columns) / 2.0,
        f64::from(bounds.rows) / 2.0,
    );
    let mut cautions = film_cautions(&input, middle);
    let waiting = reading.map_or(0, |r| r.proposed.len());
    if waiting > 0 {
        cautions.push(format!(
            "{waiting} proposed marks wait to be accepted and do not count"
        ));
    }
    if let Some((other, other_marks)) = same_day(case, film, reader) {
        let other_input = film_input(case, other, &other_marks, &placement, &[]);
        let coronal_first = if film.is_lateral() == Some(false) {
            [&input, &other_input]
        } else {
            [&other_input, &input]
        };
        in_space(
            coronal_first,
            film.is_lateral(),
            &mut results,
            &mut cautions,
        );
    }
    FilmResults {
        film: film.id.clone(),
        reader: reader.to_owned(),
        heading: heading(film, reader, &marks),
        results,
        cautions,
        placement: placement.source,
    }
}

/// The film of the other plane of the same date that the reader marked, with its marks.
fn same_day<'c>(
    case: &'c Case,
    film: &FilmRecord,
    reader: &str,
) -> Option<(&'c FilmRecord, LandmarkSet)> {
    let other_plane = |f: &&FilmRecord| {
        f.is_lateral().is_some() && f.is_lateral() == film.is_lateral().map(|l| !l)
    };
    case.films
        .iter()
        .filter(other_plane)
        .filter(|f| f.date().is_some() && f.date() == film.date())
        .find_map(|f| Some((f, case.newest(&f.id, reader)?.accepted())))
}

/// Adds the curves in their own plane to a coronal film, and to both what a turn between them would do.
fn in_space(
    [coronal, lateral]: [&FilmInput<'_>; 2],
    is_lateral: Option<bool>,
    results: &mut Vec<Measured>,
    cautions: &mut Vec<String>,
) {
    if is_lateral == Some(true) {
        cautions.extend(
            "T5-T12"
                .parse()
                .ok()
                .and_then(|levels| turn_caution(coronal, lateral, levels)),
        );
        return;
    }
    let curves: Vec<(String, Levels)> = results
        .iter()
        .filter(|r| r.key == "cobb" && r.value.is_some())
        .filter_map(|r| Some((r.curve.clone()?, r.levels.as_deref()?.parse().ok()?)))
        .collect();
    for (curve, levels) in curves {
        results.extend(true_curvature(coronal, lateral, &curve, levels));
        if curve == "main" {
            cautions.extend(turn_caution(coronal, lateral, levels));
        }
    }
}

impl OpenCase {
    /// Every measure of the films asked for, by reader. A film nobody marked stands with what it needs.
    ///
    /// # Errors
    /// No such film or reader.
    pub fn measure(&self, options: &MeasureOptions) -> Result<Vec<FilmResults>, Refusal> {
        let case = self.case();
        if let Some(id) = &options.film {
            self.film(id)?;
        }
        if let Some(reader) = &options.reader
            && !case.readers(None).contains(&reader.as_str())
        {
            return Err(Refusal::new(format!(
                "reader \"{reader}\" has marked no film of the case"
            )));
        }
        let ends: Vec<FixedEnds> = options
            .ends
            .iter()
            .map(|l| FixedEnds {
                name: None,
                levels: *l,
            })
            .collect();
        let mut out = Vec::new();
        for film in case
            .films
            .iter()
            .filter(|f| options.film.as_ref().is_none_or(|id| *id == f.id))
        {
            let own = film.fixed_ends();
            let ends = if ends.is_empty() { &own } else { &ends };
            let readers = case.readers(Some(&film.id));
            let readers: Vec<&str> = readers
                .into_iter()
                .filter(|r| options.reader.as_deref().is_none_or(|o| o == *r))
                .collect();
            if readers.is_empty() {
                out.push(measure_reading(case, film, None, ends));
            }
            for reader in readers {
                out.push(measure_reading(
                    case,
                    film,
                    case.newest(&film.id, reader),
                    ends,
                ));
            }
        }
        Ok(out)
    }

    /// The series compared.
    ///
    /// # Errors
    /// Nothing marked, no such film or reader.
    pub fn compare(&self, options: &CompareOptions) -> Result<Comparison, Refusal> {
        series::compare(self.case(), options).map_err(Refusal::new)
    }

    /// How many proposed marks of a reader nobody has accepted yet.
    #[must_use]
    pub fn unaccepted(&self, reader: Option<&str>) -> usize {
        let case = self.case();
        let best = series::best_reader(case).unwrap_or_default();
        let reader = reader.unwrap_or(&best);
        let films = case.films.iter();
        films
            .filter_map(|f| case.newest(&f.id, reader))
            .map(|r| r.proposed.len())
            .sum()
    }

    /// Refuses a reader who has read nothing.
    ///
    /// # Errors
    /// No reading is his.
    pub fn check_reader(&self, reader: Option<&str>) -> Result<(), Refusal> {
        let all = self.case().readers(None);
        match reader.filter(|r| !all.contains(r)) {
            Some(reader) => Err(Refusal::new(format!(
                "reader \"{reader}\" has read no film of this case; its readers are {}",
                if all.is_empty() {
                    "none yet".to_owned()
                } else {
                    all.join(", ")
                }
            ))),
            None => Ok(()),
        }
    }

    /// The landmark table of the newest readings, of one reader or of all; proposals nobody accepted are
    /// left out.
    #[must_use]
    pub fn export_marks(&self, reader: Option<&str>) -> String {
        let case = self.case();
        let reader = reader
            .map(str::to_owned)
            .or_else(|| series::best_reader(case))
            .unwrap_or_default();
        let sets: Vec<(&str, LandmarkSet)> = case
            .films
            .iter()
            .filter_map(|f| Some((f.id.as_str(), case.newest(&f.id, &reader)?.accepted())))
            .collect();
        let rows: Vec<TableRow<'_>> = sets
            .iter()
            .map(|(film, marks)| TableRow { film, marks })
            .collect();
        write_table(&rows)
    }
}
