//! How well a reader places marks, from his own repeated readings.

use super::{Case, Reading};
use crate::geometry::{MarkKind, Placement, PlaneMarks};
use crate::landmark::{Landmark, LandmarkSet};
use crate::units::FilmPx;
use std::collections::BTreeSet;

/// Fewer degrees of freedom than this of a kind say too little (an SD known to 1/√(2·20), 16 %).
const ENOUGH: usize = 20;

/// Whether a later reading looks like an earlier one with some marks changed: of the marks both have,
/// half or more lie on exactly the same place. Marking twice never does that.
fn is_correction(earlier: &LandmarkSet, later: &LandmarkSet) -> bool {
    let shared = earlier.iter().filter(|(name, _)| later.has(*name));
    let (mut all, mut same) = (0, 0);
    for (name, points) in shared {
        all += 1;
        same += usize::from(points == later.points(name));
    }
    2 * same >= all
}

/// The readings of one film by one reader that are repeats of each other, newest first.
fn repeats(readings: &[&Reading]) -> Vec<LandmarkSet> {
    let mut kept: Vec<LandmarkSet> = Vec::new();
    for reading in readings.iter().rev() {
        let marks = reading.accepted();
        if kept.iter().all(|later| !is_correction(&marks, later)) {
            kept.push(marks);
        }
    }
    kept
}

impl Case {
    /// The placement uncertainty of a reader: pooled within-film SD of the marks he placed more than
    /// once, in mm at the patient and per coordinate, for each kind with enough of them; the assumed
    /// figure for the others. A reading that only corrects another is no repeat.
    #[must_use]
    pub fn placement(&self, reader: &str) -> Placement {
        let mut placement = Placement::default();
        let mut squares = [0.0; 5];
        let mut freedoms = [0usize; 5];
        for film in &self.films {
            let readings: Vec<&Reading> = self
                .readings
                .iter()
                .filter(|r| r.film == film.id && r.reader == reader)
                .collect();
            let (Some(frame), true) = (film.frame(), readings.len() > 1) else {
                continue;
            };
            let sets = repeats(&readings);
            let Some(first) = sets.first().filter(|_| sets.len() > 1) else {
                continue;
            };
            let scale = PlaneMarks::new(&frame, first, &placement).pixel_scale();
            let names: BTreeSet<Landmark> =
                sets.iter().flat_map(|s| s.iter().map(|m| m.0)).collect();
            for name in names {
                // A line of several points has no point that must come back.
                let points: Vec<FilmPx> = sets
                    .iter()
                    .filter(|s| s.points(name).len() == 1)
                    .filter_map(|s| s.point(name))
                    .collect();
                let n = points.len() as f64;
                let (mx, my) = (
                    points.iter().map(|p| p.x).sum::<f64>() / n,
                    points.iter().map(|p| p.y).sum::<f64>() / n,
                );
                let kind = MarkKind::of(name) as usize;
                squares[kind] += points
                    .iter()
                    .map(|p| ((p.x - mx) * scale.column).powi(2) + ((p.y - my) * scale.row).powi(2))
                    .sum::<f64>();
                // Two coordinates, one mean each.
                freedoms[kind] += 2 * points.len().saturating_sub(1);
            }
        }
        let mut told = Vec::new();
        for kind in MarkKind::ALL {
            let k = kind as usize;
            if freedoms[k] >= ENOUGH {
                placement.mm[k] = (squares[k] / freedoms[k] as f64).sqrt();
                told.push(format!("{:.2} mm at {}", placement.mm[k], kind.words()));
            }
        }
        if !told.is_empty() {
            placement.source = format!(
                "reader {reader}'s own repeated readings ({}), else assumed",
                told.join(", ")
            );
        }
        placement
    }
}
