//! The trade's words for measure keys.

use super::rounding;
use crate::units::Unit;

/// Group of measures as a surgeon reads them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// Of one curve.
    Curve,
    /// Balance of trunk.
    Balance,
    /// Shoulders.
    Shoulders,
    /// Pelvis.
    Pelvis,
    /// Rib cage.
    Chest,
    /// Rotation.
    Rotation,
    /// Heights and lengths.
    Height,
    /// Lateral film.
    Sagittal,
}

impl Group {
    /// Heading.
    #[must_use]
    pub fn heading(self) -> &'static str {
        match self {
            Group::Curve => "Curves",
            Group::Balance => "Balance",
            Group::Shoulders => "Shoulders",
            Group::Pelvis => "Pelvis",
            Group::Chest => "Rib cage",
            Group::Rotation => "Rotation",
            Group::Height => "Height",
            Group::Sagittal => "Sagittal",
        }
    }
}

const WORDS: &[(&str, &str, Group)] = &[
    ("cobb", "Cobb angle", Group::Curve),
    ("apex", "apex", Group::Curve),
    ("apical_translation", "apical translation", Group::Curve),
    ("true_curvature", "true curvature (estimate)", Group::Curve),
    (
        "true_curvature_plane",
        "plane of true curvature",
        Group::Curve,
    ),
    ("coronal_balance", "coronal balance", Group::Balance),
    ("trunk_shift", "trunk shift", Group::Balance),
    ("t1_tilt", "T1 tilt", Group::Shoulders),
    ("clavicle_angle", "clavicle angle", Group::Shoulders),
    (
        "shoulder_height",
        "shoulder height difference",
        Group::Shoulders,
    ),
    (
        "coracoid_height",
        "coracoid height difference",
        Group::Shoulders,
    ),
    ("pelvic_obliquity", "pelvic obliquity", Group::Pelvis),
    ("l4_tilt", "L4 tilt", Group::Pelvis),
    (
        "lowest_instrumented_tilt",
        "tilt of lowest instrumented",
        Group::Pelvis,
    ),
    (
        "lowest_instrumented_disc_angle",
        "disc below instrumentation",
        Group::Pelvis,
    ),
    ("thoracic_width", "thoracic width", Group::Chest),
    (
        "apical_body_rib_ratio",
        "apical body-rib ratio",
        Group::Chest,
    ),
    ("rib_spacing", "rib spacing", Group::Chest),
    ("rib_spread_convex", "rib spread, convex", Group::Chest),
    ("rib_spread_concave", "rib spread, concave", Group::Chest),
    (
        "rib_spread_difference",
        "rib spread difference",
        Group::Chest,
    ),
    ("rib_spread_ratio", "rib spread ratio", Group::Chest),
    ("rib_vertebra_angle", "rib-vertebra angle", Group::Chest),
    (
        "rib_vertebra_angle_difference",
        "rib-vertebra angle difference",
        Group::Chest,
    ),
    (
        "space_available_for_lung",
        "space available for lung",
        Group::Chest,
    ),
    ("rib_hump", "rib hump", Group::Chest),
    ("vertebral_rotation", "vertebral rotation", Group::Rotation),
    ("rotation_grade", "rotation grade", Group::Rotation),
    ("t1_t12_height", "T1–T12 height", Group::Height),
    ("t1_s1_height", "T1–S1 height", Group::Height),
    ("t1_t12_length", "T1–T12 length", Group::Height),
    ("t1_s1_length", "T1–S1 length", Group::Height),
    ("kyphosis", "kyphosis", Group::Sagittal),
    ("kyphosis_max", "largest kyphosis", Group::Sagittal),
    ("lordosis", "lordosis", Group::Sagittal),
    (
        "proximal_junctional_angle",
        "proximal junctional angle",
        Group::Sagittal,
    ),
    (
        "sagittal_vertical_axis",
        "sagittal vertical axis",
        Group::Sagittal,
    ),
    ("pelvic_incidence", "pelvic incidence", Group::Sagittal),
    ("pelvic_tilt", "pelvic tilt", Group::Sagittal),
    ("sacral_slope", "sacral slope", Group::Sagittal),
];

/// The trade's word for a measure key; an unlisted key reads with spaces.
#[must_use]
pub fn measure(key: &str) -> String {
    WORDS
        .iter()
        .find(|w| w.0 == key)
        .map_or_else(|| key.replace('_', " "), |w| w.1.to_owned())
}

/// A value as its measure is written: grades in Roman figures, everything else with its unit and SD.
#[must_use]
pub fn value(key: &str, v: f64, sd: Option<f64>, unit: Unit) -> String {
    const GRADES: [&str; 5] = ["0", "I", "II", "III", "IV"];
    if key == "rotation_grade" {
        let grade = GRADES.iter().enumerate().find(|g| g.0 as f64 == v);
        return grade.map_or_else(|| rounding::value(v, unit), |g| (*g.1).to_owned());
    }
    rounding::with_sd(v, sd, unit)
}

/// The group a measure is read in.
#[must_use]
pub fn group(key: &str) -> Group {
    WORDS
        .iter()
        .find(|w| w.0 == key)
        .map_or(Group::Chest, |w| w.2)
}

/// `Main curve`, `First curve above` …
#[must_use]
pub fn curve(name: &str) -> String {
    const ORDINALS: [&str; 4] = ["First", "Second", "Third", "Fourth"];
    let place = |text: &str, word: &str| {
        let n: usize = text.parse().unwrap_or(1);
        let ordinal = ORDINALS
            .get(n.saturating_sub(1))
            .copied()
            .unwrap_or("Further");
        format!("{ordinal} curve {word}")
    };
    match name.split_once('-') {
        None if name == "main" => "Main curve".to_owned(),
        Some(("above", n)) => place(n, "above"),
        Some(("below", n)) => place(n, "below"),
        _ => format!("Curve {name}"),
    }
}

/// Levels whose measure is a different one for each.
#[must_use]
pub fn shows_levels(key: &str) -> bool {
    matches!(
        key,
        "kyphosis"
            | "kyphosis_max"
            | "lordosis"
            | "rib_spacing"
            | "vertebral_rotation"
            | "rotation_grade"
    )
}
