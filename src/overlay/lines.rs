//! Lines, marks and words of a film.

use crate::geometry::PlaneMarks;
use crate::landmark::{Edge, Landmark, LandmarkSet, Level, Levels, Pair, PlateEnd, RibPart};
use crate::measure::{Context, FilmInput, ReferenceLine};
use crate::units::{FilmPx, PlanePoint, Side, Unit};

/// What a line is; pattern and hue follow from it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// An end-plate.
    Plate,
    /// The drawn-out end-plate of a curve's end vertebra.
    CurveEnd,
    /// A vertical reference: CSVL or plumb line.
    Vertical,
    /// A line between two sides.
    Across,
    /// A rib, or an implant's outline.
    Course,
}

/// A line in film pixels.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Its points.
    pub points: Vec<FilmPx>,
    /// What it is.
    pub kind: Kind,
    /// Measure keys that rest on it.
    pub keys: Vec<&'static str>,
    /// The curve it belongs to.
    pub curve: Option<String>,
}

/// A mark in film pixels.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// Name.
    pub name: Landmark,
    /// Which point of a line of several.
    pub index: usize,
    /// Place.
    pub at: FilmPx,
    /// Proposed and not accepted.
    pub proposed: bool,
    /// Its partner is not placed yet.
    pub unfinished: bool,
}

/// Words beside a place.
#[derive(Clone, Debug, PartialEq)]
pub struct Word {
    /// The place.
    pub at: FilmPx,
    /// Direction in which there is room, film pixels.
    pub away: (f64, f64),
    /// The words.
    pub text: String,
    /// The level they name, when they name one.
    pub level: Option<Level>,
    /// The value to set behind the words.
    pub value: Option<(f64, Unit)>,
    /// The measure they tell, when they tell one.
    pub key: Option<&'static str>,
    /// The curve.
    pub curve: Option<String>,
}

/// An angle between two end-plates, to be drawn at its ends and told at its apex.
#[derive(Clone, Debug, PartialEq)]
pub struct Angle {
    /// Measure key.
    pub key: &'static str,
    /// Curve.
    pub curve: Option<String>,
    /// Its end vertebrae.
    pub levels: Levels,
    /// The value.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
}

/// Everything to draw on a film.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// Lines.
    pub lines: Vec<Line>,
    /// Marks.
    pub marks: Vec<Mark>,
    /// Words.
    pub words: Vec<Word>,
}

/// The drawing of a film's marks, of marks only proposed, and of the angles measured on it. Reference
/// lines are those the measures use, so that what is drawn is what was measured from; proposals carry
/// neither.
#[must_use]
pub fn drawing(input: &FilmInput<'_>, proposed: &LandmarkSet, angles: &[Angle]) -> Drawing {
    let owned = |(name, points): (Landmark, &[FilmPx])| (name, points.to_vec());
    let all: LandmarkSet = input
        .marks
        .iter()
        .chain(proposed.iter())
        .map(owned)
        .collect();
    let marks = &all;
    let mut out = Drawing::default();
    for (name, points) in marks.iter() {
        for (index, at) in points.iter().enumerate() {
            out.marks.push(Mark {
                name,
                index,
                at: *at,
                proposed: proposed.has(name),
                unfinished: partner(name).is_some_and(|p| !marks.has(p)),
            });
        }
        match name {
            Landmark::Rib(_, _, RibPart::Midline) | Landmark::Metal if points.len() > 1 => {
                out.lines.push(Line {
                    points: points.to_vec(),
                    kind: Kind::Course,
                    keys: vec!["rib_spacing"],
                    curve: None,
                });
            }
            _ => {}
        }
    }
    plates(&mut out, marks);
    across(&mut out, marks);
    if let Some(frame) = &input.frame {
        verticals(&mut out, &Context::new(frame, input));
    }
    for a in angles {
        curve(&mut out, input.marks, a);
    }
    out
}

