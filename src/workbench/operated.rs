//! Films after an operation: fused levels, and metal over them.

use crate::case::{FilmRecord, Phase};
use crate::landmark::Level;
use crate::locate::{Metal, Refined, THRESHOLD};
use crate::measure::Settings;

/// Quality of a plate that is fused: nothing there is looked for, the chain alone knows it.
const FUSED: f64 = 0.02;

/// The fused levels of a film: between the instrumented vertebrae the case states, after the operation.
fn fused(settings: &Settings, film: &FilmRecord) -> Vec<Level> {
    match (settings.upper_instrumented(), settings.lower_instrumented()) {
        (Some(upper), Some(lower)) if operated(film) => Level::all()
            .filter(|l| *l >= upper && *l <= lower && l.is_usual())
            .collect(),
        _ => Vec::new(),
    }
}

/// Whether a film was taken after the operation.
pub(super) fn operated(film: &FilmRecord) -> bool {
    matches!(film.phase(), Some(Phase::Postop | Phase::Followup))
}

/// Lowers the quality of refined plates by the share of their lines that metal covers, to the threshold at
/// most: they stay refined, for they are nearer than rough marks (docs/PERFORMANCE.md).
pub(super) fn dimmed(plates: &mut [Refined], metal: &Metal) {
    for plate in plates.iter_mut().filter(|p| p.refined) {
        let free = 1.0 - metal.over(plate.ends);
        plate.quality = THRESHOLD + (plate.quality - THRESHOLD) * free;
    }
}

/// What is said of a film on which metal was looked past.
pub(super) fn looked_past(film: &str) -> String {
    format!("{film}: metal was found and looked past; plates under it are known less well")
}

/// A plate crossed by metal over this share of its line is not seen well enough to count (assumed).
const CROSSED: f64 = 0.1;

/// Takes laid plates that are fused, or crossed by metal where the case does not state what is fused, for
/// proposals of low quality; and what is said of it.
pub(super) fn doubted(
    plates: &mut [Refined],
    settings: &Settings,
    film: &FilmRecord,
    metal: Option<&Metal>,
) -> Option<String> {
    let id = &film.id;
    let fused = fused(settings, film);
    let stated = !fused.is_empty();
    let crossed = |p: &Refined| metal.is_some_and(|m| m.over(p.ends) >= CROSSED);
    let mut many = 0;
    for plate in plates {
        if fused.contains(&plate.level) || !stated && crossed(plate) {
            plate.quality = plate.quality.min(FUSED);
            plate.refined = false;
            many += 1;
        }
    }
    if let (Some(a), Some(b)) = (fused.first(), fused.last()) {
        return Some(format!(
            "{id}: {a} to {b} are fused; their plates are proposals of low quality"
        ));
    }
    let state = "state the instrumented vertebrae (`curvebench choose`, Shift+E)";
    let metal = metal.map(|_| {
        format!(
            "{id}: metal was found and looked past; the {many} end-plates that it crosses are proposals of low quality; {state} to have all fused ones so"
        )
    });
    let none = || {
        format!(
            "{id}: if its spine is fused, {state}: under metal plates are worse than their quality says"
        )
    };
    metal.or_else(|| operated(film).then(none))
}
