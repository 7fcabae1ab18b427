//! Facts of a case and its films that a reader states.

use crate::film::{ImageEdge, View};
use crate::units::Date;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// Cause of the deformity.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Cause {
    /// Idiopathic scoliosis of adolescence.
    Idiopathic,
    /// Ten years or younger, not congenital.
    Young,
    /// Congenital.
    Congenital,
    /// Neuromuscular.
    Neuromuscular,
    /// Part of a syndrome.
    Syndromic,
    /// Anything else.
    Other,
}

impl Cause {
    /// The word used on the command line and in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Cause::Idiopathic => "idiopathic",
            Cause::Young => "young",
            Cause::Congenital => "congenital",
            Cause::Neuromuscular => "neuromuscular",
            Cause::Syndromic => "syndromic",
            Cause::Other => "other",
        }
    }
}

/// Phase of treatment in which a film was taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Phase {
    /// Before any treatment.
    Presentation,
    /// Bending, push or supine film.
    Flexibility,
    /// In traction.
    Traction,
    /// Just before the operation.
    Preop,
    /// After the fusion.
    Postop,
    /// Later.
    Followup,
}

impl Phase {
    /// The word used on the command line and in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Phase::Presentation => "presentation",
            Phase::Flexibility => "flexibility",
            Phase::Traction => "traction",
            Phase::Preop => "preop",
            Phase::Postop => "postop",
            Phase::Followup => "followup",
        }
    }

    /// The phase as written in a table for people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Phase::Preop => "before surgery",
            Phase::Postop => "after fusion",
            Phase::Followup => "follow-up",
            other => other.word(),
        }
    }
}

/// What a reader stated about a film; each overrides what the file said.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct StatedFacts {
    /// Date of the film.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub date: Option<Date>,
    /// View.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub view: Option<View>,
    /// Phase of treatment.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub phase: Option<Phase>,
    /// Posture: standing, sitting, supine, in traction …
    #[serde(skip_serializing_if = "Option::is_none")]
    pub posture: Option<String>,
    /// Traction weight, kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub traction_kg: Option<f64>,
    /// Body weight, kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub body_weight_kg: Option<f64>,
    /// Row and column spacing, mm per pixel at the detector.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spacing: Option<[f64; 2]>,
    /// Magnification of the spine, 1 or a little more.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub magnification: Option<f64>,
    /// Known length between `scale.a` and `scale.b`, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scale_mm: Option<f64>,
    /// Coronal film, head up: edge on which the patient's left lies.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left_on: Option<ImageEdge>,
    /// Lateral film, head up: edge toward which the patient faces.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub anterior_on: Option<ImageEdge>,
    /// Edge at which the head lies.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub head_on: Option<ImageEdge>,
    /// End vertebrae the reader fixed on this film, `T5-T12`.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub ends: Vec<String>,
    /// What a newer or another program wrote beside.
    #[serde(flatten)]
    pub extra: Map<String, Value>,
}

/// The words under which facts are forgotten again, as the command line names them.
pub const FACT_WORDS: [&str; 13] = [
    "date",
    "view",
    "phase",
    "posture",
    "traction-kg",
    "body-weight-kg",
    "spacing",
    "magnification",
    "scale-mm",
    "left-on",
    "anterior-on",
    "head-on",
    "ends",
];

impl StatedFacts {
    /// Forgets a fact by its word, so that what the file says holds again. False for another word.
    #[must_use]
    pub fn forget(&mut self, fact: &str) -> bool {
        match fact {
            "date" => self.date = None,
            "view" => self.view = None,
            "phase" => self.phase = None,
            "posture" => self.posture = None,
            "traction-kg" => self.traction_kg = None,
            "body-weight-kg" => self.body_weight_kg = None,
            "spacing" => self.spacing = None,
            "magnification" => self.magnification = None,
            "scale-mm" => self.scale_mm = None,
            "left-on" => self.left_on = None,
            "anterior-on" => self.anterior_on = None,
            "head-on" => self.head_on = None,
            "ends" => self.ends.clear(),
            _ => return false,
        }
        true
    }

    /// Takes over every fact that `newer` states.
    pub fn take_over(&mut self, newer: &StatedFacts) {
        let n = newer.clone();
        self.date = n.date.or(self.date);
        self.view = n.view.or(self.view);
        self.phase = n.phase.or(self.phase);
        self.posture = n.posture.or(self.posture.take());
        self.traction_kg = n.traction_kg.or(self.traction_kg);
        self.body_weight_kg = n.body_weight_kg.or(self.body_weight_kg);
        self.spacing = n.spacing.or(self.spacing);
        self.magnification = n.magnification.or(self.magnification);
        self.scale_mm = n.scale_mm.or(self.scale_mm);
        self.left_on = n.left_on.or(self.left_on);
        self.anterior_on = n.anterior_on.or(self.anterior_on);
        self.head_on = n.head_on.or(self.head_on);
        if !n.ends.is_empty() {
            self.ends = n.ends;
        }
    }
}
