//! Last film's marks carried to the next, or every level proposed between two hints.

use super::hints::{check, check_order, check_size};
use super::locate::{bone_bright, contradicted, quality_table, taken_for_dark};
use super::operated::{doubted, looked_past, operated};
use super::results::film_scale;
use super::{Command, DEFAULT_READER, OpenCase, Refusal};
use crate::case::FilmRecord;
use crate::film::{ImageEdge, density};
use crate::landmark::{Landmark, LandmarkSet, Level};
use crate::locate::{LayError, Pattern, Refined, Steps, THRESHOLD, Unmarked, lay};
use crate::series::best_reader;
use crate::units::FilmPx;

/// Likeness to the film before below which the reader is asked to look closely: films of other children that
/// are not refused mostly have less, those of the same child mostly more (docs/PERFORMANCE.md).
const LITTLE: f64 = 0.6;

/// Marks proposed for a film. Nothing is stored until the command is applied, and then as proposals.
#[derive(Clone, Debug)]
pub struct Proposal {
    film: String,
    reader: String,
    lateral: bool,
    plates: Vec<Refined>,
    /// What was used as hints, and what to look at.
    pub told: Vec<String>,
}

impl Proposal {
    /// The plates with their quality.
    #[must_use]
    pub fn plates(&self) -> &[Refined] {
        &self.plates
    }

    fn marks(&self) -> Vec<(Landmark, Vec<FilmPx>)> {
        self.plates
            .iter()
            .flat_map(|p| {
                let names = Landmark::plate_ends(p.level, p.edge, self.lateral);
                [(names[0], vec![p.ends[0]]), (names[1], vec![p.ends[1]])]
            })
            .collect()
    }

    /// The command that keeps them as proposals.
    #[must_use]
    pub fn command(&self) -> Command {
        Command::Propose {
            film: self.film.clone(),
            reader: self.reader.clone(),
            marks: self.marks(),
        }
    }

    /// The landmark table with a last column `quality`.
    #[must_use]
    pub fn table(&self) -> String {
        let marks: LandmarkSet = self.marks().into_iter().collect();
        quality_table(&self.film, marks, &self.plates, self.lateral)
    }
}

/// What carrying rests on: the film before and how alike the vertebrae are.
fn looked_for(film: &str, from: &str, alike: f64) -> String {
    if alike < LITTLE {
        format!(
            "{film}: its vertebrae are only {alike:.2} like those on {from} (1 is the same); look closely whether it is the same child and its side as stated, and at the levels"
        )
    } else {
        format!(
            "{film}: the spine was looked for by how its vertebrae look on {from}; they are {alike:.2} alike (1 is the same)"
        )
    }
}

/// How many of laid plates the film hardly shows, where there are such.
fn hardly_seen(plates: &[Refined]) -> String {
    let many = plates.iter().filter(|p| !p.refined).count();
    match many {
        0 => String::new(),
        _ => format!(", {many} of them hardly seen (quality below {THRESHOLD})"),
    }
}

/// What is needed of a film to lay marks on it.
struct Sheet<'c> {
    film: &'c FilmRecord,
    lateral: bool,
    /// +1 when a plate's first end lies on the left with the head up.
    hand: f64,
}

fn sheet(film: &FilmRecord) -> Result<Sheet<'_>, Refusal> {
    let lateral = film.is_lateral().ok_or_else(|| {
        Refusal::new(format!(
            "film \"{}\": its view is unknown; state --view with `curvebench film`",
            film.id
        ))
    })?;
    let side = film.side_on().ok_or_else(|| {
        let flag = if lateral {
            "--anterior-on"
        } else {
            "--left-on"
        };
        Refusal::new(format!(
            "film \"{}\": its side is unknown; state {flag} with `curvebench film`",
            film.id
        ))
    })?;
    // A plate's first end is the patient's left, or the back: opposite the front.
    let first_on_left = (side == ImageEdge::ImageLeft) != lateral;
    Ok(Sheet {
        film,
        lateral,
        hand: if first_on_left { 1.0 } else { -1.0 },
    })
}

impl OpenCase {
    pub(super) fn accepted(&self, film: &str, reader: &str) -> LandmarkSet {
        self.case()
            .newest(film, reader)
            .map(crate::case::Reading::accepted)
            .unwrap_or_default()
    }

    /// Why a film without accepted marks is of no use, and what to do.
    pub(super) fn unmarked(&self, film: &str, reader: &str) -> Refusal {
        let not = format!("film \"{film}\" is not marked by reader \"{reader}\"");
        Refusal::new(match self.unaccepted_on(film, reader) {
            0 => format!("{not}; mark it roughly first"),
            waiting => format!(
                "{not}: {waiting} marks are proposed and none accepted; look at them and accept them first (`curvebench accept`)"
            ),
        })
    }

