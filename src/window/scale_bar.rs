//! The scale on a film.

use super::on_film::words;
use super::style;
use super::view::View;
use eframe::egui::{self, Align2, Color32, Rect, Stroke, vec2};

/// A bar of a round number of millimetres, or the words "no scale".
pub(super) fn scale_bar(
    painter: &egui::Painter,
    scale: Option<(f64, bool)>,
    view: &View,
    area: Rect,
) {
    let corner = area.left_bottom() + vec2(12.0, -12.0);
    let Some((mm, own)) = scale else {
        words(
            painter,
            corner,
            Align2::LEFT_BOTTOM,
            "no scale",
            15.0,
            style::WARN,
        );
        return;
    };
    let points = view.zoom / mm;
    let Some(length) = [200.0, 100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0]
        .into_iter()
        .find(|l| l * points < f64::from(area.width()) * 0.35)
    else {
        return;
    };
    let end = corner + vec2((length * points) as f32, 0.0);
    for (w, c) in [(4.0, Color32::from_black_alpha(190)), (1.6, Color32::WHITE)] {
        painter.line_segment([corner, end], Stroke::new(w, c));
        for p in [corner, end] {
            painter.line_segment([p + vec2(0.0, -5.0), p + vec2(0.0, 1.0)], Stroke::new(w, c));
        }
    }
    let text = format!("{length} mm{}", if own { "" } else { " at the detector" });
    words(
        painter,
        corner + vec2(0.0, -8.0),
        Align2::LEFT_BOTTOM,
        &text,
        13.0,
        Color32::WHITE,
    );
}
