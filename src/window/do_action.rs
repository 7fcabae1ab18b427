//! What each action does.

use super::actions::{ACTIONS, Action, Entry, MENUS, shortcut};
use super::app::{App, Over};
use super::facts::FactsForm;
use super::jobs::Job;
use crate::landmark::WALKS;
use crate::workbench::Look;
use crate::workbench::OpenCase;
use eframe::egui::{self, Button, Context, Theme};
use std::path::PathBuf;

impl App {
    pub(super) fn keys(&mut self, ctx: &Context) {
        if ctx.egui_wants_keyboard_input() {
            return;
        }
        // Longer combinations first: Ctrl+Shift+Z is no Ctrl+Z.
        let mut entries: Vec<&Entry> = ACTIONS.iter().collect();
        entries.sort_by_key(|e| std::cmp::Reverse(u8::from(e.3.shift) + u8::from(e.3.command)));
        for entry in entries {
            if self.possible(entry.0) && ctx.input_mut(|i| i.consume_shortcut(&shortcut(entry))) {
                self.act(entry.0, ctx);
            }
        }
        self.arrow_keys(ctx);
    }

    /// Whether an action makes sense now; others are grey in the menus.
    pub(super) fn possible(&self, action: Action) -> bool {
        let open = self.case.is_some();
        match action {
            Action::OpenCase | Action::NewCase => self.job.is_none(),
            Action::Theme | Action::Larger | Action::Smaller | Action::Help | Action::About => true,
            Action::EndWalk => open || self.over.is_some(),
            Action::Undo => self.case.as_ref().is_some_and(|c| c.undo_label().is_some()),
            Action::Redo => self.case.as_ref().is_some_and(|c| c.redo_label().is_some()),
            Action::Skip | Action::Back => self.walk.is_some(),
            Action::Place => self.walk.is_some() && self.cross.is_some(),
            Action::Delete => self.chosen.is_some(),
            _ => open,
        }
    }

    /// Name of an action with what it would do now.
    fn name(&self, entry: &Entry) -> String {
        let case = self.case.as_ref();
        match entry.0 {
            Action::Undo => match case.and_then(OpenCase::undo_label) {
                Some(label) => format!("Undo \u{201c}{label}\u{201d}"),
                None => entry.2.to_owned(),
            },
            Action::Redo => match case.and_then(OpenCase::redo_label) {
                Some(label) => format!("Redo \u{201c}{label}\u{201d}"),
                None => entry.2.to_owned(),
            },
            _ => entry.2.to_owned(),
        }
    }

