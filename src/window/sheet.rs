//! The reading sheet: a sentence per measure, then and now.

use super::app::App;
use super::style;
use crate::overlay::Walk;
use crate::report::{rounding, words};
use crate::workbench::Row;
use crate::workbench::{CompareOptions, LevelPolicy, MeasureOptions, compare_table};
use eframe::egui::{self, Align, Context, Layout, RichText};

/// A line of the sheet.
#[derive(Clone, Debug, Default)]
pub struct SheetLine {
    pub key: String,
    pub curve: Option<String>,
    pub name: String,
    pub then: String,
    pub now: String,
    pub change: String,
    pub verdict: Option<bool>,
    pub needs: Vec<String>,
    pub note: String,
}

/// The sheet and the course of each measure.
#[derive(Clone, Debug, Default)]
pub struct Sheet {
    pub lines: Vec<SheetLine>,
    pub rows: Vec<Row>,
    /// Levels and apex of the main curve of the film now.
    pub main_curve: Option<(String, String)>,
    pub why_not: Option<String>,
    pub notes: Vec<String>,
}

/// The change in words; of a signed value it is its size that is more or less.
fn change_in_words(change: f64, then: Option<f64>, row: &Row) -> String {
    let size = rounding::value(change.abs(), row.unit);
    let sign = rounding::unit_sign(row.unit);
    if size.bytes().all(|b| b == b'0' || b == b'.') {
        return "no change".to_owned();
    }
    match (then, row.value) {
        (Some(a), Some(b)) if a * b < 0.0 => format!("{size}{sign}, other way"),
        (Some(a), Some(b)) if b.abs() < a.abs() => format!("{size}{sign} less"),
        _ => format!("{size}{sign} more"),
    }
}

