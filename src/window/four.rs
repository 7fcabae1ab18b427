//! Two films, or four: then, two between, now.

use super::app::App;

impl App {
    /// The film in a light box: then 0, now 1, the two between 2 and 3.
    pub(super) fn film_in(&self, which: usize) -> Option<&str> {
        match which {
            0 | 1 => self.shown[which].as_deref(),
            _ if self.four => self.between[which - 2].as_deref(),
            _ => None,
        }
    }

    /// The light boxes in view, in order of time.
    pub(super) fn in_view(&self) -> Vec<usize> {
        if self.measuring || self.shown[0].is_none() && self.shown[1].is_some() {
            return vec![1];
        }
        let between = [2, 3].into_iter().filter(|k| self.film_in(*k).is_some());
        [0].into_iter().chain(between).chain([1]).collect()
    }

    /// What a light box is called.
    pub(super) fn place_word(which: usize) -> &'static str {
        match which {
            0 => "then",
            1 => "now",
            _ => "between",
        }
    }

    /// Two films, or four.
    pub(super) fn toggle_four(&mut self) {
        self.four = !self.four;
        self.overlay.on = false;
        self.between = [None, None];
        self.boxes.iter_mut().for_each(|b| b.view = None);
        self.choose_between();
        if self.four && self.between[0].is_none() {
            self.notices = vec!["No film of this plane lies between then and now".to_owned()];
        }
    }

    /// The films between: the milestones there (best traction, after fusion), filled up with films
    /// evenly spaced.
    pub(super) fn choose_between(&mut self) {
        if !self.four || self.measuring {
            return;
        }
        let ids: Vec<String> = self.in_plane().iter().map(|f| f.id.clone()).collect();
        let at = |id: &Option<String>| id.as_ref().and_then(|id| ids.iter().position(|i| i == id));
        let (Some(then), Some(now)) = (at(&self.shown[0]), at(&self.shown[1])) else {
            self.between = [None, None];
            return;
        };
        let (first, last) = (then.min(now), then.max(now));
        let inside = |i: &usize| first < *i && *i < last;
        let milestones = self.sheet.as_ref().map(|(_, s)| s.milestones.clone());
        let mut chosen: Vec<usize> = milestones
            .unwrap_or_default()
            .iter()
            .filter_map(|m| ids.iter().position(|i| i == m))
            .filter(inside)
            .collect();
        let span = last - first;
        for i in [first + span / 3, first + 2 * span / 3, first + 1, first + 2] {
            if chosen.len() < 2 && inside(&i) && !chosen.contains(&i) {
                chosen.push(i);
            }
        }
        chosen.truncate(2);
        chosen.sort_unstable();
        let films = [chosen.first(), chosen.get(1)].map(|i| i.map(|i| ids[*i].clone()));
        if films == self.between {
            return;
        }
        self.between = films;
        self.boxes.iter_mut().for_each(|b| b.view = None);
        for id in self.between.clone().into_iter().flatten() {
            if !self.pictures.contains_key(&id) {
                self.ask(&id);
            }
        }
    }
}