    /// The bar at the top: menus, undo and redo, what is saved, the two modes.
    pub(super) fn bar(&mut self, ui: &mut egui::Ui) {
        let mut chosen = None;
        egui::Panel::top("bar")
            .show_separator_line(false)
            .show(ui, |ui| {
                ui.horizontal(|ui| {
                    for menu in MENUS {
                        ui.menu_button(menu, |ui| {
                            for entry in ACTIONS.iter().filter(|e| e.1 == menu) {
                                let key = ui.ctx().format_shortcut(&shortcut(entry));
                                let button = Button::new(self.name(entry)).shortcut_text(key);
                                let item = ui
                                    .add_enabled(self.possible(entry.0), button)
                                    .on_hover_text(entry.5);
                                if item.clicked() {
                                    chosen = Some(entry.0);
                                    ui.close();
                                }
                            }
                        });
                    }
                    ui.separator();
                    if let Some(case) = &self.case {
                        ui.strong(&case.case().id);
                    }
                    for action in [Action::Undo, Action::Redo] {
                        let Some(entry) = ACTIONS.iter().find(|e| e.0 == action) else {
                            continue;
                        };
                        if self.possible(action)
                            && ui
                                .small_button(self.name(entry))
                                .on_hover_text(entry.5)
                                .clicked()
                        {
                            chosen = Some(action);
                        }
                    }
                    if self.case.is_some() {
                        if let Some(job) = &self.job {
                            ui.spinner();
                            ui.weak(&job.progress.0);
                            if ui.small_button("Cancel").clicked() {
                                job.cancel();
                            }
                        }
                        if self.saved {
                            ui.weak(&self.saved_words);
                        } else {
                            ui.colored_label(super::style::WARN, "NOT SAVED");
                        }
                        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                            for (action, on) in [
                                (Action::Compare, !self.measuring),
                                (Action::Measure, self.measuring),
                            ] {
                                let Some(entry) = ACTIONS.iter().find(|e| e.0 == action) else {
                                    continue;
                                };
                                let key = ui.ctx().format_shortcut(&shortcut(entry));
                                if ui
                                    .selectable_label(on, entry.2)
                                    .on_hover_text(format!("{} ({key})", entry.5))
                                    .clicked()
                                {
                                    chosen = Some(action);
                                }
                            }
                            let plane = if self.lateral { "lateral" } else { "PA" };
                            if ui
                                .button(plane)
                                .on_hover_text("The plane in view; press for the other (V)")
                                .clicked()
                            {
                                chosen = Some(Action::OtherPlane);
                            }
                        });
                    }
                });
            });
        if let Some(action) = chosen {
            let ctx = ui.ctx().clone();
            self.act(action, &ctx);
        }
    }

    /// Does an action.
    pub fn act(&mut self, action: Action, ctx: &Context) {
        match action {
            Action::OpenCase => {
                if let Some(folder) = self.dialogs.case() {
                    self.job = Some(Job::open(folder, ctx));
                }
            }
            Action::NewCase => {
                let files = self.dialogs.films();
                self.new_case(files, ctx);
            }
            Action::AddFilms => {
                let files = self.dialogs.films();
                self.take_files(files, ctx);
            }
            Action::Facts => {
                self.form = self.now().and_then(|id| self.record(id)).map(FactsForm::of);
                self.over = self.form.is_some().then_some(Over::Facts);
            }
            Action::Choices => self.open_choices(),
            Action::CopyTable => self.copy_comparison(ctx, false),
            Action::CopyCells => self.copy_comparison(ctx, true),
            Action::CloseCase => {
                self.case = None;
                self.notices.clear();
                self.recent = self.dialogs.recent();
            }
            Action::Undo => {
                if let Some(label) = self.case.as_mut().and_then(OpenCase::undo) {
                    self.notices = vec![format!("Undone: {label}")];
                    self.changed();
                }
            }
            Action::Redo => {
                if let Some(label) = self.case.as_mut().and_then(OpenCase::redo) {
                    self.notices = vec![format!("Redone: {label}")];
                    self.changed();
                }
            }
            Action::Measure => self.set_measuring(true),
            Action::Compare => self.set_measuring(false),
            Action::Walk(n) => {
                if let Some((kind, _)) = WALKS.get(n) {
                    self.start_walk(*kind);
                }
            }
            Action::Refine => self.refine_now(),
            Action::AutoRefine => {
                self.auto_refine = !self.auto_refine;
                let word = if self.auto_refine { "on" } else { "off" };
                self.notices = vec![format!("Refine each plate on release: {word}")];
            }
            Action::Carry => self.carry_then_to_now(),
            Action::Propose => self.propose_now(),
            Action::Accept => self.accept_proposals(),
            Action::Skip => self.skip(),
            Action::Back => self.back(),
            Action::Place => {
                if let Some(at) = self.cross {
                    self.place(at);
                }
            }
            Action::Delete => self.delete_chosen(),
            Action::EndWalk => self.step_back(),
            Action::NowEarlier => self.step(1, -1),
            Action::NowLater => self.step(1, 1),
            Action::ThenEarlier => self.step(0, -1),
            Action::ThenLater => self.step(0, 1),
            Action::OtherPlane => self.other_plane(),
            Action::Four => self.toggle_four(),
            Action::Straight => self.toggle_straight(),
            Action::Overlay => self.toggle_overlay(),
            Action::Fit => self.boxes.iter_mut().for_each(|b| b.view = None),
            Action::FullSize => {
                let points = 1.0 / f64::from(ctx.pixels_per_point());
                for view in self.boxes.iter_mut().filter_map(|b| b.view.as_mut()) {
                    view.zoom = points;
                }
            }
            Action::NextWindow => self.next_window(),
            Action::BoneWindow => {
                for k in 0..4 {
                    let bone = self
                        .film_in(k)
                        .and_then(|id| self.pictures.get(id))
                        .map(|p| p.bone());
                    let tone = &mut self.boxes[k].tone;
                    tone.look = match bone {
                        Some(bone) if tone.look != bone => bone,
                        _ => Look::Auto,
                    };
                }
            }
            Action::Invert => self
                .boxes
                .iter_mut()
                .for_each(|b| b.tone.invert = !b.tone.invert),
            Action::LocalContrast => self
                .boxes
                .iter_mut()
                .for_each(|b| b.tone.emphasis.local = !b.tone.emphasis.local),
            Action::Edges => self
                .boxes
                .iter_mut()
                .for_each(|b| b.tone.emphasis.edges = !b.tone.emphasis.edges),
            Action::TurnByPlumb => self.turn_by_plumb(),
            Action::LinkPans => self.linked = !self.linked,
            Action::Lines => self.lines = !self.lines,
            Action::Theme => {
                let dark = ctx.theme() == Theme::Dark;
                ctx.set_theme(if dark { Theme::Light } else { Theme::Dark });
            }
            Action::Larger => ctx.set_zoom_factor((ctx.zoom_factor() + 0.1).min(2.5)),
            Action::Smaller => ctx.set_zoom_factor((ctx.zoom_factor() - 0.1).max(0.7)),
            Action::Help => self.over = Some(Over::Keys),
            Action::About => self.over = Some(Over::About),
        }
    }

    /// Films into the open case, or into a new one; a folder means all files in it.
    pub(super) fn take_files(&mut self, files: Vec<PathBuf>, ctx: &Context) {
        if let [one] = &files[..]
            && one.join("case.json").exists()
        {
            self.job = Some(Job::open(one.clone(), ctx));
            return;
        }
        if self.case.is_none() {
            self.new_case(files, ctx);
            return;
        }
        let files = spread(files);
        if !files.is_empty()
            && let Some(case) = self.case.take()
        {
            self.adding = Some((case.folder().to_owned(), case.case().films.len()));
            self.job = Some(Job::add(case, files, ctx));
        }
    }

    pub(super) fn new_case(&mut self, files: Vec<PathBuf>, ctx: &Context) {
        let files = spread(files);
        let Some(parent) = files.first().and_then(|f| f.parent()) else {
            return;
        };
        let free = (1..1000)
            .map(|n| (n, parent.join(format!("curvebench-case-{n}"))))
            .find(|(_, p)| !p.exists());
        let Some((n, folder)) = free else { return };
        match OpenCase::create(&folder, &format!("case {n}"), None) {
            Ok(case) => {
                self.notices = vec![format!("New case in {}", folder.display())];
                self.job = Some(Job::add(case, files, ctx));
            }
            Err(e) => self.notices = vec![e.to_string()],
        }
    }
}

/// Files as they are, folders as the files in them.
fn spread(paths: Vec<PathBuf>) -> Vec<PathBuf> {
    let mut out = Vec::new();
    for path in paths {
        match std::fs::read_dir(&path) {
            Ok(entries) => {
                let mut files: Vec<PathBuf> = entries
                    .filter_map(|e| Some(e.ok()?.path()))
                    .filter(|p| p.is_file())
                    .collect();
                files.sort();
                out.extend(files);
            }
            Err(_) => out.push(path),
        }
    }
    out
}
