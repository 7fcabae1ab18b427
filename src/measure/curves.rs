//! Curves of the spine: end vertebrae, sign, apex and region.

use super::ApexRule;
use super::context::{Context, ReferenceLine, Standing};
use crate::geometry::{Point, directed_difference};
use crate::landmark::{Edge, Landmark, Level, Levels};
use crate::units::{Dual, Side, wrap_degrees};
use std::fmt;

/// A curve whose end vertebrae the reader (or the baseline film) fixed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FixedEnds {
    /// Name to give the curve, `main`, `above-1` …; `None` to name it by size and place.
    pub name: Option<String>,
    /// The end vertebrae.
    pub levels: Levels,
}

/// The apex: a body or the disc below a level.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Apex {
    /// A vertebral body.
    Body(Level),
    /// The disc between two levels.
    Disc(Level, Level),
}

impl Apex {
    /// The vertebra of the apex; of a disc the one above it.
    #[must_use]
    pub fn level(self) -> Level {
        match self {
            Apex::Body(level) | Apex::Disc(level, _) => level,
        }
    }
}

impl fmt::Display for Apex {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Apex::Body(level) => write!(f, "{level}"),
            Apex::Disc(a, b) => write!(f, "{a}/{b}"),
        }
    }
}

/// Region of a curve by its apex (handbook §1; thoracic down to the T11/12 disc confirmed, the
/// other limits from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Region {
    /// Above C7.
    Cervical,
    /// C7 to T1.
    Cervicothoracic,
    /// T2 to the T11/12 disc.
    Thoracic,
    /// T12 to L1.
    Thoracolumbar,
    /// L1/2 disc to L4.
    Lumbar,
    /// Below L4.
    Lumbosacral,
}

impl Region {
    /// The region of an apex.
    #[must_use]
    pub fn of(apex: Apex) -> Region {
        // Twice the level's index, discs half a level lower.
        let place = match apex {
            Apex::Body(level) => 2 * level.index(),
            Apex::Disc(level, _) => 2 * level.index() + 1,
        };
        let t12 = 2 * (Level::T1.index() + 11);
        match place {
            p if p < 2 * Level::C7.index() => Region::Cervical,
            p if p <= 2 * Level::T1.index() => Region::Cervicothoracic,
            p if p < t12 => Region::Thoracic,
            p if p <= 2 * Level::L1.index() => Region::Thoracolumbar,
            p if p <= 2 * Level::L4.index() => Region::Lumbar,
            _ => Region::Lumbosacral,
        }
    }

    /// The region's name.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Region::Cervical => "cervical",
            Region::Cervicothoracic => "cervicothoracic",
            Region::Thoracic => "thoracic",
            Region::Thoracolumbar => "thoracolumbar",
            Region::Lumbar => "lumbar",
            Region::Lumbosacral => "lumbosacral",
        }
    }
}

