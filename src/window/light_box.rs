//! A light box: one film, its pan, zoom, window level, and what the pointer does on it.

use super::app::App;
use super::picture::{Emphasis, Picture, Tone};
use super::style;
use super::view::View;
use crate::landmark::Landmark;
use crate::units::FilmPx;
use crate::workbench::{DisplayLut, Look};
use eframe::egui::{
    self, Key, PointerButton, Pos2, Rect, Sense, TextureHandle, TextureOptions, WidgetInfo,
};

/// State of a light box.
pub struct LightBox {
    /// Where the film stands; none means: fit it.
    pub view: Option<View>,
    /// Its tone.
    pub tone: Tone,
    /// Where it was drawn last.
    pub area: Rect,
    texture: Option<TextureHandle>,
    key: Option<Key1>,
    lut: Option<(String, Tone, DisplayLut)>,
    loupe: Option<TextureHandle>,
}

/// What the drawn picture depends on.
#[derive(Clone, PartialEq)]
struct Key1 {
    film: String,
    view: View,
    tone: Tone,
    size: (usize, usize),
}

impl Default for LightBox {
    fn default() -> LightBox {
        LightBox {
            view: None,
            tone: Tone {
                look: Look::Auto,
                invert: false,
                emphasis: Emphasis::default(),
            },
            area: Rect::NOTHING,
            texture: None,
            key: None,
            lut: None,
            loupe: None,
        }
    }
}

impl LightBox {
    /// Whether a picture of a film stands in it.
    pub fn has_picture(&self) -> bool {
        self.texture.is_some()
    }

    /// Draws the film, `share` of it over what lies beneath; only what is visible is worked on, and only
    /// when something changed.
    pub(super) fn draw(
        &mut self,
        ui: &egui::Ui,
        id: &str,
        picture: &Picture,
        view: &View,
        area: Rect,
        share: f32,
    ) {
        let scale = f64::from(ui.ctx().pixels_per_point());
        let size = (
            (f64::from(area.width()) * scale).round().max(1.0) as usize,
            (f64::from(area.height()) * scale).round().max(1.0) as usize,
        );
        let tone = self.tone;
        let fresh = self.lut.as_ref().is_some_and(|(film, t, _)| {
            film == id && t.look == tone.look && t.invert == tone.invert
        });
        if !fresh {
            self.lut = Some((id.to_owned(), tone, picture.lut(tone)));
        }
        let Some((_, _, lut)) = &self.lut else { return };
        let key = Key1 {
            film: id.to_owned(),
            view: view.clone(),
            tone,
            size,
        };
        if self.key.as_ref() != Some(&key) {
            let image = picture.visible(view, area, size, scale, lut, tone.emphasis);
            match &mut self.texture {
                Some(t) => t.set(image, TextureOptions::LINEAR),
                None => {
                    self.texture =
                        Some(ui.ctx().load_texture("film", image, TextureOptions::LINEAR))
                }
            }
            self.key = Some(key);
        }
        if let Some(texture) = &self.texture {
            let whole = Rect::from_min_max(Pos2::ZERO, egui::pos2(1.0, 1.0));
            ui.painter().image(
                texture.id(),
                area,
                whole,
                egui::Color32::WHITE.gamma_multiply(share),
            );
        }
    }

