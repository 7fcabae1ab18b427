//! Facts of a film: what the file says beside what is stated.

use super::app::App;
use crate::landmark::LandmarkSet;
use crate::workbench::{
    Command, Date, FilmRecord, ImageEdge, Phase, StatedFacts, View, contradictions, scale_words,
};
use eframe::egui;

/// The form.
#[derive(Clone, Debug, Default)]
pub struct FactsForm {
    film: String,
    date: String,
    view: Option<View>,
    phase: Option<Phase>,
    posture: String,
    traction: String,
    weight: String,
    side: Option<ImageEdge>,
    magnification: String,
    length: String,
    wrong: Option<String>,
}

fn text(v: Option<f64>) -> String {
    v.map(|v| v.to_string()).unwrap_or_default()
}

impl FactsForm {
    /// The form filled with what holds.
    pub fn of(film: &FilmRecord) -> FactsForm {
        let s = &film.stated;
        FactsForm {
            film: film.id.clone(),
            date: film.date().map(|d| d.to_string()).unwrap_or_default(),
            view: film.view(),
            phase: film.phase(),
            posture: s.posture.clone().unwrap_or_default(),
            traction: text(s.traction_kg),
            weight: text(s.body_weight_kg),
            side: film.side_on(),
            magnification: text(s.magnification),
            length: text(s.scale_mm),
            wrong: None,
        }
    }

    /// What differs from what holds already.
    fn stated(&self, film: &FilmRecord) -> Result<StatedFacts, String> {
        let number = |what: &str, text: &str, old: Option<f64>| -> Result<Option<f64>, String> {
            let text = text.trim().replace(',', ".");
            if text.is_empty() {
                return Ok(None);
            }
            let v: f64 = text.parse().map_err(|_| {
                format!("{what} \u{201c}{text}\u{201d} is no number; write it as 1.12")
            })?;
            Ok((old != Some(v)).then_some(v))
        };
        let old = FactsForm::of(film);
        let s = &film.stated;
        let mut out = StatedFacts::default();
        if self.date != old.date {
            out.date = Some(
                self.date
                    .trim()
                    .parse::<Date>()
                    .map_err(|e| e.to_string())?,
            );
        }
        out.view = self.view.filter(|_| self.view != old.view);
        out.phase = self.phase.filter(|_| self.phase != old.phase);
        if self.posture != old.posture {
            out.posture = Some(self.posture.clone());
        }
        out.traction_kg = number("the traction weight", &self.traction, s.traction_kg)?;
        out.body_weight_kg = number("the body weight", &self.weight, s.body_weight_kg)?;
        out.magnification = number("the magnification", &self.magnification, s.magnification)?;
        out.scale_mm = number("the known length", &self.length, s.scale_mm)?;
        if self.side != old.side {
            let lateral = self.view.or(film.view()) == Some(View::Lateral);
            if lateral {
                out.anterior_on = self.side;
            } else {
                out.left_on = self.side;
            }
        }
        Ok(out)
    }
}

const PHASES: [Phase; 5] = [
    Phase::Presentation,
    Phase::Flexibility,
    Phase::Traction,
    Phase::Postop,
    Phase::Followup,
];