/// A curve between two end vertebrae.
#[derive(Clone, Debug)]
pub struct Curve {
    /// `main`, `above-1`, `below-1` …
    pub name: String,
    /// End vertebrae.
    pub levels: Levels,
    /// Whether they were fixed rather than found.
    pub fixed: bool,
    /// The lines measured between.
    pub plates: [Standing; 2],
    /// tilt(upper plate) − tilt(lower plate), degrees in (−180, 180]; > 0 convex right (coronal).
    pub angle: Dual,
    /// The apex with its centre, and the line it was found from.
    pub apex: Option<(Apex, Point, &'static str)>,
    /// What the apex waits for, when it was not found.
    pub apex_needs: Vec<String>,
}

/// Smallest difference of tilts that still makes a curve beside the main one (contract).
const SMALLEST_SECONDARY_DEG: f64 = 10.0;

/// Levels that can end a found curve: C2 to the last lumbar level.
fn candidates() -> impl Iterator<Item = Level> {
    Level::all().filter(|l| *l >= Level::C2 && *l <= Level::L6)
}

/// The tilts of every level, upper and lower; a lone plate stands for both.
fn tilts(context: &Context<'_>) -> Vec<(Level, f64, f64)> {
    candidates()
        .filter_map(|level| {
            let value = |edge| context.standing(level, edge).map(|s| s.2.v);
            Some((level, value(Edge::Upper)?, value(Edge::Lower)?))
        })
        .collect()
}

fn curve(context: &Context<'_>, name: String, levels: Levels, fixed: bool) -> Option<Curve> {
    let (upper, _, above) = context.standing(levels.upper, Edge::Upper)?;
    // The sacrum has but its upper plate.
    let (lower, _, below) = context.standing(levels.lower, Edge::Lower)?;
    let angle = directed_difference(above, below);
    Some(Curve {
        name,
        levels,
        fixed,
        plates: [upper, lower],
        angle,
        apex: None,
        apex_needs: Vec::new(),
    })
}

/// Finds the film's curves by the contract's rule.
pub(super) fn find_curves(context: &Context<'_>) -> Vec<Curve> {
    let tilts = tilts(context);
    let mut best: Option<(f64, usize, usize)> = None;
    for i in 0..tilts.len() {
        for j in i + 1..tilts.len() {
            let difference = wrap_degrees(tilts[i].1 - tilts[j].2);
            if best.is_none_or(|b| difference.abs() > b.0.abs()) {
                best = Some((difference, i, j));
            }
        }
    }
    let Some((main, upper, lower)) = best else {
        return Vec::new();
    };
    let mut curves = Vec::new();
    let mut push = |name: String, i: usize, j: usize| {
        let levels = Levels {
            upper: tilts[i].0,
            lower: tilts[j].0,
        };
        curves.extend(curve(context, name, levels, false));
    };
    push("main".to_owned(), upper, lower);

    // Above: pairs that end at the curve's upper vertebra, of the opposite sign; then again.
    let (mut sign, mut end, mut n) = (-main.signum(), upper, 1);
    while let Some((size, i)) = (0..end)
        .map(|i| (sign * wrap_degrees(tilts[i].1 - tilts[end].2), i))
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
        && size >= SMALLEST_SECONDARY_DEG
    {
        push(format!("above-{n}"), i, end);
        (sign, end, n) = (-sign, i, n + 1);
    }
    let (mut sign, mut start, mut n) = (-main.signum(), lower, 1);
    while let Some((size, j)) = (start + 1..tilts.len())
        .map(|j| (sign * wrap_degrees(tilts[start].1 - tilts[j].2), j))
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
        && size >= SMALLEST_SECONDARY_DEG
    {
        push(format!("below-{n}"), start, j);
        (sign, start, n) = (-sign, j, n + 1);
    }
    curves
}

/// Curves with fixed end vertebrae. Unnamed ones are named by size and place.
pub(super) fn fixed_curves(context: &Context<'_>, ends: &[FixedEnds]) -> Vec<Curve> {
    let mut curves: Vec<Curve> = ends
        .iter()
        .filter_map(|e| curve(context, e.name.clone().unwrap_or_default(), e.levels, true))
        .collect();
    curves.sort_by_key(|c| c.levels);
    if curves.iter().any(|c| c.name.is_empty()) {
        let main = (0..curves.len())
            .max_by(|a, b| {
                curves[*a]
                    .angle
                    .v
                    .abs()
                    .total_cmp(&curves[*b].angle.v.abs())
            })
            .unwrap_or(0);
        for (i, c) in curves.iter_mut().enumerate() {
            c.name = match i.cmp(&main) {
                std::cmp::Ordering::Less => format!("above-{}", main - i),
                std::cmp::Ordering::Equal => "main".to_owned(),
                std::cmp::Ordering::Greater => format!("below-{}", i - main),
            };
        }
    }
    curves.sort_by_key(|c| {
        let (side, number) = c.name.split_once('-').unwrap_or(("", "0"));
        (side.to_owned(), number.parse::<usize>().unwrap_or(0))
    });
    curves
}

/// How far a body or disc leans from level: the mean of its two plates, degrees.
fn slant(context: &Context<'_>, apex: Apex) -> Option<f64> {
    let [above, below] = match apex {
        Apex::Body(level) => [(level, Edge::Upper), (level, Edge::Lower)],
        Apex::Disc(above, below) => [(above, Edge::Lower), (below, Edge::Upper)],
    };
    let tilt = |(level, edge)| context.standing(level, edge).map(|s| s.2.v);
    let (a, b) = (tilt(above)?, tilt(below)?);
    Some(wrap_degrees(a + wrap_degrees(b - a) / 2.0).abs())
}

impl Curve {
    /// +1 convex to the film plane's right, −1 to its left.
    #[must_use]
    pub fn sign(&self) -> f64 {
        if self.angle.v < 0.0 { -1.0 } else { 1.0 }
    }

    /// The patient's convex side, if the film's side is known.
    #[must_use]
    pub fn convex(&self, context: &Context<'_>) -> Option<Side> {
        context.plane.side_known().then_some(if self.angle.v < 0.0 {
            Side::Left
        } else {
            Side::Right
        })
    }