fn partner(name: Landmark) -> Option<Landmark> {
    let other = Side::other;
    Some(match name {
        Landmark::Plate(l, e, end) => Landmark::Plate(
            l,
            e,
            match end {
                PlateEnd::Left => PlateEnd::Right,
                PlateEnd::Right => PlateEnd::Left,
                PlateEnd::Anterior => PlateEnd::Posterior,
                PlateEnd::Posterior => PlateEnd::Anterior,
            },
        ),
        Landmark::Pedicle(l, s) => Landmark::Pedicle(l, other(s)),
        Landmark::Paired(p, s) => Landmark::Paired(p, other(s)),
        Landmark::Rib(n, s, RibPart::Tp) => Landmark::Rib(n, other(s), RibPart::Tp),
        Landmark::LateralHead(b) => Landmark::LateralHead(!b),
        Landmark::Plumb(b) => Landmark::Plumb(!b),
        Landmark::Scale(b) => Landmark::Scale(!b),
        _ => return None,
    })
}

fn plate_ends(marks: &LandmarkSet, level: Level, edge: Edge) -> Option<(FilmPx, FilmPx)> {
    marks
        .plate(level, edge, false)
        .or_else(|| marks.plate(level, edge, true))
}

/// The line of the pedicles, which stands for a level without end-plates.
fn pedicles(marks: &LandmarkSet, level: Level) -> Option<(FilmPx, FilmPx)> {
    let [left, right] = Side::BOTH.map(|s| Landmark::Pedicle(level, s));
    Some((marks.point(left)?, marks.point(right)?))
}

fn plates(out: &mut Drawing, marks: &LandmarkSet) {
    for level in Level::all() {
        let both = [Edge::Upper, Edge::Lower].map(|e| plate_ends(marks, level, e));
        for (a, b) in both.iter().flatten() {
            out.lines.push(Line {
                points: vec![*a, *b],
                kind: Kind::Plate,
                keys: Vec::new(),
                curve: None,
            });
        }
        if let Some((a, b)) = both[0].or(both[1]) {
            let at = match both[1] {
                Some((c, _)) if both[0].is_some() => a.middle(c),
                _ => a,
            };
            out.words.push(Word {
                at,
                away: (a.x - b.x, a.y - b.y),
                text: level.to_string(),
                level: Some(level),
                value: None,
                key: None,
                curve: None,
            });
        }
    }
}

