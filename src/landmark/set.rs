//! The marks of one film.

use super::{Edge, Landmark, Level};
use crate::units::FilmPx;
use std::collections::BTreeMap;

/// The marks of one reading of one film, in film pixels.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LandmarkSet {
    marks: BTreeMap<Landmark, Vec<FilmPx>>,
}

impl LandmarkSet {
    /// No marks.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Whether nothing is marked.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.marks.is_empty()
    }

    /// Number of named marks (a line of several points counts once).
    #[must_use]
    pub fn len(&self) -> usize {
        self.marks.len()
    }

    /// Places a single mark, replacing what stood under the name.
    pub fn place(&mut self, name: Landmark, at: FilmPx) {
        self.marks.insert(name, vec![at]);
    }

    /// Places a line of points; an empty line removes the mark.
    pub fn place_line(&mut self, name: Landmark, points: Vec<FilmPx>) {
        if points.is_empty() {
            self.marks.remove(&name);
        } else {
            self.marks.insert(name, points);
        }
    }

    /// Removes a mark; returns what stood there.
    pub fn remove(&mut self, name: Landmark) -> Option<Vec<FilmPx>> {
        self.marks.remove(&name)
    }

    /// The single point of a mark (the first one of a line).
    #[must_use]
    pub fn point(&self, name: Landmark) -> Option<FilmPx> {
        self.marks.get(&name).and_then(|p| p.first().copied())
    }

    /// All points of a mark; empty when it is not marked.
    #[must_use]
    pub fn points(&self, name: Landmark) -> &[FilmPx] {
        self.marks.get(&name).map_or(&[], Vec::as_slice)
    }

    /// Whether the name is marked.
    #[must_use]
    pub fn has(&self, name: Landmark) -> bool {
        self.marks.contains_key(&name)
    }

    /// Every mark in the order of names.
    pub fn iter(&self) -> impl Iterator<Item = (Landmark, &[FilmPx])> {
        self.marks
            .iter()
            .map(|(name, points)| (*name, points.as_slice()))
    }

    /// The levels with at least one mark, from the head down.
    pub fn levels(&self) -> impl Iterator<Item = Level> + '_ {
        Level::all().filter(|level| self.marks.keys().any(|name| name.level() == Some(*level)))
    }

    /// Both ends of an end-plate: left and right, or posterior and anterior.
    #[must_use]
    pub fn plate(&self, level: Level, edge: Edge, lateral: bool) -> Option<(FilmPx, FilmPx)> {
        let [a, b] = Landmark::plate_ends(level, edge, lateral);
        Some((self.point(a)?, self.point(b)?))
    }
}

impl FromIterator<(Landmark, Vec<FilmPx>)> for LandmarkSet {
    fn from_iter<I: IntoIterator<Item = (Landmark, Vec<FilmPx>)>>(iter: I) -> Self {
        LandmarkSet {
            marks: iter.into_iter().filter(|(_, p)| !p.is_empty()).collect(),
        }
    }
}
