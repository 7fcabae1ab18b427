//! Films after an operation: fused levels, and metal over them.

use crate::case::{FilmRecord, Phase};
use crate::landmark::Level;
use crate::locate::{Metal, Refined};
use crate::measure::Settings;

/// Quality of a plate that is fused: nothing there is looked for, the chain alone knows it.
const FUSED: f64 = 0.02;

/// The fused levels of a film: between the instrumented vertebrae the case states, after the operation.
fn fused(settings: &Settings, film: &FilmRecord) -> Vec<Level> {
    match (settings.upper_instrumented(), settings.lower_instrumented()) {
        (Some(upper), Some(lower)) if operated(film) => Level::all()
            .filter(|l| *l >= upper && *l <= lower)
            .collect(),
        _ => Vec::new(),
    }
}

/// Whether a film was taken after the operation.
pub(super) fn operated(film: &FilmRecord) -> bool {
    matches!(film.phase(), Some(Phase::Postop | Phase::Followup))
}

const PAST: &str = "metal was found and looked past";

/// What is said of a film on which metal was looked past.
pub(super) fn looked_past(film: &str) -> String {
    format!("{film}: {PAST}; plates under it are known less well")
}

/// A plate crossed by metal over this share of its line is not seen well enough to count (assumed).
const CROSSED: f64 = 0.1;

/// Takes laid plates that are fused for proposals of low quality; where the case does not state which are,
/// those that metal crosses (what is stated goes before what is found). And what is said of it.
pub(super) fn doubted(
    plates: &mut [Refined],
    settings: &Settings,
    film: &FilmRecord,
    metal: Option<&Metal>,
) -> Option<String> {
    let id = &film.id;
    let fused = fused(settings, film);
    let crossed = |p: &Refined| metal.is_some_and(|m| m.over(p.ends) >= CROSSED);
    let mut many = 0;
    for plate in plates {
        if fused.contains(&plate.level) || fused.is_empty() && crossed(plate) {
            plate.quality = plate.quality.min(FUSED);
            plate.refined = false;
            many += 1;
        }
    }
    let past = metal.map_or(String::new(), |_| format!("{PAST}; "));
    let state = "state the instrumented vertebrae (`curvebench choose`, Shift+E)";
    // One sentence: few are shown at a time.
    match (fused.first(), fused.last(), metal) {
        (Some(a), Some(b), _) => Some(format!(
            "{id}: {past}{a} to {b} are fused; their plates are proposals of low quality"
        )),
        (_, _, Some(_)) => Some(format!(
            "{id}: {past}the {many} end-plates that it crosses are proposals of low quality; {state} to have all fused ones so"
        )),
        _ => operated(film).then(|| {
            format!(
                "{id}: if its spine is fused, {state}: under metal plates are worse than their quality says"
            )
        }),
    }
}
