//! Marks the program proposes: kept apart until the reader has looked at them.

use super::Refusal;
use super::command::{Applied, check_marks};
use super::open::no_film;
use crate::case::Case;
use crate::landmark::Landmark;
use crate::units::FilmPx;

/// Puts proposals beside the reader's marks. What he placed stays; older proposals are replaced.
pub(super) fn propose(
    case: &mut Case,
    film: &str,
    reader: &str,
    marks: &[(Landmark, Vec<FilmPx>)],
) -> Result<Applied, Refusal> {
    check_marks(case, film, marks)?;
    let reading = case.newest_mut(film, reader);
    let mut kept = 0;
    for (name, points) in marks {
        if reading.marks.has(*name) && !reading.proposed.contains(name) {
            kept += 1;
            continue;
        }
        reading.marks.place_line(*name, points.clone());
        reading.proposed.insert(*name);
    }
    let mut told = vec![format!(
        "{film}: {} marks proposed, none accepted; levels are yours to check",
        marks.len() - kept
    )];
    if kept > 0 {
        told.push(format!("{film}: {kept} marks stand where you placed them"));
    }
    Ok(Applied { told })
}

/// Accepts proposals as they stand.
pub(super) fn accept(
    case: &mut Case,
    film: &str,
    reader: &str,
    names: Option<&[Landmark]>,
) -> Result<Applied, Refusal> {
    if case.film(film).is_none() {
        return Err(no_film(case, film));
    }
    let reading = case.newest_mut(film, reader);
    let before = reading.proposed.len();
    match names {
        Some(names) => reading.proposed.retain(|n| !names.contains(n)),
        None => reading.proposed.clear(),
    }
    let accepted = before - reading.proposed.len();
    if accepted == 0 && before > 0 {
        return Err(Refusal::new(format!(
            "film \"{film}\": none of these marks is proposed to reader \"{reader}\"; {before} others are"
        )));
    }
    if accepted == 0 {
        return Err(Refusal::new(format!(
            "film \"{film}\": nothing proposed for reader \"{reader}\" is left to accept"
        )));
    }
    Ok(Applied {
        told: vec![format!(
            "{film}: {accepted} marks accepted, {} still proposed",
            reading.proposed.len()
        )],
    })
}
