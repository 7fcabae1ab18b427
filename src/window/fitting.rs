//! How large films stand: both at one scale.

use super::app::App;
use super::view::View;
use crate::landmark::{Landmark, spoken};
use crate::workbench::Straight;
use std::sync::Arc;

impl App {
    /// Views that are to be fitted: both films at the same scale, in millimetres where both have
    /// them, by the marked length of the spine where both are marked.
    pub(super) fn fit_missing(&mut self, which: usize) {
        if self.boxes[which].view.is_some() {
            return;
        }
        let alone = self.measuring;
        let fit = |app: &App, k: usize| -> Option<View> {
            let id = app.film_in(k)?;
            let picture = app.pictures.get(id)?;
            if let Some(line) = app.line_of(id) {
                return Some(View::fit_straight(line, app.boxes[k].area.size()));
            }
            Some(View::fit(
                picture.size(),
                app.aspect(k),
                app.boxes[k].area.size() * 0.985,
            ))
        };
        let Some(mut view) = fit(self, which) else {
            return;
        };
        if !alone && let Some((units, _)) = self.units() {
            // Screen points per common unit: the smallest of the fits.
            let common = units
                .iter()
                .filter_map(|(k, unit)| Some(fit(self, *k)?.zoom / unit))
                .fold(f64::INFINITY, f64::min);
            if let Some((_, own)) = units.iter().find(|u| u.0 == which)
                && common.is_finite()
            {
                view.zoom = common * own;
            }
        }
        self.boxes[which].view = Some(view);
    }

    /// The line a film is straightened along, when films are and it has one.
    fn line_of(&self, id: &str) -> Option<Arc<Straight>> {
        let case = self.case.as_ref().filter(|_| self.straight)?;
        case.straight(id, &self.reader).ok().map(Arc::new)
    }

    /// Films laid out along the spine, or as they are.
    pub(super) fn toggle_straight(&mut self) {
        self.straight = !self.straight;
        self.boxes.iter_mut().for_each(|b| b.view = None);
        let case = self.case.as_ref().filter(|_| self.straight);
        let refused: Vec<String> = self
            .in_view()
            .into_iter()
            .filter_map(|k| case?.straight(self.film_in(k)?, &self.reader).err())
            .map(|e| e.to_string())
            .collect();
        if self.straight {
            self.overlay.on = false;
            self.straight = refused.len() < self.in_view().len();
            self.notices = refused;
        }
    }

    fn aspect(&self, which: usize) -> f64 {
        self.film_in(which)
            .and_then(|id| self.record(id))
            .map_or(1.0, |f| {
                let s = f.spacing();
                s.row / s.column
            })
    }

    /// Common units per column of the films in view, by light box, and what they are.
    pub(super) fn units(&self) -> Option<(Vec<(usize, f64)>, &'static str)> {
        let films: Vec<(usize, &str)> = self
            .in_view()
            .into_iter()
            .map(|k| Some((k, self.film_in(k)?)))
            .collect::<Option<_>>()?;
        if films.len() < 2 {
            return None;
        }
        let scales: Option<Vec<_>> = films
            .iter()
            .map(|(k, id)| Some((*k, self.mm_per_column(id)?)))
            .collect();
        if let Some(scales) = scales {
            let words = if scales.iter().all(|s| s.1.1) {
                "same scale in mm"
            } else {
                "same scale in mm, not corrected for magnification"
            };
            return Some((scales.into_iter().map(|(k, s)| (k, s.0)).collect(), words));
        }
        let lengths: Option<Vec<_>> = films
            .iter()
            .map(|(k, id)| Some((*k, 1.0 / self.spine_length(id)?)))
            .collect();
        Some((lengths?, "no common scale: shown at the same spine length"))
    }

    /// Distance in columns between the highest and the lowest marked plate.
    fn spine_length(&self, id: &str) -> Option<f64> {
        let marks = &self.reading(id)?.marks;
        let points = || {
            marks
                .iter()
                .filter(|(n, _)| matches!(n, Landmark::Plate(..)))
                .flat_map(|(_, p)| p)
        };
        let top = points().min_by(|a, b| a.y.total_cmp(&b.y))?;
        let low = points().max_by(|a, b| a.y.total_cmp(&b.y))?;
        let length = top.distance(*low);
        (length > 1.0).then_some(length)
    }

    /// The next mark in words, for the light box and the sheet.
    pub(super) fn next_words(&self) -> Option<String> {
        let walk = self.walk.as_ref()?;
        Some(match walk.next() {
            Some(name) => spoken(name),
            None => format!("{}: all marked", walk.name),
        })
    }
}
