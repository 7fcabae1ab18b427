//! Results as CSV: one row per result, full precision, an empty cell for what is missing.

use super::FilmResults;
use crate::series::Comparison;

fn cell(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

fn text(value: Option<&str>) -> String {
    value.unwrap_or("").to_owned()
}

fn number(value: Option<f64>) -> String {
    value.map(|v| v.to_string()).unwrap_or_default()
}

fn flag(value: Option<bool>) -> String {
    value.map(|v| v.to_string()).unwrap_or_default()
}

fn line(cells: &[String]) -> String {
    let cells: Vec<String> = cells.iter().map(|c| cell(c)).collect();
    cells.join(",") + "\n"
}

/// `measure --format csv`.
#[must_use]
pub fn measure_csv(films: &[FilmResults]) -> String {
    let mut out = String::from(
        "film,reader,measure,curve,levels,value,unit,sd,toward,status,needs,reference,method,side,region,note\n",
    );
    for film in films {
        for m in &film.results {
            out += &line(&[
                String::from(&film.film),
                String::from(&film.reader),
                m.key.to_owned(),
                text(m.curve.as_deref()),
                text(m.levels.as_deref()),
                number(m.value.as_ref().map(|v| v.v)),
                m.unit.key().to_owned(),
                number(m.sd),
                text(m.toward.map(crate::units::Toward::word)),
                m.status.word().to_owned(),
                m.needs.join("; "),
                text(m.reference.as_deref()),
                text(m.method.as_deref()),
                text(m.side.map(crate::units::Side::word)),
                text(m.region.map(crate::measure::Region::word)),
                text(m.note.as_deref()),
            ]);
        }
    }
    out
}

/// The columns of a comparison's rows.
const COMPARE_COLUMNS: &str = "baseline,level_policy,cause,reader,measure,curve,levels,side,region,film,date,phase,value,unit,sd,toward,\
         status,needs,reference,method,change,change_sd,percent,share_of_total,error,error_source,beyond_error,\
         previous,change_from_previous,beyond_error_from_previous,note";

/// `compare --format csv`.
#[must_use]
pub fn compare_csv(c: &Comparison) -> String {
    let rows = compare_rows(c);
    let lines: String = rows.iter().map(|r| line(r)).collect();
    format!("{COMPARE_COLUMNS}\n{lines}")
}

/// The same rows for a spreadsheet's clipboard: cells apart by tabs.
#[must_use]
pub fn compare_cells(c: &Comparison) -> String {
    let mut out = COMPARE_COLUMNS.replace(',', "\t") + "\n";
    for row in compare_rows(c) {
        let row: Vec<String> = row.iter().map(|t| t.replace(['\t', '\n'], " ")).collect();
        out += &(row.join("\t") + "\n");
    }
    out
}

fn compare_rows(c: &Comparison) -> Vec<Vec<String>> {
    let mut out = Vec::new();
    for r in &c.rows {
        let lateral_base = c.other_baseline.as_deref().filter(|_| {
            let view = |id: &str| c.films.iter().find(|f| f.id == id).and_then(|f| f.view);
            view(&r.film).map(crate::film::View::is_coronal)
                != view(&c.baseline).map(crate::film::View::is_coronal)
        });
        out.push(vec![
            String::from(lateral_base.unwrap_or(&c.baseline)),
            c.levels.word().to_owned(),
            text(c.cause.map(crate::case::Cause::word)),
            String::from(&c.reader),
            r.measure.to_owned(),
            text(r.curve.as_deref()),
            text(r.levels.as_deref()),
            text(r.side.map(crate::units::Side::word)),
            text(r.region.map(crate::measure::Region::word)),
            String::from(&r.film),
            r.date.map(|d| d.to_string()).unwrap_or_default(),
            text(r.phase.map(crate::case::Phase::word)),
            number(r.value),
            r.unit.key().to_owned(),
            number(r.sd),
            text(r.toward.map(crate::units::Toward::word)),
            r.status.word().to_owned(),
            r.needs.join("; "),
            text(r.reference.as_deref()),
            text(r.method.as_deref()),
            number(r.change),
            number(r.change_sd),
            number(r.percent),
            number(r.share_of_total),
            number(r.error),
            text(r.error_source.as_deref()),
            flag(r.beyond_error),
            text(r.previous.as_deref()),
            number(r.change_from_previous),
            flag(r.beyond_error_from_previous),
            text(r.note.as_deref()),
        ]);
    }
    out
}
