//! Indices of the course that papers report beside per cent correction (handbook §5).

use super::Milestones;
use super::measured::{Measure, main_cobb};
use crate::units::Unit;

/// One index of the main curve's course.
#[derive(Clone, Debug, PartialEq)]
pub struct CourseIndex {
    /// Its key.
    pub key: &'static str,
    /// The index in words.
    pub name: &'static str,
    /// The value.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
    /// What was divided by what.
    pub formula: &'static str,
}

/// Angles of one curve at the milestones, degrees; absent films are absent.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct CourseAngles {
    /// Before treatment.
    pub before: f64,
    /// On the flexibility film.
    pub flexibility: Option<f64>,
    /// The smallest in traction.
    pub traction: Option<f64>,
    /// After fusion.
    pub fused: Option<f64>,
    /// At the last follow-up.
    pub follow_up: Option<f64>,
}

/// The indices that these angles allow. Sources: flexibility and correction ratio, fulcrum index Luk
/// 1998, side-bending index as a ratio Yang 2015; residual-based effect and loss are arithmetic with
/// their denominators named (handbook §5).
#[must_use]
pub fn course_indices(a: &CourseAngles) -> Vec<CourseIndex> {
    let mut out = Vec::new();
    let mut add = |key, name, value: Option<f64>, unit, formula| {
        if let Some(value) = value.filter(|v| v.is_finite()) {
            out.push(CourseIndex {
                key,
                name,
                value,
                unit,
                formula,
            });
        }
    };
    let share = |from: f64, to: f64| (from > 0.0).then(|| (from - to) / from * 100.0);
    let flexibility = a.flexibility.and_then(|f| share(a.before, f));
    let correction = a.fused.and_then(|p| share(a.before, p));
    add(
        "flexibility",
        "flexibility",
        flexibility,
        Unit::Percent,
        "(before − flexibility film) / before",
    );
    add(
        "traction_correction",
        "correction in traction",
        a.traction.and_then(|t| share(a.before, t)),
        Unit::Percent,
        "(before − best traction) / before",
    );
    add(
        "fusion_correction",
        "correction after fusion",
        correction,
        Unit::Percent,
        "(before − after fusion) / before",
    );
    add(
        "residual_correction",
        "fusion's part of what traction left",
        a.traction.zip(a.fused).and_then(|(t, p)| share(t, p)),
        Unit::Percent,
        "(best traction − after fusion) / best traction",
    );
    add(
        "correction_index",
        "correction index",
        correction
            .zip(flexibility.filter(|f| *f > 0.0))
            .map(|(c, f)| c / f),
        Unit::Ratio,
        "correction after fusion / flexibility",
    );
    add(
        "loss",
        "loss of correction",
        a.fused.zip(a.follow_up).map(|(p, f)| f - p),
        Unit::Degree,
        "follow-up − after fusion",
    );
    add(
        "loss_of_gain",
        "loss as part of the gain",
        a.fused
            .zip(a.follow_up)
            .filter(|(p, _)| a.before > *p)
            .map(|(p, f)| (f - p) / (a.before - p) * 100.0),
        Unit::Percent,
        "(follow-up − after fusion) / (before − after fusion)",
    );
    out
}

/// The main curve's angles at the milestones.
pub(super) fn main_angles(milestones: &Milestones, films: &[Measure<'_>]) -> Option<CourseAngles> {
    let at = |id: &Option<String>| {
        let film = films.iter().find(|f| Some(&f.film.id) == id.as_ref())?;
        main_cobb(film)
    };
    Some(CourseAngles {
        before: at(&Some(milestones.baseline.clone()))?,
        flexibility: at(&milestones.flexibility),
        traction: at(&milestones.best_traction),
        fused: at(&milestones.after_fusion),
        follow_up: at(&milestones.follow_up),
    })
}
