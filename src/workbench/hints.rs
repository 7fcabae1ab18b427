//! Whether what is said of a film before its spine is looked for can be: hints, and its size by its scale.

use super::Refusal;
use super::command::check_marks;
use crate::case::{Case, FilmRecord};
use crate::landmark::{Landmark, Level};
use crate::locate::Steps;
use crate::units::FilmPx;

/// Hints are told to be exchanged only where so many levels lie between them: of near ones, in a curve of more than
/// 90°, the upper may lie lower on the film.
const FAR: usize = 7;
/// The least and the largest side of a film that is looked at, mm. A child's whole spine takes 300 to 500 mm and the
/// longest films measure about 1300 (assumed).
const SIDES: (f64, f64) = (20.0, 3000.0);

/// Refuses hints off the film, of the other view, and of levels the patient lacks.
pub(super) fn check(
    case: &Case,
    film: &FilmRecord,
    hints: &[(Landmark, FilmPx)],
) -> Result<(), Refusal> {
    let marks: Vec<_> = hints.iter().map(|h| (h.0, vec![h.1])).collect();
    check_marks(case, &film.id, &marks)?;
    let lacked = |h: &&(Landmark, FilmPx)| h.0.level().is_some_and(|l| case.settings.is_absent(l));
    match hints.iter().find(lacked) {
        Some((name, _)) => Err(Refusal::new(format!(
            "film \"{}\": the hint {name} is at a level that the case says is absent; hint another level, or correct --absent with `curvebench choose`",
            film.id
        ))),
        None => Ok(()),
    }
}

/// Refuses hints of which a lower level lies nearer the head than one far above it.
pub(super) fn check_order(film: &FilmRecord, hints: &[(Landmark, FilmPx)]) -> Result<(), Refusal> {
    let head = film.head_on().toward();
    let level = |h: &(Landmark, FilmPx)| h.0.level().map_or(0, Level::index);
    let exchanged = |a: &(Landmark, FilmPx), b: &(Landmark, FilmPx)| {
        let up = (b.1.x - a.1.x) * head.0 + (b.1.y - a.1.y) * head.1;
        level(b) >= level(a) + FAR && up > 0.0
    };
    let pairs = hints.iter().flat_map(|a| hints.iter().map(move |b| (a, b)));
    match pairs.into_iter().find(|(a, b)| exchanged(a, b)) {
        Some((upper, lower)) => Err(Refusal::new(format!(
            "film \"{}\": {} lies nearer the head than {}; exchange them, or state where the head lies with `curvebench film --head-on`",
            film.id, lower.0, upper.0
        ))),
        None => Ok(()),
    }
}

/// Refuses a film that would be of no film's size: a slip in its scale, or hints on one another.
pub(super) fn check_size(film: &FilmRecord, steps: Steps) -> Result<(), Refusal> {
    let bounds = film.bounds();
    let wide = f64::from(bounds.columns) * steps.column;
    let tall = f64::from(bounds.rows) * steps.row;
    if wide.min(tall) >= SIDES.0 && wide.max(tall) <= SIDES.1 {
        return Ok(());
    }
    Err(Refusal::new(format!(
        "film \"{}\": by its scale it would be {wide:.0} mm wide and {tall:.0} mm tall; state the right --spacing (mm per pixel, row and column) with `curvebench film`, or correct the marks and hints its scale rests on",
        film.id
    )))
}
