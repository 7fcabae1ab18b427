//! The curve in its own plane, from a coronal and a lateral film of one date: an estimate.

use super::context::Context;
use super::{FilmInput, Measured};
use crate::landmark::{Edge, Levels};
use crate::units::Unit;

/// Angle between two end-plates in space and the azimuth of their plane from the sagittal, degrees.
///
/// `tilts` are the coronal tilts of the upper and lower plate, then the sagittal ones, degrees,
/// each within (−90°, 90°). A plate with coronal tilt α and sagittal tilt β has a normal along
/// (tan α, tan β, 1): arithmetic, handbook §10.2. `None` for plates past vertical.
#[must_use]
pub fn angle_in_space(tilts: [f64; 4]) -> Option<(f64, f64)> {
    if tilts.iter().any(|t| t.abs() >= 89.0) {
        return None;
    }
    let [au, al, bu, bl] = tilts.map(|t| t.to_radians().tan());
    let (nu, nl) = (
        (1.0 + au * au + bu * bu).sqrt(),
        (1.0 + al * al + bl * bl).sqrt(),
    );
    let cosine = (1.0 + au * al + bu * bl) / (nu * nl);
    let (dx, dy) = ((au / nu - al / nl).abs(), (bu / nu - bl / nl).abs());
    Some((
        cosine.clamp(-1.0, 1.0).acos().to_degrees(),
        dx.atan2(dy).to_degrees(),
    ))
}

/// `true_curvature` and `true_curvature_plane` of a curve measured on both films.
///
/// Needs the same plates on both, films truly at right angles and a patient who did not turn
/// between them; a turn of 10° moves it by several degrees, and the note says by how much here.
#[must_use]
pub fn true_curvature(
    coronal: &FilmInput<'_>,
    lateral: &FilmInput<'_>,
    curve: &str,
    levels: Levels,
) -> Vec<Measured> {
    let blank = |key| {
        let mut r = Measured::new(key, Unit::Degree)
            .at(levels)
            .by("from a coronal and a lateral film, an estimate");
        r.curve = Some(curve.to_owned());
        r
    };
    let keys = ["true_curvature", "true_curvature_plane"];
    let (Some(c), Some(l)) = (&coronal.frame, &lateral.frame) else {
        return Vec::new();
    };
    let films = [Context::new(c, coronal), Context::new(l, lateral)];
    let mut tilts = [0.0; 4];
    let mut sds = [0.0; 4];
    let mut needs = Vec::new();
    for (f, film) in films.iter().enumerate() {
        needs.extend(film.side_needs());
        for (p, (level, edge)) in [(levels.upper, Edge::Upper), (levels.lower, Edge::Lower)]
            .into_iter()
            .enumerate()
        {
            match film.tilt(level, edge) {
                Some(t) => {
                    tilts[2 * f + p] = t.v;
                    sds[2 * f + p] = t.variance(film.sd()).sqrt();
                }
                None => needs.extend(film.plane.missing(&film.plane.plate_names(level, edge))),
            }
        }
    }
    if !needs.is_empty() {
        return keys.map(|k| blank(k).missing(needs.clone())).to_vec();
    }
    let Some((angle, azimuth)) = angle_in_space(tilts) else {
        return keys
            .map(|k| blank(k).not_applicable("an end-plate stands past vertical"))
            .to_vec();
    };
    // Standard deviation by central differences over the four tilts, which share no mark.
    let sd = |pick: fn((f64, f64)) -> f64| {
        let part = |i: usize| {
            let moved = |by: f64| {
                let mut t = tilts;
                t[i] += by;
                angle_in_space(t).map(pick)
            };
            Some((moved(0.05)? - moved(-0.05)?) / 0.1 * sds[i])
        };
        (0..4)
            .map(part)
            .collect::<Option<Vec<f64>>>()
            .map(|p| p.iter().map(|v| v * v).sum::<f64>().sqrt())
    };
    let turned = |phi: f64| {
        let (s, c) = f64::to_radians(phi).sin_cos();
        let t = tilts.map(|t| t.to_radians().tan());
        let shown = |a: f64, b: f64| (c * a + s * b).atan().to_degrees();
        (shown(t[0], t[2]) - shown(t[1], t[3])).abs()
    };
    let now = (tilts[0] - tilts[1]).abs();
    let most = [10.0, -10.0]
        .map(|p| (turned(p) - now).abs())
        .into_iter()
        .fold(0.0, f64::max);
    let values = [(angle, sd(|p| p.0)), (azimuth, sd(|p| p.1))];
    keys.iter()
        .zip(values)
        .map(|(key, (value, sd))| {
            let mut r = blank(key).unscaled(crate::units::Dual::constant(value), |_| 0.0);
            r.sd = sd;
            r.noting(format!("a patient turned by 10° between the films would show the coronal angle up to {most:.0}° off"))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Table of the trade handbook §10.2 (arithmetic): coronal C, sagittal S, angle, azimuth.
    #[test]
    fn the_table_of_plane_curves() {
        let table = [
            (60.0, 0.0, 60.0, 90.0),
            (30.0, 30.0, 41.51, 45.0),
            (40.0, 20.0, 44.04, 64.15),
            (50.0, 30.0, 56.54, 60.12),
            (60.0, 40.0, 68.63, 57.77),
            (80.0, 20.0, 81.22, 78.13),
            (90.0, 90.0, 109.47, 45.0),
            (100.0, 80.0, 111.09, 54.86),
            (110.0, 90.0, 120.32, 55.0),
            (120.0, 60.0, 122.58, 71.57),
        ];
        for (c, s, want, azimuth) in table {
            let got = angle_in_space([c / 2.0, -c / 2.0, s / 2.0, -s / 2.0]).unwrap_or((0.0, 0.0));
            assert!(
                (got.0 - want).abs() < 0.006 && (got.1 - azimuth).abs() < 0.01,
                "{c} {s}: {got:?}"
            );
        }
        let other = [
            ([30.0, -30.0, 20.0, -20.0], 68.63),
            ([40.0, -20.0, 30.0, -10.0], 67.36),
            ([35.0, -25.0, 0.0, 40.0], 66.55),
        ];
        for (tilts, want) in other {
            assert!(
                (angle_in_space(tilts).map_or(0.0, |g| g.0) - want).abs() < 0.006,
                "{tilts:?}"
            );
        }
    }
}
