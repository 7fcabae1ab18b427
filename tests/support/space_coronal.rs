//! Coronal measures worked out anew from a phantom's points in space.

use super::{LEVELS, Seen, Truths, distance, index, mid, name, slope};
use curvebench::measure::Measured;
use curvebench::phantom::Patient;

/// Main curve by search over all pairs of bodies: the patient's own tilts, no marks.
fn main_curve(patient: &Patient) -> (usize, usize, f64) {
    let mut best = (0, 0, 0.0f64);
    for i in 0..18 {
        for j in i + 1..18 {
            let difference = patient.coronal[i] - patient.coronal[j];
            if difference.abs() > best.2.abs() {
                best = (i, j, difference);
            }
        }
    }
    best
}

pub(super) fn coronal(patient: &Patient, seen: &Seen<'_>, results: &[Measured], out: &mut Truths) {
    let main = main_curve(patient);
    let left_high = |level: &str, edge: &str| -seen.tilt(level, edge);
    let s1 = seen.middle("S1", "upper");
    let pair = |what: &str| {
        (
            seen.at(&format!("{what}.left")),
            seen.at(&format!("{what}.right")),
        )
    };
    let mut put =
        |key: &str, curve: Option<&str>, levels: Option<&str>, side: Option<&str>, v: f64| {
            out.insert(name(key, curve, levels, side), v);
        };
    let mut apex_of_main = String::new();
    for r in results.iter().filter(|r| r.key == "cobb") {
        let curve = r.curve.as_deref().unwrap();
        let levels = r.levels.as_deref().unwrap();
        let (u, l) = levels.split_once('-').unwrap();
        // The patient's own tilts, which no mark enters.
        let angle = patient.coronal[index(u)] - patient.coronal[index(l)];
        if curve == "main" {
            assert!(
                (angle.abs() - main.2.abs()).abs() < 1e-9,
                "{levels} is not the largest"
            );
        }
        put("cobb", Some(curve), Some(levels), None, angle.abs());
        let (apex, place) = apex(seen, (index(u), index(l)), angle.signum(), s1.0);
        let found = results
            .iter()
            .find(|a| a.key == "apex" && a.curve.as_deref() == Some(curve));
        assert_eq!(
            found.and_then(|a| a.levels.as_deref()),
            Some(apex.as_str()),
            "{curve}"
        );
        // Above the T11/12 disc from the C7 plumb, below it from the CSVL.
        let body = index(apex.split('/').next().unwrap());
        let line = if body < index("T12") {
            seen.centre("C7").0
        } else {
            s1.0
        };
        put(
            "apical_translation",
            Some(curve),
            Some(&apex),
            None,
            place - line,
        );
        if curve == "main" {
            apex_of_main = apex;
        }
    }
    put(
        "coronal_balance",
        None,
        None,
        None,
        seen.centre("C7").0 - s1.0,
    );
    let (l, r) = pair("ribcage");
    put("trunk_shift", None, None, None, mid(l, r).0 - s1.0);
    put("thoracic_width", None, None, None, r.0 - l.0);
    put("t1_tilt", None, Some("T1"), None, left_high("T1", "upper"));
    put("l4_tilt", None, Some("L4"), None, left_high("L4", "upper"));
    put(
        "lowest_instrumented_tilt",
        None,
        Some("L3"),
        None,
        left_high("L3", "lower"),
    );
    let disc = seen.tilt("L3", "lower") - seen.tilt("L4", "upper");
    put(
        "lowest_instrumented_disc_angle",
        None,
        Some("L3/L4"),
        None,
        disc,
    );
    let (l, r) = pair("clavicle");
    put("clavicle_angle", None, None, None, -slope(l, r));
    let (l, r) = pair("iliac");
    put("pelvic_obliquity", None, None, None, -slope(l, r));
    // The pelvis is turned by the patient's obliquity; each crest's highest point moves along it.
    let off = -slope(l, r) - patient.obliquity;
    assert!(off.abs() < 2.0, "{off} {}", patient.obliquity);
    for (key, what) in [
        ("shoulder_height", "shoulder"),
        ("coracoid_height", "coracoid"),
    ] {
        let (l, r) = pair(what);
        put(key, None, None, None, l.1 - r.1);
    }
    let convex = if main.2 > 0.0 { "right" } else { "left" };
    let concave = if main.2 > 0.0 { "left" } else { "right" };
    let height = |side: &str| {
        seen.at(&format!("first_rib.{side}")).1 - seen.at(&format!("hemidiaphragm.{side}")).1
    };
    put(
        "space_available_for_lung",
        None,
        None,
        None,
        height(concave) / height(convex) * 100.0,
    );
    let between = |rib: usize, side: &str| {
        distance(
            seen.at(&format!("rib{rib}.{side}.tp")),
            seen.at(&format!("rib{}.{side}.tp", rib + 1)),
        )
    };
    for side in ["left", "right"] {
        for rib in 1..12 {
            let levels = format!("rib{rib}-rib{}", rib + 1);
            put(
                "rib_spacing",
                None,
                Some(&levels),
                Some(side),
                between(rib, side),
            );
        }
    }
    let n = index(apex_of_main.split('/').next().unwrap());
    let is_disc = apex_of_main.contains('/');
    let (first, last) = (n - 2, n + if is_disc { 3 } else { 2 });
    let levels = format!("rib{first}-rib{last}");
    let sum = |side: &str| (first..last).map(|rib| between(rib, side)).sum::<f64>();
    let (open, narrow) = (sum(convex), sum(concave));
    let at = (Some("main"), Some(levels.as_str()));
    put("rib_spread_convex", at.0, at.1, Some(convex), open);
    put("rib_spread_concave", at.0, at.1, Some(concave), narrow);
    put("rib_spread_difference", at.0, at.1, None, open - narrow);
    put("rib_spread_ratio", at.0, at.1, None, narrow / open);
    // Apical vertebra and its rib; of a disc the vertebra above.
    let level = LEVELS[n];
    let plates = if is_disc {
        [(level, "lower"), (LEVELS[n + 1], "upper")]
    } else {
        [(level, "upper"), (level, "lower")]
    };
    let room = |side: &str| {
        let end = usize::from(side == "right");
        let border = plates
            .map(|(l, e)| seen.ends(l, e)[end].0)
            .iter()
            .sum::<f64>()
            / 2.0;
        (seen.at(&format!("ribcage.{side}")).0 - border).abs()
    };
    let ratio = room(concave) / room(convex);
    put(
        "apical_body_rib_ratio",
        Some("main"),
        Some(&apex_of_main),
        None,
        ratio,
    );
    let rib_angle = |side: &str| {
        let (neck, head) = (
            seen.at(&format!("rib{n}.{side}.neck")),
            seen.at(&format!("rib{n}.{side}.head")),
        );
        let rib = (head.0 - neck.0, head.1 - neck.1);
        let [a, b] = seen.ends(level, "lower");
        let up = (-(b.1 - a.1), b.0 - a.0);
        let cosine = (rib.0 * up.0 + rib.1 * up.1) / (rib.0.hypot(rib.1) * up.0.hypot(up.1));
        cosine.acos().to_degrees()
    };
    for side in ["left", "right"] {
        put(
            "rib_vertebra_angle",
            Some("main"),
            Some(level),
            Some(side),
            rib_angle(side),
        );
    }
    let difference = rib_angle(concave) - rib_angle(convex);
    put(
        "rib_vertebra_angle_difference",
        Some("main"),
        Some(level),
        None,
        difference,
    );
    for level in LEVELS {
        let (top, bottom) = (seen.middle(level, "upper"), seen.middle(level, "lower"));
        let axis = (top.0 - bottom.0, top.1 - bottom.1);
        let long = axis.0.hypot(axis.1);
        let out_from =
            |p: (f64, f64)| ((p.0 - bottom.0) * axis.1 - (p.1 - bottom.1) * axis.0) / long;
        let (l, r) = pair(&format!("{level}.pedicle"));
        let (a, b) = (out_from(r), -out_from(l));
        let way = (a - b) / (a + b);
        put(
            "vertebral_rotation",
            None,
            Some(level),
            None,
            (1.2 / 2.0 * way).atan().to_degrees(),
        );
        let grade = [1.0 / 6.0, 0.5, 5.0 / 6.0, 7.0 / 6.0]
            .iter()
            .filter(|g| way.abs() >= **g);
        put(
            "rotation_grade",
            None,
            Some(level),
            None,
            grade.count() as f64,
        );
    }
}

/// The body or disc farthest to the convex side of a vertical.
fn apex(seen: &Seen<'_>, (u, l): (usize, usize), sign: f64, line: f64) -> (String, f64) {
    let mut places: Vec<(String, f64)> = Vec::new();
    for i in u..l {
        if i > u {
            places.push((LEVELS[i].to_owned(), seen.centre(LEVELS[i]).0));
        }
        let disc = mid(
            seen.middle(LEVELS[i], "lower"),
            seen.middle(LEVELS[i + 1], "upper"),
        );
        places.push((format!("{}/{}", LEVELS[i], LEVELS[i + 1]), disc.0));
    }
    places
        .into_iter()
        .max_by(|a, b| (sign * (a.1 - line)).total_cmp(&(sign * (b.1 - line))))
        .unwrap()
}
