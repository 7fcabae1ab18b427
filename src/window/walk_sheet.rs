//! The sheet while measuring.

use super::app::App;
use super::style;
use eframe::egui::{self, Color32, RichText};

impl App {
    /// The walk while measuring: what comes next, what stands.
    pub(super) fn walk_sheet(&mut self, ui: &mut egui::Ui) {
        ui.horizontal_wrapped(|ui| {
            for (n, (kind, name)) in crate::landmark::WALKS.iter().enumerate() {
                let on = self.walk.as_ref().is_some_and(|w| w.name == *name);
                if ui
                    .selectable_label(on, *name)
                    .on_hover_text(format!("Ctrl+{}", n + 1))
                    .clicked()
                {
                    self.start_walk(*kind);
                }
            }
        });
        ui.separator();
        let Some(walk) = self.walk.clone() else {
            ui.label("Choose what to mark. Click places a mark, a drag moves one, arrow keys nudge it by a quarter pixel.");
            ui.separator();
            self.reading_sheet(ui);
            return;
        };
        let done = walk.done(|n| self.placed(n));
        ui.horizontal(|ui| {
            ui.strong(&walk.name);
            ui.weak(format!("{done} of {}", walk.steps.len()));
        });
        if let Some(next) = self.next_words() {
            ui.label(
                RichText::new(next)
                    .heading()
                    .color(style::hue(1, ui.visuals().dark_mode)),
            );
        }
        ui.horizontal(|ui| {
            if ui.button("Skip").on_hover_text("N").clicked() {
                self.skip();
            }
            if ui.button("Back").on_hover_text("Backspace").clicked() {
                self.back();
            }
            if ui.button("Finish").on_hover_text("Escape").clicked() {
                self.walk = None;
                self.chosen = None;
            }
        });
        if walk.name == "calibrate"
            && walk.next().is_none()
            && ui.button("State the length in mm…").clicked()
        {
            let ctx = ui.ctx().clone();
            self.act(super::Action::Facts, &ctx);
        }
        ui.add_space(4.0);
        egui::ScrollArea::vertical()
            .id_salt("walk")
            .max_height(ui.available_height() * 0.4)
            .show(ui, |ui| {
                for (i, name) in walk.steps.iter().enumerate() {
                    let placed = self.placed(*name);
                    let sign = if placed {
                        "•"
                    } else if i == walk.at {
                        "»"
                    } else {
                        "·"
                    };
                    let text =
                        RichText::new(format!("{sign} {}", crate::landmark::spoken(*name))).small();
                    let text = if placed {
                        text.color(Color32::GRAY)
                    } else {
                        text
                    };
                    if ui.selectable_label(i == walk.at, text).clicked() {
                        if let Some(w) = &mut self.walk {
                            w.at = i;
                        }
                        self.chosen = placed.then_some((*name, 0));
                    }
                }
            });
        ui.separator();
        self.reading_sheet(ui);
    }
}
