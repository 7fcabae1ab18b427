//! The pages: start, case, and what lies over them.

use super::Action;
use super::actions::{ACTIONS, MENUS, shortcut};
use super::app::{App, Over};
use super::jobs::Job;
use super::style;
use crate::landmark::Landmark;
use crate::report::CAUTION;
use crate::workbench::Look;
use eframe::egui::{self, Context, Rect, RichText, pos2, vec2};
use std::path::PathBuf;

/// Notices shown above the film; the others wait under the pointer.
const NOTICES: usize = 4;

impl App {
    /// The start page.
    pub(super) fn start_page(&mut self, ui: &mut egui::Ui) {
        let mut act = None;
        egui::CentralPanel::default().show(ui, |ui| {
            ui.vertical_centered(|ui| {
                ui.set_max_width(560.0);
                ui.add_space(ui.available_height() * 0.10);
                ui.label(RichText::new("curvebench").size(34.0));
                ui.label("Spinal deformity measured on films, then and now.");
                ui.add_space(20.0);
                if let Some(job) = &self.job {
                    let (what, done, total) = &job.progress;
                    ui.label(what);
                    let share = if *total > 0 {
                        *done as f32 / *total as f32
                    } else {
                        0.0
                    };
                    ui.add(egui::ProgressBar::new(share).text(if *total > 0 {
                        format!("{done} of {total}")
                    } else {
                        String::new()
                    }));
                    if ui.button("Cancel").clicked() {
                        job.cancel();
                    }
                    ui.ctx()
                        .request_repaint_after(std::time::Duration::from_millis(100));
                    self.notices_here(ui);
                    return;
                }
                let wide = |text: &str| {
                    egui::Button::new(RichText::new(text).size(16.0)).min_size(vec2(320.0, 38.0))
                };
                if ui.add(wide("New case from films…")).clicked() {
                    act = Some(Action::NewCase);
                }
                if ui.add(wide("Open a case…")).clicked() {
                    act = Some(Action::OpenCase);
                }
                if ui.add(wide("Open the demo")).clicked() {
                    self.job = Some(Job::demo(PathBuf::from("curvebench-demo"), ui.ctx()));
                }
                ui.add_space(8.0);
                ui.weak("or drop films, a folder or a case on this window");
                ui.add_space(14.0);
                ui.horizontal(|ui| {
                    let label = ui.label("Path");
                    ui.add(
                        egui::TextEdit::singleline(&mut self.typed_path)
                            .desired_width(380.0)
                            .hint_text("a case, a film or a folder of films"),
                    )
                    .labelled_by(label.id);
                    if ui.button("Open").clicked() && !self.typed_path.trim().is_empty() {
                        let path = PathBuf::from(self.typed_path.trim());
                        if path.exists() {
                            let ctx = ui.ctx().clone();
                            self.take_files(vec![path], &ctx);
                        } else {
                            self.notices = vec![format!(
                                "{}: does not exist; check the path",
                                path.display()
                            )];
                        }
                    }
                });
                self.notices_here(ui);
                if !self.recent.is_empty() {
                    ui.add_space(18.0);
                    ui.strong("Recent cases");
                    for folder in self.recent.clone() {
                        if ui.link(folder.display().to_string()).clicked() {
                            self.job = Some(Job::open(folder, ui.ctx()));
                        }
                    }
                }
                ui.add_space(22.0);
                ui.small(CAUTION);
            });
        });
        if let Some(action) = act {
            let ctx = ui.ctx().clone();
            self.act(action, &ctx);
        }
    }

    fn notices_here(&self, ui: &mut egui::Ui) {
        for notice in &self.notices {
            ui.colored_label(style::WARN, notice);
        }
    }

    /// Then and now, the sheet, the course.
    pub(super) fn case_page(&mut self, ui: &mut egui::Ui) {
        if !self.notices.is_empty() {
            egui::Panel::top("notices")
                .show_separator_line(false)
                .show(ui, |ui| {
                    ui.horizontal_wrapped(|ui| {
                        let (shown, more) = self.notices.split_at(self.notices.len().min(NOTICES));
                        for (k, notice) in shown.iter().enumerate() {
                            if k > 0 {
                                ui.weak("·");
                            }
                            ui.colored_label(style::WARN, notice);
                        }
                        if !more.is_empty() {
                            ui.weak(format!("and {} more", more.len()))
                                .on_hover_text(more.join("\n"));
                        }
                        if ui.small_button("Dismiss").clicked() {
                            self.notices.clear();
                        }
                    });
                });
        }
        let height = ui.available_height();
        egui::Panel::bottom("course")
            .exact_size((height * 0.125).clamp(94.0, 300.0))
            .show_separator_line(false)
            .show(ui, |ui| self.course(ui));
        egui::Panel::right("sheet")
            .exact_size((ui.available_width() * 0.205).clamp(280.0, 430.0))
            .show_separator_line(false)
            .show(ui, |ui| {
                if self.measuring {
                    self.walk_sheet(ui);
                } else {
                    self.reading_sheet(ui);
                }
            });
        egui::CentralPanel::no_frame().show(ui, |ui| {
            let area = ui.available_rect_before_wrap();
            self.choose_between();
            let order = self.in_view();
            let wide = (area.width() + 3.0) / order.len() as f32;
            for (n, which) in order.iter().enumerate() {
                let left = pos2(area.left() + wide * n as f32, area.top());
                self.boxes[*which].area =
                    Rect::from_min_size(left, vec2(wide - 3.0, area.height()));
            }
            if self.overlay.on && !self.measuring {
                self.overlay_box(ui, area);
                return;
            }
            for which in order {
                self.light_box(ui, which, self.boxes[which].area);
            }
            ui.allocate_rect(area, egui::Sense::hover());
        });
    }

