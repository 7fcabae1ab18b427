//! Marking: walks, placing, moving, nudging.

use super::app::App;
use super::view::View;
use crate::landmark::{Landmark, Level, Levels, Walk, WalkKind, spoken};
use crate::units::FilmPx;
use crate::workbench::Command;
use eframe::egui::{Context, Key};

impl App {
    pub(super) fn set_measuring(&mut self, on: bool) {
        self.measuring = on;
        self.boxes.iter_mut().for_each(|b| b.view = None);
        if !on {
            self.walk = None;
            self.chosen = None;
            self.cross = None;
        }
    }

    /// End vertebrae and apical level of the main curve: of the film then (a week's film is marked
    /// at the levels of the one before), else of the film now, else the usual ones.
    fn main_curve(&self) -> Option<(Levels, Level)> {
        let found = self.sheet.as_ref().and_then(|(_, s)| s.main_curve.as_ref());
        let usual = ("T5-T12".to_owned(), "T8".to_owned());
        let (levels, apex) = found.unwrap_or(&usual);
        let apex = apex.split('/').next()?;
        Some((levels.parse().ok()?, apex.parse().ok()?))
    }

    pub(super) fn start_walk(&mut self, kind: WalkKind) {
        let Some(id) = self.now().map(str::to_owned) else {
            return;
        };
        let lateral = self
            .record(&id)
            .and_then(|f| f.is_lateral())
            .unwrap_or(false);
        let Some((ends, apex)) = self.main_curve() else {
            return;
        };
        self.begin(Walk::new(kind, lateral, ends, apex));
    }

    /// Starts a walk at its first mark that is not placed.
    pub(super) fn begin(&mut self, mut walk: Walk) {
        if walk.steps.is_empty() {
            self.notices = vec![format!("{}: nothing to mark on this film", walk.name)];
            return;
        }
        if !self.measuring {
            self.set_measuring(true);
        }
        self.chosen = None;
        walk.forward(|name| self.placed(name));
        self.walk = Some(walk);
    }

    pub(super) fn placed(&self, name: Landmark) -> bool {
        self.now()
            .and_then(|id| self.reading(id))
            .is_some_and(|r| r.marks.has(name))
    }

    pub(super) fn skip(&mut self) {
        let placed: Vec<Landmark> = self.placed_of_walk();
        if let Some(walk) = &mut self.walk {
            walk.at += 1;
            walk.forward(|n| placed.contains(&n));
        }
    }

    /// Whether the walk under way asks for this mark.
    pub(super) fn in_walk(&self, name: Landmark) -> bool {
        self.walk.as_ref().is_some_and(|w| w.steps.contains(&name))
    }

    /// Whether the walk under way is about ribs.
    pub(super) fn walk_has_ribs(&self) -> bool {
        self.walk
            .as_ref()
            .is_some_and(|w| w.steps.iter().any(|s| matches!(s, Landmark::Rib(..))))
    }

    /// Whether a mark is drawn and can be taken hold of while marking: ribs only when asked for,
    /// for they lie over the plates.
    pub(super) fn at_hand(&self, name: Landmark) -> bool {
        !matches!(name, Landmark::Rib(..) | Landmark::Metal) || self.walk_has_ribs()
    }

    fn placed_of_walk(&self) -> Vec<Landmark> {
        let steps = self.walk.as_ref().map_or(Vec::new(), |w| w.steps.clone());
        steps.into_iter().filter(|n| self.placed(*n)).collect()
    }

    pub(super) fn back(&mut self) {
        if let Some(walk) = &mut self.walk {
            walk.at = walk.at.min(walk.steps.len()).saturating_sub(1);
            // The mark gone back to is chosen if it stands, so that it can be moved.
            let name = walk.steps[walk.at];
            self.chosen = self.placed(name).then_some((name, 0));
        }
    }

    /// Escape: first the chosen mark, then the walk, then the mode.
    pub(super) fn step_back(&mut self) {
        if self.over.take().is_some() {
            self.form = None;
        } else if self.chosen.take().is_some() || self.walk.take().is_some() {
        } else if self.measuring {
            self.set_measuring(false);
        }
    }

