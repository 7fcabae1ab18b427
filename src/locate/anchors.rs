//! Hints as places along a pattern of the spine and on the film.

use super::carry::{LayError, Unmarked};
use super::pattern::Pattern;
use crate::landmark::Landmark;
use crate::units::FilmPx;
use nalgebra::Vector2;

/// Hints nearer each other than this share of what the pattern has between them lie on one another; so many mm between
/// them at least, but for the outermost: the two plates of a disc may touch.
const TOGETHER: (f64, f64) = (0.2, 10.0);
/// Hints farther from each other than this many times that, and so many mm more, are no hints on one spine.
const APART: (f64, f64) = (3.0, 50.0);
/// Hints that lie apart by less than this share of the pattern do not tell how it is turned and stretched: a mark
/// 2 mm off, or a bend between them, would turn what lies far from them out of reach.
const SPAN: f64 = 1.0 / 3.0;
/// A lone end of a plate is taken for a place so far beside the plate along the spine, mm: no plate is held to it.
const BESIDE: f64 = 0.01;

/// The hints that name one place.
struct Place {
    along: f64,
    sum: Vector2<f64>,
    names: Vec<Landmark>,
}

impl Place {
    fn middle(&self) -> Vector2<f64> {
        self.sum / self.names.len() as f64
    }

    /// From here to `other`, and how far that is along the pattern.
    fn to(&self, other: &Place) -> (Vector2<f64>, f64) {
        (other.middle() - self.middle(), other.along - self.along)
    }
}

/// The hints as places along the pattern and on the film, from the head down. Both ends of one plate count as its
/// middle; of a lone end the middle is taken to lie half a plate's width beside it, across the spine.
pub(super) fn anchors(
    pattern: &Pattern,
    film: &Unmarked<'_>,
    hints: &[(Landmark, FilmPx)],
) -> Result<Vec<(f64, Vector2<f64>)>, LayError> {
    let mut all: Vec<Place> = Vec::new();
    for (name, at) in hints.iter().map(|h| (h.0, film.steps.mm(h.1))) {
        let along = pattern.along_of(name).ok_or(LayError::Hint(name))?;
        match all.iter_mut().find(|a| (a.along - along).abs() < 1e-9) {
            Some(a) => {
                a.sum += at;
                a.names.push(name);
            }
            None => all.push(Place {
                along,
                sum: at,
                names: vec![name],
            }),
        }
    }
    all.sort_by(|a, b| a.along.total_cmp(&b.along));
    check(&all)?;
    let feet = feet(pattern, &all);
    Ok(all
        .iter()
        .map(|a| match a.names[..] {
            [Landmark::Plate(level, edge, end)] => {
                let first = Landmark::plate_ends(level, edge, pattern.lateral)[0];
                let side = if first == Landmark::Plate(level, edge, end) {
                    film.hand
                } else {
                    -film.hand
                };
                let aside = Vector2::new(feet.y, -feet.x) * (side * pattern.half_at(a.along));
                (a.along + BESIDE, a.middle() + aside)
            }
            _ => (a.along, a.middle()),
        })
        .collect())
}

/// Refuses hints at different levels that lie on one another, and such as cannot be on one spine.
fn check(all: &[Place]) -> Result<(), LayError> {
    let far = |(a, b): &(&Place, &Place)| b.along - a.along > TOGETHER.1;
    let neighbours = all.iter().zip(all.iter().skip(1)).filter(far);
    for (a, b) in neighbours.chain(all.first().zip(all.last())) {
        let (names, (way, along)) = ((a.names[0], b.names[0]), a.to(b));
        if names.0.level() == names.1.level() {
            continue;
        }
        if way.norm() < TOGETHER.0 * along {
            return Err(LayError::Together(names.0, names.1));
        }
        if way.norm() > APART.0 * along + APART.1 {
            return Err(LayError::Apart(names.0, names.1));
        }
    }
    Ok(())
}

/// Direction toward the feet: by hints far apart, else as on the film before; the head up where there is none.
fn feet(pattern: &Pattern, all: &[Place]) -> Vector2<f64> {
    let spans: Vec<_> = all.iter().map(|a| (a.along, a.middle())).collect();
    let way = match (&spans[..], &pattern.course[..]) {
        ([first, .., last], _) if spanned(pattern, &spans) => last.1 - first.1,
        (_, [first, .., last]) => last - first,
        _ => Vector2::y(),
    };
    way.try_normalize(1e-9).unwrap_or_else(Vector2::y)
}

/// Whether the anchors lie far enough apart to tell how the pattern is turned and stretched.
pub(super) fn spanned(pattern: &Pattern, anchors: &[(f64, Vector2<f64>)]) -> bool {
    match anchors {
        [first, .., last] => last.0 - first.0 >= SPAN * pattern.length(),
        _ => false,
    }
}
