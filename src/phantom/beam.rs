//! The cone beam: a point in the patient onto the detector.

use crate::units::FilmPx;
use nalgebra::Vector3;

/// Which plane is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Plane {
    /// Beam from behind; seen from behind, the patient's left on the image's left.
    Pa,
    /// Beam from the right, detector on the left; the front on the image's right.
    Lateral,
}

/// Source, detector and pixels.
#[derive(Clone, Debug)]
pub struct Beam {
    /// Plane.
    pub plane: Plane,
    /// Source-detector distance, mm.
    pub source_detector: f64,
    /// Distance from the origin of the patient to the detector, mm.
    pub object_detector: f64,
    /// Pixel size at the detector, mm.
    pub pixel: f64,
    /// Detector position of the central ray, pixels.
    pub centre: FilmPx,
    /// Height of the central ray above the patient's origin, mm.
    pub height: f64,
    /// Turn of the cassette in its own plane about the central ray, degrees, + counter-clockwise
    /// as the film is seen (the picture turns the other way).
    pub roll: f64,
}

impl Beam {
    /// The focal spot, in the patient's axes.
    #[must_use]
    pub fn source(&self) -> Vector3<f64> {
        let far = self.source_detector - self.object_detector;
        match self.plane {
            Plane::Pa => Vector3::new(0.0, -far, self.height),
            Plane::Lateral => Vector3::new(far, 0.0, self.height),
        }
    }

    /// Horizontal, vertical and depth toward the source, mm, of a point.
    #[must_use]
    pub fn axes(&self, p: Vector3<f64>) -> (f64, f64, f64) {
        match self.plane {
            Plane::Pa => (p.x, p.z - self.height, -p.y),
            Plane::Lateral => (p.y, p.z - self.height, p.x),
        }
    }

    /// Magnification at a depth toward the source from the origin: SID / SOD.
    #[must_use]
    pub fn magnification(&self, depth: f64) -> f64 {
        self.source_detector / (self.source_detector - self.object_detector - depth)
    }

    /// Where a point falls on the film.
    #[must_use]
    pub fn project(&self, p: Vector3<f64>) -> FilmPx {
        let (u, v, depth) = self.axes(p);
        let m = self.magnification(depth) / self.pixel;
        let (s, c) = self.roll.to_radians().sin_cos();
        FilmPx::new(
            self.centre.x + (u * c + v * s) * m,
            self.centre.y - (v * c - u * s) * m,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked in identities_worked.csv: SID 1800, object 100 mm before the detector, 100 mm long:
    /// 105.882353 mm; SID 1000, 150 mm, 35 mm: 41.176471 mm.
    #[test]
    fn magnification_is_sid_over_sod() {
        for (sid, oid, length, want) in [
            (1800.0, 100.0, 100.0, 105.882_353),
            (1000.0, 150.0, 35.0, 41.176_471),
        ] {
            let beam = Beam {
                plane: Plane::Pa,
                source_detector: sid,
                object_detector: oid,
                pixel: 1.0,
                centre: FilmPx::new(0.0, 0.0),
                height: 0.0,
                roll: 0.0,
            };
            let (a, b) = (
                beam.project(Vector3::zeros()),
                beam.project(Vector3::new(length, 0.0, 0.0)),
            );
            assert!((a.distance(b) - want).abs() < 1e-6);
        }
    }
}
