//! From film pixels into the film plane.

use super::placement::Placement;
use super::point::Point;
use crate::film::{ImageEdge, Spacing, SpacingKind};
use crate::landmark::{Edge, Landmark, LandmarkSet, Level, Pair, RibPart};
use crate::units::{Dual, FilmPx, PlanePoint};

/// Everything about a film that turns its pixels into the film plane.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmFrame {
    /// Lateral film (sagittal plane) or coronal.
    pub lateral: bool,
    /// Seen head up: the edge on which the patient's left (coronal) or front (lateral) lies.
    pub side_on: Option<ImageEdge>,
    /// The edge at which the head lies.
    pub head_on: ImageEdge,
    /// Spacing, stated or from the file.
    pub spacing: Spacing,
    /// Stated magnification.
    pub magnification: Option<f64>,
    /// Known length between `scale.a` and `scale.b`, mm.
    pub scale_mm: Option<f64>,
}

/// What millimetres on this film are worth.
#[derive(Clone, Debug, PartialEq)]
pub enum ScaleState {
    /// Millimetres at the patient.
    Calibrated,
    /// Millimetres not corrected for magnification; what is missing.
    Uncorrected(Vec<String>),
    /// No millimetres; what is missing.
    None(Vec<String>),
}

/// What a film pixel is worth: millimetres per column and per row, by everything that is stated and
/// marked. On a film without millimetres they are assumed from the width of its end-plates: enough
/// to look for things of the right size, never to be told as a length.
#[derive(Clone, Debug, PartialEq)]
pub struct PixelScale {
    /// Millimetres per column.
    pub column: f64,
    /// Millimetres per row.
    pub row: f64,
    /// What the millimetres are worth.
    pub state: ScaleState,
}

/// An end-plate is taken as this wide where a film has no millimetres, so that a placement SD in
/// millimetres can be turned into pixels at all (assumption; adult thoracic bodies are 25–35 mm).
const ASSUMED_PLATE_MM: f64 = 30.0;

impl FilmFrame {
    /// Screen-up and screen-right of the film hung head up, as (column, row) directions.
    fn axes(&self) -> ((f64, f64), (f64, f64)) {
        let up = self.head_on.toward();
        (up, (-up.1, up.0))
    }

    /// +1 when film-plane `x` grows toward the viewer's right with the head up, else −1.
    /// An unknown side counts as the patient's left (front) on the left edge.
    fn hand(&self) -> f64 {
        let on_left = self.side_on != Some(ImageEdge::ImageRight);
        // Coronal x grows toward the patient's right, lateral x toward the front.
        if on_left != self.lateral { 1.0 } else { -1.0 }
    }

    /// Size of a step of one column and one row in plane units, before any magnification.
    fn steps(&self) -> (f64, f64) {
        match self.spacing.kind {
            SpacingKind::None => (self.spacing.column / self.spacing.row, 1.0),
            _ => (self.spacing.column, self.spacing.row),
        }
    }

    /// The film plane from film pixels, in millimetres of the stated spacing (row steps without
    /// one); neither magnification nor a marked plumb line is applied.
    #[must_use]
    pub fn plane_from_film(&self, at: FilmPx) -> PlanePoint {
        let (up, right) = self.axes();
        let (column, row) = self.steps();
        let (x, y) = (at.x * column, at.y * row);
        PlanePoint::new(
            self.hand() * (x * right.0 + y * right.1),
            x * up.0 + y * up.1,
        )
    }

    /// Film pixels from the film plane: the inverse of [`FilmFrame::plane_from_film`].
    #[must_use]
    pub fn film_from_plane(&self, at: PlanePoint) -> FilmPx {
        let (up, right) = self.axes();
        let (column, row) = self.steps();
        let x = self.hand() * at.x;
        FilmPx::new(
            (x * right.0 + at.y * up.0) / column,
            (x * right.1 + at.y * up.1) / row,
        )
    }

