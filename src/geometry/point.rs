//! Points and end-plates of the film plane that know the marks they came from.

use crate::units::{Dual, PlanePoint};

/// A point of the film plane (see [`PlanePoint`]) with derivatives by the marks it came from.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Toward the patient's right (coronal) or anterior (lateral).
    pub x: Dual,
    /// Up.
    pub y: Dual,
}

impl Point {
    /// The position alone.
    #[must_use]
    pub fn position(&self) -> PlanePoint {
        PlanePoint::new(self.x.v, self.y.v)
    }

    /// The mean of several points; `None` of none.
    #[must_use]
    pub fn mean<'a>(points: impl IntoIterator<Item = &'a Point>) -> Option<Point> {
        let points: Vec<&Point> = points.into_iter().collect();
        let k = 1.0 / points.len() as f64;
        (!points.is_empty()).then(|| Point {
            x: Dual::weighted_sum(points.iter().map(|p| (k, &p.x))),
            y: Dual::weighted_sum(points.iter().map(|p| (k, &p.y))),
        })
    }

    /// Distance to another point, in plane units.
    #[must_use]
    pub fn distance(&self, other: &Point) -> Dual {
        (&self.x - &other.x).hypot(&(&self.y - &other.y))
    }

    /// Direction from here to another point, degrees counter-clockwise from `+x`, in (−180, 180].
    #[must_use]
    pub fn direction_to(&self, other: &Point) -> Dual {
        (&other.y - &self.y).atan2_degrees(&(&other.x - &self.x))
    }
}

/// An end-plate: its left and right ends, or on a lateral film its posterior and anterior ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Plate {
    /// Patient's left end, or posterior end.
    pub from: Point,
    /// Patient's right end, or anterior end.
    pub to: Point,
}

impl Plate {
    /// Directed tilt, degrees: the direction from the left (posterior) to the right (anterior)
    /// end, in (−180, 180]. Never folded: a plate past vertical keeps its own ends.
    #[must_use]
    pub fn tilt(&self) -> Dual {
        self.from.direction_to(&self.to)
    }

    /// The plate's middle.
    #[must_use]
    pub fn middle(&self) -> Point {
        Point {
            x: Dual::weighted_sum([(0.5, &self.from.x), (0.5, &self.to.x)]),
            y: Dual::weighted_sum([(0.5, &self.from.y), (0.5, &self.to.y)]),
        }
    }

    /// Length between the ends, in plane units.
    #[must_use]
    pub fn length(&self) -> Dual {
        self.from.distance(&self.to)
    }
}

/// Difference of two directed tilts, degrees, in (−180, 180].
#[must_use]
pub fn directed_difference(a: &Dual, b: &Dual) -> Dual {
    (a - b).wrapped()
}