    fn unaccepted_on(&self, film: &str, reader: &str) -> usize {
        let reading = self.case().newest(film, reader);
        reading.map_or(0, |r| r.proposed.len())
    }

    fn reader_or_best(&self, reader: Option<&str>) -> String {
        reader
            .map(str::to_owned)
            .or_else(|| best_reader(self.case()))
            .unwrap_or_else(|| DEFAULT_READER.to_owned())
    }

    /// Marks of film `from` carried to film `to`. Hints are those given and the plates and centres that
    /// the reader has marked on `to`; none is needed where the film shows the spine.
    ///
    /// # Errors
    /// No such film, different planes, `from` not marked, the side of either unknown, hints that cannot be, the
    /// spine not recognised.
    pub fn carry(
        &self,
        from: &str,
        to: &str,
        reader: Option<&str>,
        hints: &[(Landmark, FilmPx)],
    ) -> Result<Proposal, Refusal> {
        let reader = self.reader_or_best(reader);
        let (source, target) = (self.film(from)?, sheet(self.film(to)?)?);
        check(self.case(), target.film, hints)?;
        if source.is_lateral() != Some(target.lateral) {
            return Err(Refusal::new(format!(
                "film \"{from}\" and film \"{to}\" are of different planes; carry within one plane"
            )));
        }
        let source_hand = sheet(source)?.hand;
        let marks = self.accepted(from, &reader);
        if marks.is_empty() && self.unaccepted_on(from, &reader) > 0 {
            return Err(self.unmarked(from, &reader));
        }
        let steps = self.steps(source, &marks, None)?;
        check_size(source, steps)?;
        let pixels = self.load_film(from)?;
        let old = bone_bright(source, &pixels, steps, &marks, target.lateral);
        let plane = match &old.metal {
            Some(metal) => metal.taken_out(old.plane),
            None => old.plane,
        };
        let pattern = Pattern::of(&plane, &marks, target.lateral, steps).ok_or_else(|| {
            Refusal::new(format!(
                "film \"{from}\" has fewer than four end-plates marked by reader \"{reader}\"; mark them first, or use `curvebench propose`"
            ))
        })?;
        let (mut head, to_head) = (source.head_on().toward(), target.film.head_on().toward());
        let pattern = if source_hand * target.hand < 0.0 {
            head.0 = -head.0;
            pattern.mirrored()
        } else {
            pattern
        };
        let pattern = pattern.turned(head, to_head);
        let hints = self.hints(&target, &reader, hints, &pattern);
        let mut found = self.laid(&target, &reader, &pattern, &hints, Some(from))?;
        found.told.extend(old.dark.then(|| taken_for_dark(from)));
        found.told.extend(old.metal.map(|_| looked_past(from)));
        found.told.extend(contradicted(self.case(), source, &marks));
        Ok(found)
    }

    /// Every level between two hints proposed on a film, by the proportions of a usual spine without the
    /// levels the patient lacks. Marks of the reader count as hints.
    ///
    /// # Errors
    /// No such film, its side unknown, fewer than two hints, hints that cannot be.
    pub fn propose(
        &self,
        film: &str,
        reader: Option<&str>,
        hints: &[(Landmark, FilmPx)],
    ) -> Result<Proposal, Refusal> {
        let reader = self.reader_or_best(reader);
        let target = sheet(self.film(film)?)?;
        let lacks = |l: Level| self.case().settings.is_absent(l);
        check(self.case(), target.film, hints)?;
        let absent: Vec<Level> = Level::all().filter(|l| lacks(*l)).collect();
        let marks = self.accepted(film, &reader);
        let names = hints.iter().map(|h| h.0).chain(marks.iter().map(|m| m.0));
        let named: Vec<Level> = names.filter_map(Landmark::level).collect();
        let pattern = Pattern::usual(&absent, &named, target.lateral);
        let hints = self.hints(&target, &reader, hints, &pattern);
        let pattern = pattern.between(&hints);
        self.laid(&target, &reader, &pattern, &hints, None)
    }

