//! Units and the points of each space.
//!
//! A bare `f64` crosses no stage boundary where a unit or a space could be mistaken:
//! film pixels, film-plane millimetres, degrees and the patient's sides each have a type.

mod date;
mod dual;
mod side;
mod space;

pub use date::Date;
pub use dual::Dual;
pub use side::{Side, Toward};
pub use space::{FilmPx, PlanePoint, PlaneVector, wrap_degrees};

/// Unit of a result, printed as in the contract's JSON.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Unit {
    /// Degrees of arc.
    Degree,
    /// Millimetres at the patient (or at the detector, status `uncorrected`).
    Millimetre,
    /// A quotient without unit.
    Ratio,
    /// Per cent.
    Percent,
    /// A result that is a name or a grade, not a number with a unit.
    None,
}

impl Unit {
    /// The unit as written in JSON and CSV.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Unit::Degree => "deg",
            Unit::Millimetre => "mm",
            Unit::Ratio => "ratio",
            Unit::Percent => "%",
            Unit::None => "",
        }
    }
}
