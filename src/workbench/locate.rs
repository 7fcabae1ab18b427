//! The film helps: marks refined on its pixels.

use super::hints::check_size;
use super::operated::{looked_past, operated};
use super::results::film_scale;
use super::{Command, DEFAULT_READER, OpenCase, Refusal};
use crate::case::{Case, FilmRecord};
use crate::film::{Film, GreyPlane, density};
use crate::geometry::out_of_place;
use crate::landmark::{Landmark, LandmarkSet, Level, TableRow, parse_table, write_table};
use crate::locate::{Metal, Refined, Steps, THRESHOLD, bone_is_dark, refine_past};
use crate::series::best_reader;
use std::collections::BTreeMap;

/// Marks refined on a film. Nothing is stored until the command is applied.
#[derive(Clone, Debug)]
pub struct RefinedMarks {
    film: String,
    reader: String,
    marks: LandmarkSet,
    lateral: bool,
    plates: Vec<Refined>,
    dark: bool,
    metal: bool,
    contradicted: Vec<String>,
}

/// A marked film as it is looked at: bone bright, and what is known of metal on it.
pub(super) struct Shown {
    pub(super) plane: GreyPlane,
    /// Whether bone was taken for dark without the file saying so.
    pub(super) dark: bool,
    pub(super) metal: Option<Metal>,
}

/// A marked film with bone bright, as its file says, else as it looks about the marks.
pub(super) fn bone_bright(
    record: &FilmRecord,
    film: &Film,
    steps: Steps,
    marks: &LandmarkSet,
    lateral: bool,
) -> Shown {
    let plane = density(film);
    let dark = !film.grey.says_which && bone_is_dark(&plane, steps, marks, lateral);
    let plane = if dark { plane.negative() } else { plane };
    let metal = operated(record)
        .then(|| Metal::about(&plane, steps, marks))
        .flatten();
    Shown { plane, dark, metal }
}

/// Sentences on marks of a film that contradict one another or what is stated: out of place, at levels said to be absent.
pub(super) fn contradicted(case: &Case, film: &FilmRecord, marks: &LandmarkSet) -> Vec<String> {
    let id = &film.id;
    let frame = film.frame();
    let wrong = frame.map_or_else(Vec::new, |frame| out_of_place(&frame, marks));
    let mut out: Vec<String> = wrong.iter().map(|w| format!("{id}: {w}")).collect();
    let marked = |l: &Level| marks.iter().any(|m| m.0.level() == Some(*l));
    let levels = Level::all().filter(|l| case.settings.is_absent(*l) && marked(l));
    out.extend(levels.map(|l| {
        format!("{id}: {l} is marked, and the case says it is absent; correct one of them (`curvebench choose --absent`)")
    }));
    out
}

/// What is said of a film whose bone was taken for dark.
pub(super) fn taken_for_dark(film: &str) -> String {
    format!("{film}: its file does not say whether bone is bright; here it was taken for dark")
}

impl RefinedMarks {
    /// The names of a plate's two ends on this film.
    #[must_use]
    pub fn names(&self, plate: &Refined) -> [Landmark; 2] {
        Landmark::plate_ends(plate.level, plate.edge, self.lateral)
    }

    /// The plates.
    #[must_use]
    pub fn plates(&self) -> &[Refined] {
        &self.plates
    }

    /// What the refinement rests on besides the marks.
    #[must_use]
    pub fn told(&self) -> Vec<String> {
        let dark = self.dark.then(|| taken_for_dark(&self.film));
        let metal = self.metal.then(|| looked_past(&self.film));
        dark.into_iter().chain(metal).collect()
    }

    /// Which plates stay where they were, and marks that contradict one another or what is stated.
    #[must_use]
    pub fn doubts(&self) -> Vec<String> {
        let (stay, all) = (self.unrefined(), self.plates.len());
        let stay = (!stay.is_empty()).then(|| {
            format!(
                "{}: {} of {all} end-plates stay where they were, the film hardly shows them (quality below {THRESHOLD}): {}",
                self.film,
                stay.len(),
                stay.join(", ")
            )
        });
        let contradicted = self.contradicted.iter().cloned();
        stay.into_iter().chain(contradicted).collect()
    }

    /// The plates left where they were, as `T5 upper`.
    fn unrefined(&self) -> Vec<String> {
        let stay = self.plates.iter().filter(|p| !p.refined);
        stay.map(|p| format!("{} {}", p.level, p.edge)).collect()
    }

    /// How many plates were moved, of how many.
    #[must_use]
    pub fn counts(&self) -> (usize, usize) {
        let moved = self.plates.iter().filter(|p| p.refined).count();
        (moved, self.plates.len())
    }

