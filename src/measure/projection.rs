//! What a film cannot tell: the patient's turn, the beam's divergence, the film's own vertical.

use super::FilmInput;
use super::context::{Context, Standing};
use super::true_curvature::{normal_in_space, tilts_of};
use crate::geometry::{Plate, ScaleState};
use crate::landmark::{Edge, Level, Levels};
use crate::units::{FilmPx, wrap_degrees};

/// Tilts of two plates as a patient turned by `turn` degrees about the vertical would show them:
/// coronal of the upper and lower plate, then sagittal, as `tilts` has them. Arithmetic, trade
/// handbook §10.3; + turns the front of the patient toward the left. `None` for tilts no plate can have.
#[must_use]
pub fn tilts_after_turn(tilts: [f64; 4], turn: f64) -> Option<[f64; 4]> {
    let (s, c) = turn.to_radians().sin_cos();
    let mut out = [0.0; 4];
    for plate in 0..2 {
        let n = normal_in_space(tilts[plate], tilts[plate + 2])?;
        // A normal along (−sin α, cos α) of each plane.
        let (x, y) = (c * n[0] + s * n[1], c * n[1] - s * n[0]);
        out[plate] = (-x).atan2(n[2]).to_degrees();
        out[plate + 2] = (-y).atan2(n[2]).to_degrees();
    }
    Some(out)
}

/// Tilt an end-plate shows when it lies away from the central ray and one end of it nearer the
/// source than the other, degrees. Lengths in mm: the plate's projected length and its tilt as they
/// are, its near end this far above and beside the central ray, `nearer` the depth between the ends,
/// `source` the distance of the far end from the source. Arithmetic; reproduces handbook §8.
#[must_use]
pub fn tilt_off_the_ray(
    length: f64,
    tilt: f64,
    beside: f64,
    above: f64,
    nearer: f64,
    source: f64,
) -> f64 {
    let (s, c) = tilt.to_radians().sin_cos();
    let growth = source / (source - nearer);
    let (x, y) = (beside + length * c, above + length * s);
    (growth * y - above).atan2(growth * x - beside).to_degrees()
}

/// Depth between the ends of a rotated plate that the caution works with: a 30 mm plate turned 40°.
const DEPTH_MM: f64 = 20.0;
/// Distance from tube to patient that the caution works with (handbook §8: 180 cm to the film).
const SOURCE_MM: f64 = 1650.0;
/// Nearer the central ray the change stays about 2°, within re-measuring.
const FAR_MM: f64 = 150.0;

/// Cautions of one film: what its scale, its beam and its vertical leave open. `middle` is where the
/// central ray is taken to meet the film: its middle, an assumption.
#[must_use]
pub fn film_cautions(input: &FilmInput<'_>, middle: FilmPx) -> Vec<String> {
    let Some(frame) = &input.frame else {
        return Vec::new();
    };
    if input.marks.is_empty() {
        return Vec::new();
    }
    let context = Context::new(frame, input);
    let mut out = Vec::new();
    match &context.plane.scale {
        ScaleState::Calibrated => {}
        ScaleState::Uncorrected(_) => out.push(
            "magnification is not known: lengths read about 9 to 20 % too long (published for long films)"
                .to_owned(),
        ),
        ScaleState::None(_) => {
            out.push("the film has no scale: no length is told, only angles and ratios".to_owned());
        }
    }
    out.extend(vertical(&context));
    out.extend(far_ends(&context, middle));
    out
}

/// What a tilted cassette would do where the film's own edge is the vertical.
fn vertical(context: &Context<'_>) -> Option<String> {
    if context.plane.has_plumb {
        return None;
    }
    let (top, bottom) = (
        context.centre(Level::C7)?,
        context.plate(Level::S1, Edge::Upper)?.middle(),
    );
    let moved = (top.y.v - bottom.y.v).abs() * 1f64.to_radians().tan();
    if matches!(context.plane.scale, ScaleState::None(_)) {
        return None;
    }
    let what = if context.plane.frame.lateral {
        "sagittal vertical axis"
    } else {
        "coronal balance"
    };
    Some(format!(
        "the vertical is the film's edge: each degree the cassette leaned would move the {what} by {moved:.0} mm and every tilt by 1°"
    ))
}