    /// The marks the angle comes from.
    #[must_use]
    pub fn plate_marks(&self, context: &Context<'_>) -> Vec<Landmark> {
        let [upper, lower] = self.plates;
        let mut names = context.standing_names(self.levels.upper, upper).to_vec();
        names.extend(context.standing_names(self.levels.lower, lower));
        names
    }

    /// Region by the apex.
    #[must_use]
    pub fn region(&self) -> Option<Region> {
        self.apex.as_ref().map(|a| Region::of(a.0))
    }

    pub(super) fn find_apex(&mut self, context: &Context<'_>) {
        let bodies: Vec<Level> = Level::all()
            .filter(|l| *l > self.levels.upper && *l < self.levels.lower)
            .filter(|l| !context.settings.is_absent(*l))
            .collect();
        let places = self.places(context, &bodies);
        if places.is_empty() {
            let middle = bodies.get(bodies.len() / 2).copied();
            self.apex_needs = middle
                .map(|l| Landmark::Center(l).to_string())
                .into_iter()
                .collect();
            return;
        }
        if context.settings.apex == ApexRule::MostLevel {
            self.apex = places
                .into_iter()
                .filter_map(|(apex, at)| Some((slant(context, apex)?, apex, at)))
                .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)))
                .map(|(_, apex, at)| (apex, at, "most level body or disc"));
            if self.apex.is_none() {
                self.apex_needs = vec!["end-plates between the end vertebrae".to_owned()];
            }
            return;
        }
        let line = context
            .csvl()
            .or_else(|| context.c7_plumb())
            .or_else(|| self.chord(context));
        let Some(line) = line else {
            self.apex_needs = [self.levels.upper, self.levels.lower]
                .iter()
                .flat_map(|l| context.centre_needs(*l))
                .collect();
            return;
        };
        let sign = self.sign();
        let size = |p: &Point| {
            let offset = sign * line.offset(p).v;
            match &line.slope {
                // Perpendicular distance: the same for all, but keep it a distance.
                Some(s) => offset / s.v.hypot(1.0),
                None => offset,
            }
        };
        self.apex = places
            .into_iter()
            .max_by(|a, b| size(&a.1).total_cmp(&size(&b.1)).then(b.0.cmp(&a.0)))
            .map(|(apex, at)| (apex, at, line.name));
    }

    /// The centres of the marked bodies and discs of the curve.
    fn places(&self, context: &Context<'_>, bodies: &[Level]) -> Vec<(Apex, Point)> {
        let marked: Vec<Level> = Level::all()
            .filter(|l| *l >= self.levels.upper && *l <= self.levels.lower)
            .filter(|l| context.centre(*l).is_some() || context.standing(*l, Edge::Upper).is_some())
            .collect();
        let mut places: Vec<(Apex, Point)> = bodies
            .iter()
            .filter_map(|l| context.centre(*l).map(|c| (Apex::Body(*l), c.clone())))
            .collect();
        for pair in marked.windows(2) {
            // A disc lies between neighbours; where levels between are unmarked there is none.
            let between = bodies
                .iter()
                .any(|l| *l > pair[0] && *l < pair[1] && l.is_usual());
            let facing = (
                context.plate(pair[0], Edge::Lower),
                context.plate(pair[1], Edge::Upper),
            );
            if let (false, (Some(above), Some(below))) = (between, facing)
                && let Some(centre) = Point::mean([&above.from, &above.to, &below.from, &below.to])
            {
                places.push((Apex::Disc(pair[0], pair[1]), centre));
            }
        }
        places
    }

    /// The line between the centres of the end vertebrae.
    fn chord(&self, context: &Context<'_>) -> Option<ReferenceLine> {
        let centre = |level, edge| {
            context
                .centre(level)
                .cloned()
                .or_else(|| context.standing(level, edge).map(|s| s.1.middle()))
        };
        let upper = centre(self.levels.upper, Edge::Upper)?;
        let lower = centre(self.levels.lower, Edge::Lower)?;
        let rise = &upper.y - &lower.y;
        let slope = (rise.v != 0.0).then(|| &(&upper.x - &lower.x) / &rise)?;
        Some(ReferenceLine {
            through: lower,
            slope: Some(slope),
            name: "line between the end vertebrae",
            construction: "through the centres of the end vertebrae",
            marks: Vec::new(),
        })
    }
}
