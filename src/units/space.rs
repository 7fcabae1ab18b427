//! Points of the film and of the film plane.

use serde::{Deserialize, Serialize};
use std::ops::{Add, Mul, Neg, Sub};

/// A point in film pixels, DICOM SCOORD convention.
///
/// `(0, 0)` is the outer top-left corner of the top-left pixel, whose centre is `(0.5, 0.5)`;
/// `x` is the column, `y` the row, `y` down. This is the only space in which a landmark is stored.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FilmPx {
    /// Column.
    pub x: f64,
    /// Row, downwards.
    pub y: f64,
}

impl FilmPx {
    /// A point at column `x`, row `y`.
    #[must_use]
    pub const fn new(x: f64, y: f64) -> Self {
        FilmPx { x, y }
    }

    /// Distance in pixels.
    #[must_use]
    pub fn distance(self, other: FilmPx) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }

    /// The point halfway to `other`.
    #[must_use]
    pub fn middle(self, other: FilmPx) -> FilmPx {
        FilmPx::new((self.x + other.x) / 2.0, (self.y + other.y) / 2.0)
    }
}

/// A point in the film plane: coronal `x` toward the patient's right, sagittal `x` anterior,
/// `y` up along the film's vertical; millimetres (or row steps where there is no spacing).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlanePoint {
    /// Toward the patient's right (coronal) or anterior (sagittal).
    pub x: f64,
    /// Up.
    pub y: f64,
}

/// A displacement in the film plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaneVector {
    /// Toward the patient's right (coronal) or anterior (sagittal).
    pub x: f64,
    /// Up.
    pub y: f64,
}

impl PlanePoint {
    /// A point at `(x, y)`.
    #[must_use]
    pub const fn new(x: f64, y: f64) -> Self {
        PlanePoint { x, y }
    }

    /// The point halfway to `other`.
    #[must_use]
    pub fn middle(self, other: PlanePoint) -> PlanePoint {
        PlanePoint::new((self.x + other.x) / 2.0, (self.y + other.y) / 2.0)
    }
}

impl PlaneVector {
    /// Length of the displacement.
    #[must_use]
    pub fn length(self) -> f64 {
        self.x.hypot(self.y)
    }

    /// Direction in degrees, counter-clockwise from `+x`, in `(-180, 180]`.
    #[must_use]
    pub fn direction(self) -> f64 {
        self.y.atan2(self.x).to_degrees()
    }
}

impl Sub for PlanePoint {
    type Output = PlaneVector;
    fn sub(self, other: PlanePoint) -> PlaneVector {
        PlaneVector {
            x: self.x - other.x,
            y: self.y - other.y,
        }
    }
}

impl Add<PlaneVector> for PlanePoint {
    type Output = PlanePoint;
    fn add(self, v: PlaneVector) -> PlanePoint {
        PlanePoint::new(self.x + v.x, self.y + v.y)
    }
}

impl Mul<f64> for PlaneVector {
    type Output = PlaneVector;
    fn mul(self, k: f64) -> PlaneVector {
        PlaneVector {
            x: self.x * k,
            y: self.y * k,
        }
    }
}

impl Neg for PlaneVector {
    type Output = PlaneVector;
    fn neg(self) -> PlaneVector {
        PlaneVector {
            x: -self.x,
            y: -self.y,
        }
    }
}

/// Takes an angle in degrees into `(-180, 180]`, so that plates past vertical are never folded.
#[must_use]
pub fn wrap_degrees(angle: f64) -> f64 {
    let turned = angle.rem_euclid(360.0);
    if turned > 180.0 {
        turned - 360.0
    } else {
        turned
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrapping_keeps_half_turn_positive() {
        assert_eq!(wrap_degrees(180.0), 180.0);
        assert_eq!(wrap_degrees(-180.0), 180.0);
        assert_eq!(wrap_degrees(-190.0), 170.0);
        assert_eq!(wrap_degrees(541.0), -179.0);
    }
}
