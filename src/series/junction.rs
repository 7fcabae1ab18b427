//! The proximal junctional angle's second condition.

use super::rows::Row;
use crate::case::Phase;
use crate::measure::JUNCTION_DEG;

const KEY: &str = "proximal_junctional_angle";

/// Adds to each film after the fusion whether both conditions of Glattes 2005 hold: 10° or more, and
/// 10° or more above the angle before surgery. That is the last film stated as just before surgery,
/// else the baseline, unless that was itself taken after it.
pub(super) fn both_conditions(rows: &mut [Row], baseline: Option<Phase>) {
    let after = |phase| matches!(phase, Some(Phase::Postop | Phase::Followup));
    let before = rows
        .iter()
        .rev()
        .find(|r| r.measure == KEY && r.phase == Some(Phase::Preop) && r.value.is_some())
        .map(|r| (r.film.clone(), r.value));
    for row in rows
        .iter_mut()
        .filter(|r| r.measure == KEY)
        .filter(|r| after(r.phase))
    {
        let Some(value) = row.value else { continue };
        let then = before
            .clone()
            .and_then(|(film, v)| Some((film, v?)))
            .or_else(|| {
                row.baseline_value
                    .filter(|_| !after(baseline))
                    .map(|v| ("the baseline".to_owned(), v))
            });
        let Some((film, then)) = then else {
            row.note =
                Some("without the angle before surgery the second condition is open".to_owned());
            continue;
        };
        let (first, second) = (value >= JUNCTION_DEG, value - then >= JUNCTION_DEG);
        let word = |met| if met { "met" } else { "not met" };
        row.note = Some(format!(
            "10° or more: {}; 10° more than before surgery ({film}): {}; {}",
            word(first),
            word(second),
            if first && second {
                "abnormal by both conditions"
            } else {
                "not abnormal: it takes both"
            }
        ));
    }
}
