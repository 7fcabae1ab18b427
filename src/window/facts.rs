//! Facts of a film: what the file says beside what is stated.

use super::app::App;
use crate::landmark::LandmarkSet;
use crate::workbench::{
    Command, Date, FilmRecord, ImageEdge, Phase, SpacingKind, StatedFacts, View, contradictions,
    scale_words,
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
    spacing: String,
    head: Option<ImageEdge>,
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
            spacing: s
                .spacing
                .map(|[row, column]| format!("{row}, {column}"))
                .unwrap_or_default(),
            head: s.head_on,
            wrong: None,
        }
    }

    /// All that is stated when the form is applied: a field left as it is keeps what was stated, an
    /// emptied one is stated no more, so that what the file says holds again.
    fn stated(&self, film: &FilmRecord) -> Result<StatedFacts, String> {
        let number = |what: &str, text: &str| -> Result<Option<f64>, String> {
            let text = text.trim().replace(',', ".");
            if text.is_empty() {
                return Ok(None);
            }
            text.parse().map(Some).map_err(|_| {
                format!("{what} \u{201c}{text}\u{201d} is no number; write it as 1.12")
            })
        };
        let old = FactsForm::of(film);
        let mut out = film.stated.clone();
        if self.date != old.date {
            let text = self.date.trim();
            out.date = match text {
                "" => None,
                text => Some(text.parse::<Date>().map_err(|e| e.to_string())?),
            };
        }
        if self.view != old.view {
            out.view = self.view;
        }
        out.phase = self.phase;
        let posture = self.posture.trim();
        out.posture = (!posture.is_empty()).then(|| posture.to_owned());
        out.traction_kg = number("the traction weight", &self.traction)?;
        out.body_weight_kg = number("the body weight", &self.weight)?;
        out.magnification = number("the magnification", &self.magnification)?;
        out.scale_mm = number("the known length", &self.length)?;
        if self.spacing != old.spacing {
            out.spacing = match self.spacing.trim() {
                "" => None,
                text => {
                    let pair: Option<Vec<f64>> =
                        text.split(',').map(|t| t.trim().parse().ok()).collect();
                    match pair.as_deref() {
                        Some([row, column]) => Some([*row, *column]),
                        _ => {
                            return Err(format!(
                                "the spacing \u{201c}{text}\u{201d} is none; write row, column in mm, as 0.143, 0.143"
                            ));
                        }
                    }
                }
            };
        }
        if self.side != old.side {
            let lateral = self.view.or(film.view()) == Some(View::Lateral);
            if lateral {
                out.anterior_on = self.side;
            } else {
                out.left_on = self.side;
            }
        }
        if self.head != old.head {
            out.head_on = self.head;
        }
        Ok(out)
    }
}

const PHASES: [Phase; 6] = [
    Phase::Presentation,
    Phase::Flexibility,
    Phase::Traction,
    Phase::Preop,
    Phase::Postop,
    Phase::Followup,
];

/// A choice of one of several, or of none.
pub(super) fn choice<T: Copy + PartialEq>(
    ui: &mut egui::Ui,
    name: &str,
    none: &str,
    value: &mut Option<T>,
    all: &[(T, &str)],
) {
    let id = ui.label(name).id;
    let text = value
        .and_then(|v| all.iter().find(|a| a.0 == v))
        .map_or(none, |a| a.1);
    egui::ComboBox::from_id_salt(name)
        .selected_text(text)
        .show_ui(ui, |ui| {
            ui.selectable_value(value, None, none);
            for (v, word) in all {
                ui.selectable_value(value, Some(*v), *word);
            }
        })
        .response
        .labelled_by(id);
}

/// A line of text with its name.
pub(super) fn field(ui: &mut egui::Ui, name: &str, value: &mut String) {
    let id = ui.label(name).id;
    ui.add(egui::TextEdit::singleline(value).desired_width(150.0))
        .labelled_by(id);
}

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
                field(ui, "Date", &mut form.date);
                ui.weak(said.date.map_or_else(none, |d| d.to_string()));
                ui.end_row();
                let views = [View::Pa, View::Ap, View::Lateral, View::Photo];
                choice(
                    ui,
                    "View",
                    "unknown",
                    &mut form.view,
                    &views.map(|v| (v, v.word())),
                );
                ui.weak(said.view.map_or("—", View::word));
                ui.end_row();
                let phases = PHASES.map(|p| (p, p.words()));
                choice(ui, "Phase", "not stated", &mut form.phase, &phases);
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
                let name = if lateral {
                    "Patient's front on"
                } else {
                    "Patient's left on"
                };
                let sides = [ImageEdge::ImageLeft, ImageEdge::ImageRight].map(|e| (e, e.word()));
                choice(ui, name, "unknown", &mut form.side, &sides);
                let edge = if lateral {
                    said.anterior_on
                } else {
                    said.left_on
                };
                ui.weak(edge.map_or("—", ImageEdge::word));
                ui.end_row();
                let edges = [
                    ImageEdge::ImageTop,
                    ImageEdge::ImageBottom,
                    ImageEdge::ImageLeft,
                    ImageEdge::ImageRight,
                ];
                choice(
                    ui,
                    "Head on",
                    "as the file has it",
                    &mut form.head,
                    &edges.map(|e| (e, e.word())),
                );
                ui.weak(said.head_on.map_or("—", ImageEdge::word));
                ui.end_row();
                field(ui, "Spacing, mm: row, column", &mut form.spacing);
                ui.weak(match said.spacing.kind {
                    SpacingKind::None => "—".to_owned(),
                    _ => format!("{}, {}", said.spacing.row, said.spacing.column),
                });
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
                        let sent = self.send(&Command::StateFacts {
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
