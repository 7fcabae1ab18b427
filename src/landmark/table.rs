//! The landmark table: CSV, UTF-8, header `film,landmark,point,x,y`.

use super::{Landmark, LandmarkSet};
use crate::units::FilmPx;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// What is wrong with a landmark table: the line and column (both from 1) and the fact.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("line {line}, column {column}: {fact}")]
pub struct TableError {
    /// Line of the file, the header being line 1.
    pub line: usize,
    /// The column's name.
    pub column: String,
    /// What is wrong and how to mend it.
    pub fact: String,
}

/// What a film allows: its size in pixels and which marks may stand on it.
#[derive(Clone, Copy, Debug)]
pub struct FilmBounds {
    /// Columns.
    pub columns: u32,
    /// Rows.
    pub rows: u32,
    /// `Some(true)` lateral, `Some(false)` coronal, `None` not known yet.
    pub lateral: Option<bool>,
}

/// One row of the table as written.
#[derive(Clone, Debug)]
pub struct TableRow<'a> {
    /// The film's id.
    pub film: &'a str,
    /// The marks to write.
    pub marks: &'a LandmarkSet,
}

/// Points of one name by their count, each with the line it stands on.
type Line = BTreeMap<usize, (FilmPx, usize)>;

const HEADER: [&str; 5] = ["film", "landmark", "point", "x", "y"];

/// Splits one CSV line; quoted cells may hold commas and doubled quotes.
fn cells(line: &str) -> Option<Vec<String>> {
    let mut out = Vec::new();
    let mut cell = String::new();
    let mut chars = line.chars().peekable();
    let mut quoted = false;
    while let Some(c) = chars.next() {
        match c {
            '"' if quoted && chars.peek() == Some(&'"') => {
                chars.next();
                cell.push('"');
            }
            '"' if quoted => quoted = false,
            '"' if cell.is_empty() => quoted = true,
            ',' if !quoted => out.push(std::mem::take(&mut cell)),
            c => cell.push(c),
        }
    }
    out.push(cell);
    (!quoted).then_some(out)
}

/// Reads a landmark table whole, or says where it is wrong.
///
/// `bounds` gives the size and view of a film by id, `None` when the case has no such film.
/// A column `quality` after `y` (as `refine` prints it) is accepted and ignored.
///
/// # Errors
/// The first unknown name, double name, mark outside the film, or cell that is no number,
/// with line and column. Nothing is imported then.
pub fn parse_table(
    text: &str,
    bounds: impl Fn(&str) -> Option<FilmBounds>,
) -> Result<BTreeMap<String, LandmarkSet>, TableError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut films: BTreeMap<String, BTreeMap<Landmark, Line>> = BTreeMap::new();
    let mut width = HEADER.len();
    let mut seen_header = false;
    for (number, raw) in text.lines().enumerate() {
        let line = number + 1;
        let err = |column: &str, fact: String| TableError {
            line,
            column: column.to_owned(),
            fact,
        };
        if raw.trim().is_empty() {
            continue;
        }
        let row =
            cells(raw).ok_or_else(|| err("film", "a quote is not closed; close it".to_owned()))?;
        let row: Vec<&str> = row.iter().map(|c| c.trim()).collect();
        if !seen_header {
            if row.len() < HEADER.len()
                || row[..HEADER.len()] != HEADER
                || (row.len() > 5 && row[5..] != ["quality"])
            {
                return Err(err(
                    "film",
                    "the header must read film,landmark,point,x,y".to_owned(),
                ));
            }
            width = row.len();
            seen_header = true;
            continue;
        }
        if row.len() != width {
            return Err(err(
                "film",
                format!(
                    "{} cells where the header has {width}; mend the row",
                    row.len()
                ),
            ));
        }
        let film = row[0];
        let bound = bounds(film).ok_or_else(|| {
            err(
                "film",
                format!("the case has no film \"{film}\"; add it or mend the id"),
            )
        })?;
        let name: Landmark = row[1].parse().map_err(|fact| err("landmark", fact))?;
        match bound.lateral {
            Some(true) if !name.on_lateral() => {
                return Err(err(
                    "landmark",
                    format!("{name} is no mark of a lateral film and \"{film}\" is one"),
                ));
            }
            Some(false) if !name.on_coronal() => {
                return Err(err(
                    "landmark",
                    format!("{name} is no mark of a coronal film and \"{film}\" is one"),
                ));
            }
            _ => {}
        }
        let point: usize = row[2].parse().map_err(|_| {
            err(
                "point",
                format!("\"{}\" is no count; write 0 for a single mark", row[2]),
            )
        })?;
        if point > 0 && !name.may_be_line() {
            return Err(err(
                "point",
                format!("{name} is a single mark; its point is 0"),
            ));
        }
        let number = |column: usize, limit: u32| -> Result<f64, TableError> {
            let cell = row[column];
            let value: f64 = cell
                .parse()
                .ok()
                .filter(|v: &f64| v.is_finite())
                .ok_or_else(|| {
                    err(
                        HEADER[column],
                        format!("\"{cell}\" is no number; write film pixels"),
                    )
                })?;
            if value < 0.0 || value > f64::from(limit) {
                return Err(err(
                    HEADER[column],
                    format!(
                        "{value} lies outside the film \"{film}\" (0 to {limit}); mend the coordinate"
                    ),
                ));
            }
            Ok(value)
        };
        let at = FilmPx::new(number(3, bound.columns)?, number(4, bound.rows)?);
        let points = films
            .entry(film.to_owned())
            .or_default()
            .entry(name)
            .or_default();
        if points.insert(point, (at, line)).is_some() {
            return Err(err(
                "landmark",
                format!("{name} point {point} of film \"{film}\" stands twice; keep one"),
            ));
        }
    }
    if !seen_header {
        return Err(TableError {
            line: 1,
            column: "film".to_owned(),
            fact: "the file is empty; the header must read film,landmark,point,x,y".to_owned(),
        });
    }
    for marks in films.values() {
        for (name, points) in marks {
            if let Some((position, (_, (_, line)))) = points
                .iter()
                .enumerate()
                .find(|(position, (point, _))| *position != **point)
            {
                return Err(TableError {
                    line: *line,
                    column: "point".to_owned(),
                    fact: format!("{name} jumps over point {position}; count from 0 without gaps"),
                });
            }
        }
    }
    Ok(films
        .into_iter()
        .map(|(film, marks)| {
            let set = marks
                .into_iter()
                .map(|(n, p)| (n, p.into_values().map(|v| v.0).collect()))
                .collect();
            (film, set)
        })
        .collect())
}

