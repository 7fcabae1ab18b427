//! What every measure of a film shares: marks in the film plane, reference lines, curves.

use super::curves::{Curve, find_curves, fixed_curves};
use super::{CsvlConstruction, FilmInput, FixedEnds, Settings};
use crate::geometry::{FilmFrame, PlaneMarks, Plate, Point};
use crate::landmark::{Edge, Landmark, Level, Pair};
use crate::units::{Dual, Side};

/// Name of the fact a side-dependent result waits for.
pub const SIDE_OF_FILM: &str = "side of the film";

/// A film's marks, reference lines and curves.
pub struct Context<'a> {
    /// Marks in the film plane.
    pub plane: PlaneMarks<'a>,
    /// Choices of the case.
    pub settings: &'a Settings,
    /// The film's curves in the plane of the film, the main one first.
    pub curves: Vec<Curve>,
    /// End vertebrae the reader fixed; empty when they are found.
    pub ends: &'a [FixedEnds],
    plates: Vec<[Option<(Plate, Dual)>; 2]>,
    pedicles: Vec<Option<(Plate, Dual)>>,
    centres: Vec<Option<Point>>,
}

/// The line that stands for an end of a level when a curve is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// An end-plate.
    Plate(Edge),
    /// The line of the pedicles, where no end-plate is marked (common practice, no source).
    Pedicles,
}

/// A vertical (or nearly vertical) reference line.
pub struct ReferenceLine {
    /// A point it passes through.
    pub through: Point,
    /// Horizontal run per unit of height; zero for a vertical.
    pub slope: Option<Dual>,
    /// Its name in the output.
    pub name: &'static str,
    /// How it is drawn, in words: sources differ.
    pub construction: &'static str,
    /// The marks it came from.
    pub marks: Vec<Landmark>,
}

impl ReferenceLine {
    /// Horizontal distance of a point from the line, + toward the patient's right (front).
    #[must_use]
    pub fn offset(&self, point: &Point) -> Dual {
        let across = &point.x - &self.through.x;
        match &self.slope {
            Some(slope) => &across - &(&(&point.y - &self.through.y) * slope),
            None => across,
        }
    }
}