    /// The factor from units of the spacing to millimetres at the patient, and what it is worth.
    fn scale(&self, marks: &LandmarkSet) -> (Option<(u32, u32)>, f64, ScaleState) {
        let mut missing = Vec::new();
        let ends = [Landmark::Scale(false), Landmark::Scale(true)];
        if self.scale_mm.is_some() {
            missing.extend(
                ends.iter()
                    .filter(|n| !marks.has(**n))
                    .map(Landmark::to_string),
            );
            if missing.is_empty() {
                return (Some((0, 1)), 1.0, ScaleState::Calibrated);
            }
        } else if ends.iter().all(|n| marks.has(*n)) {
            missing.push("length between scale.a and scale.b".to_owned());
        }
        match (self.spacing.kind, self.magnification) {
            (SpacingKind::None, _) => {
                missing.push("scale of the film".to_owned());
                (None, 1.0, ScaleState::None(missing))
            }
            (SpacingKind::Calibrated, m) => (None, 1.0 / m.unwrap_or(1.0), ScaleState::Calibrated),
            (_, Some(m)) => (None, 1.0 / m, ScaleState::Calibrated),
            (_, None) => {
                missing.push("magnification".to_owned());
                (None, 1.0, ScaleState::Uncorrected(missing))
            }
        }
    }
}

/// The marks of a film as points of its film plane.
#[derive(Clone, Debug)]
pub struct PlaneMarks<'a> {
    /// The film's frame.
    pub frame: &'a FilmFrame,
    /// The marks in film pixels.
    pub marks: &'a LandmarkSet,
    /// What millimetres are worth.
    pub scale: ScaleState,
    /// Whether up is the marked plumb line instead of the film's column.
    pub has_plumb: bool,
    first_variable: Vec<(Landmark, u32)>,
    sd: Vec<f64>,
    factor: Dual,
    /// Cosine and sine of the turn that makes the plumb line vertical.
    turn: Option<(Dual, Dual)>,
}

