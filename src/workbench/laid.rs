//! One film laid over another.

use super::outlines::{matched, spine};
use super::{OpenCase, Refusal};
use crate::geometry::ScaleState;
use crate::landmark::{Edge, Level};
use crate::units::FilmPx;

/// How a film lies under another: the middle of one plate on both, and their sizes.
#[derive(Clone, Debug, PartialEq)]
pub struct Laid {
    /// The plate's middle on the film beneath.
    pub then: FilmPx,
    /// The plate's middle on the film above.
    pub now: FilmPx,
    /// Size of a column beneath against one above.
    pub ratio: f64,
    /// Height of a row in columns, beneath.
    pub aspect: f64,
    /// What the scale is worth.
    pub words: String,
}

impl OpenCase {
    /// Levels whose upper plates a reader has marked on all of the films, from the head down.
    #[must_use]
    pub fn common_plates(&self, films: &[&str], reader: &str) -> Vec<Level> {
        let case = self.case();
        let marks: Vec<_> = films
            .iter()
            .filter_map(|id| {
                let lateral = case.film(id)?.is_lateral().unwrap_or(false);
                Some((lateral, case.newest(id, reader)?.accepted()))
            })
            .collect();
        let on_all = |l: &Level| {
            let shows = |(lateral, m): &(bool, crate::landmark::LandmarkSet)| {
                m.plate(*l, Edge::Upper, *lateral).is_some()
            };
            marks.len() == films.len() && marks.iter().all(shows)
        };
        Level::all().filter(on_all).collect()
    }

    /// How film `then` lies under film `now` with the upper plates of a level on each other. Films are
    /// neither turned nor bent: both stand as they hang. Scale by calibration, else by the heights of
    /// vertebrae marked on both.
    ///
    /// # Errors
    /// A film is unknown or lacks the plate; they hang differently; no scale and too few common vertebrae.
    pub fn laid_under(
        &self,
        then: &str,
        now: &str,
        reader: &str,
        on: Level,
    ) -> Result<Laid, Refusal> {
        let case = self.case();
        let find = |id: &str| {
            case.film(id)
                .ok_or_else(|| Refusal::new(format!("{id}: no such film in the case")))
        };
        let films = [find(then)?, find(now)?];
        let lateral = films[1].is_lateral().unwrap_or(false);
        let [a, b] = films;
        if a.head_on() != b.head_on() || a.side_on() != b.side_on() {
            return Err(Refusal::new(format!(
                "{then} and {now} hang differently (side or head), so one cannot be laid over the other; check the facts of both (E)"
            )));
        }
        let mut middles = Vec::new();
        let mut marks = Vec::new();
        for film in films {
            let accepted = case.newest(&film.id, reader).map(|r| r.accepted());
            let plate = accepted
                .as_ref()
                .and_then(|m| m.plate(on, Edge::Upper, lateral));
            let Some((p, q)) = plate else {
                return Err(Refusal::new(format!(
                    "{}: the upper plate of {on} is not marked; mark it, or lay the films on another level",
                    film.id
                )));
            };
            middles.push(p.middle(q));
            marks.extend(accepted);
        }
        let scales: Option<Vec<_>> = films
            .iter()
            .zip(&marks)
            .map(|(f, m)| super::film_scale(f, m))
            .collect();
        let Some([under, over]) = scales.as_deref() else {
            return Err(Refusal::new(format!(
                "{then}, {now}: pixels of unknown shape"
            )));
        };
        let known = |s: &ScaleState| !matches!(s, ScaleState::None(_));
        let mut ratio = under.column / over.column;
        let words = match (&under.state, &over.state) {
            (ScaleState::Calibrated, ScaleState::Calibrated) => "same scale in mm".to_owned(),
            (a, b) if known(a) && known(b) => {
                "same scale in mm, not corrected for magnification".to_owned()
            }
            _ => {
                let spines = spine(a, &marks[0]).zip(spine(b, &marks[1]));
                let (factor, error) = spines.and_then(|(a, b)| matched(&a, &b)).ok_or_else(|| {
                    Refusal::new(format!(
                        "{then} and {now} have no common scale and fewer than three vertebrae marked on both; state a scale or mark more"
                    ))
                })?;
                ratio *= factor;
                format!("matched by vertebral heights, ± {error:.1} %")
            }
        };
        Ok(Laid {
            then: middles[0],
            now: middles[1],
            ratio,
            aspect: under.row / under.column,
            words: format!("{words}; as they hang, not turned"),
        })
    }
}