    /// Windows and tables of the file in turn, then the automatic window again.
    pub(super) fn next_window(&mut self) {
        for k in 0..4 {
            let Some(picture) = self.film_in(k).and_then(|id| self.pictures.get(id)) else {
                continue;
            };
            let choices = picture.film.grey.choices();
            let tone = &mut self.boxes[k].tone;
            let next = match tone.look {
                Look::File(n) => n + 1,
                _ => 0,
            };
            let (look, words) = match choices.get(next) {
                Some(name) => (Look::File(next), name.clone()),
                None => (Look::Auto, "automatic".to_owned()),
            };
            tone.look = look;
            self.notices = vec![format!("Window: {words}")];
        }
    }

    /// Turns each film so that its marked plumb line is upright.
    pub(super) fn turn_by_plumb(&mut self) {
        let mut turned = false;
        for k in 0..4 {
            let Some(id) = self.film_in(k).map(str::to_owned) else {
                continue;
            };
            let line = self.reading(&id).and_then(|r| {
                Some((
                    r.marks.point(Landmark::Plumb(true))?,
                    r.marks.point(Landmark::Plumb(false))?,
                ))
            });
            if let Some(view) = self.boxes[k].view.as_mut().filter(|v| v.straight.is_none()) {
                view.turn = match line {
                    Some((top, bottom)) if view.turn == 0.0 => {
                        turned = true;
                        let (dx, dy) = (top.x - bottom.x, (top.y - bottom.y) * view.aspect);
                        (-dx).atan2(-dy)
                    }
                    _ => 0.0,
                };
            }
        }
        if !turned {
            self.notices = vec!["Upright by the film's own edges: no plumb line is marked (plumb.top, plumb.bottom)".to_owned()];
        }
    }

    /// Facts, keys, about.
    pub(super) fn overlays(&mut self, ctx: &Context) {
        let Some(over) = self.over else { return };
        let modal = egui::Modal::new(egui::Id::unique("over")).show(ctx, |ui| match over {
            Over::Facts => self.facts_form(ui),
            Over::Choices => self.choices_form(ui),
            Over::Keys => self.keys_page(ui),
            Over::About => self.about_page(ui),
        });
        if modal.should_close() {
            self.over = None;
            self.form = None;
            self.choices = None;
        }
    }

    fn keys_page(&mut self, ui: &mut egui::Ui) {
        ui.heading("Keys");
        let high = (ui.ctx().content_rect().height() * 0.75).min(700.0);
        egui::ScrollArea::vertical().max_height(high).show(ui, |ui| {
            egui::Grid::new("keys").num_columns(3).striped(true).spacing([18.0, 4.0]).show(ui, |ui| {
                for menu in MENUS {
                    for entry in ACTIONS.iter().filter(|e| e.1 == menu) {
                        ui.monospace(ui.ctx().format_shortcut(&shortcut(entry)));
                        ui.label(entry.2);
                        ui.weak(entry.5);
                        ui.end_row();
                    }
                }
                for (keys, what) in [
                    ("Arrows", "Nudge the chosen mark by a quarter pixel, or move the cross; Shift: twenty times as far"),
                    ("Wheel", "Zoom at the pointer"),
                    ("Drag", "Move a mark; elsewhere, or with Space held or the middle button, pan"),
                    ("Right drag", "Window level: up and down brightness, left and right contrast"),
                    ("Click a film", "Show it as now; with Shift as then"),
                ] {
                    ui.monospace(keys);
                    ui.label("");
                    ui.weak(what);
                    ui.end_row();
                }
            });
        });
        if ui.button("Close").clicked() {
            self.over = None;
        }
    }

    fn about_page(&mut self, ui: &mut egui::Ui) {
        ui.set_max_width(460.0);
        ui.heading(format!("curvebench {}", env!("CARGO_PKG_VERSION")));
        ui.label("A workbench for measuring spinal deformity on radiographs and showing what treatment corrected.");
        ui.add_space(6.0);
        ui.label(CAUTION);
        ui.add_space(6.0);
        ui.label("Levels are the reader's responsibility. A change within measurement error is no change. Films taken in different postures, or turned, are not compared without saying so.");
        ui.label(
            "Formulas and sources: docs/METHODS.md. Demo films are synthetic; they show no person.",
        );
        if ui.button("Close").clicked() {
            self.over = None;
        }
    }
}