    /// The command that keeps the refined marks in the reader's newest reading.
    #[must_use]
    pub fn command(&self) -> Command {
        let marks = self
            .plates
            .iter()
            .filter(|p| p.refined)
            .flat_map(|p| {
                let names = self.names(p);
                [(names[0], vec![p.ends[0]]), (names[1], vec![p.ends[1]])]
            })
            .collect();
        Command::PlaceMarks {
            film: self.film.clone(),
            reader: self.reader.clone(),
            marks,
        }
    }

    /// The landmark table of all marks given, refined ones moved, with a last column `quality`
    /// (0 to 1; empty for marks that are no end-plates, which keep their place).
    #[must_use]
    pub fn table(&self) -> String {
        quality_table(&self.film, self.marks.clone(), &self.plates, self.lateral)
    }
}

/// The landmark table of marks with the plates in their places and a last column `quality`.
pub(super) fn quality_table(
    film: &str,
    mut marks: LandmarkSet,
    plates: &[Refined],
    lateral: bool,
) -> String {
    let mut quality: BTreeMap<String, f64> = BTreeMap::new();
    for plate in plates {
        let names = Landmark::plate_ends(plate.level, plate.edge, lateral);
        for (name, end) in names.into_iter().zip(plate.ends) {
            // What was not moved stays to the last figure.
            if plate.refined || !marks.has(name) {
                marks.place(name, end);
            }
            quality.insert(name.to_string(), plate.quality);
        }
    }
    let table = write_table(&[TableRow {
        film,
        marks: &marks,
    }]);
    let mut out = String::new();
    for (n, line) in table.lines().enumerate() {
        let last = match line.split(',').nth(1) {
            Some(_) if n == 0 => "quality".to_owned(),
            Some(name) => quality.get(name).map(f64::to_string).unwrap_or_default(),
            None => String::new(),
        };
        out += &format!("{line},{last}\n");
    }
    out
}

impl OpenCase {
    /// Refines the end-plates of a film: those of a landmark table (its name and text), or of the
    /// reader's newest reading. Changes nothing.
    ///
    /// # Errors
    /// No such film or reader, a bad table, fewer than two complete end-plates, view unknown.
    pub fn refine(
        &self,
        film: &str,
        reader: Option<&str>,
        table: Option<(&str, &str)>,
    ) -> Result<RefinedMarks, Refusal> {
        self.film(film)?;
        let case = self.case();
        let reader = reader
            .map(str::to_owned)
            .or_else(|| best_reader(case))
            .unwrap_or_else(|| DEFAULT_READER.to_owned());
        let marks = match table {
            Some((name, text)) => parse_table(text, |id| case.film(id).map(|f| f.bounds()))
                .map_err(|e| Refusal::new(format!("{name}: {e}")))?
                .into_iter()
                .find(|(id, _)| id == film)
                .map(|(_, marks)| marks)
                .ok_or_else(|| Refusal::new(format!("{name}: has no mark of film \"{film}\"")))?,
            None => case
                .newest(film, &reader)
                .map(crate::case::Reading::accepted)
                .filter(|marks| !marks.is_empty())
                .ok_or_else(|| self.unmarked(film, &reader))?,
        };
        self.refine_marks(film, &reader, marks, None)
    }

    /// Refines these marks on a film, for a reader. `pixels` are the film's when they are at hand; else its
    /// file is read. Changes nothing.
    ///
    /// # Errors
    /// No such film, fewer than two complete end-plates, view unknown.
    pub fn refine_marks(
        &self,
        film: &str,
        reader: &str,
        marks: LandmarkSet,
        pixels: Option<&Film>,
    ) -> Result<RefinedMarks, Refusal> {
        let record = self.film(film)?;
        let unknown = || {
            Refusal::new(format!(
                "film \"{film}\": its view is unknown; state --view with `curvebench film`"
            ))
        };
        let lateral = record.is_lateral().ok_or_else(unknown)?;
        let scale = film_scale(record, &marks).ok_or_else(unknown)?;
        let steps = Steps {
            column: scale.column,
            row: scale.row,
        };
        check_size(record, steps)?;
        let shown = match pixels {
            Some(pixels) => bone_bright(record, pixels, steps, &marks, lateral),
            None => bone_bright(record, &self.load_film(film)?, steps, &marks, lateral),
        };
        let metal = shown.metal.as_ref();
        let plates = refine_past(&shown.plane, metal, steps, &marks, lateral);
        if plates.is_empty() {
            return Err(Refusal::new(format!(
                "film \"{film}\": refining needs at least two end-plates with both ends marked"
            )));
        }
        let contradicted = contradicted(self.case(), record, &marks);
        Ok(RefinedMarks {
            film: film.to_owned(),
            reader: reader.to_owned(),
            marks,
            lateral,
            plates,
            dark: shown.dark,
            metal: shown.metal.is_some(),
            contradicted,
        })
    }
}