    /// Hints given, and of the pattern the whole plates and the centres marked on the film where no hint names their
    /// level.
    fn hints(
        &self,
        target: &Sheet<'_>,
        reader: &str,
        given: &[(Landmark, FilmPx)],
        pattern: &Pattern,
    ) -> Vec<(Landmark, FilmPx)> {
        let mut out = given.to_vec();
        let marks = self.accepted(&target.film.id, reader);
        for (name, points) in marks.iter() {
            let whole = match name {
                Landmark::Plate(level, edge, _) => {
                    marks.plate(level, edge, target.lateral).is_some()
                }
                Landmark::Center(_) => true,
                _ => false,
            };
            let said = given.iter().any(|h| h.0.level() == name.level());
            if whole && !said && pattern.names(name) {
                out.push((name, points[0]));
            }
        }
        out
    }

    /// Millimetres per column and row; on a film without scale from the distance of two hints, which are
    /// taken as far apart as the pattern is long.
    fn steps(
        &self,
        film: &FilmRecord,
        marks: &LandmarkSet,
        by_hints: Option<f64>,
    ) -> Result<Steps, Refusal> {
        let scale = film_scale(film, marks).ok_or_else(|| {
            Refusal::new(format!(
                "film \"{}\": its view is unknown; state --view with `curvebench film`",
                film.id
            ))
        })?;
        let known = !matches!(scale.state, crate::geometry::ScaleState::None(_));
        let has_plates = marks.iter().any(|m| matches!(m.0, Landmark::Plate(..)));
        let k = match by_hints {
            Some(k) if !known => k,
            None if !known && !has_plates => {
                return Err(Refusal::new(format!(
                    "film \"{}\" has no scale; give two hints, as --hint C7.center=X,Y --hint S1.center=X,Y",
                    film.id
                )));
            }
            _ => 1.0,
        };
        Ok(Steps {
            column: scale.column * k,
            row: scale.row * k,
        })
    }

    fn laid(
        &self,
        target: &Sheet<'_>,
        reader: &str,
        pattern: &Pattern,
        hints: &[(Landmark, FilmPx)],
        from: Option<&str>,
    ) -> Result<Proposal, Refusal> {
        let id = &target.film.id;
        check_order(target.film, hints)?;
        let refuse = |e: LayError| {
            let mend = match e {
                LayError::Hint(_) => "hint a level of it",
                LayError::Together(..) | LayError::Apart(..) => "correct one",
                LayError::Ends | LayError::Unlike => {
                    "give --hint NAME=X,Y, or mark them in the window"
                }
            };
            Refusal::new(format!("film \"{id}\": {e}; {mend}"))
        };
        // A length known on the film; its plates' widths are what is looked for.
        let marks = self.accepted(id, reader);
        let known = marks.iter().filter(|m| matches!(m.0, Landmark::Scale(_)));
        let known: LandmarkSet = known.map(|(n, p)| (n, p.to_vec())).collect();
        let rough = self.steps(target.film, &known, Some(1.0))?;
        let stretch = pattern.stretch(hints, rough);
        let steps = self.steps(target.film, &known, stretch)?;
        check_size(target.film, steps)?;
        let pixels = self.load_film(id)?;
        let plane = density(&pixels);
        let film = Unmarked {
            either: !pixels.grey.says_which,
            past_metal: operated(target.film),
            ..Unmarked::of(&plane, steps, target.hand)
        };
        let laid = lay(film, pattern, hints).map_err(refuse)?;
        let mut told: Vec<String> = from
            .zip(laid.alike)
            .map(|(from, alike)| looked_for(id, from, alike))
            .into_iter()
            .collect();
        let mut plates = laid.plates;
        let size = target.film.bounds();
        let inside = |p: &FilmPx| {
            (0.0..=f64::from(size.columns)).contains(&p.x)
                && (0.0..=f64::from(size.rows)).contains(&p.y)
        };
        plates.retain(|p| p.ends.iter().all(inside));
        if plates.is_empty() {
            return Err(Refusal::new(format!(
                "film \"{id}\": no end-plate was found where the hints put the spine; correct the hints"
            )));
        }
        let unseen = hardly_seen(&plates);
        told.extend(doubted(
            &mut plates,
            &self.case().settings,
            target.film,
            laid.metal.as_ref(),
        ));
        told.push(format!(
            "{id}: {} end-plates proposed{}; levels are yours to check, nothing counts until accepted",
            plates.len(),
            unseen
        ));
        told.extend(laid.dark.then(|| taken_for_dark(id)));
        Ok(Proposal {
            film: id.clone(),
            reader: reader.to_owned(),
            lateral: target.lateral,
            plates,
            told,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::looked_for;

    #[test]
    fn little_likeness_is_said() {
        let told = looked_for("pa-2", "pa-1", 0.714);
        assert!(told.contains("vertebrae look on pa-1; they are 0.71 alike"));
        assert!(looked_for("pa-2", "pa-1", 0.55).contains("only 0.55 like those on pa-1"));
    }
}
