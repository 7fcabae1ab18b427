//! Cautions about a comparison.

use crate::case::FilmRecord;

/// Cautions about the series as a whole.
pub(super) fn notes(
    base: &FilmRecord,
    other: Option<&FilmRecord>,
    films: &[&FilmRecord],
) -> Vec<String> {
    let mut postures: Vec<(&str, Vec<&str>)> = Vec::new();
    let mut undated = Vec::new();
    for film in films {
        let base = if film.is_lateral() == base.is_lateral() {
            Some(base)
        } else {
            other
        };
        let then = base.and_then(|b| b.stated.posture.as_deref());
        if let (Some(then), Some(now)) = (then, film.stated.posture.as_deref())
            && then != now
        {
            match postures.iter_mut().find(|p| p.0 == now) {
                Some(known) => known.1.push(&film.id),
                None => postures.push((now, vec![&film.id])),
            }
        }
        if film.date().is_none() {
            undated.push(film.id.as_str());
        }
    }
    let mut notes = Vec::new();
    if !postures.is_empty() {
        let list: Vec<String> = postures
            .iter()
            .map(|(p, films)| format!("{p} ({})", films.join(", ")))
            .collect();
        notes.push(format!(
            "Posture differs from the baseline's: {}; posture alone moves angles by 7 to 10° (Keenan 2014)",
            list.join(", ")
        ));
    }
    if !undated.is_empty() {
        notes.push(format!(
            "Without a date and therefore last: {}",
            undated.join(", ")
        ));
    }
    notes
}
