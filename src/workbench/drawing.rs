//! What is to be drawn on a film of the case.

use super::OpenCase;
use super::results::film_input;
use crate::geometry::out_of_place;
use crate::overlay::{Angle, Drawing, drawing};
use crate::series::Row;

/// Measures told on the film itself.
fn on_film(key: &str) -> bool {
    matches!(key, "cobb" | "kyphosis_max")
}

impl OpenCase {
    /// The drawing of a reader's marks on a film. Angles are those of the comparison's rows where
    /// it has the film, so that film and sheet tell the same; else those of the film alone.
    #[must_use]
    pub fn drawing(&self, film: &str, reader: &str, rows: &[Row]) -> Drawing {
        let case = self.case();
        let (Some(record), Some(reading)) = (case.film(film), case.newest(film, reader)) else {
            return Drawing::default();
        };
        let placement = case.placement(reader);
        let ends = record.fixed_ends();
        let (accepted, proposed) = (reading.accepted(), reading.unaccepted());
        let input = film_input(case, record, &accepted, &placement, &ends);
        let angle = |key: &'static str,
                     curve: &Option<String>,
                     levels: &Option<String>,
                     value: Option<f64>,
                     unit| {
            Some(Angle {
                key,
                curve: curve.clone(),
                levels: levels.as_ref()?.parse().ok()?,
                value: value?,
                unit,
            })
        };
        let compared: Vec<&Row> = rows.iter().filter(|r| r.film == film).collect();
        let angles: Vec<Angle> = if compared.is_empty() {
            crate::measure::measure_film(&input)
                .iter()
                .filter(|r| on_film(r.key))
                .filter_map(|r| {
                    angle(
                        r.key,
                        &r.curve,
                        &r.levels,
                        r.value.as_ref().map(|v| v.v),
                        r.unit,
                    )
                })
                .collect()
        } else {
            compared
                .iter()
                .filter(|r| on_film(r.measure))
                .filter_map(|r| angle(r.measure, &r.curve, &r.levels, r.value, r.unit))
                .collect()
        };
        drawing(&input, &proposed, &angles)
    }

    /// Sentences on marks of a reader that stand where they cannot.
    #[must_use]
    pub fn out_of_place(&self, film: &str, reader: &str) -> Vec<String> {
        let case = self.case();
        let frame = case.film(film).and_then(|f| f.frame());
        frame
            .zip(case.newest(film, reader))
            .map_or(Vec::new(), |(frame, r)| out_of_place(&frame, &r.marks))
    }
}