/// Writes a landmark table with full precision.
#[must_use]
pub fn write_table(rows: &[TableRow<'_>]) -> String {
    let mut out = HEADER.join(",") + "\n";
    for row in rows {
        let film = if row.film.contains([',', '"']) {
            format!("\"{}\"", row.film.replace('"', "\"\""))
        } else {
            row.film.to_owned()
        };
        for (name, points) in row.marks.iter() {
            for (index, p) in points.iter().enumerate() {
                let _ = writeln!(out, "{film},{name},{index},{},{}", p.x, p.y);
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bounds(film: &str) -> Option<FilmBounds> {
        (film == "f1").then_some(FilmBounds {
            columns: 100,
            rows: 200,
            lateral: Some(false),
        })
    }

    fn fault(text: &str) -> (usize, String) {
        match parse_table(text, bounds) {
            Ok(_) => (0, String::new()),
            Err(e) => (e.line, e.column),
        }
    }

    #[test]
    fn a_table_reads_back_exactly() {
        let text = "film,landmark,point,x,y\nf1,T5.upper.left,0,10.25,20.125\nf1,rib7.left,0,1,2\nf1,rib7.left,1,3,4\n";
        let read = parse_table(text, bounds).unwrap_or_default();
        let rows: Vec<TableRow<'_>> = read
            .iter()
            .map(|(film, marks)| TableRow { film, marks })
            .collect();
        assert_eq!(write_table(&rows), text);
    }

    #[test]
    fn faults_are_named_by_line_and_column() {
        let h = "film,landmark,point,x,y\n";
        assert_eq!(
            fault(&format!("{h}f2,T5.upper.left,0,1,2")),
            (2, "film".into())
        );
        assert_eq!(
            fault(&format!("{h}f1,T5.upper.leftt,0,1,2")),
            (2, "landmark".into())
        );
        assert_eq!(
            fault(&format!("{h}f1,T5.upper.anterior,0,1,2")),
            (2, "landmark".into())
        );
        assert_eq!(
            fault(&format!("{h}f1,T5.upper.left,1,1,2")),
            (2, "point".into())
        );
        assert_eq!(
            fault(&format!("{h}f1,T5.upper.left,0,NaN,2")),
            (2, "x".into())
        );
        assert_eq!(
            fault(&format!("{h}f1,T5.upper.left,0,1,200.5")),
            (2, "y".into())
        );
        assert_eq!(
            fault(&format!("{h}f1,metal,0,1,2\nf1,metal,2,1,2")),
            (3, "point".into())
        );
        assert_eq!(
            fault(&format!(
                "{h}f1,T5.upper.left,0,1,2\nf1,T5.upper.left,0,1,3"
            )),
            (3, "landmark".into())
        );
        assert_eq!(fault("film,x\n"), (1, "film".into()));
    }
}
