//! Pins on the course and the places of its films.

use super::app::App;
use super::style;
use crate::report::rounding;
use crate::workbench::FilmRecord;
use eframe::egui::{self, Align2, FontId, Rect, Sense, Stroke, WidgetInfo, pos2};

impl App {
    /// Pins at the bottom edge with dates; a drag moves one from film to film.
    pub(super) fn pins(&mut self, ui: &egui::Ui, films: &[FilmRecord], places: &[f32], area: Rect) {
        let dark = ui.visuals().dark_mode;
        let painter = ui.painter();
        let mut last = f32::MIN;
        for (film, x) in films.iter().zip(places) {
            let pinned = self.shown.iter().flatten().any(|id| *id == film.id);
            if x - last > 66.0 && !pinned {
                let weight = film
                    .percent_body_weight()
                    .map(|p| format!("{} BW", rounding::percent(p)));
                let date = film
                    .date()
                    .map(|d| d.to_string())
                    .unwrap_or_else(|| "no date".to_owned());
                painter.text(
                    pos2(*x, area.bottom()),
                    Align2::CENTER_BOTTOM,
                    weight.unwrap_or(date),
                    FontId::proportional(10.5),
                    style::quiet(dark),
                );
                last = *x;
            }
        }
        for which in 0..2 {
            let Some(id) = self.shown[which].clone() else {
                continue;
            };
            let Some(i) = films.iter().position(|f| f.id == id) else {
                continue;
            };
            let hue = style::hue(which, dark);
            let x = places[i];
            painter.line_segment(
                [pos2(x, area.top() + 16.0), pos2(x, area.bottom() - 14.0)],
                Stroke::new(1.2, hue.gamma_multiply(0.8)),
            );
            let text = format!(
                "{} {}",
                ["then", "now"][which],
                films[i].date().map(|d| d.to_string()).unwrap_or_default()
            );
            let galley = painter.layout_no_wrap(text, FontId::proportional(12.0), hue);
            let left =
                (x - galley.size().x / 2.0).clamp(area.left(), area.right() - galley.size().x);
            let place = Rect::from_min_size(pos2(left, area.bottom() - 15.0), galley.size());
            painter.rect_filled(place.expand(2.0), 3.0, ui.visuals().panel_fill);
            painter.galley(place.min, galley, hue);
            let id = ui.scope_id().with(("pin", which));
            let grip = ui.interact(place.expand(5.0), id, Sense::drag());
            grip.widget_info(|| {
                WidgetInfo::labeled(
                    egui::accesskit::Role::Slider,
                    true,
                    format!("{} pin", ["then", "now"][which]),
                )
            });
            if grip.dragged()
                && let Some(p) = grip.interact_pointer_pos()
            {
                let nearest = films
                    .iter()
                    .zip(places)
                    .filter(|(f, _)| f.is_lateral().unwrap_or(false) == self.lateral)
                    .min_by(|a, b| (a.1 - p.x).abs().total_cmp(&(b.1 - p.x).abs()));
                if let Some((film, _)) = nearest
                    && self.shown[which].as_deref() != Some(&film.id)
                {
                    let id = film.id.clone();
                    self.show(which, &id);
                }
            }
        }
    }
}

/// Films on their dates, but never so close that they cover each other: short gaps are widened and
/// long ones shortened, so the axis is in order of time and only roughly to scale.
pub(super) fn places(films: &[FilmRecord], area: Rect) -> Vec<f32> {
    let days: Vec<Option<f64>> = films
        .iter()
        .map(|f| f.date().map(|d| d.day_number() as f64))
        .collect();
    let mut gaps = vec![0.0f64];
    for w in days.windows(2) {
        let gap = match (w[0], w[1]) {
            (Some(a), Some(b)) if a == b => 0.0,
            (Some(a), Some(b)) => 6.0 + (1.0 + (b - a)).ln() * 3.0,
            _ => 8.0,
        };
        gaps.push(gap);
    }
    let total: f64 = gaps.iter().sum();
    let (left, right) = (
        f64::from(area.left()) + 70.0,
        f64::from(area.right()) - 60.0,
    );
    let mut at = 0.0;
    gaps.iter()
        .map(|g| {
            at += g;
            let t = if total > 0.0 { at / total } else { 0.5 };
            (left + (right - left) * t) as f32
        })
        .collect()
}
