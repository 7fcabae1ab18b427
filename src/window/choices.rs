//! The case: its reader, its cause, and the choices where sources differ.

use super::app::App;
use super::facts::{choice, field};
use crate::workbench::{
    ApexRule, Cause, Choices, Command, CsvlConstruction, ObliquityMethod, Settings,
    TranslationReference,
};
use eframe::egui;

/// The form.
#[derive(Clone, Debug, Default)]
pub struct ChoicesForm {
    cause: Option<Cause>,
    reader: String,
    settings: Settings,
    ribs: String,
    ratio: String,
    absent: String,
    upper: String,
    lower: String,
    wrong: Option<String>,
}

impl ChoicesForm {
    /// The form filled with what holds.
    pub fn of(cause: Option<Cause>, settings: &Settings, reader: &str) -> ChoicesForm {
        ChoicesForm {
            cause,
            reader: reader.to_owned(),
            settings: settings.clone(),
            ribs: settings
                .rib_pairs
                .map(|[a, b]| format!("{a}-{b}"))
                .unwrap_or_default(),
            ratio: settings
                .width_depth_ratio
                .map(|r| r.to_string())
                .unwrap_or_default(),
            absent: settings.absent_levels.join(", "),
            upper: settings.upper_instrumented.clone().unwrap_or_default(),
            lower: settings.lower_instrumented.clone().unwrap_or_default(),
            wrong: None,
        }
    }

    /// The settings as written; an emptied field is no choice any more.
    fn settings(&self) -> Result<Settings, String> {
        let some = |text: &str| {
            let text = text.trim().to_owned();
            (!text.is_empty()).then_some(text)
        };
        let mut start = self.settings.clone();
        start.rib_pairs = None;
        start.width_depth_ratio = None;
        start.upper_instrumented = None;
        start.lower_instrumented = None;
        let ratio = match some(&self.ratio) {
            None => None,
            Some(text) => Some(text.replace(',', ".").parse::<f64>().map_err(|_| {
                format!(
                    "the width/depth ratio \u{201c}{text}\u{201d} is no number; write it as 1.2"
                )
            })?),
        };
        Choices {
            rib_pairs: some(&self.ribs),
            width_depth_ratio: ratio,
            absent: Some(
                self.absent
                    .split(',')
                    .map(|l| l.trim().to_owned())
                    .collect(),
            ),
            upper_instrumented: some(&self.upper),
            lower_instrumented: some(&self.lower),
            ..Choices::default()
        }
        .applied_to(&start)
        .map_err(|e| e.to_string().replace("--", ""))
    }
}

const CAUSES: [(Cause, &str); 6] = [
    (Cause::Idiopathic, "idiopathic"),
    (Cause::Young, "ten years or younger, not congenital"),
    (Cause::Congenital, "congenital"),
    (Cause::Neuromuscular, "neuromuscular"),
    (Cause::Syndromic, "syndromic"),
    (Cause::Other, "other"),
];

/// One of several where there is always one.
fn one_of<T: Copy + PartialEq>(ui: &mut egui::Ui, name: &str, value: &mut T, all: &[(T, &str)]) {
    let id = ui.label(name).id;
    let text = all.iter().find(|a| a.0 == *value).map_or("", |a| a.1);
    egui::ComboBox::from_id_salt(name)
        .width(250.0)
        .selected_text(text)
        .show_ui(ui, |ui| {
            for (v, word) in all {
                ui.selectable_value(value, *v, *word);
            }
        })
        .response
        .labelled_by(id);
    ui.end_row();
}

impl App {
    /// Opens the form.
    pub(super) fn open_choices(&mut self) {
        if let Some(case) = &self.case {
            let case = case.case();
            self.choices = Some(ChoicesForm::of(case.cause, &case.settings, &self.reader));
            self.over = Some(super::app::Over::Choices);
        }
    }

