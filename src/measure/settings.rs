//! What a reader may choose once per case, where sources differ.

use crate::landmark::Level;
use serde::{Deserialize, Serialize};

/// Reference line of apical translation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TranslationReference {
    /// C7 plumb for thoracic apices, CSVL below (the contract's rule; common practice, no source).
    #[default]
    ByRegion,
    /// CSVL for every apex, as many traction papers have it.
    Csvl,
}

/// Which body or disc is the apex (sources differ, handbook §1).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ApexRule {
    /// The one farthest from the reference line toward the convexity (the contract's rule; SRS glossary).
    #[default]
    Farthest,
    /// The one that leans least from level (common practice, no source).
    MostLevel,
}

/// How the central sacral vertical line is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CsvlConstruction {
    /// The film's vertical through the middle of S1.
    #[default]
    Vertical,
    /// Perpendicular to the line of the iliac crests through the middle of S1.
    IliacPerpendicular,
}

/// Method of pelvic obliquity (handbook §1.2; geometry of all but the first from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ObliquityMethod {
    /// Line of the iliac crests against the horizontal.
    #[default]
    Horizontal,
    /// Line of the iliac crests against the perpendicular to the line T1–S1.
    Spine,
    /// Line of the sacral alae against the horizontal.
    SacralAla,
    /// Line of the iliac crests against the perpendicular to the lowest lumbar body.
    LowestLumbar,
}

impl ObliquityMethod {
    /// The method in words, with the name it is published under.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            ObliquityMethod::Horizontal => "iliac crests to horizontal (Osebold)",
            ObliquityMethod::Spine => "iliac crests to perpendicular of T1-S1 (Maloney)",
            ObliquityMethod::SacralAla => "sacral alae to horizontal (O'Brien)",
            ObliquityMethod::LowestLumbar => {
                "iliac crests to lowest lumbar body (Allen and Ferguson)"
            }
        }
    }
}

/// The choices of a case.
#[derive(Clone, Debug, PartialEq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Reference line of apical translation.
    pub translation_reference: TranslationReference,
    /// Which body or disc is the apex.
    pub apex: ApexRule,
    /// Construction of the CSVL.
    pub csvl: CsvlConstruction,
    /// Method of pelvic obliquity.
    pub pelvic_obliquity: ObliquityMethod,
    /// First and last rib of the spread, instead of those about the apex.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rib_pairs: Option<[u8; 2]>,
    /// Interpedicular width over the depth from pedicles to body centre, for rotation.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub width_depth_ratio: Option<f64>,
    /// Levels this patient does not have, `T12`, `L5` …; marks on them are set aside.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub absent_levels: Vec<String>,
    /// Uppermost instrumented vertebra, for the proximal junctional angle.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub upper_instrumented: Option<String>,
    /// Lowest instrumented vertebra, for its tilt and the disc below.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lower_instrumented: Option<String>,
}

impl Settings {
    /// Whether the patient is said to have no such level.
    #[must_use]
    pub fn is_absent(&self, level: Level) -> bool {
        !self.absent_levels.is_empty() && self.absent_levels.contains(&level.to_string())
    }

    /// The uppermost instrumented vertebra.
    #[must_use]
    pub fn upper_instrumented(&self) -> Option<Level> {
        self.upper_instrumented.as_deref()?.parse().ok()
    }

    /// The lowest instrumented vertebra.
    #[must_use]
    pub fn lower_instrumented(&self) -> Option<Level> {
        self.lower_instrumented.as_deref()?.parse().ok()
    }
}
