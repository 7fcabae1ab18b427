//! Choices of a case from words.

use super::Refusal;
use crate::landmark::Level;
use crate::measure::Settings;

/// Choices as a user writes them; those left out stay.
#[derive(Clone, Debug, Default)]
pub struct Choices {
    /// `by-region` or `csvl`.
    pub translation_reference: Option<String>,
    /// `farthest` or `most-level`.
    pub apex: Option<String>,
    /// `vertical` or `iliac-perpendicular`.
    pub csvl: Option<String>,
    /// `horizontal`, `spine`, `sacral-ala` or `lowest-lumbar`.
    pub pelvic_obliquity: Option<String>,
    /// First and last rib, `6-11`.
    pub rib_pairs: Option<String>,
    /// Interpedicular width over depth.
    pub width_depth_ratio: Option<f64>,
    /// Levels the patient does not have.
    pub absent: Option<Vec<String>>,
    /// Uppermost instrumented vertebra.
    pub upper_instrumented: Option<String>,
    /// Lowest instrumented vertebra.
    pub lower_instrumented: Option<String>,
}

fn word<T: serde::de::DeserializeOwned>(what: &str, text: &str) -> Result<T, Refusal> {
    serde_json::from_value(text.into()).map_err(|e| Refusal::new(format!("{what}: {e}")))
}

fn level(text: &str) -> Result<String, Refusal> {
    text.parse::<Level>()
        .map(|l| l.to_string())
        .map_err(Refusal::new)
}

impl Choices {
    /// The settings with these choices made.
    ///
    /// # Errors
    /// A word that is no choice, a level that is none, ribs the wrong way round, a ratio not above zero.
    pub fn applied_to(&self, settings: &Settings) -> Result<Settings, Refusal> {
        let mut s = settings.clone();
        if let Some(text) = &self.translation_reference {
            s.translation_reference = word("--translation-reference", text)?;
        }
        if let Some(text) = &self.apex {
            s.apex = word("--apex", text)?;
        }
        if let Some(text) = &self.csvl {
            s.csvl = word("--csvl", text)?;
        }
        if let Some(text) = &self.pelvic_obliquity {
            s.pelvic_obliquity = word("--pelvic-obliquity", text)?;
        }
        if let Some(text) = &self.rib_pairs {
            let ribs: Option<[u8; 2]> = text
                .split_once('-')
                .and_then(|(a, b)| Some([a.trim().parse().ok()?, b.trim().parse().ok()?]))
                .filter(|[a, b]| (1..*b).contains(a) && *b <= 13);
            let bad = || {
                Refusal::new(format!(
                    "--rib-pairs \"{text}\" are no ribs; write the first and last, as 6-11"
                ))
            };
            s.rib_pairs = Some(ribs.ok_or_else(bad)?);
        }
        if let Some(ratio) = self.width_depth_ratio {
            if !(ratio.is_finite() && ratio > 0.0) {
                return Err(Refusal::new(format!(
                    "--width-depth-ratio {ratio} is not above zero"
                )));
            }
            s.width_depth_ratio = Some(ratio);
        }
        if let Some(levels) = &self.absent {
            s.absent_levels = levels
                .iter()
                .filter(|l| !l.is_empty())
                .map(|l| level(l))
                .collect::<Result<_, _>>()?;
        }
        if let Some(text) = &self.upper_instrumented {
            s.upper_instrumented = Some(level(text)?);
        }
        if let Some(text) = &self.lower_instrumented {
            s.lower_instrumented = Some(level(text)?);
        }
        match (s.upper_instrumented(), s.lower_instrumented()) {
            (Some(upper), Some(lower)) if upper > lower => Err(Refusal::new(format!(
                "the uppermost instrumented vertebra {upper} lies below the lowest, {lower}; exchange them"
            ))),
            _ => Ok(s),
        }
    }
}
