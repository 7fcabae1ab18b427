//! One film laid over another.

use super::outlines::{matched, spine};
use super::{FilmRecord, OpenCase, PixelScale, Refusal, ScaleState, film_scale};
use crate::landmark::{Edge, LandmarkSet, Level};
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
        let films: Vec<_> = films
            .iter()
            .filter_map(|id| self.film(id).ok())
            .map(|film| (film, self.accepted(&film.id, reader)))
            .collect();
        let on_all = |l: &Level| {
            let shows = |(f, m): &(&FilmRecord, LandmarkSet)| upper_plate(f, m, *l).is_some();
            films.iter().all(shows)
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
        let (a, b) = (self.film(then)?, self.film(now)?);
        if a.head_on() != b.head_on() || a.side_on() != b.side_on() {
            return Err(Refusal::new(format!(
                "{then} and {now} hang differently (side or head), so one cannot be laid over the other; check the facts of both (E)"
            )));
        }
        let place = |film: &FilmRecord| -> Result<(LandmarkSet, FilmPx, PixelScale), Refusal> {
            let marks = self.accepted(&film.id, reader);
            let (p, q) = upper_plate(film, &marks, on).ok_or_else(|| {
                Refusal::new(format!(
                    "{}: the upper plate of {on} is not marked; mark it, or lay the films on another level",
                    film.id
                ))
            })?;
            let scale = film_scale(film, &marks)
                .ok_or_else(|| Refusal::new(format!("{}: pixels of unknown shape", film.id)))?;
            Ok((marks, p.middle(q), scale))
        };
        let ((under_marks, under_at, under), (over_marks, over_at, over)) = (place(a)?, place(b)?);
        let known = |s: &ScaleState| !matches!(s, ScaleState::None(_));
        let (ratio, words) = match (&under.state, &over.state) {
            (ScaleState::Calibrated, ScaleState::Calibrated) => {
                (under.column / over.column, "same scale in mm".to_owned())
            }
            (a, b) if known(a) && known(b) => (
                under.column / over.column,
                "same scale in mm, not corrected for magnification".to_owned(),
            ),
            _ => {
                let spines = spine(a, &under_marks).zip(spine(b, &over_marks));
                let matched = spines.and_then(|(a, b)| {
                    let (factor, error) = matched(&a, &b)?;
                    Some((factor * a.column / b.column, error))
                });
                let (ratio, error) = matched.ok_or_else(|| {
                    Refusal::new(format!(
                        "{then} and {now} have no common scale and fewer than three vertebrae marked on both; state a scale or mark more"
                    ))
                })?;
                (
                    ratio,
                    format!("matched by vertebral heights, ± {error:.1} %"),
                )
            }
        };
        Ok(Laid {
            then: under_at,
            now: over_at,
            ratio,
            aspect: under.row / under.column,
            words: format!("{words}; as they hang, not turned"),
        })
    }
}

fn upper_plate(film: &FilmRecord, marks: &LandmarkSet, level: Level) -> Option<(FilmPx, FilmPx)> {
    marks.plate(level, Edge::Upper, film.is_lateral().unwrap_or(false))
}