    /// The form of the case.
    pub(super) fn choices_form(&mut self, ui: &mut egui::Ui) {
        let (Some(mut form), Some(case)) = (self.choices.take(), &self.case) else {
            return;
        };
        let readers: Vec<String> = case
            .case()
            .readers(None)
            .into_iter()
            .map(str::to_owned)
            .collect();
        ui.heading(&case.case().id);
        ui.add_space(6.0);
        egui::Grid::new("choices")
            .num_columns(2)
            .spacing([14.0, 7.0])
            .show(ui, |ui| {
                ui.label("Reader");
                ui.horizontal(|ui| {
                    let hint = egui::TextEdit::singleline(&mut form.reader).desired_width(120.0);
                    ui.add(hint)
                        .on_hover_text("Who marks now; a new name begins readings of its own");
                    for reader in &readers {
                        if ui.small_button(reader).clicked() {
                            form.reader.clone_from(reader);
                        }
                    }
                });
                ui.end_row();
                choice(
                    ui,
                    "Cause of the deformity",
                    "not stated",
                    &mut form.cause,
                    &CAUSES,
                );
                ui.end_row();
                let s = &mut form.settings;
                one_of(
                    ui,
                    "Apex",
                    &mut s.apex,
                    &[
                        (ApexRule::Farthest, "farthest toward the convexity"),
                        (ApexRule::MostLevel, "most level body or disc"),
                    ],
                );
                one_of(
                    ui,
                    "CSVL",
                    &mut s.csvl,
                    &[
                        (CsvlConstruction::Vertical, "vertical through S1"),
                        (
                            CsvlConstruction::IliacPerpendicular,
                            "perpendicular to the iliac crests",
                        ),
                    ],
                );
                one_of(
                    ui,
                    "Apical translation from",
                    &mut s.translation_reference,
                    &[
                        (
                            TranslationReference::ByRegion,
                            "C7 plumb, CSVL below T11/12",
                        ),
                        (TranslationReference::Csvl, "CSVL for every apex"),
                    ],
                );
                let methods = [
                    ObliquityMethod::Horizontal,
                    ObliquityMethod::Spine,
                    ObliquityMethod::SacralAla,
                    ObliquityMethod::LowestLumbar,
                ];
                one_of(
                    ui,
                    "Pelvic obliquity",
                    &mut s.pelvic_obliquity,
                    &methods.map(|m| (m, m.words())),
                );
                for (name, value) in [
                    ("Ribs of the spread, as 6-11", &mut form.ribs),
                    ("Pedicle width/depth ratio", &mut form.ratio),
                    ("Absent levels, as T12, L5", &mut form.absent),
                    ("Uppermost instrumented", &mut form.upper),
                    ("Lowest instrumented", &mut form.lower),
                ] {
                    field(ui, name, value);
                    ui.end_row();
                }
            });
        if let Some(wrong) = &form.wrong {
            ui.colored_label(super::style::WARN, wrong);
        }
        ui.add_space(6.0);
        let mut keep = true;
        ui.horizontal(|ui| {
            if ui.button("Apply").clicked() {
                match self.take_choices(&form) {
                    Ok(()) => keep = false,
                    Err(e) => form.wrong = Some(e),
                }
            }
            keep &= !ui.button("Cancel").clicked();
        });
        if keep {
            self.choices = Some(form);
        } else {
            self.over = None;
        }
    }

    fn take_choices(&mut self, form: &ChoicesForm) -> Result<(), String> {
        let settings = form.settings()?;
        let reader = form.reader.trim();
        if reader.is_empty() {
            return Err("the reader's name is empty; write a name or a letter".to_owned());
        }
        let Some(case) = &self.case else {
            return Ok(());
        };
        let (cause, old) = (case.case().cause, case.case().settings.clone());
        // One command each, and only for what changed: undo names it.
        let refused = |app: &App| app.notices.last().cloned().unwrap_or_default();
        if cause != form.cause && !self.send(&Command::SetCause(form.cause)) {
            return Err(refused(self));
        }
        if settings != old && !self.send(&Command::SetSettings(Box::new(settings))) {
            return Err(refused(self));
        }
        if reader != self.reader {
            self.reader = reader.to_owned();
            self.walk = None;
            self.chosen = None;
            self.notices = vec![format!("Reader {reader}: marks from now on are theirs")];
        }
        Ok(())
    }
}
