//! A film of the case: where its file is, what the file said, what the reader stated.

use super::{Phase, StatedFacts};
use crate::film::{FileFacts, ImageEdge, Spacing, SpacingKind, View};
use crate::geometry::FilmFrame;
use crate::landmark::FilmBounds;
use crate::measure::FixedEnds;
use crate::units::Date;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// A film of the case.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FilmRecord {
    /// The film's id in the case.
    pub id: String,
    /// The file, relative to the case folder, named by its hash.
    pub file: String,
    /// SHA-256 of the file, hexadecimal.
    pub sha256: String,
    /// The name the file had when it was added.
    pub name: String,
    /// What the file says about itself.
    pub said: FileFacts,
    /// What a reader stated.
    #[serde(default)]
    pub stated: StatedFacts,
    /// What a newer or another program wrote beside.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

impl FilmRecord {
    /// Date of the film.
    #[must_use]
    pub fn date(&self) -> Option<Date> {
        self.stated.date.or(self.said.date)
    }

    /// View of the film.
    #[must_use]
    pub fn view(&self) -> Option<View> {
        self.stated.view.or(self.said.view)
    }

    /// Phase of treatment.
    #[must_use]
    pub fn phase(&self) -> Option<Phase> {
        self.stated.phase
    }

    /// Whether the film is lateral; `None` when its view is not known.
    #[must_use]
    pub fn is_lateral(&self) -> Option<bool> {
        match self.view()? {
            View::Pa | View::Ap => Some(false),
            View::Lateral => Some(true),
            View::Photo => None,
        }
    }

    /// The edge on which the patient's left (coronal) or front (lateral) lies, head up.
    #[must_use]
    pub fn side_on(&self) -> Option<ImageEdge> {
        if self.is_lateral()? {
            self.stated.anterior_on.or(self.said.anterior_on)
        } else {
            self.stated.left_on.or(self.said.left_on)
        }
    }

    /// The edge at which the head lies; the top unless said otherwise.
    #[must_use]
    pub fn head_on(&self) -> ImageEdge {
        self.stated
            .head_on
            .or(self.said.head_on)
            .unwrap_or(ImageEdge::ImageTop)
    }

    /// The spacing in force: stated, else from the file.
    #[must_use]
    pub fn spacing(&self) -> Spacing {
        match self.stated.spacing {
            Some([row, column]) => Spacing {
                kind: SpacingKind::Detector,
                row,
                column,
                reason: "spacing stated by the reader, at the detector".to_owned(),
            },
            None => self.said.spacing.clone(),
        }
    }

    /// The frame that turns this film's pixels into its film plane; `None` without a view.
    #[must_use]
    pub fn frame(&self) -> Option<FilmFrame> {
        let spacing = self.spacing();
        Some(FilmFrame {
            lateral: self.is_lateral()?,
            side_on: self.side_on(),
            head_on: self.head_on(),
            magnification: self
                .stated
                .magnification
                .filter(|_| spacing.kind != SpacingKind::Calibrated),
            spacing,
            scale_mm: self.stated.scale_mm,
        })
    }

    /// Traction weight as per cent of body weight.
    #[must_use]
    pub fn percent_body_weight(&self) -> Option<f64> {
        let (traction, body) = (self.stated.traction_kg?, self.stated.body_weight_kg?);
        (body > 0.0).then_some(traction / body * 100.0)
    }

    /// What a landmark table may place on the film.
    #[must_use]
    pub fn bounds(&self) -> FilmBounds {
        FilmBounds {
            columns: self.said.columns,
            rows: self.said.rows,
            lateral: self.is_lateral(),
        }
    }

    /// End vertebrae the reader fixed on this film.
    #[must_use]
    pub fn fixed_ends(&self) -> Vec<FixedEnds> {
        self.stated
            .ends
            .iter()
            .filter_map(|text| text.parse().ok())
            .map(|levels| FixedEnds { name: None, levels })
            .collect()
    }
}
