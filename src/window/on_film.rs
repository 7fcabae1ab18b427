//! What is written on a film: lines, marks, words, sides, scale.

use super::app::App;
use super::scale_bar::scale_bar;
use super::style;
use super::view::View;
use crate::overlay::{Drawing, Kind};
use crate::report::rounding;
use crate::workbench::FilmRecord;
use crate::workbench::ImageEdge;
use eframe::egui::{self, Align2, Color32, FontId, Pos2, Rect, Stroke, Vec2, vec2};

/// Text with a dark edge.
pub(super) fn words(
    painter: &egui::Painter,
    at: Pos2,
    anchor: Align2,
    text: &str,
    size: f32,
    colour: Color32,
) -> Rect {
    let font = FontId::proportional(size);
    for d in [
        vec2(-1.0, 0.0),
        vec2(1.0, 0.0),
        vec2(0.0, -1.0),
        vec2(0.0, 1.0),
        vec2(1.0, 1.0),
    ] {
        painter.text(
            at + d,
            anchor,
            text,
            font.clone(),
            Color32::from_black_alpha(200),
        );
    }
    painter.text(at, anchor, text, font, colour)
}

impl App {
    /// Draws everything that belongs on a film.
    pub(super) fn on_film(
        &mut self,
        ui: &mut egui::Ui,
        which: usize,
        id: &str,
        view: &View,
        area: Rect,
        response: &egui::Response,
    ) {
        let drawing = self.drawing(id);
        let hue = style::hue(which, true);
        if self.lines {
            if !self.measuring {
                let at = response.hover_pos();
                self.light_by_pointer(&drawing, view, area, at);
            }
            self.lines_and_marks(ui, which, &drawing, view, area, hue);
        }
        let painter = ui.painter();
        let Some(record) = self.record(id) else {
            return;
        };
        self.sides(painter, record, view, area);
        scale_bar(painter, self.mm_per_column(id), view, area);
        let mut caption = vec![App::place_word(which).to_owned(), id.to_owned()];
        caption.extend(record.phase().map(|p| p.words().to_owned()));
        caption.extend(record.date().map(|d| d.to_string()));
        caption.extend(
            record
                .percent_body_weight()
                .map(|p| format!("{} BW", rounding::percent(p))),
        );
        if view.straight.is_some() {
            caption.push("straightened along the spine".to_owned());
        }
        // A narrow box says it in two lines.
        let narrow = area.width() < 330.0;
        let lines = if narrow {
            vec![
                caption[1..caption.len().min(3)].join(" · "),
                caption[caption.len().min(3)..].join(" · "),
            ]
        } else {
            vec![caption.join(" · ")]
        };
        for (n, line) in lines.iter().enumerate() {
            words(
                painter,
                area.left_top() + vec2(10.0, 8.0 + 19.0 * n as f32),
                Align2::LEFT_TOP,
                line,
                15.0,
                hue,
            );
        }
        if self.measuring {
            if let Some(next) = self.next_words() {
                words(
                    painter,
                    area.center_top() + vec2(0.0, 34.0),
                    Align2::CENTER_TOP,
                    &format!("Next: {next}"),
                    18.0,
                    Color32::WHITE,
                );
            }
        } else if which == 1
            && let Some((_, how)) = self.units()
        {
            words(
                painter,
                area.right_bottom() + vec2(-10.0, -8.0),
                Align2::RIGHT_BOTTOM,
                how,
                12.0,
                Color32::from_gray(170),
            );
        }
    }

    /// The line under the pointer lights its measure.
    fn light_by_pointer(&mut self, drawing: &Drawing, view: &View, area: Rect, at: Option<Pos2>) {
        let Some(at) = at else { return };
        let near = drawing
            .lines
            .iter()
            .filter(|l| !l.keys.is_empty())
            .filter_map(|l| {
                let d = l
                    .points
                    .windows(2)
                    .map(|w| {
                        from_segment(
                            at,
                            view.screen_from_film(area, w[0]),
                            view.screen_from_film(area, w[1]),
                        )
                    })
                    .fold(f32::MAX, f32::min);
                (d < 6.0).then_some((d, l))
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, line)) = near {
            self.pointed = Some((line.keys[0].to_owned(), line.curve.clone()));
        }
    }

