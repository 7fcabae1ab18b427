//! The lower end of an instrumentation: tilt of its lowest vertebra and angle of the disc below.

use super::Measured;
use super::balance::tilt_of;
use super::context::Context;
use crate::geometry::directed_difference;
use crate::landmark::{Edge, Level};
use crate::units::{Toward, Unit};

pub(super) const KEYS: &[&str] = &["lowest_instrumented_tilt", "lowest_instrumented_disc_angle"];

/// Listed among the reported parameters by Kuklo 2005 (confirmed as parameters; plates and signs are
/// common practice, no source).
pub(super) fn measure(context: &Context<'_>, out: &mut Vec<Measured>) {
    let Some(lowest) = context.settings.lower_instrumented() else {
        let needs = ["lowest instrumented vertebra".to_owned()];
        out.extend(
            KEYS.iter()
                .map(|key| Measured::new(key, Unit::Degree).missing(needs.clone())),
        );
        return;
    };
    out.push(tilt_of(context, KEYS[0], lowest, Edge::Lower));
    out.push(disc(context, lowest));
}

/// Lower plate of the lowest instrumented vertebra against the upper plate of the next: > 0 opens to
/// the patient's right.
fn disc(context: &Context<'_>, lowest: Level) -> Measured {
    let below = Level::all().find(|l| {
        *l > lowest
            && !context.settings.is_absent(*l)
            && (l.is_usual() || context.tilt(*l, Edge::Upper).is_some())
    });
    let result = Measured::new(KEYS[1], Unit::Degree);
    let Some(below) = below else {
        return result.not_applicable("no level below the lowest instrumented vertebra");
    };
    let plates = [(lowest, Edge::Lower), (below, Edge::Upper)];
    let (names, tilts) = context.both_tilts(plates);
    let result = result.at(format!("{lowest}/{below}")).of_marks(names);
    match tilts {
        Ok([above, under]) => result
            .unscaled(directed_difference(above, under), context.sd())
            .pointing(Toward::Left, Toward::Right),
        Err(needs) => result.missing(needs),
    }
}