fn across(out: &mut Drawing, marks: &LandmarkSet) {
    let pairs: [(Pair, &[&'static str]); 8] = [
        (Pair::Clavicle, &["clavicle_angle"]),
        (Pair::Coracoid, &["coracoid_height"]),
        (Pair::Shoulder, &["shoulder_height"]),
        (
            Pair::Ribcage,
            &["trunk_shift", "thoracic_width", "apical_body_rib_ratio"],
        ),
        (Pair::Iliac, &["pelvic_obliquity"]),
        (Pair::SacralAla, &["pelvic_obliquity"]),
        (Pair::FemoralHead, &["pelvic_obliquity"]),
        (Pair::RibProminence, &["rib_hump"]),
    ];
    let mut add = |a: Landmark, b: Landmark, keys: Vec<&'static str>| {
        if let (Some(a), Some(b)) = (marks.point(a), marks.point(b)) {
            out.lines.push(Line {
                points: vec![a, b],
                kind: Kind::Across,
                keys,
                curve: None,
            });
        }
    };
    for (pair, keys) in pairs {
        add(
            Landmark::Paired(pair, Side::Left),
            Landmark::Paired(pair, Side::Right),
            keys.to_vec(),
        );
    }
    add(Landmark::Scale(false), Landmark::Scale(true), Vec::new());
    add(
        Landmark::LateralHead(false),
        Landmark::LateralHead(true),
        vec!["pelvic_incidence", "pelvic_tilt"],
    );
    for side in [Side::Left, Side::Right] {
        for rib in 1..12 {
            add(
                Landmark::Rib(rib, side, RibPart::Tp),
                Landmark::Rib(rib + 1, side, RibPart::Tp),
                vec!["rib_spacing", "rib_spread_convex", "rib_spread_concave"],
            );
        }
    }
}

/// The CSVL and the C7 plumb line, between the heights of C7 and S1.
fn verticals(out: &mut Drawing, context: &Context<'_>) {
    let (Some(csvl), Some(plumb)) = (context.csvl(), context.c7_plumb()) else {
        return;
    };
    let heights = [plumb.through.y.v, csvl.through.y.v];
    let plane: &PlaneMarks<'_> = &context.plane;
    let mut add = |line: &ReferenceLine, keys: &[&'static str]| {
        let slope = line.slope.as_ref().map_or(0.0, |s| s.v);
        let points = heights.map(|y| {
            let x = line.through.x.v + (y - line.through.y.v) * slope;
            plane.film_from_plane(PlanePoint::new(x, y))
        });
        out.lines.push(Line {
            points: points.to_vec(),
            kind: Kind::Vertical,
            keys: keys.to_vec(),
            curve: None,
        });
    };
    if plane.frame.lateral {
        add(&plumb, &["sagittal_vertical_axis"]);
    } else {
        add(&plumb, &["coronal_balance", "apical_translation"]);
        add(
            &csvl,
            &["coronal_balance", "trunk_shift", "apical_translation"],
        );
    }
}

/// The drawn-out ends of an angle between plates and its figure at the apex, on the concave side.
fn curve(out: &mut Drawing, marks: &LandmarkSet, r: &Angle) {
    let levels = r.levels;
    let lower_edge = if plate_ends(marks, levels.lower, Edge::Lower).is_some() {
        Edge::Lower
    } else {
        Edge::Upper
    };
    let (Some(u), Some(l)) = (
        plate_ends(marks, levels.upper, Edge::Upper)
            .or_else(|| plate_ends(marks, levels.upper, Edge::Lower))
            .or_else(|| pedicles(marks, levels.upper)),
        plate_ends(marks, levels.lower, lower_edge).or_else(|| pedicles(marks, levels.lower)),
    ) else {
        return;
    };
    for (a, b) in [u, l] {
        let (dx, dy) = (b.x - a.x, b.y - a.y);
        out.lines.push(Line {
            points: vec![
                FilmPx::new(a.x - 0.75 * dx, a.y - 0.75 * dy),
                FilmPx::new(b.x + 0.75 * dx, b.y + 0.75 * dy),
            ],
            kind: Kind::CurveEnd,
            keys: vec![r.key],
            curve: r.curve.clone(),
        });
    }
    // The concave side: from the middle of the bodies between toward the chord of the ends.
    let (top, bottom) = (u.0.middle(u.1), l.0.middle(l.1));
    let centres: Vec<FilmPx> = Level::all()
        .filter(|v| *v > levels.upper && *v < levels.lower)
        .filter_map(|v| {
            let (a, b) = plate_ends(marks, v, Edge::Upper)?;
            Some(a.middle(b))
        })
        .collect();
    let chord = top.middle(bottom);
    let off = |p: &FilmPx| {
        ((p.x - top.x) * (bottom.y - top.y) - (p.y - top.y) * (bottom.x - top.x)).abs()
    };
    let apex = centres
        .into_iter()
        .max_by(|a, b| off(a).total_cmp(&off(b)))
        .unwrap_or(chord);
    let mut away = (chord.x - apex.x, chord.y - apex.y);
    if away.0.hypot(away.1) < 1.0 {
        away = (1.0, 0.0);
    }
    let wide = (u.1.x - u.0.x).hypot(u.1.y - u.0.y);
    let length = away.0.hypot(away.1);
    out.words.push(Word {
        at: FilmPx::new(
            apex.x + away.0 / length * wide * 0.9,
            apex.y + away.1 / length * wide * 0.9,
        ),
        away,
        text: levels.to_string(),
        level: None,
        value: Some((r.value, r.unit)),
        key: Some(r.key),
        curve: r.curve.clone(),
    });
}