    /// The loupe: the film about a place, four times as large.
    pub(super) fn loupe(
        &mut self,
        ui: &egui::Ui,
        picture: &Picture,
        view: &View,
        at: FilmPx,
        place: Rect,
    ) {
        let Some((_, _, lut)) = &self.lut else { return };
        let near = View {
            centre: view.laid(at),
            zoom: (view.zoom * 4.0).max(2.0),
            ..view.clone()
        };
        let scale = f64::from(ui.ctx().pixels_per_point());
        let side = (f64::from(place.width()) * scale) as usize;
        let image = picture.visible(&near, place, (side, side), scale, lut, self.tone.emphasis);
        match &mut self.loupe {
            Some(t) => t.set(image, TextureOptions::LINEAR),
            None => {
                self.loupe = Some(
                    ui.ctx()
                        .load_texture("loupe", image, TextureOptions::LINEAR),
                )
            }
        }
        if let Some(texture) = &self.loupe {
            let whole = Rect::from_min_max(Pos2::ZERO, egui::pos2(1.0, 1.0));
            let painter = ui.painter();
            painter.image(texture.id(), place, whole, egui::Color32::WHITE);
            painter.rect_stroke(
                place,
                2.0,
                egui::Stroke::new(1.5, style::NOW),
                egui::StrokeKind::Outside,
            );
            let c = place.center();
            for (a, b) in [
                ((-26.0, 0.0), (-6.0, 0.0)),
                ((6.0, 0.0), (26.0, 0.0)),
                ((0.0, -26.0), (0.0, -6.0)),
                ((0.0, 6.0), (0.0, 26.0)),
            ] {
                painter.line_segment(
                    [c + egui::vec2(a.0, a.1), c + egui::vec2(b.0, b.1)],
                    egui::Stroke::new(1.2, style::NOW),
                );
            }
        }
    }
}

impl App {
    /// The light box of the film then (0) or now (1).
    pub(super) fn light_box(&mut self, ui: &mut egui::Ui, which: usize, area: Rect) {
        let word = App::place_word(which);
        let response = ui.interact(
            area,
            ui.scope_id().with(("light box", which)),
            Sense::click_and_drag(),
        );
        ui.painter().rect_filled(area, 0.0, egui::Color32::BLACK);
        self.boxes[which].area = area;
        let Some(id) = self.film_in(which).map(str::to_owned) else {
            let text = if which == 0 {
                "No earlier film of this plane.\nAdd films (Ctrl+I)."
            } else {
                "No film.\nAdd films (Ctrl+I)."
            };
            on_black(ui, area, text);
            return;
        };
        let label = format!("{word}: film {id}");
        response.widget_info(|| WidgetInfo::labeled(egui::accesskit::Role::Image, true, &label));
        let Some(picture) = self.pictures.get(&id).cloned() else {
            let text = self
                .failed
                .get(&id)
                .cloned()
                .unwrap_or_else(|| format!("{id}: loading…"));
            on_black(ui, area, &text);
            if !self.failed.contains_key(&id) {
                ui.ctx().request_repaint();
            }
            return;
        };
        self.fit_missing(which);
        let Some(view) = self.boxes[which].view.clone() else {
            return;
        };
        let view = self.point(ui, which, &picture, view, area, &response);
        self.boxes[which].view = Some(view.clone());
        let clipped = ui.new_child(egui::UiBuilder::new().max_rect(area));
        let mut clipped = clipped;
        clipped.set_clip_rect(area.intersect(ui.clip_rect()));
        self.boxes[which].draw(&clipped, &id, &picture, &view, area, 1.0);
        self.on_film(&mut clipped, which, &id, &view, area, &response);
        let pointer = response
            .hover_pos()
            .or_else(|| response.interact_pointer_pos());
        if which == 1 && self.measuring {
            let marking =
                self.walk.as_ref().is_some_and(|w| w.next().is_some()) || self.dragged.is_some();
            let at = self
                .dragged
                .map(|d| d.2)
                .or(pointer.map(|p| view.film_from_screen(area, p)))
                .or(self.cross);
            if let (true, Some(at)) = (marking, at) {
                let side = (area.width().min(area.height()) * 0.28).clamp(110.0, 190.0);
                let seen = view.screen_from_film(area, at);
                let left = seen.x > area.center().x;
                let corner = if left {
                    area.left_bottom() + egui::vec2(10.0, -side - 44.0)
                } else {
                    area.right_bottom() + egui::vec2(-side - 10.0, -side - 44.0)
                };
                let place = Rect::from_min_size(corner, egui::vec2(side, side));
                self.boxes[1].loupe(&clipped, &picture, &view, at, place);
            }
        }
    }

