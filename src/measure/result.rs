//! A result: a value with all that is needed to trust it, or the reason why there is none.

use super::curves::Region;
use crate::geometry::ScaleState;
use crate::landmark::Landmark;
use crate::units::{Dual, Side, Toward, Unit};

/// Whether and how a result is to be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Status {
    /// The value holds.
    Ok,
    /// Millimetres not corrected for magnification.
    Uncorrected,
    /// Marks or facts are missing; no value.
    Missing,
    /// The film has no scale; no value.
    Uncalibrated,
    /// The measure has no meaning on this film.
    NotApplicable,
}

impl Status {
    /// The word of the contract.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Status::Ok => "ok",
            Status::Uncorrected => "uncorrected",
            Status::Missing => "missing",
            Status::Uncalibrated => "uncalibrated",
            Status::NotApplicable => "not_applicable",
        }
    }
}

/// One measure of one film.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// Measure key of the contract.
    pub key: &'static str,
    /// `main`, `above-1`, `below-1` …
    pub curve: Option<String>,
    /// Levels, apex, or ribs the value belongs to.
    pub levels: Option<String>,
    /// The patient's side the measure is taken on.
    pub side: Option<Side>,
    /// Region of the curve by its apex.
    pub region: Option<Region>,
    /// The value with its derivatives; absent unless the status is `ok` or `uncorrected`.
    pub value: Option<Dual>,
    /// Standard deviation from the placement of marks, in the value's unit.
    pub sd: Option<f64>,
    /// Unit of the value.
    pub unit: Unit,
    /// Where the value points.
    pub toward: Option<Toward>,
    /// How to read it.
    pub status: Status,
    /// Marks or facts that are missing.
    pub needs: Vec<String>,
    /// The line or point it was measured from.
    pub reference: Option<String>,
    /// How it was measured, where methods differ.
    pub method: Option<String>,
    /// A caution that belongs to this value.
    pub note: Option<String>,
    /// The marks it came from.
    pub marks: Vec<Landmark>,
}

impl Measured {
    /// An empty result of a measure, to be filled.
    #[must_use]
    pub fn new(key: &'static str, unit: Unit) -> Measured {
        Measured {
            key,
            curve: None,
            levels: None,
            side: None,
            region: None,
            value: None,
            sd: None,
            unit,
            toward: None,
            status: Status::Missing,
            needs: Vec::new(),
            reference: None,
            method: None,
            note: None,
            marks: Vec::new(),
        }
    }

    /// With the levels named.
    #[must_use]
    pub fn at(mut self, levels: impl ToString) -> Measured {
        self.levels = Some(levels.to_string());
        self
    }

    /// With the reference named.
    #[must_use]
    pub fn from_reference(mut self, reference: impl ToString) -> Measured {
        self.reference = Some(reference.to_string());
        self
    }

    /// With the method named.
    #[must_use]
    pub fn by(mut self, method: impl ToString) -> Measured {
        self.method = Some(method.to_string());
        self
    }

    /// With a caution.
    #[must_use]
    pub fn noting(mut self, note: impl ToString) -> Measured {
        let note = note.to_string();
        self.note = Some(match self.note.take() {
            Some(old) => format!("{old}; {note}"),
            None => note,
        });
        self
    }

    /// With the marks it came from.
    #[must_use]
    pub fn of_marks(mut self, marks: impl IntoIterator<Item = Landmark>) -> Measured {
        self.marks.extend(marks);
        self
    }

    /// Missing these marks or facts.
    #[must_use]
    pub fn missing(mut self, needs: impl IntoIterator<Item = String>) -> Measured {
        self.status = Status::Missing;
        for need in needs {
            if !self.needs.contains(&need) {
                self.needs.push(need);
            }
        }
        self
    }

    /// Without meaning on this film, and why.
    #[must_use]
    pub fn not_applicable(mut self, why: impl ToString) -> Measured {
        self.status = Status::NotApplicable;
        self.noting(why)
    }

    /// An angle or a ratio: needs no scale.
    #[must_use]
    pub fn unscaled(mut self, value: Dual, sd_of: impl Fn(u32) -> f64) -> Measured {
        if value.v.is_finite() {
            self.sd = Some(value.variance(sd_of).sqrt()).filter(|sd| sd.is_finite() && *sd > 0.0);
            self.value = Some(value);
            self.status = Status::Ok;
            self
        } else {
            self.missing(["marks that do not lie on one another".to_owned()])
        }
    }

    /// A length in millimetres, as far as the film's scale allows.
    #[must_use]
    pub fn scaled(
        mut self,
        value: Dual,
        scale: &ScaleState,
        sd_of: impl Fn(u32) -> f64,
    ) -> Measured {
        match scale {
            ScaleState::Calibrated => self.unscaled(value, sd_of),
            ScaleState::Uncorrected(missing) => {
                self = self.unscaled(value, sd_of);
                if self.value.is_some() {
                    self.status = Status::Uncorrected;
                    self.needs.extend(missing.iter().cloned());
                }
                self
            }
            ScaleState::None(missing) => {
                self.status = Status::Uncalibrated;
                self.needs.extend(missing.iter().cloned());
                self
            }
        }
    }

    /// Points a value by its sign: below nought to one side, else to the other.
    #[must_use]
    pub fn pointing(mut self, below: Toward, above: Toward) -> Measured {
        self.toward = self
            .value
            .as_ref()
            .map(|v| if v.v < 0.0 { below } else { above });
        self
    }

    /// A measure of a film whose view is not known (`need`), or of a photograph.
    #[must_use]
    pub fn without_view(key: &'static str, need: Option<&str>) -> Measured {
        let blank = Measured::new(key, Unit::None);
        match need {
            Some(need) => blank.missing([need.to_owned()]),
            None => blank.not_applicable("a photograph is not measured"),
        }
    }

    /// A measure of the other plane.
    #[must_use]
    pub fn other_view(key: &'static str, lateral: bool) -> Measured {
        let why = if lateral {
            "needs a coronal film"
        } else {
            "needs a lateral film"
        };
        Measured::new(key, Unit::None).not_applicable(why)
    }
}