    pub(super) fn lines_and_marks(
        &self,
        ui: &egui::Ui,
        which: usize,
        drawing: &Drawing,
        view: &View,
        area: Rect,
        hue: Color32,
    ) {
        let painter = ui.painter();
        let screen = |p| view.screen_from_film(area, p);
        let lit_now = self.pointed.as_ref().unwrap_or(&self.lit);
        let marking = self.measuring && which == 1;
        let ribs = lit_now.0.starts_with("rib");
        for line in &drawing.lines {
            let lit = line.keys.iter().any(|k| *k == lit_now.0)
                && (line.curve.is_none() || line.curve == lit_now.1);
            // Beside each other the films show the plates, the curves and what is asked for.
            let quiet = match line.kind {
                Kind::Course => !ribs,
                Kind::Across | Kind::Vertical => !lit,
                Kind::Plate | Kind::CurveEnd => false,
            };
            let ribs_asked = line.kind != Kind::Course || self.walk_has_ribs();
            if quiet && !(marking && ribs_asked) {
                continue;
            }
            let points: Vec<Pos2> = line.points.iter().map(|p| screen(*p)).collect();
            let colour = match line.kind {
                Kind::Plate => hue.gamma_multiply(0.75),
                Kind::CurveEnd | Kind::Vertical if lit => hue,
                Kind::Vertical => Color32::from_rgb(200, 210, 130),
                Kind::Across => Color32::from_rgb(205, 165, 225),
                Kind::Course => Color32::from_rgb(150, 205, 150),
                Kind::CurveEnd => hue.gamma_multiply(0.9),
            };
            style::line(painter, &points, line.kind, colour, lit);
        }
        let next = self.walk.as_ref().and_then(|w| w.next());
        for mark in &drawing.marks {
            if !(marking && self.at_hand(mark.name) || mark.proposed || mark.unfinished) {
                continue;
            }
            let chosen = marking && self.chosen == Some((mark.name, mark.index));
            let at = match self.dragged {
                Some((name, index, at)) if marking && (name, index) == (mark.name, mark.index) => {
                    at
                }
                _ => mark.at,
            };
            let p = screen(at);
            let asked = self.in_walk(mark.name);
            let r = if asked || chosen { 3.4 } else { 1.8 };
            painter.circle_filled(p, r + 1.2, Color32::from_black_alpha(150));
            if mark.proposed {
                painter.circle_stroke(p, r + 0.6, Stroke::new(1.4, hue));
            } else {
                painter.circle_filled(p, r, hue);
            }
            if mark.unfinished {
                // A mark without its partner wears a broken ring.
                for k in 0..4 {
                    let a = k as f32 * std::f32::consts::FRAC_PI_2;
                    let d = vec2(a.cos(), a.sin());
                    painter.line_segment([p + d * 5.0, p + d * 8.5], Stroke::new(1.4, style::WARN));
                }
            }
            if chosen || next == Some(mark.name) && marking {
                painter.circle_stroke(p, 8.0, Stroke::new(1.5, Color32::WHITE));
            }
        }
        if marking && let Some(cross) = self.cross {
            let p = screen(cross);
            for d in [vec2(1.0, 0.0), vec2(0.0, 1.0)] {
                painter.line_segment(
                    [p - d * 12.0, p + d * 12.0],
                    Stroke::new(1.3, Color32::WHITE),
                );
            }
        }
        self.film_words(ui, drawing, (view, area), hue, marking);
    }

