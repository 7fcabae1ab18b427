//! What is known about a film: its view, orientation and spacing.

use crate::units::Date;
use serde::{Deserialize, Serialize};

/// How the beam went, or that the picture is a photograph.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum View {
    /// Coronal, beam from behind.
    Pa,
    /// Coronal, beam from the front.
    Ap,
    /// Lateral.
    Lateral,
    /// A photograph; it is kept, nothing is measured on it.
    Photo,
}

impl View {
    /// Whether the film shows the coronal plane.
    #[must_use]
    pub fn is_coronal(self) -> bool {
        matches!(self, View::Pa | View::Ap)
    }

    /// The word used on the command line and in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            View::Pa => "pa",
            View::Ap => "ap",
            View::Lateral => "lateral",
            View::Photo => "photo",
        }
    }
}

/// An edge of the image as stored, not of the screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ImageEdge {
    /// First column.
    ImageLeft,
    /// Last column.
    ImageRight,
    /// First row.
    ImageTop,
    /// Last row.
    ImageBottom,
}

impl ImageEdge {
    /// The word used on the command line and in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            ImageEdge::ImageLeft => "image-left",
            ImageEdge::ImageRight => "image-right",
            ImageEdge::ImageTop => "image-top",
            ImageEdge::ImageBottom => "image-bottom",
        }
    }

    /// Direction toward it on the film: columns, rows.
    #[must_use]
    pub fn toward(self) -> (f64, f64) {
        match self {
            ImageEdge::ImageTop => (0.0, -1.0),
            ImageEdge::ImageBottom => (0.0, 1.0),
            ImageEdge::ImageLeft => (-1.0, 0.0),
            ImageEdge::ImageRight => (1.0, 0.0),
        }
    }
}

/// What a spacing means (PS3.3 10.7.1.1–3).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum SpacingKind {
    /// Millimetres at the patient.
    Calibrated,
    /// Millimetres at the detector or on the film, not corrected for magnification.
    Detector,
    /// Millimetres of which the file does not say where they hold.
    Unknown,
    /// No millimetres; only the pixel's shape may be known.
    None,
}

/// The spacing a file states, judged by the decision table of PS3.3.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Spacing {
    /// What the numbers mean.
    pub kind: SpacingKind,
    /// Distance between rows: millimetres, or for [`SpacingKind::None`] the pixel's relative height.
    pub row: f64,
    /// Distance between columns: millimetres, or for [`SpacingKind::None`] the pixel's relative width.
    pub column: f64,
    /// Why, in words, naming the attribute.
    pub reason: String,
}

/// What a film file says about itself, as far as measuring needs it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FileFacts {
    /// Columns of the stored image.
    pub columns: u32,
    /// Rows of the stored image.
    pub rows: u32,
    /// Acquisition date, else study date.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub date: Option<Date>,
    /// View, if the file states it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub view: Option<View>,
    /// Coronal film, seen head up: the edge on which the patient's left lies.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub left_on: Option<ImageEdge>,
    /// Lateral film, seen head up: the edge toward which the patient faces.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub anterior_on: Option<ImageEdge>,
    /// The edge at which the head lies.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub head_on: Option<ImageEdge>,
    /// Spacing and what it means.
    pub spacing: Spacing,
    /// Source-detector distance, mm.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub source_detector_mm: Option<f64>,
    /// The file's own estimate of the magnification: shown, never applied.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub estimated_magnification: Option<f64>,
    /// Facts worth telling the reader, one sentence each.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub notes: Vec<String>,
}
