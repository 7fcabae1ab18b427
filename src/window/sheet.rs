//! The reading sheet: a sentence per measure, then and now.

use super::app::App;
use super::style;
use crate::landmark::Walk;
use crate::report::{ReadingLine, reading_line, words};
use crate::workbench::{
    CompareOptions, LevelPolicy, MeasureOptions, Measured, Row, Status, compare_cells,
    compare_table,
};
use eframe::egui::{self, Align, Context, Layout, RichText};

/// The sheet and the course of each measure.
#[derive(Clone, Debug, Default)]
pub struct Sheet {
    pub lines: Vec<ReadingLine>,
    pub rows: Vec<Row>,
    /// Levels and apex of the main curve of the film then, or now.
    pub main_curve: Option<(String, String)>,
    pub why_not: Option<String>,
    pub notes: Vec<String>,
    /// Films of the course worth setting between then and now.
    pub milestones: Vec<String>,
}

impl App {
    /// The sheet of the two films, worked out anew only when something changed.
    pub(super) fn fresh_sheet(&mut self) {
        let stamp = self.stamp();
        if self.sheet.as_ref().is_some_and(|(s, _)| *s == stamp) {
            return;
        }
        let sheet = self.make_sheet();
        self.sheet = Some((stamp, sheet));
    }

    pub(super) fn stamp(&self) -> u64 {
        use std::hash::{DefaultHasher, Hash, Hasher};
        let mut hasher = DefaultHasher::new();
        (self.revision, &self.shown, &self.reader).hash(&mut hasher);
        hasher.finish()
    }

    fn make_sheet(&self) -> Sheet {
        let mut sheet = Sheet::default();
        let (Some(case), Some(now)) = (&self.case, self.now()) else {
            return sheet;
        };
        let then = self.shown[0]
            .as_deref()
            .filter(|t| self.reading(t).is_some_and(|r| !r.accepted().is_empty()));
        let options = CompareOptions {
            baseline: then.or(Some(now)).map(str::to_owned),
            levels: LevelPolicy::Fixed,
            reader: Some(self.reader.clone()),
        };
        match case.compare(&options) {
            Ok(comparison) => {
                for row in comparison.rows.iter().filter(|r| r.film == now) {
                    // Single ribs and secondary curves' apices are in the tables; here they would
                    // bury what matters.
                    let minor = matches!(row.measure, "rib_spacing" | "rotation_grade" | "apex")
                        || row.measure == "apical_translation"
                            && row.curve.as_deref() != Some("main");
                    if minor || row.value.is_none() && row.needs.is_empty() {
                        continue;
                    }
                    let mut line = reading_line(row);
                    if then.is_none() {
                        line.then = "—".to_owned();
                        line.change.clear();
                        line.beyond = None;
                    }
                    sheet.lines.push(line);
                }
                sheet.notes = comparison.notes.clone();
                let planes = [
                    Some(&comparison.milestones),
                    comparison.other_milestones.as_ref(),
                ];
                sheet.milestones = planes
                    .into_iter()
                    .flatten()
                    .flat_map(|m| [&m.best_traction, &m.after_fusion])
                    .flatten()
                    .cloned()
                    .collect();
                sheet.rows = comparison.rows;
            }
            Err(e) => sheet.why_not = Some(e.to_string()),
        }
        let films_of = |film: &str| {
            let options = MeasureOptions {
                film: Some(film.to_owned()),
                reader: Some(self.reader.clone()),
                ends: Vec::new(),
            };
            case.measure(&options).unwrap_or_else(|_| Vec::new())
        };
        let results_of = |film: &str| -> Vec<Measured> {
            films_of(film).into_iter().flat_map(|f| f.results).collect()
        };
        for film in films_of(now) {
            sheet.notes.extend(film.cautions);
            if film.results.iter().any(|r| r.sd.is_some()) {
                let source = film.placement;
                sheet.notes.push(format!(
                    "± one SD from the placement of the marks, {source}"
                ));
            }
        }
        sheet.main_curve = then.into_iter().chain([now]).find_map(|film| {
            let results = results_of(film);
            let of_main = |key: &str| {
                results
                    .iter()
                    .find(|r| r.key == key && r.curve.as_deref() == Some("main"))
                    .and_then(|r| r.levels.clone())
            };
            of_main("cobb").zip(of_main("apex"))
        });
        if sheet.lines.is_empty() {
            sheet.lines = results_of(now)
                .iter()
                .filter(|r| r.status == Status::Missing && !r.needs.is_empty())
                .map(|r| ReadingLine {
                    key: r.key.to_owned(),
                    curve: r.curve.clone(),
                    name: words::measure(r.key),
                    then: "—".to_owned(),
                    now: "—".to_owned(),
                    needs: r.needs.clone(),
                    ..ReadingLine::default()
                })
                .collect();
            sheet.lines.dedup_by(|a, b| a.name == b.name);
        }
        sheet
    }