impl App {
    /// The form of the film now.
    pub(super) fn facts_form(&mut self, ui: &mut egui::Ui) {
        let Some(mut form) = self.form.take() else {
            return;
        };
        let Some(film) = self.record(&form.film).cloned() else {
            return;
        };
        let said = &film.said;
        let none_marked = LandmarkSet::new();
        let marks = self.reading(&film.id).map_or(&none_marked, |r| &r.marks);
        let scale = scale_words(&film, marks);
        let none = || "—".to_owned();
        ui.heading(format!("Film {}", form.film));
        ui.weak(format!(
            "{} · {} × {} pixels",
            film.name, said.columns, said.rows
        ));
        ui.add_space(6.0);
        egui::Grid::new("facts")
            .num_columns(3)
            .spacing([14.0, 7.0])
            .show(ui, |ui| {
                ui.strong("");
                ui.strong("stated");
                ui.strong("the file says");
                ui.end_row();
                let label = |ui: &mut egui::Ui, text: &str| ui.label(text).id;
                let field = |ui: &mut egui::Ui, name: &str, value: &mut String| {
                    let id = label(ui, name);
                    ui.add(egui::TextEdit::singleline(value).desired_width(150.0))
                        .labelled_by(id);
                };
                field(ui, "Date", &mut form.date);
                ui.weak(said.date.map_or_else(none, |d| d.to_string()));
                ui.end_row();
                ui.label("View");
                egui::ComboBox::from_id_salt("view")
                    .selected_text(form.view.map_or("unknown", View::word))
                    .show_ui(ui, |ui| {
                        for v in [View::Pa, View::Ap, View::Lateral, View::Photo] {
                            ui.selectable_value(&mut form.view, Some(v), v.word());
                        }
                    });
                ui.weak(said.view.map_or("—", View::word));
                ui.end_row();
                ui.label("Phase");
                egui::ComboBox::from_id_salt("phase")
                    .selected_text(form.phase.map_or("not stated", Phase::words))
                    .show_ui(ui, |ui| {
                        for p in PHASES {
                            ui.selectable_value(&mut form.phase, Some(p), p.words());
                        }
                    });
                ui.weak("—");
                ui.end_row();
                for (name, value) in [
                    ("Posture", &mut form.posture),
                    ("Traction, kg", &mut form.traction),
                    ("Body weight, kg", &mut form.weight),
                ] {
                    field(ui, name, value);
                    ui.weak("—");
                    ui.end_row();
                }
                let lateral = form.view == Some(View::Lateral);
                ui.label(if lateral {
                    "Patient's front on"
                } else {
                    "Patient's left on"
                });
                egui::ComboBox::from_id_salt("side")
                    .selected_text(form.side.map_or("unknown", ImageEdge::word))
                    .show_ui(ui, |ui| {
                        for e in [ImageEdge::ImageLeft, ImageEdge::ImageRight] {
                            ui.selectable_value(&mut form.side, Some(e), e.word());
                        }
                    });
                let edge = if lateral {
                    said.anterior_on
                } else {
                    said.left_on
                };
                ui.weak(edge.map_or("—", ImageEdge::word));
                ui.end_row();
                field(ui, "Magnification", &mut form.magnification);
                ui.weak(
                    said.estimated_magnification
                        .map_or_else(none, |m| format!("estimates {m:.3}")),
                );
                ui.end_row();
                field(ui, "Known length, mm", &mut form.length);
                ui.weak("between the two calibration marks");
                ui.end_row();
                ui.label("Scale");
                ui.add(egui::Label::new(scale).wrap());
                ui.weak(&said.spacing.reason);
                ui.end_row();
            });
        if let Ok(stated) = form.stated(&film) {
            for c in contradictions(&film, &stated) {
                ui.colored_label(super::style::WARN, c);
            }
        }
        if let Some(wrong) = &form.wrong {
            ui.colored_label(super::style::WARN, wrong);
        }
        ui.add_space(6.0);
        let mut keep = true;
        ui.horizontal(|ui| {
            if ui.button("Apply").clicked() {
                match form.stated(&film) {
                    Ok(facts) => {
                        let sent = self.send(&Command::SetFacts {
                            film: form.film.clone(),
                            facts: Box::new(facts),
                        });
                        if sent {
                            self.over = None;
                            keep = false;
                            self.boxes.iter_mut().for_each(|b| b.view = None);
                        } else {
                            form.wrong = self.notices.last().cloned();
                        }
                    }
                    Err(e) => form.wrong = Some(e),
                }
            }
            if ui.button("Cancel").clicked() {
                self.over = None;
                keep = false;
            }
        });
        if keep {
            self.form = Some(form);
        }
    }
}