/// The end plates of curves that lie far from the central ray, and what that may do.
fn far_ends(context: &Context<'_>, middle: FilmPx) -> Option<String> {
    let scale = context.plane.pixel_scale();
    let far = |plate: &Plate| {
        let at = plate.middle();
        let at = context
            .plane
            .film_from_plane(crate::units::PlanePoint::new(at.x.v, at.y.v));
        let (dx, dy) = (
            (at.x - middle.x) * scale.column,
            (at.y - middle.y) * scale.row,
        );
        dx.hypot(dy)
    };
    let ends: Vec<(Level, Edge)> = if context.plane.frame.lateral {
        [("T5", Edge::Upper), ("T12", Edge::Lower)]
            .iter()
            .filter_map(|(l, e)| Some((l.parse().ok()?, *e)))
            .collect()
    } else {
        let main = context.curves.first()?.levels;
        vec![(main.upper, Edge::Upper), (main.lower, Edge::Lower)]
    };
    let found: Vec<String> = ends
        .into_iter()
        .filter_map(|(level, edge)| {
            let (_, plate, tilt): (Standing, _, _) = context.standing(level, edge)?;
            let distance = far(plate);
            if distance <= FAR_MM {
                return None;
            }
            let shown = tilt_off_the_ray(30.0, tilt.v, 0.0, distance, DEPTH_MM, SOURCE_MM);
            let off = wrap_degrees(shown - tilt.v).abs();
            Some(format!("{level} {distance:.0} mm, {off:.0}°"))
        })
        .collect();
    (!found.is_empty()).then(|| {
        format!(
            "far from the central ray (taken at the film's middle): {}: the tilt may show this much off where a rotated plate's ends differ by 20 mm in depth",
            found.join("; ")
        )
    })
}

/// What a turn of the patient between a coronal and a lateral film would have shown of this patient's
/// curve and of the same levels from the side (handbook §10.3 for this patient's numbers).
#[must_use]
pub fn turn_caution(
    coronal: &FilmInput<'_>,
    lateral: &FilmInput<'_>,
    levels: Levels,
) -> Option<String> {
    let (c, l) = (coronal.frame.as_ref()?, lateral.frame.as_ref()?);
    let films = [Context::new(c, coronal), Context::new(l, lateral)];
    let tilts = tilts_of(&films, levels).ok()?.map(|t| t.v);
    let shown = |turn: f64| {
        let t = tilts_after_turn(tilts, turn)?;
        Some((wrap_degrees(t[0] - t[1]).abs(), wrap_degrees(t[3] - t[2])))
    };
    let (now, less, more) = (shown(0.0)?, shown(-10.0)?, shown(10.0)?);
    Some(format!(
        "had the patient turned by 10° between the two films of this date, {levels} would show {:.0}° or {:.0}° from behind instead of {:.0}°, {:.0}° or {:.0}° from the side instead of {:.0}°",
        less.0, more.0, now.0, less.1, more.1, now.1
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Trade handbook §10.3 (arithmetic): what a turn of the patient shows of plane curves.
    #[test]
    fn the_table_of_turned_patients() {
        type Turned = &'static [(f64, f64, f64)];
        let table: [(f64, f64, Turned); 3] = [
            (
                60.0,
                40.0,
                &[
                    (-10.0, 53.6, 49.3),
                    (-5.0, 57.0, 44.9),
                    (5.0, 62.5, 34.7),
                    (10.0, 64.6, 28.9),
                    (20.0, 67.4, 16.4),
                ],
            ),
            (
                100.0,
                80.0,
                &[
                    (-10.0, 91.6, 91.9),
                    (10.0, 105.7, 63.5),
                    (20.0, 109.2, 41.7),
                ],
            ),
            (60.0, 0.0, &[(10.0, 59.2, -11.5), (20.0, 57.0, -22.3)]),
        ];
        for (c, s, turns) in table {
            for (turn, coronal, sagittal) in turns {
                let t = tilts_after_turn([c / 2.0, -c / 2.0, s / 2.0, -s / 2.0], *turn)
                    .unwrap_or([f64::NAN; 4]);
                assert!(
                    (t[0] - t[1] - coronal).abs() < 0.06,
                    "{c} {s} {turn}: {t:?}"
                );
                assert!(
                    (t[2] - t[3] - sagittal).abs() < 0.06,
                    "{c} {s} {turn}: {t:?}"
                );
            }
        }
    }

    /// Trade handbook §8: a plate 30 mm wide tilted 20°, one end 20 mm nearer the source, shows 19.6°
    /// at the central ray's height, 23.8° at 200 mm and 25.8° at 300 mm. The handbook states neither
    /// the distance of the source nor the place beside the ray; 1650 mm and 50 mm give all three.
    #[test]
    fn the_worked_plates_away_from_the_central_ray() {
        for (above, want) in [(0.0, 19.6), (200.0, 23.8), (300.0, 25.8)] {
            let got = tilt_off_the_ray(30.0, 20.0, 50.0, above, 20.0, 1650.0);
            assert!((got - want).abs() < 0.06, "{above}: {got}");
        }
    }
}
