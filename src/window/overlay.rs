//! Now laid over then: both films in one box, at one scale, on one level.

use super::app::App;
use super::light_box::on_black;
use super::style;
use super::view::View;
use crate::landmark::Level;
use crate::workbench::Laid;
use eframe::egui::{self, Rect, Sense, WidgetInfo, pos2};

/// State of the overlay.
pub struct Overlay {
    pub(super) on: bool,
    /// How much of the film now is seen, 0 to 1.
    pub(super) share: f32,
    /// The level on whose upper plate the films are laid.
    pub(super) level: Level,
}

impl Default for Overlay {
    fn default() -> Overlay {
        Overlay {
            on: false,
            share: 0.5,
            level: Level::S1,
        }
    }
}

impl App {
    pub(super) fn toggle_overlay(&mut self) {
        self.overlay.on = !self.overlay.on;
        self.boxes.iter_mut().for_each(|b| b.view = None);
        if !self.overlay.on {
            return;
        }
        self.straight = false;
        self.four = false;
        self.between = [None, None];
        if self.measuring {
            self.set_measuring(false);
        }
        let common = self.common_plates();
        if !common.contains(&self.overlay.level) {
            // The sacrum, else the lowest level that both films show.
            self.overlay.level = common.last().copied().unwrap_or(Level::S1);
        }
        if let Err(why) = self.laid() {
            self.notices = vec![why];
            self.overlay.on = false;
        }
    }

    fn common_plates(&self) -> Vec<Level> {
        let (Some(case), [Some(then), Some(now)]) = (&self.case, &self.shown) else {
            return Vec::new();
        };
        case.common_plates(&[then, now], &self.reader)
    }

    /// How then lies under now.
    fn laid(&self) -> Result<Laid, String> {
        let (Some(case), [Some(then), Some(now)]) = (&self.case, &self.shown) else {
            return Err("An overlay needs two films of this plane".to_owned());
        };
        case.laid_under(then, now, &self.reader, self.overlay.level)
            .map_err(|e| e.to_string())
    }

    /// Both films, the slider below them.
    pub(super) fn overlay_box(&mut self, ui: &mut egui::Ui, area: Rect) {
        let strip = 40.0;
        let area_film = Rect::from_min_max(area.min, pos2(area.right(), area.bottom() - strip));
        ui.painter().rect_filled(area, 0.0, egui::Color32::BLACK);
        let response = ui.interact(
            area_film,
            ui.scope_id().with("overlay"),
            Sense::click_and_drag(),
        );
        let name = format!("now laid over then, on {}", self.overlay.level);
        response.widget_info(|| WidgetInfo::labeled(egui::accesskit::Role::Image, true, &name));
        let laid = self.laid();
        let films = self.shown.clone();
        if let (Ok(laid), [Some(then), Some(now)]) = (&laid, &films)
            && let (Some(under), Some(over)) = (
                self.pictures.get(then).cloned(),
                self.pictures.get(now).cloned(),
            )
        {
            self.boxes[1].area = area_film;
            self.fit_missing(1);
            if let Some(view) = self.boxes[1].view.clone() {
                let view = self.point(ui, 1, &over, view, area_film, &response);
                let other = beneath(&view, laid);
                self.boxes[1].view = Some(view.clone());
                self.boxes[0].view = Some(other.clone());
                let mut clipped = ui.new_child(egui::UiBuilder::new().max_rect(area_film));
                clipped.set_clip_rect(area_film.intersect(ui.clip_rect()));
                self.boxes[0].draw(&clipped, then, &under, &other, area_film, 1.0);
                let share = self.overlay.share;
                self.boxes[1].draw(&clipped, now, &over, &view, area_film, share);
                if self.lines {
                    for (which, id, view) in [(0, then, &other), (1, now, &view)] {
                        let drawing = self.drawing(id);
                        let hue = style::hue(which, true);
                        self.lines_and_marks(&clipped, which, &drawing, view, area_film, hue);
                    }
                }
            }
        } else if let Err(why) = &laid {
            on_black(ui, area_film, why);
        } else {
            on_black(ui, area_film, "loading…");
            ui.ctx().request_repaint();
        }
        let words = match &laid {
            Ok(laid) => laid.words.clone(),
            Err(_) => "choose another level, or other films".to_owned(),
        };
        let row = Rect::from_min_max(
            pos2(area.left() + 12.0, area.bottom() - strip + 6.0),
            area.max,
        );
        let mut row = ui.new_child(
            egui::UiBuilder::new()
                .max_rect(row)
                .layout(egui::Layout::left_to_right(egui::Align::Center)),
        );
        self.overlay_row(&mut row, &words, laid.is_ok());
        ui.allocate_rect(area, Sense::hover());
    }

