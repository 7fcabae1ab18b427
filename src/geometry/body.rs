//! Plates, pedicle lines and bodies among the marks of a film.

use super::frame::PlaneMarks;
use super::point::{Plate, Point};
use crate::landmark::{Edge, Landmark, Level};
use crate::units::Side;

impl PlaneMarks<'_> {
    /// The names of an end-plate's two ends on this film.
    #[must_use]
    pub fn plate_names(&self, level: Level, edge: Edge) -> [Landmark; 2] {
        Landmark::plate_ends(level, edge, self.frame.lateral)
    }

    /// An end-plate, if both its ends are marked (and are not the same point).
    #[must_use]
    pub fn plate(&self, level: Level, edge: Edge) -> Option<Plate> {
        let [a, b] = self.plate_names(level, edge);
        let plate = Plate {
            from: self.point(a)?,
            to: self.point(b)?,
        };
        (plate.length().v > 0.0).then_some(plate)
    }

    /// The line from the left pedicle of a level to its right one, on a coronal film.
    #[must_use]
    pub fn pedicle_line(&self, level: Level) -> Option<Plate> {
        let [left, right] = Side::BOTH.map(|s| Landmark::Pedicle(level, s));
        let line = Plate {
            from: self.point(left)?,
            to: self.point(right)?,
        };
        (!self.frame.lateral && line.length().v > 0.0).then_some(line)
    }

    /// A body's centre: `V.center`, or the mean of its four ends.
    #[must_use]
    pub fn body_centre(&self, level: Level) -> Option<Point> {
        if let Some(centre) = self.point(Landmark::Center(level)) {
            return Some(centre);
        }
        let (upper, lower) = (
            self.plate(level, Edge::Upper)?,
            self.plate(level, Edge::Lower)?,
        );
        Point::mean([&upper.from, &upper.to, &lower.from, &lower.to])
    }

    /// The marks a body's centre comes from.
    #[must_use]
    pub fn centre_marks(&self, level: Level) -> Vec<Landmark> {
        if self.marks.has(Landmark::Center(level)) {
            return vec![Landmark::Center(level)];
        }
        [Edge::Upper, Edge::Lower]
            .iter()
            .flat_map(|e| self.plate_names(level, *e))
            .collect()
    }
}