fn line_of(row: &Row, base: Option<&Row>) -> SheetLine {
    let shown = |r: &Row| match (r.value, r.measure) {
        (_, "apex") => r.levels.clone().unwrap_or_default(),
        (Some(v), _) => rounding::with_sd(v, r.sd, r.unit),
        _ => "—".to_owned(),
    };
    let mut name = words::measure(row.measure);
    if let Some(curve) = &row.curve {
        name = format!("{name}, {}", words::curve(curve).to_lowercase());
        if row.measure == "cobb"
            && let Some(levels) = &row.levels
        {
            name = format!("{name} {levels}");
        }
    } else if words::shows_levels(row.measure)
        && let Some(levels) = &row.levels
    {
        name = format!("{name} {levels}");
    }
    if let Some(side) = row.side {
        name = format!("{name}, {}", side.word());
    }
    let mut note = Vec::new();
    note.extend(row.levels.clone().filter(|_| row.measure == "cobb"));
    note.extend(row.toward.map(|t| format!("toward {}", t.word())));
    note.extend(row.reference.as_ref().map(|r| format!("from {r}")));
    note.extend(row.method.clone());
    note.extend(row.note.clone());
    if let (Some(e), Some(source)) = (row.error, &row.error_source) {
        note.push(format!(
            "error {} ({source})",
            rounding::with_sd(e, None, row.unit)
        ));
    }
    SheetLine {
        key: row.measure.to_owned(),
        curve: row.curve.clone(),
        name,
        then: base.map_or_else(|| "—".to_owned(), shown),
        now: shown(row),
        change: row
            .change
            .map(|c| change_in_words(c, base.and_then(|b| b.value), row))
            .unwrap_or_default(),
        verdict: row.beyond_error.filter(|_| row.change.is_some()),
        needs: row.needs.clone(),
        note: note.join(" · "),
    }
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
            .filter(|t| self.reading(t).is_some_and(|r| !r.marks.is_empty()));
        let options = CompareOptions {
            baseline: then.or(Some(now)).map(str::to_owned),
            levels: LevelPolicy::Fixed,
            reader: Some(self.reader.clone()),
        };
        match case.compare(&options) {
            Ok(comparison) => {
                let of = |film: &str| -> Vec<&Row> {
                    comparison.rows.iter().filter(|r| r.film == film).collect()
                };
                let base = then.map_or(Vec::new(), of);
                for row in of(now) {
                    let minor = row.measure == "rib_spacing"
                        || row.measure == "apex"
                        || row.measure == "apical_translation"
                            && row.curve.as_deref() != Some("main");
                    if minor || row.status == crate::workbench::Status::NotApplicable {
                        continue;
                    }
                    let before = base.iter().find(|b| {
                        b.measure == row.measure
                            && b.curve == row.curve
                            && b.side == row.side
                            && (b.levels == row.levels
                                || row.curve.is_some()
                                || row.measure == "kyphosis_max")
                    });
                    let mut line = line_of(row, before.copied());
                    if then.is_none() {
                        line.change.clear();
                        line.verdict = None;
                    }
                    if row.value.is_some() || row.measure == "apex" || !row.needs.is_empty() {
                        sheet.lines.push(line);
                    }
                }
                sheet.notes = comparison.notes.clone();
                sheet.rows = comparison.rows;
            }
            Err(e) => sheet.why_not = Some(e.to_string()),
        }
        let measured = case.measure(&MeasureOptions {
            film: Some(now.to_owned()),
            reader: Some(self.reader.clone()),
            ends: Vec::new(),
        });
        let results: Vec<_> = measured
            .unwrap_or_else(|_| Vec::new())
            .into_iter()
            .flat_map(|f| f.results)
            .collect();
        let of_main = |key: &str| {
            results
                .iter()
                .find(|r| r.key == key && r.curve.as_deref() == Some("main"))
                .and_then(|r| r.levels.clone())
        };
        sheet.main_curve = of_main("cobb").zip(of_main("apex"));
        if sheet.lines.is_empty() {
            sheet.lines = results
                .iter()
                .filter(|r| r.status == crate::workbench::Status::Missing && !r.needs.is_empty())
                .map(|r| SheetLine {
                    key: r.key.to_owned(),
                    curve: r.curve.clone(),
                    name: words::measure(r.key),
                    then: "—".to_owned(),
                    now: "—".to_owned(),
                    needs: r.needs.clone(),
                    ..SheetLine::default()
                })
                .collect();
            sheet.lines.dedup_by(|a, b| a.name == b.name);
        }
        sheet
    }

    pub(super) fn copy_table(&mut self, ctx: &Context) {
        let Some(case) = &self.case else { return };
        match case.compare(&CompareOptions::default()) {
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
                let id = |k: usize| self.shown[k].clone().unwrap_or_else(|| "—".to_owned());
                ui.horizontal(|ui| {
                    ui.add_space(10.0);
                    ui.colored_label(style::hue(0, dark), format!("then {}", id(0)));
                    ui.colored_label(style::hue(1, dark), format!("now {}", id(1)));
                    ui.weak("change");
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
                            let title = RichText::new(&line.name);
                            let label = ui.selectable_label(on, title);
                            ui.horizontal(|ui| {
                                ui.add_space(10.0);
                                ui.allocate_ui_with_layout(
                                    egui::vec2(70.0, 18.0),
                                    Layout::right_to_left(Align::Center),
                                    |ui| {
                                        ui.colored_label(style::hue(0, dark), &line.then);
                                    },
                                );
                                ui.allocate_ui_with_layout(
                                    egui::vec2(78.0, 18.0),
                                    Layout::right_to_left(Align::Center),
                                    |ui| {
                                        ui.colored_label(style::hue(1, dark), &line.now);
                                    },
                                );
                                ui.add_space(6.0);
                                ui.label(&line.change).on_hover_text(&line.note);
                                match line.verdict {
                                    Some(true) => ui.strong("beyond"),
                                    Some(false) => ui.weak("within"),
                                    None => ui.label(""),
                                };
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
