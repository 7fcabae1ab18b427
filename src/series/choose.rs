//! Which films stand for which moment of the treatment.

use super::{CompareOptions, SeriesError};
use crate::case::{Case, FilmRecord, Phase};
use crate::film::View;

/// Films of the course of treatment, by id; coronal ones, or lateral ones in a lateral series.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Milestones {
    /// The baseline.
    pub baseline: String,
    /// Flexibility film, the first.
    pub flexibility: Option<String>,
    /// Traction film with the smallest main Cobb angle at the baseline's levels.
    pub best_traction: Option<String>,
    /// First film after the fusion.
    pub after_fusion: Option<String>,
    /// Last follow-up film.
    pub follow_up: Option<String>,
}

impl Milestones {
    /// The films with their headings, in order of treatment.
    #[must_use]
    pub fn in_order(&self) -> Vec<(&'static str, &str)> {
        let mut out = vec![("baseline", self.baseline.as_str())];
        let rest = [
            ("flexibility", &self.flexibility),
            ("best traction", &self.best_traction),
            ("after fusion", &self.after_fusion),
            ("follow-up", &self.follow_up),
        ];
        for (heading, film) in rest {
            if let Some(film) = film
                && *film != self.baseline
            {
                out.push((heading, film));
            }
        }
        out
    }
}

/// The reader who marked most films; the earlier one of equals.
#[must_use]
pub fn best_reader(case: &Case) -> Option<String> {
    let readers = case.readers(None);
    let films = |reader: &str| {
        case.films
            .iter()
            .filter(|f| {
                case.newest(&f.id, reader)
                    .is_some_and(|r| !r.accepted().is_empty())
            })
            .count()
    };
    let most = readers.iter().map(|r| films(r)).max()?;
    readers
        .into_iter()
        .find(|r| films(r) == most && most > 0)
        .map(str::to_owned)
}

/// Films marked by the reader, by date; undated ones last, in the order they were added.
pub(super) fn marked_films<'c>(case: &'c Case, reader: &str) -> Vec<&'c FilmRecord> {
    let mut films: Vec<&FilmRecord> = case
        .films
        .iter()
        .filter(|f| f.view() != Some(View::Photo))
        .filter(|f| {
            case.newest(&f.id, reader)
                .is_some_and(|r| !r.accepted().is_empty())
        })
        .collect();
    films.sort_by_key(|f| (f.date().is_none(), f.date()));
    films
}

/// The baseline: the stated film; else the first coronal presentation film, the first coronal
/// film, the first film.
pub(super) fn baseline<'c>(
    case: &Case,
    films: &[&'c FilmRecord],
    options: &CompareOptions,
    reader: &str,
) -> Result<&'c FilmRecord, SeriesError> {
    if let Some(id) = &options.baseline {
        case.film(id)
            .ok_or_else(|| SeriesError::NoFilm(id.clone()))?;
        return films.iter().find(|f| f.id == *id).copied().ok_or_else(|| {
            SeriesError::BaselineUnmarked {
                film: id.clone(),
                reader: reader.to_owned(),
            }
        });
    }
    let coronal = |f: &&&FilmRecord| f.is_lateral() == Some(false);
    films
        .iter()
        .find(|f| coronal(f) && f.phase() == Some(Phase::Presentation))
        .or_else(|| films.iter().find(coronal))
        .or_else(|| films.first())
        .copied()
        .ok_or(SeriesError::NothingMarked)
}

/// The film of the other plane that goes with one: same date, else same phase, else (for a
/// baseline) the earliest.
pub(super) fn counterpart<'c>(
    films: &[&'c FilmRecord],
    of: &FilmRecord,
    earliest: bool,
) -> Option<&'c FilmRecord> {
    let other: Vec<&'c FilmRecord> = films
        .iter()
        .filter(|f| {
            f.is_lateral().is_some()
                && of.is_lateral().is_some()
                && f.is_lateral() != of.is_lateral()
        })
        .copied()
        .collect();
    other
        .iter()
        .find(|f| f.date().is_some() && f.date() == of.date())
        .or_else(|| {
            other
                .iter()
                .find(|f| f.phase().is_some() && f.phase() == of.phase())
        })
        .or_else(|| if earliest { other.first() } else { None })
        .copied()
}

/// The milestones of the other plane: for each film the one of the same phase nearest in date.
pub(super) fn in_other_plane(
    of: &Milestones,
    base: &FilmRecord,
    films: &[&FilmRecord],
) -> Milestones {
    let nearest = |id: &Option<String>| -> Option<String> {
        let film = films.iter().find(|f| Some(&f.id) == id.as_ref())?;
        films
            .iter()
            .filter(|f| f.is_lateral() == base.is_lateral() && f.phase() == film.phase())
            .min_by_key(|f| match (f.date(), film.date()) {
                (Some(a), Some(b)) => (a.day_number() - b.day_number()).abs(),
                _ => i64::MAX,
            })
            .map(|f| f.id.clone())
    };
    Milestones {
        baseline: base.id.clone(),
        flexibility: nearest(&of.flexibility),
        best_traction: nearest(&of.best_traction),
        after_fusion: nearest(&of.after_fusion),
        follow_up: nearest(&of.follow_up),
    }
}
