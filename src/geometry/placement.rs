//! How well marks are placed.

use crate::landmark::Landmark;

/// Standard deviation of placing a mark, millimetres at the patient in each coordinate.
///
/// The defaults are assumptions (common practice, no source): 1 mm across an end-plate, which
/// gives a Cobb angle 3.3° with 35 mm end-plates, against 2.0° re-measured and 3.2° re-taken in
/// Pruijs 1994; softer outlines more. A reader's own repeated readings replace them kind by kind.
#[derive(Clone, Debug, PartialEq)]
pub struct Placement {
    /// The figure of each kind of mark, in the order of [`MarkKind::ALL`].
    pub mm: [f64; 5],
    /// Where the figures come from, for the output.
    pub source: String,
}

/// Kinds of marks that are placed about equally well.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkKind {
    /// Ends of end-plates.
    EndPlate,
    /// Body centres and pedicles.
    Body,
    /// Ribs.
    Rib,
    /// Everything else: clavicles, iliac crests, chest margins, femoral heads.
    Outline,
    /// Ends of a known length and of the plumb line.
    Reference,
}

impl MarkKind {
    /// Every kind.
    pub const ALL: [MarkKind; 5] = [
        MarkKind::EndPlate,
        MarkKind::Body,
        MarkKind::Rib,
        MarkKind::Outline,
        MarkKind::Reference,
    ];

    /// The kind of a mark.
    #[must_use]
    pub fn of(name: Landmark) -> MarkKind {
        match name {
            Landmark::Plate(..) => MarkKind::EndPlate,
            Landmark::Center(_) | Landmark::Pedicle(..) => MarkKind::Body,
            Landmark::Rib(..) => MarkKind::Rib,
            Landmark::Plumb(_) | Landmark::Scale(_) => MarkKind::Reference,
            Landmark::Paired(..) | Landmark::LateralHead(_) | Landmark::Metal => MarkKind::Outline,
        }
    }

    /// The kind in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            MarkKind::EndPlate => "end-plates",
            MarkKind::Body => "bodies and pedicles",
            MarkKind::Rib => "ribs",
            MarkKind::Outline => "outlines",
            MarkKind::Reference => "rulers",
        }
    }
}

impl Default for Placement {
    fn default() -> Self {
        Placement {
            mm: [1.0, 1.5, 1.5, 2.0, 0.5],
            source: "assumed (1 mm at an end-plate)".to_owned(),
        }
    }
}

impl Placement {
    /// The figure for a mark.
    #[must_use]
    pub fn of(&self, name: Landmark) -> f64 {
        self.mm[MarkKind::of(name) as usize]
    }
}
