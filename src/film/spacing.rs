//! Is a spacing at the patient or at the detector? PS3.3 10.7.1.1–3, C.8.1.2, C.8.11.4, C.8.11.5.

use super::{Spacing, SpacingKind};

/// The attributes that speak about spacing, as text.
#[derive(Clone, Debug, Default)]
pub struct SpacingTags {
    /// Pixel Spacing (0028,0030).
    pub pixel: Option<String>,
    /// Imager Pixel Spacing (0018,1164).
    pub imager: Option<String>,
    /// Nominal Scanned Pixel Spacing (0018,2010).
    pub nominal: Option<String>,
    /// Pixel Spacing Calibration Type (0028,0A02).
    pub calibration: Option<String>,
    /// Pixel Aspect Ratio (0028,0034), vertical\horizontal.
    pub aspect: Option<String>,
}

/// Two positive numbers, row then column; an error names what stands there instead.
fn pair(name: &str, text: &str) -> Result<[f64; 2], String> {
    let numbers: Vec<f64> = text
        .split('\\')
        .filter_map(|v| v.trim().parse().ok())
        .collect();
    match numbers[..] {
        [row, column] if row > 0.0 && column > 0.0 && row.is_finite() && column.is_finite() => {
            Ok([row, column])
        }
        _ => Err(format!(
            "{name} is \"{}\", which is no spacing and is not used",
            text.trim()
        )),
    }
}

/// Judges the spacing of a film by the decision table of the standard.
#[must_use]
pub fn judge_spacing(tags: &SpacingTags) -> Spacing {
    let mut said = Vec::new();
    let mut read = |name: &str, text: &Option<String>| {
        let text = text.as_deref().filter(|t| !t.trim().is_empty())?;
        pair(name, text).map_err(|fact| said.push(fact)).ok()
    };
    let pixel = read("Pixel Spacing", &tags.pixel);
    let imager = read("Imager Pixel Spacing", &tags.imager);
    let nominal = read("Nominal Scanned Pixel Spacing", &tags.nominal);
    let aspect = read("Pixel Aspect Ratio", &tags.aspect);
    let calibration = tags
        .calibration
        .as_deref()
        .map(str::trim)
        .filter(|t| !t.is_empty());
    let device = imager
        .map(|s| (s, "Imager Pixel Spacing"))
        .or(nominal.map(|s| (s, "Nominal Scanned Pixel Spacing")));
    let same = |a: [f64; 2], b: [f64; 2]| a.iter().zip(b).all(|(a, b)| (a - b).abs() <= 1e-6 * b);
    let (kind, [row, column], why) = match (pixel, device, calibration) {
        (Some(p), _, Some(kind)) => {
            let why = match kind {
                "GEOMETRY" => {
                    "Pixel Spacing calibrated by an assumed magnification (GEOMETRY), near the central ray"
                }
                "FIDUCIAL" => {
                    "Pixel Spacing calibrated on an object of known size (FIDUCIAL), at its depth"
                }
                _ => "Pixel Spacing calibrated as the file says",
            };
            (SpacingKind::Calibrated, p, why.to_owned())
        }
        (Some(p), Some((d, name)), None) if same(p, d) => (
            SpacingKind::Detector,
            p,
            format!("Pixel Spacing equals {name}: at the detector, not corrected"),
        ),
        (Some(p), Some((_, name)), None) => (
            SpacingKind::Calibrated,
            p,
            format!("Pixel Spacing differs from {name}: corrected or calibrated"),
        ),
        (Some(p), None, None) => (
            SpacingKind::Unknown,
            p,
            "Pixel Spacing alone: whether it holds at the patient or the detector is not said"
                .to_owned(),
        ),
        (None, Some((d, name)), _) => (
            SpacingKind::Detector,
            d,
            format!("{name} alone: at the detector, not corrected for magnification"),
        ),
        (None, None, _) => match aspect {
            Some(a) => (
                SpacingKind::None,
                a,
                "no millimetres, only Pixel Aspect Ratio".to_owned(),
            ),
            None => (
                SpacingKind::None,
                [1.0, 1.0],
                "no spacing in the file; pixels are taken as square".to_owned(),
            ),
        },
    };
    said.push(why);
    Spacing {
        kind,
        row,
        column,
        reason: said.join("; "),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tags(pixel: &str, imager: &str, nominal: &str, calibration: &str, aspect: &str) -> Spacing {
        let some = |t: &str| (!t.is_empty()).then(|| t.to_owned());
        judge_spacing(&SpacingTags {
            pixel: some(pixel),
            imager: some(imager),
            nominal: some(nominal),
            calibration: some(calibration),
            aspect: some(aspect),
        })
    }

    /// Every row of the decision table drawn from PS3.3 10.7.1.
    #[test]
    fn the_decision_table() {
        use SpacingKind::{Calibrated, Detector, None, Unknown};
        let rows = [
            (tags("", "0.143\\0.143", "", "", ""), Detector),
            (tags("", "", "0.2\\0.2", "", ""), Detector),
            (tags("0.143\\0.143", "0.1430\\0.1430", "", "", ""), Detector),
            (tags("0.13\\0.13", "0.143\\0.143", "", "", ""), Calibrated),
            (tags("0.13\\0.13", "", "0.2\\0.2", "", ""), Calibrated),
            (
                tags("0.13\\0.13", "0.143\\0.143", "", "GEOMETRY", ""),
                Calibrated,
            ),
            (tags("0.13\\0.13", "", "", "FIDUCIAL", ""), Calibrated),
            (tags("0.2\\0.2", "", "", "", ""), Unknown),
            (tags("", "", "", "", "4\\3"), None),
            (tags("", "", "", "", ""), None),
        ];
        for (spacing, kind) in rows {
            assert_eq!(spacing.kind, kind, "{}", spacing.reason);
        }
        let unequal = tags("", "0.15\\0.20", "", "", "");
        assert_eq!((unequal.row, unequal.column), (0.15, 0.20));
        assert_eq!(
            (
                tags("", "", "", "", "4\\3").row,
                tags("", "", "", "", "4\\3").column
            ),
            (4.0, 3.0)
        );
    }

    #[test]
    fn a_spacing_that_is_none_is_said_and_not_used() {
        for bad in ["0.000\\0.000", "-0.1\\0.1", "0.1", "x\\y", "NaN\\0.1"] {
            let s = tags(bad, "", "", "", "");
            assert_eq!(s.kind, SpacingKind::None);
            assert!(s.reason.contains(bad), "{}", s.reason);
        }
        let s = tags("0\\0", "0.143\\0.143", "", "", "");
        assert!(s.kind == SpacingKind::Detector && s.reason.contains("is no spacing"));
    }
}
