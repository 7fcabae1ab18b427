//! The film helps: marks carried, proposed, accepted, and refined as they are placed.

use super::app::App;
use crate::landmark::{Landmark, LandmarkSet, spoken};
use crate::units::FilmPx;
use crate::workbench::{Command, Proposal, Refusal};

impl App {
    /// Proposes the marks of the film then on the film now.
    pub(super) fn carry_then_to_now(&mut self) {
        let (Some(case), Some(then), Some(now)) = (&self.case, &self.shown[0], &self.shown[1])
        else {
            self.notices = vec!["Carrying needs a film then and a film now".to_owned()];
            return;
        };
        let found = case.carry(then, now, Some(&self.reader), &[]);
        self.take_proposal(found);
    }

    /// Proposes every level between what is marked of the spine's ends.
    pub(super) fn propose_now(&mut self) {
        let (Some(case), Some(now)) = (&self.case, &self.shown[1]) else {
            return;
        };
        let found = case.propose(now, Some(&self.reader), &[]);
        self.take_proposal(found);
    }

    fn take_proposal(&mut self, found: Result<Proposal, Refusal>) {
        match found {
            Ok(found) => {
                if self.send(&found.command()) {
                    let first = "Hollow marks are proposals and count for nothing: A accepts them after a look, a drag accepts one";
                    self.notices = vec![first.to_owned()];
                    self.notices.extend(found.told.iter().cloned());
                    if !self.measuring {
                        self.set_measuring(true);
                    }
                }
            }
            Err(e) => self.notices = vec![e.to_string()],
        }
    }

    /// Accepts the chosen proposed mark, or all proposals of the film now.
    pub(super) fn accept_proposals(&mut self) {
        let Some(film) = self.now().map(str::to_owned) else {
            return;
        };
        let proposed = |name: Landmark| {
            self.reading(&film)
                .is_some_and(|r| r.proposed.contains(&name))
        };
        let chosen = self.chosen.map(|c| c.0).filter(|name| proposed(*name));
        let sent = self.send(&Command::Accept {
            film: film.clone(),
            reader: self.reader.clone(),
            names: chosen.map(|name| vec![name]),
        });
        if sent && let Some(name) = chosen {
            self.notices = vec![format!("Accepted: {}", spoken(name))];
        }
    }

    /// The marks to place when a plate's end is let go: both ends refined when the reader wants that and
    /// the film shows the plate; else the mark as it is.
    pub(super) fn refined_on_release(
        &self,
        film: &str,
        name: Landmark,
        points: Vec<FilmPx>,
    ) -> Vec<(Landmark, Vec<FilmPx>)> {
        let as_it_is = vec![(name, points.clone())];
        let (true, Landmark::Plate(level, edge, _), Some(case)) =
            (self.auto_refine, name, &self.case)
        else {
            return as_it_is;
        };
        let mut marks = self
            .reading(film)
            .map_or_else(LandmarkSet::new, |r| r.accepted());
        marks.place_line(name, points);
        // The film is shown, so it need not be read again.
        let shown = self.pictures.get(film).map(|p| &p.film);
        let Ok(found) = case.refine_marks(film, &self.reader, marks, shown) else {
            return as_it_is;
        };
        let plate = found
            .plates()
            .iter()
            .find(|p| p.level == level && p.edge == edge && p.refined);
        match plate {
            Some(plate) => found
                .names(plate)
                .into_iter()
                .zip(plate.ends)
                .map(|(n, p)| (n, vec![p]))
                .collect(),
            None => as_it_is,
        }
    }
}
