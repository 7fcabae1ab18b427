//! Hues, patterns and sizes.

use crate::overlay::Kind;
use eframe::egui::{
    self, Color32, Context, FontId, Painter, Pos2, Shape, Stroke, TextStyle, Theme, Visuals,
};

/// The film then.
pub const THEN: Color32 = Color32::from_rgb(240, 170, 60);
/// The film now.
pub const NOW: Color32 = Color32::from_rgb(95, 185, 245);
/// What wants attention.
pub const WARN: Color32 = Color32::from_rgb(250, 120, 90);

/// Dark for the reading room, light for projectors; both set once.
pub fn set_up(ctx: &Context) {
    let mut dark = Visuals::dark();
    dark.panel_fill = Color32::from_gray(14);
    dark.window_fill = Color32::from_gray(24);
    dark.extreme_bg_color = Color32::from_gray(6);
    dark.override_text_color = Some(Color32::from_gray(217));
    dark.selection.bg_fill = Color32::from_rgb(30, 80, 120);
    dark.widgets.noninteractive.bg_stroke = Stroke::new(1.0, Color32::from_gray(44));
    ctx.set_visuals_of(Theme::Dark, dark);
    let mut light = Visuals::light();
    light.override_text_color = Some(Color32::from_gray(25));
    ctx.set_visuals_of(Theme::Light, light);
    ctx.all_styles_mut(|style| {
        for (kind, size) in [
            (TextStyle::Body, 14.0),
            (TextStyle::Button, 14.0),
            (TextStyle::Small, 12.0),
            (TextStyle::Monospace, 13.5),
            (TextStyle::Heading, 19.0),
        ] {
            if let Some(font) = style.text_styles.get_mut(&kind) {
                *font = FontId::new(size, font.family.clone());
            }
        }
        style.spacing.item_spacing = egui::vec2(7.0, 5.0);
    });
}

/// Quiet text on the present ground: dates, phases, the axis.
pub fn quiet(dark: bool) -> Color32 {
    Color32::from_gray(if dark { 128 } else { 85 })
}

/// The hue of a light box as text on the present ground: then or now.
pub fn hue(which: usize, dark: bool) -> Color32 {
    match (which, dark) {
        (0, true) => THEN,
        (0, false) => Color32::from_rgb(160, 95, 0),
        (1, true) => NOW,
        (1, false) => Color32::from_rgb(0, 95, 165),
        (_, true) => Color32::from_rgb(205, 208, 200),
        (_, false) => Color32::from_rgb(90, 92, 88),
    }
}

/// A line with a dark edge, its kind told by pattern and end shape as well as hue.
pub fn line(painter: &Painter, points: &[Pos2], kind: Kind, colour: Color32, lit: bool) {
    let wide = match kind {
        Kind::CurveEnd => 1.8,
        _ => 1.3,
    } + if lit { 1.2 } else { 0.0 };
    let edge = Stroke::new(wide + 2.0, Color32::from_black_alpha(150));
    let stroke = Stroke::new(wide, colour);
    let draw = |s: Stroke| -> Vec<Shape> {
        match kind {
            Kind::Plate | Kind::CurveEnd => vec![Shape::line(points.to_vec(), s)],
            Kind::Vertical => Shape::dashed_line(points, s, 9.0, 5.0),
            Kind::Across => Shape::dashed_line(points, s, 4.0, 3.0),
            Kind::Course => Shape::dashed_line(points, s, 1.5, 3.5),
        }
    };
    painter.extend(draw(edge));
    painter.extend(draw(stroke));
    if kind == Kind::CurveEnd
        && let [a, b] = points
    {
        let along = (*b - *a).normalized();
        for end in [*a, *b] {
            let across = along.rot90() * 5.0;
            painter.line_segment([end - across, end + across], stroke);
        }
    }
}
