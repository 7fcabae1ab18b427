//! The spine of a case over time, in one drawing.

use super::{OpenCase, Refusal};
use crate::case::FilmRecord;
use crate::geometry::{Placement, PlaneMarks, ScaleState};
use crate::landmark::{Edge, LandmarkSet, Level};
use crate::report::{Outline, outlines_svg};
use crate::series::best_reader;
use crate::units::PlanePoint;

/// A film's plates in its plane, and whether its millimetres are its own.
pub(super) struct Spine<'c> {
    film: &'c FilmRecord,
    plates: Vec<(Level, Edge, [PlanePoint; 2])>,
    scaled: bool,
    /// Units of the plates' places per column of the film.
    pub(super) column: f64,
}

pub(super) fn spine<'c>(film: &'c FilmRecord, marks: &LandmarkSet) -> Option<Spine<'c>> {
    let frame = film.frame()?;
    let placement = Placement::default();
    let plane = PlaneMarks::new(&frame, marks, &placement);
    let mut plates = Vec::new();
    for level in Level::all() {
        for edge in [Edge::Upper, Edge::Lower] {
            if let Some(p) = plane.plate(level, edge) {
                let ends = [&p.from, &p.to].map(|q| PlanePoint::new(q.x.v, q.y.v));
                plates.push((level, edge, ends));
            }
        }
    }
    let scaled = !matches!(plane.scale, ScaleState::None(_));
    (plates.len() > 3).then_some(Spine {
        film,
        plates,
        scaled,
        column: plane.units_per_column(),
    })
}

/// Heights of the bodies with both plates marked.
fn heights(s: &Spine<'_>) -> Vec<(Level, f64)> {
    let middle =
        |e: &[PlanePoint; 2]| PlanePoint::new((e[0].x + e[1].x) / 2.0, (e[0].y + e[1].y) / 2.0);
    s.plates
        .windows(2)
        .filter(|w| w[0].0 == w[1].0)
        .map(|w| (w[0].0, (middle(&w[0].2) - middle(&w[1].2)).length()))
        .collect()
}

/// Factor that brings a film's bodies to the size they have on a film with millimetres, and its standard
/// error, per cent.
pub(super) fn matched(film: &Spine<'_>, to: &Spine<'_>) -> Option<(f64, f64)> {
    let other = heights(to);
    let ratios: Vec<f64> = heights(film)
        .iter()
        .filter_map(|(l, h)| Some(other.iter().find(|o| o.0 == *l)?.1 / h))
        .collect();
    let n = ratios.len() as f64;
    if ratios.len() < 3 {
        return None;
    }
    let mean = ratios.iter().sum::<f64>() / n;
    let sd = (ratios.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    Some((mean, 100.0 * sd / mean / n.sqrt()))
}

impl OpenCase {
    /// The outlines of the spine on every marked film of a plane, laid on the upper plate of the sacrum or
    /// of another level, as SVG. A film without scale is matched by the heights of its vertebrae.
    ///
    /// # Errors
    /// Fewer than two films are marked with that plate, or none of them has a scale.
    pub fn outlines(
        &self,
        reader: Option<&str>,
        lateral: bool,
        laid_on: Level,
    ) -> Result<String, Refusal> {
        let case = self.case();
        let reader = reader
            .map(str::to_owned)
            .or_else(|| best_reader(case))
            .unwrap_or_default();
        let mut films: Vec<&FilmRecord> = case
            .films
            .iter()
            .filter(|f| f.is_lateral() == Some(lateral) && f.side_on().is_some())
            .collect();
        films.sort_by_key(|f| (f.date().is_none(), f.date()));
        let spines: Vec<Spine<'_>> = films
            .into_iter()
            .filter_map(|f| spine(f, &case.newest(&f.id, &reader)?.accepted()))
            .filter(|s| {
                s.plates
                    .iter()
                    .any(|p| p.0 == laid_on && p.1 == Edge::Upper)
            })
            .collect();
        if spines.len() < 2 {
            return Err(Refusal::new(format!(
                "fewer than two films of this plane show the upper plate of {laid_on} marked by reader \"{reader}\"; mark it, or choose another level with --on"
            )));
        }
        let known = spines.iter().find(|s| s.scaled).ok_or_else(|| {
            Refusal::new("no marked film of this plane has a scale; state --magnification, --spacing or --scale-mm for one")
        })?;
        let mut outlines = Vec::new();
        for s in &spines {
            let (factor, note) = if s.scaled {
                (1.0, None)
            } else {
                match matched(s, known) {
                    Some((k, error)) => (
                        k,
                        Some(format!(
                            "no scale: matched to {} by vertebral heights, ± {error:.1} %",
                            known.film.id
                        )),
                    ),
                    None => continue,
                }
            };
            let Some(base) = s
                .plates
                .iter()
                .find(|p| p.0 == laid_on && p.1 == Edge::Upper)
            else {
                continue;
            };
            let zero = PlanePoint::new(
                (base.2[0].x + base.2[1].x) / 2.0,
                (base.2[0].y + base.2[1].y) / 2.0,
            );
            let place = |p: &PlanePoint| {
                let d = *p - zero;
                PlanePoint::new(d.x * factor, d.y * factor)
            };
            let mut label = vec![s.film.id.clone()];
            label.extend(s.film.date().map(|d| d.to_string()));
            label.extend(s.film.phase().map(|p| p.words().to_owned()));
            outlines.push(Outline {
                label: label.join(" · "),
                plates: s
                    .plates
                    .iter()
                    .map(|p| [place(&p.2[0]), place(&p.2[1])])
                    .collect(),
                scale: note,
            });
        }
        let (plane, sides) = if lateral {
            ("lateral", ["back", "front"])
        } else {
            ("coronal, seen from behind", ["L", "R"])
        };
        let title = format!("{} · spine over time, {plane}", case.id);
        let on = format!("the upper plate of {laid_on}");
        Ok(outlines_svg(&title, sides, &on, &outlines))
    }
}