    /// What the pointer does; the view after it.
    pub(super) fn point(
        &mut self,
        ui: &egui::Ui,
        which: usize,
        picture: &Picture,
        mut view: View,
        area: Rect,
        response: &egui::Response,
    ) -> View {
        let ctx = ui.ctx();
        let before = view.clone();
        if let Some(at) = response.hover_pos() {
            let (scroll, pinch) = ctx.input(|i| (i.smooth_scroll_delta().y, i.zoom_delta()));
            let factor = f64::from(pinch) * f64::from(scroll * 0.004).exp();
            if (factor - 1.0).abs() > 1e-4 {
                view.zoom_at(area, at, factor);
            }
        }
        let space = ctx.input(|i| i.key_down(Key::Space));
        let marking = self.measuring && which == 1 && !space;
        let press = ctx.input(|i| i.pointer.press_origin());
        if marking && response.drag_started_by(PointerButton::Primary) {
            self.dragged = press.and_then(|p| self.near(&view, area, p, 12.0));
            self.chosen = self.dragged.map(|d| (d.0, d.1)).or(self.chosen);
            // A drag begins some points after the press: the mark keeps its place to the pointer from
            // the press on, or a slow hand would leave it behind.
            let mark = self.dragged.map(|d| view.screen_from_film(area, d.2));
            self.grab = mark.zip(press).map_or(egui::Vec2::ZERO, |(m, p)| m - p);
        }
        if response.dragged_by(PointerButton::Primary) && self.dragged.is_some() {
            if let (Some((_, _, at)), Some(p)) =
                (&mut self.dragged, response.interact_pointer_pos())
            {
                *at = view.film_from_screen(area, p + self.grab);
            }
        } else if response.dragged_by(PointerButton::Middle)
            || response.dragged_by(PointerButton::Primary)
        {
            view.pan(response.drag_delta());
        }
        if response.drag_stopped_by(PointerButton::Primary)
            && let Some((name, index, at)) = self.dragged.take()
        {
            self.put(name, index, at);
        }
        if response.dragged_by(PointerButton::Secondary) {
            let by = response.drag_delta();
            let (center, width) = picture.window(self.boxes[which].tone.look);
            let step = width / 300.0;
            let tone = &mut self.boxes[which].tone;
            let sign = if picture.film.grey.inverted != tone.invert {
                -1.0
            } else {
                1.0
            };
            tone.look = Look::Window {
                center: center + sign * f64::from(by.y) * step,
                width: (width * f64::from(by.x * 0.006).exp()).max(2.0),
            };
        }
        if marking
            && response.clicked()
            && let Some(p) = response.interact_pointer_pos()
        {
            self.cross = None;
            match self.near(&view, area, p, 6.0) {
                Some((name, index, _)) => self.chosen = Some((name, index)),
                None => self.place(view.film_from_screen(area, p)),
            }
        }
        if self.linked && !self.measuring && view != before {
            for other in self.in_view().into_iter().filter(|o| *o != which) {
                self.follow(other, &before, &view);
            }
        }
        view
    }

    /// The other film does what this one did.
    fn follow(&mut self, other: usize, before: &View, after: &View) {
        if let Some(view) = &mut self.boxes[other].view {
            let factor = after.zoom / before.zoom;
            // The same step on the screen.
            let (dx, dy) = (
                (after.centre.x - before.centre.x) * after.zoom,
                (after.centre.y - before.centre.y) * after.zoom * after.aspect,
            );
            view.zoom *= factor;
            view.centre.x += dx / view.zoom;
            view.centre.y += dy / (view.zoom * view.aspect);
        }
    }

    /// The mark of the film now nearest to a screen position.
    fn near(
        &mut self,
        view: &View,
        area: Rect,
        at: Pos2,
        reach: f32,
    ) -> Option<(Landmark, usize, FilmPx)> {
        let id = self.now()?.to_owned();
        let drawing = self.drawing(&id);
        drawing
            .marks
            .iter()
            .filter(|m| self.at_hand(m.name))
            .map(|m| (view.screen_from_film(area, m.at).distance(at), m))
            .filter(|(d, _)| *d <= reach)
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, m)| (m.name, m.index, m.at))
    }
}

pub(super) fn on_black(ui: &egui::Ui, area: Rect, text: &str) {
    let colour = egui::Color32::from_gray(160);
    let galley = ui.painter().layout(
        text.to_owned(),
        egui::FontId::proportional(15.0),
        colour,
        area.width() * 0.8,
    );
    ui.painter()
        .galley(area.center() - galley.size() / 2.0, galley, colour);
}