    /// Places the next mark of the walk.
    pub(super) fn place(&mut self, at: FilmPx) {
        let Some(name) = self.walk.as_ref().and_then(Walk::next) else {
            self.notices = vec!["Choose a walk first: what to mark".to_owned()];
            return;
        };
        if self.put(name, 0, at) {
            self.chosen = Some((name, 0));
            if let Some(walk) = &mut self.walk {
                walk.at += 1;
            }
            let placed = self.placed_of_walk();
            if let Some(walk) = &mut self.walk {
                walk.forward(|n| placed.contains(&n));
            }
        }
    }

    /// Puts a point of a mark somewhere: one command.
    pub(super) fn put(&mut self, name: Landmark, index: usize, at: FilmPx) -> bool {
        let Some(film) = self.now().map(str::to_owned) else {
            return false;
        };
        let mut points = self
            .reading(&film)
            .map_or(Vec::new(), |r| r.marks.points(name).to_vec());
        match points.get_mut(index) {
            Some(point) => *point = at,
            None => points.push(at),
        }
        let marks = self.refined_on_release(&film, name, points);
        let sent = self.send(&Command::PlaceMarks {
            film: film.clone(),
            reader: self.reader.clone(),
            marks,
        });
        if sent {
            self.say_what_is_out_of_place(&film);
        }
        sent
    }

    /// Refines the end-plates of the film now: one command, undone as one.
    pub(super) fn refine_now(&mut self) {
        let (Some(case), Some(film)) = (&self.case, self.now().map(str::to_owned)) else {
            return;
        };
        match case.refine(&film, Some(&self.reader), None) {
            Ok(found) => {
                let (moved, all) = found.counts();
                if moved > 0 && self.send(&found.command()) {
                    self.notices = vec![format!(
                        "{moved} of {all} end-plates refined; the others stand where you put them. Levels are yours to check."
                    )];
                    self.notices.extend(found.told());
                    self.say_what_is_out_of_place(&film);
                } else if moved == 0 {
                    self.notices =
                        vec!["No end-plate is distinct enough: nothing was moved".to_owned()];
                }
            }
            Err(e) => self.notices = vec![e.to_string()],
        }
    }

    fn say_what_is_out_of_place(&mut self, film: &str) {
        let said = self
            .case
            .as_ref()
            .map_or(Vec::new(), |c| c.out_of_place(film, &self.reader));
        self.notices.extend(said);
    }

    pub(super) fn delete_chosen(&mut self) {
        let (Some((name, _)), Some(film)) = (self.chosen, self.now().map(str::to_owned)) else {
            return;
        };
        if self.send(&Command::PlaceMarks {
            film,
            reader: self.reader.clone(),
            marks: vec![(name, Vec::new())],
        }) {
            self.notices = vec![format!("Deleted: {}", spoken(name))];
            self.chosen = None;
        }
    }

    /// Arrow keys: a quarter pixel of the chosen mark, or the cross for placing.
    pub(super) fn arrow_keys(&mut self, ctx: &Context) {
        if !self.measuring || self.over.is_some() {
            return;
        }
        let (dx, dy, fast) = ctx.input(|i| {
            let pressed = |k: Key| f64::from(u8::from(i.key_pressed(k)));
            (
                pressed(Key::ArrowRight) - pressed(Key::ArrowLeft),
                pressed(Key::ArrowDown) - pressed(Key::ArrowUp),
                i.modifiers.shift,
            )
        });
        if dx == 0.0 && dy == 0.0 {
            return;
        }
        let many = if fast { 20.0 } else { 1.0 };
        let crossing = self.walk.as_ref().is_some_and(|w| w.next().is_some())
            && self.cross.is_some()
            || self.chosen.is_none();
        if crossing {
            let start = self.cross.or(self.boxes[1].view.as_ref().map(View::middle));
            self.cross = start.map(|c| self.moved(c, dx * many, dy * many));
        } else if let Some((name, index)) = self.chosen {
            let at = self
                .now()
                .and_then(|id| self.reading(id))
                .and_then(|r| r.marks.points(name).get(index).copied());
            if let Some(p) = at {
                let step = 0.25 * many;
                self.put(name, index, self.moved(p, dx * step, dy * step));
            }
        }
    }

    /// A place of the film now moved as its box shows it.
    fn moved(&self, p: FilmPx, dx: f64, dy: f64) -> FilmPx {
        let view = self.boxes[1].view.as_ref();
        view.map_or(FilmPx::new(p.x + dx, p.y + dy), |v| v.moved(p, dx, dy))
    }
}