    /// Level names and angles, moved until none covers another.
    fn film_words(
        &self,
        ui: &egui::Ui,
        drawing: &Drawing,
        (view, area): (&View, Rect),
        hue: Color32,
        marking: bool,
    ) {
        let painter = ui.painter();
        let ends: Vec<&str> = drawing
            .words
            .iter()
            .filter(|w| w.key.is_some())
            .flat_map(|w| w.text.split('-'))
            .collect();
        let mut taken: Vec<Rect> = Vec::new();
        // Angles first: they matter more than names.
        let mut all: Vec<_> = drawing.words.iter().collect();
        all.sort_by_key(|w| w.key.is_none());
        for word in all {
            let angle = word.key.is_some();
            let wide = word.away.0.hypot(word.away.1);
            // Beside each other only the end vertebrae are named.
            let named = word
                .level
                .is_none_or(|l| marking || ends.contains(&l.to_string().as_str()));
            if !named || !angle && wide * view.zoom < 12.0 {
                continue;
            }
            let size = if angle { 16.0 } else { 12.0 };
            let text = match word.value {
                Some((v, unit)) => format!(
                    "{} {}{}",
                    word.text,
                    rounding::value(v, unit),
                    rounding::unit_sign(unit)
                ),
                None => word.text.clone(),
            };
            let galley = painter.layout_no_wrap(text.clone(), FontId::proportional(size), hue);
            let from = view.screen_from_film(area, word.at);
            let tip = view.screen_from_film(
                area,
                crate::units::FilmPx::new(word.at.x + word.away.0, word.at.y + word.away.1),
            );
            let away = if (tip - from).length() > 0.1 {
                (tip - from).normalized()
            } else {
                vec2(1.0, 0.0)
            };
            let half: Vec2 = galley.size() / 2.0;
            let clear = half.x * away.x.abs() + half.y * away.y.abs();
            let place = (0..12).map(|k| {
                let d = away * (clear + 8.0 + 11.0 * k as f32);
                Rect::from_center_size(from + d, galley.size() + vec2(4.0, 0.0))
            });
            let free = place
                .filter(|r| area.shrink(2.0).contains_rect(*r))
                .find(|r| !taken.iter().any(|t| t.intersects(*r)));
            let Some(place) = free else { continue };
            if (place.center() - from).length() > clear + 26.0 {
                painter.line_segment(
                    [from, place.center() - away * clear],
                    Stroke::new(0.8, Color32::from_gray(150)),
                );
            }
            taken.push(place);
            let colour = if angle { hue } else { Color32::from_gray(225) };
            words(
                painter,
                place.center(),
                Align2::CENTER_CENTER,
                &text,
                size,
                colour,
            );
        }
    }

    /// Letters of the patient's sides, always at the edges where they are.
    fn sides(&self, painter: &egui::Painter, record: &FilmRecord, view: &View, area: Rect) {
        let lateral = record.is_lateral().unwrap_or(false);
        let Some(edge) = record.side_on() else {
            words(
                painter,
                area.left_center() + vec2(8.0, 0.0),
                Align2::LEFT_CENTER,
                "side?",
                16.0,
                style::WARN,
            );
            return;
        };
        // Left and right seen with the head up: carried round with the film's own turn.
        // Laid out along the spine, every film has its head up.
        let up = match record.head_on() {
            _ if view.straight.is_some() => vec2(0.0, -1.0),
            ImageEdge::ImageTop => vec2(0.0, -1.0),
            ImageEdge::ImageBottom => vec2(0.0, 1.0),
            ImageEdge::ImageLeft => vec2(-1.0, 0.0),
            ImageEdge::ImageRight => vec2(1.0, 0.0),
        };
        let right = vec2(-up.y, up.x);
        let (named, other) = if lateral { ("F", "B") } else { ("L", "R") };
        let on_right = edge == ImageEdge::ImageRight;
        let (s, c) = (view.turn.sin() as f32, view.turn.cos() as f32);
        let turned = vec2(right.x * c - right.y * s, right.x * s + right.y * c);
        for (text, sign) in [
            (named, if on_right { 1.0 } else { -1.0 }),
            (other, if on_right { -1.0 } else { 1.0 }),
        ] {
            let d = turned * sign;
            let at = area.center()
                + vec2(
                    d.x * (area.width() / 2.0 - 18.0),
                    d.y * (area.height() / 2.0 - 18.0),
                );
            words(
                painter,
                at,
                Align2::CENTER_CENTER,
                text,
                22.0,
                Color32::WHITE,
            );
        }
    }
}

fn from_segment(p: Pos2, a: Pos2, b: Pos2) -> f32 {
    let d = b - a;
    let t = ((p - a).dot(d) / d.length_sq().max(1e-6)).clamp(0.0, 1.0);
    p.distance(a + d * t)
}