impl<'a> PlaneMarks<'a> {
    /// Prepares the marks; `placement` gives the uncertainty of each.
    #[must_use]
    pub fn new(
        frame: &'a FilmFrame,
        marks: &'a LandmarkSet,
        placement: &Placement,
    ) -> PlaneMarks<'a> {
        let mut first_variable = Vec::with_capacity(marks.len());
        let mut count = 0u32;
        for (name, points) in marks.iter() {
            first_variable.push((name, count));
            count += 2 * points.len() as u32;
        }
        let (by_marks, factor, scale) = frame.scale(marks);
        let mut plane = PlaneMarks {
            frame,
            marks,
            scale,
            has_plumb: false,
            first_variable,
            sd: Vec::new(),
            factor: Dual::constant(factor),
            turn: None,
        };
        if by_marks.is_some()
            && let (Some(length), Some(a), Some(b)) = (
                frame.scale_mm,
                plane.raw(Landmark::Scale(false), 0),
                plane.raw(Landmark::Scale(true), 0),
            )
        {
            let drawn = a.distance(&b);
            if drawn.v > 0.0 {
                plane.factor = drawn.chain(length / drawn.v, -length / (drawn.v * drawn.v));
            } else {
                plane.scale = ScaleState::None(vec!["scale.b apart from scale.a".to_owned()]);
            }
        }
        if let (Some(top), Some(bottom)) = (
            plane.raw(Landmark::Plumb(true), 0),
            plane.raw(Landmark::Plumb(false), 0),
        ) {
            let (ux, uy) = (&top.x - &bottom.x, &top.y - &bottom.y);
            let length = ux.hypot(&uy);
            if length.v > 0.0 {
                plane.turn = Some((&uy / &length, &ux / &length));
                plane.has_plumb = true;
            }
        }
        let unit_per_mm = plane.units_per_mm();
        plane.sd = marks
            .iter()
            .flat_map(|(name, points)| {
                std::iter::repeat_n(unit_per_mm * placement.of(name), 2 * points.len())
            })
            .collect();
        plane
    }

    /// Spacing units per millimetre at the patient; on a film without millimetres from the median
    /// end-plate taken as 30 mm wide, NaN-free: without any end-plate one unit counts as 0.15 mm.
    fn units_per_mm(&self) -> f64 {
        if !matches!(self.scale, ScaleState::None(_)) {
            return 1.0 / self.factor.v;
        }
        let mut widths: Vec<f64> = Level::all()
            .flat_map(|level| [Edge::Upper, Edge::Lower].map(|edge| (level, edge)))
            .filter_map(|(level, edge)| {
                let (a, b) = self.marks.plate(level, edge, self.frame.lateral)?;
                Some((self.frame.plane_from_film(a) - self.frame.plane_from_film(b)).length())
            })
            .filter(|w| *w > 0.0)
            .collect();
        widths.sort_by(f64::total_cmp);
        widths
            .get(widths.len() / 2)
            .map_or(1.0 / 0.15, |w| w / ASSUMED_PLATE_MM)
    }

    /// Plane units per column: millimetres where the film has them, else its own units.
    #[must_use]
    pub fn units_per_column(&self) -> f64 {
        self.frame.steps().0 * self.factor.v
    }

    /// What a film pixel is worth.
    #[must_use]
    pub fn pixel_scale(&self) -> PixelScale {
        let (column, row) = self.frame.steps();
        let mm = 1.0 / self.units_per_mm();
        PixelScale {
            column: column * mm,
            row: row * mm,
            state: self.scale.clone(),
        }
    }

    /// The film pixel of a place in the film plane as [`PlaneMarks::point_at`] gives places.
    #[must_use]
    pub fn film_from_plane(&self, at: PlanePoint) -> FilmPx {
        let (x, y) = (at.x / self.factor.v, at.y / self.factor.v);
        let (c, s) = self.turn.as_ref().map_or((1.0, 0.0), |(c, s)| (c.v, s.v));
        self.frame
            .film_from_plane(PlanePoint::new(x * c + y * s, y * c - x * s))
    }

    /// Standard deviation of variable `index` in plane units.
    #[must_use]
    pub fn sd_of(&self, index: u32) -> f64 {
        self.sd.get(index as usize).copied().unwrap_or(0.0)
    }

    /// Number of variables (two per point).
    #[must_use]
    pub fn variables(&self) -> usize {
        self.sd.len()
    }

    /// Whether the patient's side (coronal) or front (lateral) is known.
    #[must_use]
    pub fn side_known(&self) -> bool {
        self.frame.side_on.is_some()
    }

    fn raw(&self, name: Landmark, index: usize) -> Option<Point> {
        let at = *self.marks.points(name).get(index)?;
        let slot = self
            .first_variable
            .binary_search_by_key(&name, |v| v.0)
            .ok()?;
        let variable = self.first_variable[slot].1 + 2 * index as u32;
        let p = self.frame.plane_from_film(at);
        Some(Point {
            x: Dual::variable(p.x, variable),
            y: Dual::variable(p.y, variable + 1),
        })
    }

    /// Point `index` of a mark, turned to the plumb line and in millimetres (row steps without scale).
    #[must_use]
    pub fn point_at(&self, name: Landmark, index: usize) -> Option<Point> {
        let p = self.raw(name, index)?;
        let p = match &self.turn {
            Some((c, s)) => Point {
                x: &(&p.x * c) - &(&p.y * s),
                y: &(&p.x * s) + &(&p.y * c),
            },
            None => p,
        };
        Some(if self.factor.gradient().is_empty() {
            Point {
                x: p.x.scale(self.factor.v),
                y: p.y.scale(self.factor.v),
            }
        } else {
            Point {
                x: &p.x * &self.factor,
                y: &p.y * &self.factor,
            }
        })
    }

    /// The single point of a mark.
    #[must_use]
    pub fn point(&self, name: Landmark) -> Option<Point> {
        self.point_at(name, 0)
    }

    /// All points of a mark.
    #[must_use]
    pub fn line(&self, name: Landmark) -> Vec<Point> {
        (0..self.marks.points(name).len())
            .filter_map(|i| self.point_at(name, i))
            .collect()
    }

    /// Every name that is one of `names` and not marked.
    #[must_use]
    pub fn missing(&self, names: &[Landmark]) -> Vec<String> {
        names
            .iter()
            .filter(|n| !self.marks.has(**n))
            .map(Landmark::to_string)
            .collect()
    }

    /// The two names of a paired mark, left first.
    #[must_use]
    pub fn pair_names(pair: Pair) -> [Landmark; 2] {
        crate::units::Side::BOTH.map(|side| Landmark::Paired(pair, side))
    }

    /// The name of a rib's part.
    #[must_use]
    pub fn rib_name(rib: u8, side: crate::units::Side, part: RibPart) -> Landmark {
        Landmark::Rib(rib, side, part)
    }
}