    /// Puts the comparison on the clipboard: as text for people, or as cells for a spreadsheet.
    pub(super) fn copy_comparison(&mut self, ctx: &Context, cells: bool) {
        let Some(case) = &self.case else { return };
        let options = CompareOptions {
            reader: Some(self.reader.clone()),
            ..CompareOptions::default()
        };
        match case.compare(&options) {
            Ok(c) if cells => {
                ctx.copy_text(compare_cells(&c));
                self.notices = vec!["The comparison is copied as cells".to_owned()];
            }
            Ok(c) => {
                ctx.copy_text(compare_table(&c));
                self.notices = vec!["The comparison is copied as text".to_owned()];
            }
            Err(e) => self.notices = vec![e.to_string()],
        }
    }

    /// The sheet at the right.
    pub(super) fn reading_sheet(&mut self, ui: &mut egui::Ui) {
        self.fresh_sheet();
        let Some((_, sheet)) = self.sheet.clone() else {
            return;
        };
        let dark = ui.visuals().dark_mode;
        let mut walk = None;
        let mut pointed = None;
        egui::ScrollArea::vertical()
            .id_salt("sheet")
            .auto_shrink(false)
            .show(ui, |ui| {
                let id = |k: usize| shortened(self.shown[k].as_deref().unwrap_or("—"));
                ui.horizontal(|ui| {
                    ui.colored_label(style::hue(0, dark), format!("then {}", id(0)));
                    ui.colored_label(style::hue(1, dark), format!("now {}", id(1)));
                    ui.weak("change");
                    let end = Layout::right_to_left(Align::Center);
                    ui.with_layout(end, |ui| {
                        ui.weak("error").on_hover_text(
                            "Whether the change is beyond or within measurement error; point at a measure for the figure and its source",
                        );
                    });
                });
                if let Some(why) = &sheet.why_not {
                    ui.weak(why);
                }
                let (full, empty): (Vec<_>, Vec<_>) =
                    sheet.lines.iter().partition(|l| l.now != "—");
                for line in full {
                    let lit = (line.key.clone(), line.curve.clone());
                    let on = self.lit == lit || self.pointed.as_ref() == Some(&lit);
                    let response = ui
                        .scope(|ui| {
                            ui.spacing_mut().item_spacing.x = 4.0;
                            let label = ui
                                .horizontal(|ui| {
                                    let title = RichText::new(&line.name).size(13.0);
                                    let label = ui.selectable_label(on, title);
                                    let end = Layout::right_to_left(Align::Center);
                                    ui.with_layout(end, |ui| match line.beyond {
                                        Some(true) => {
                                            ui.label(RichText::new("beyond").size(13.0).strong())
                                        }
                                        Some(false) => {
                                            ui.label(RichText::new("within").size(13.0).weak())
                                        }
                                        None => ui.label(""),
                                    });
                                    label
                                })
                                .inner;
                            ui.horizontal(|ui| {
                                ui.allocate_ui_with_layout(
                                    egui::vec2(80.0, 18.0),
                                    Layout::right_to_left(Align::Center),
                                    |ui| {
                                        ui.colored_label(style::hue(0, dark), &line.then);
                                    },
                                );
                                ui.allocate_ui_with_layout(
                                    egui::vec2(80.0, 18.0),
                                    Layout::right_to_left(Align::Center),
                                    |ui| {
                                        ui.colored_label(style::hue(1, dark), &line.now);
                                    },
                                );
                                ui.add_space(6.0);
                                ui.label(&line.change).on_hover_text(&line.note);
                            });
                            label
                        })
                        .inner;
                    if response.hovered() {
                        pointed = Some(lit.clone());
                    }
                    if response.clicked() {
                        self.lit = lit;
                    }
                    response.on_hover_text(&line.note);
                }
                if !empty.is_empty() {
                    ui.add_space(6.0);
                    ui.weak("Missing — press to mark");
                    for line in empty {
                        let text = format!("{}: {}", line.name, short(&line.needs));
                        let button = egui::Button::new(RichText::new(text).small())
                            .wrap()
                            .frame(false);
                        if ui
                            .add(button)
                            .on_hover_text(line.needs.join(", "))
                            .clicked()
                        {
                            walk = Some((line.name.clone(), line.needs.clone()));
                        }
                    }
                }
                for note in &sheet.notes {
                    ui.add_space(4.0);
                    ui.small(note);
                }
            });
        self.pointed = pointed;
        if let Some((name, needs)) = walk {
            let walk = Walk::of_needs(&name, &needs);
            if walk.steps.is_empty() {
                // What is missing is a fact, not a mark.
                let ctx = ui.ctx().clone();
                self.act(super::Action::Facts, &ctx);
            } else {
                self.begin(walk);
            }
        }
    }
}

fn short(needs: &[String]) -> String {
    match needs {
        [a, b, rest @ ..] if !rest.is_empty() => format!("needs {a}, {b} and {} more", rest.len()),
        _ => format!("needs {}", needs.join(", ")),
    }
}

/// A film's id where room is short; the films above have it whole.
fn shortened(id: &str) -> String {
    const MOST: usize = 6;
    if id.chars().count() <= MOST {
        return id.to_owned();
    }
    let (head, tail) = (MOST / 2, MOST - MOST / 2 - 1);
    let chars: Vec<char> = id.chars().collect();
    let end: String = chars[chars.len() - tail..].iter().collect();
    chars[..head].iter().collect::<String>() + "…" + &end
}