impl<'a> Context<'a> {
    /// Prepares a film.
    #[must_use]
    pub fn new(frame: &'a FilmFrame, input: &FilmInput<'a>) -> Context<'a> {
        let plane = PlaneMarks::new(frame, input.marks, input.placement);
        let present = |level: Level| !input.settings.is_absent(level);
        let plates = Level::all()
            .map(|level| {
                [Edge::Upper, Edge::Lower].map(|edge| {
                    let plate = present(level).then(|| plane.plate(level, edge)).flatten()?;
                    let tilt = plate.tilt();
                    Some((plate, tilt))
                })
            })
            .collect();
        let pedicles = Level::all()
            .map(|level| {
                let line = present(level)
                    .then(|| plane.pedicle_line(level))
                    .flatten()?;
                let tilt = line.tilt();
                Some((line, tilt))
            })
            .collect();
        let centres = Level::all()
            .map(|level| present(level).then(|| plane.body_centre(level)).flatten())
            .collect();
        let mut context = Context {
            plane,
            settings: input.settings,
            curves: Vec::new(),
            ends: input.ends,
            plates,
            pedicles,
            centres,
        };
        let mut curves = if input.ends.is_empty() {
            find_curves(&context)
        } else {
            fixed_curves(&context, input.ends)
        };
        for curve in &mut curves {
            curve.find_apex(&context);
        }
        context.curves = curves;
        context
    }

    /// An end-plate of a level the patient has.
    #[must_use]
    pub fn plate(&self, level: Level, edge: Edge) -> Option<&Plate> {
        self.plates[level.index()][edge as usize]
            .as_ref()
            .map(|p| &p.0)
    }

    /// Directed tilt of an end-plate.
    #[must_use]
    pub fn tilt(&self, level: Level, edge: Edge) -> Option<&Dual> {
        self.plates[level.index()][edge as usize]
            .as_ref()
            .map(|p| &p.1)
    }

    /// The plate that stands for this edge: itself, or the level's other plate when only that is marked.
    #[must_use]
    pub fn standing_plate(&self, level: Level, edge: Edge) -> Option<Edge> {
        let other = if edge == Edge::Upper {
            Edge::Lower
        } else {
            Edge::Upper
        };
        [edge, other]
            .into_iter()
            .find(|e| self.tilt(level, *e).is_some())
    }

    /// The line that stands for this end of a level, with its tilt: the plate, the level's other
    /// plate, or, where neither is marked, the line of its pedicles.
    #[must_use]
    pub fn standing(&self, level: Level, edge: Edge) -> Option<(Standing, &Plate, &Dual)> {
        if let Some(edge) = self.standing_plate(level, edge) {
            let (plate, tilt) = self.plates[level.index()][edge as usize].as_ref()?;
            return Some((Standing::Plate(edge), plate, tilt));
        }
        let (line, tilt) = self.pedicles[level.index()].as_ref()?;
        Some((Standing::Pedicles, line, tilt))
    }

    /// The two marks of a standing line.
    #[must_use]
    pub fn standing_names(&self, level: Level, standing: Standing) -> [Landmark; 2] {
        match standing {
            Standing::Plate(edge) => self.plane.plate_names(level, edge),
            Standing::Pedicles => Side::BOTH.map(|s| Landmark::Pedicle(level, s)),
        }
    }

    /// The tilts of two end-plates with the marks they rest on, or the marks and facts they wait for.
    pub fn both_tilts(
        &self,
        plates: [(Level, Edge); 2],
    ) -> (Vec<Landmark>, Result<[&Dual; 2], Vec<String>>) {
        let names: Vec<Landmark> = plates
            .iter()
            .flat_map(|(level, edge)| self.plane.plate_names(*level, *edge))
            .collect();
        let tilts = match plates.map(|(level, edge)| self.tilt(level, edge)) {
            [Some(a), Some(b)] if self.plane.side_known() => Ok([a, b]),
            _ => {
                let mut needs = self.plane.missing(&names);
                needs.extend(self.side_needs());
                Err(needs)
            }
        };
        (names, tilts)
    }

    /// Centre of a body.
    #[must_use]
    pub fn centre(&self, level: Level) -> Option<&Point> {
        self.centres[level.index()].as_ref()
    }

    /// Levels that are stated absent and yet marked: their marks take no part.
    #[must_use]
    pub fn left_out(&self) -> Vec<Level> {
        let marked = |l: &Level| self.plane.marks.levels().any(|m| m == *l);
        Level::all()
            .filter(|l| self.settings.is_absent(*l))
            .filter(marked)
            .collect()
    }

    /// Standard deviation of a variable.
    pub fn sd(&self) -> impl Fn(u32) -> f64 + '_ {
        |index| self.plane.sd_of(index)
    }

    /// The CSVL: vertical through the middle of `S1.upper` (or as the case chose).
    #[must_use]
    pub fn csvl(&self) -> Option<ReferenceLine> {
        let middle = self.plate(Level::S1, Edge::Upper)?.middle();
        let mut marks = self.plane.plate_names(Level::S1, Edge::Upper).to_vec();
        if self.settings.csvl == CsvlConstruction::IliacPerpendicular {
            let names = PlaneMarks::pair_names(Pair::Iliac);
            let (left, right) = (self.plane.point(names[0])?, self.plane.point(names[1])?);
            let (dx, dy) = (&right.x - &left.x, &right.y - &left.y);
            marks.extend(names);
            // Perpendicular of (dx, dy) is (−dy, dx): run per height −dy/dx.
            let slope = (dx.v != 0.0).then(|| -&(&dy / &dx))?;
            return Some(ReferenceLine {
                through: middle,
                slope: Some(slope),
                name: "CSVL perpendicular to the iliac crests",
                construction: "perpendicular to the iliac crests through the middle of S1",
                marks,
            });
        }
        Some(ReferenceLine {
            through: middle,
            slope: None,
            name: "CSVL",
            construction: "vertical through the middle of S1",
            marks,
        })
    }

    /// Marks the CSVL waits for.
    #[must_use]
    pub fn csvl_needs(&self) -> Vec<String> {
        let mut names = self.plane.plate_names(Level::S1, Edge::Upper).to_vec();
        if self.settings.csvl == CsvlConstruction::IliacPerpendicular {
            names.extend(PlaneMarks::pair_names(Pair::Iliac));
        }
        self.plane.missing(&names)
    }

    /// The C7 plumb: vertical through C7's centre.
    #[must_use]
    pub fn c7_plumb(&self) -> Option<ReferenceLine> {
        let through = self.centre(Level::C7)?.clone();
        Some(ReferenceLine {
            through,
            slope: None,
            name: "C7 plumb",
            construction: "vertical through the centre of C7",
            marks: self.plane.centre_marks(Level::C7),
        })
    }

    /// Marks a body's centre waits for: `V.center`, the shorter way of marking it.
    #[must_use]
    pub fn centre_needs(&self, level: Level) -> Vec<String> {
        if self.centre(level).is_some() {
            return Vec::new();
        }
        vec![Landmark::Center(level).to_string()]
    }

    /// The missing side of the film, if it is missing.
    #[must_use]
    pub fn side_needs(&self) -> Vec<String> {
        if self.plane.side_known() {
            Vec::new()
        } else {
            vec![SIDE_OF_FILM.to_owned()]
        }
    }
}