    fn overlay_row(&mut self, ui: &mut egui::Ui, words: &str, fine: bool) {
        let label = |film: &Option<String>, word: &str| {
            format!("{word}: {}", film.as_deref().unwrap_or("—"))
        };
        let (then, now) = (
            label(&self.shown[0], App::place_word(0)),
            label(&self.shown[1], App::place_word(1)),
        );
        ui.colored_label(style::hue(0, true), then);
        ui.spacing_mut().slider_width = 200.0;
        let slider =
            ui.add(egui::Slider::new(&mut self.overlay.share, 0.0..=1.0).show_value(false));
        slider.widget_info(|| {
            WidgetInfo::slider(true, f64::from(self.overlay.share), "share of the film now")
        });
        ui.colored_label(style::hue(1, true), now);
        ui.add_space(14.0);
        let levels = self.common_plates();
        egui::ComboBox::from_label("laid on its upper plate")
            .selected_text(self.overlay.level.to_string())
            .width(70.0)
            .show_ui(ui, |ui| {
                for level in levels.into_iter().rev() {
                    ui.selectable_value(&mut self.overlay.level, level, level.to_string());
                }
            });
        ui.add_space(14.0);
        if fine {
            ui.weak(words);
        } else {
            ui.colored_label(style::WARN, words);
        }
    }
}

/// The view of then under a view of now: the level's plates lie on each other, millimetres are alike,
/// both films stand as they hang.
fn beneath(now: &View, laid: &Laid) -> View {
    let zoom = now.zoom * laid.ratio;
    let (dx, dy) = (
        (now.centre.x - laid.now.x) * now.zoom / zoom,
        (now.centre.y - laid.now.y) * now.zoom * now.aspect / (zoom * laid.aspect),
    );
    View {
        centre: crate::units::FilmPx::new(laid.then.x + dx, laid.then.y + dy),
        zoom,
        aspect: laid.aspect,
        ..now.clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::FilmPx;

    /// Zoomed, panned and turned, the level's plates stay on each other and ten millimetres of both films
    /// are as long on the screen, with rows of any height.
    #[test]
    fn plates_lie_on_each_other_and_millimetres_are_alike() {
        let area = Rect::from_min_size(pos2(20.0, 30.0), egui::vec2(900.0, 700.0));
        let (mm_then, mm_now) = (0.31, 0.14);
        let laid = Laid {
            then: FilmPx::new(410.0, 1200.5),
            now: FilmPx::new(1300.0, 2950.0),
            ratio: mm_then / mm_now,
            aspect: 1.4,
            words: String::new(),
        };
        let mut now = View::fit((3000.0, 4000.0), 1.0, area.size());
        now.turn = 0.2;
        now.zoom_at(area, pos2(500.0, 100.0), 3.0);
        now.pan(egui::vec2(31.0, -12.0));
        let then = beneath(&now, &laid);
        let (a, b) = (
            now.screen_from_film(area, laid.now),
            then.screen_from_film(area, laid.then),
        );
        assert!(a.distance(b) < 0.01, "{a:?} {b:?}");
        let ten = |view: &View, from: FilmPx, mm: f64, aspect: f64| {
            let down = FilmPx::new(from.x, from.y + 10.0 / (mm * aspect));
            view.screen_from_film(area, down)
        };
        let p = ten(&now, laid.now, mm_now, 1.0);
        let q = ten(&then, laid.then, mm_then, 1.4);
        assert!(p.distance(q) < 0.05, "{p:?} {q:?}");
    }
}
