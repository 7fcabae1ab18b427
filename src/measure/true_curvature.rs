//! The curve in its own plane, from a coronal and a lateral film of one date: an estimate.

use super::context::Context;
use super::{FilmInput, Measured};
use crate::landmark::{Edge, Levels};
use crate::units::{Dual, Unit};

pub(super) const KEYS: [&str; 2] = ["true_curvature", "true_curvature_plane"];

/// A plate within this of vertical, degrees, may show past it on one film and not on the other.
const NEAR_VERTICAL_DEG: f64 = 3.0;

/// Unit normal of an end-plate with a coronal and a sagittal tilt, degrees, in (−180, 180]; axes to
/// the patient's right, to the front, up. Its coronal part points along (−sin α, cos α), its sagittal
/// part along (−sin β, cos β). `None` where one film shows the plate past vertical and the other
/// does not: no plate can do both.
pub(super) fn normal_in_space(coronal: f64, sagittal: f64) -> Option<[f64; 3]> {
    let ((sa, ca), (sb, cb)) = (
        coronal.to_radians().sin_cos(),
        sagittal.to_radians().sin_cos(),
    );
    let near = NEAR_VERTICAL_DEG.to_radians().sin();
    if ca * cb < 0.0 && ca.abs().min(cb.abs()) > near {
        return None;
    }
    // The film on which the plate leans less knows on which side of vertical it is.
    let up = if ca.abs() > cb.abs() { ca } else { cb };
    let sign = if up < 0.0 { -1.0 } else { 1.0 };
    let n = [-sa * cb.abs(), -sb * ca.abs(), sign * ca.abs() * cb.abs()];
    let length = n.iter().map(|v| v * v).sum::<f64>().sqrt();
    // Vertical on both films: the plate's direction is not known.
    (length > 1e-9).then(|| n.map(|v| v / length))
}

/// Angle between two end-plates in space and the azimuth of their plane from the sagittal, degrees.
///
/// `tilts` are the coronal tilts of the upper and lower plate, then the sagittal ones, degrees. A
/// plate with coronal tilt α and sagittal tilt β has a normal along (−tan α, −tan β, 1), past vertical
/// its opposite: arithmetic, handbook §10.2. `None` for tilts no plate can have.
#[must_use]
pub fn angle_in_space(tilts: [f64; 4]) -> Option<(f64, f64)> {
    let u = normal_in_space(tilts[0], tilts[2])?;
    let l = normal_in_space(tilts[1], tilts[3])?;
    let cosine: f64 = (0..3).map(|i| u[i] * l[i]).sum();
    let (dx, dy) = ((u[0] - l[0]).abs(), (u[1] - l[1]).abs());
    Some((
        cosine.clamp(-1.0, 1.0).acos().to_degrees(),
        dx.atan2(dy).to_degrees(),
    ))
}

/// The four tilts of the plates that end a curve on a coronal and a lateral film, or the marks and
/// facts they wait for. The derivatives of the lateral film stand behind those of the coronal one.
pub(super) fn tilts_of(films: &[Context<'_>; 2], levels: Levels) -> Result<[Dual; 4], Vec<String>> {
    let mut tilts = [const { None }; 4];
    let mut needs = Vec::new();
    let behind = films[0].plane.variables() as u32;
    for (f, film) in films.iter().enumerate() {
        needs.extend(film.side_needs());
        for (p, (level, edge)) in [(levels.upper, Edge::Upper), (levels.lower, Edge::Lower)]
            .into_iter()
            .enumerate()
        {
            match film.tilt(level, edge) {
                Some(t) => tilts[2 * f + p] = Some(t.renumbered(if f == 0 { 0 } else { behind })),
                None => needs.extend(film.plane.missing(&film.plane.plate_names(level, edge))),
            }
        }
    }
    match tilts {
        [Some(a), Some(b), Some(c), Some(d)] if needs.is_empty() => Ok([a, b, c, d]),
        _ => Err(needs),
    }
}

/// `true_curvature` and `true_curvature_plane` of a curve measured on both films.
///
/// Needs the same plates on both, films truly at right angles and a patient who did not turn
/// between them (`turn_caution`). The SD is that of the placement of all marks of both films, a
/// plumb line that several tilts share included.
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
    let (Some(c), Some(l)) = (&coronal.frame, &lateral.frame) else {
        return Vec::new();
    };
    let films = [Context::new(c, coronal), Context::new(l, lateral)];
    let tilts = match tilts_of(&films, levels) {
        Ok(tilts) => tilts,
        Err(needs) => return KEYS.map(|k| blank(k).missing(needs.clone())).to_vec(),
    };
    let at = [0, 1, 2, 3].map(|i: usize| tilts[i].v);
    let Some((angle, azimuth)) = angle_in_space(at) else {
        let why = "one film shows an end-plate past vertical, the other does not";
        return KEYS.map(|k| blank(k).not_applicable(why)).to_vec();
    };
    let sd = |index: u32| {
        let coronal = films[0].plane.variables() as u32;
        match index.checked_sub(coronal) {
            Some(lateral) => films[1].plane.sd_of(lateral),
            None => films[0].plane.sd_of(index),
        }
    };
    let result = |key, value, pick: fn((f64, f64)) -> f64| {
        // Partial derivatives over the four tilts by central differences.
        let part = |i: usize| {
            let moved = |by: f64| {
                let mut t = at;
                t[i] += by;
                angle_in_space(t).map(pick)
            };
            Some((moved(0.01)? - moved(-0.01)?) / 0.02)
        };
        let parts: Option<Vec<f64>> = (0..4).map(part).collect();
        let mut value = Dual::constant(value);
        if let Some(parts) = parts {
            let slope = Dual::weighted_sum(parts.into_iter().zip(&tilts));
            value = slope.chain(value.v, 1.0);
        }
        blank(key).unscaled(value, sd)
    };
    vec![
        result(KEYS[0], angle, |p| p.0),
        result(KEYS[1], azimuth, |p| p.1),
    ]
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

    /// A plate that one film shows past vertical and the other nearly level is no plate.
    #[test]
    fn films_that_contradict_each_other_are_not_measured() {
        assert!(angle_in_space([120.0, -30.0, 10.0, 5.0]).is_none());
        assert!(angle_in_space([91.0, -30.0, 10.0, 5.0]).is_some());
    }
}
