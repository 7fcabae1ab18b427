//! How large films stand: both at one scale.

use super::app::App;
use super::view::View;
use crate::landmark::{Landmark, spoken};

impl App {
    /// Views that are to be fitted: both films at the same scale, in millimetres where both have
    /// them, by the marked length of the spine where both are marked.
    pub(super) fn fit_missing(&mut self, which: usize) {
        if self.boxes[which].view.is_some() {
            return;
        }
        let alone = self.measuring;
        let fit = |app: &App, k: usize| -> Option<View> {
            let picture = app.pictures.get(app.shown[k].as_ref()?)?;
            Some(View::fit(
                picture.size(),
                app.aspect(k),
                app.boxes[k].area.size() * 0.985,
            ))
        };
        let Some(mut view) = fit(self, which) else {
            return;
        };
        if !alone && let (Some(other), Some((a, b, _))) = (fit(self, 1 - which), self.units()) {
            let (own, its) = if which == 0 { (a, b) } else { (b, a) };
            // Screen points per common unit: the smaller of the two fits.
            let common = (view.zoom / own).min(other.zoom / its);
            view.zoom = common * own;
        }
        self.boxes[which].view = Some(view);
    }

    fn aspect(&self, which: usize) -> f64 {
        self.shown[which]
            .as_ref()
            .and_then(|id| self.record(id))
            .map_or(1.0, |f| {
                let s = f.spacing();
                s.row / s.column
            })
    }

    /// Common units per column of the two films (then, now) and what they are.
    pub(super) fn units(&self) -> Option<(f64, f64, &'static str)> {
        let both = [self.shown[0].as_deref()?, self.shown[1].as_deref()?];
        if let [Some((a, own_a)), Some((b, own_b))] = both.map(|id| self.mm_per_column(id)) {
            let words = if own_a && own_b {
                "same scale in mm"
            } else {
                "same scale in mm, not corrected for magnification"
            };
            return Some((a, b, words));
        }
        let long = both.map(|id| self.spine_length(id));
        match long {
            [Some(a), Some(b)] => Some((
                1.0 / a,
                1.0 / b,
                "no common scale: shown at the same spine length",
            )),
            _ => None,
        }
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
