//! The film laid out along the spine that is marked on it.

use super::{OpenCase, Refusal};
use crate::geometry::Straight;
use crate::landmark::{Edge, Level};
use crate::units::FilmPx;

impl OpenCase {
    /// A film's layout along the middles of a reader's plates, proposed ones included: a layout measures
    /// nothing.
    ///
    /// # Errors
    /// Fewer than four plates are complete.
    pub fn straight(&self, film: &str, reader: &str) -> Result<Straight, Refusal> {
        let case = self.case();
        let record = case.film(film);
        let lateral = record.and_then(|f| f.is_lateral()).unwrap_or(false);
        let aspect = record.map_or(1.0, |f| f.spacing().row / f.spacing().column);
        let middles: Vec<FilmPx> = case.newest(film, reader).map_or(Vec::new(), |r| {
            Level::all()
                .flat_map(|l| [(l, Edge::Upper), (l, Edge::Lower)])
                .filter_map(|(l, e)| r.marks.plate(l, e, lateral))
                .map(|(a, b)| a.middle(b))
                .collect()
        });
        Straight::along(&middles, aspect).ok_or_else(|| {
            Refusal::new(format!(
                "{film}: fewer than four end-plates are marked or proposed, so there is no line to straighten it along; mark them, or click C7 and S1 and propose the rest"
            ))
        })
    }
}
