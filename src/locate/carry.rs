//! Marks laid on a film that has none: last film's vertebrae, or those of a usual spine, along the
//! spine found on the film.

use super::bone::dark_between;
use super::chain::Steps;
use super::laying::Laying;
use super::metal::Metal;
use super::pattern::Pattern;
use super::refine::Refined;
use crate::film::GreyPlane;
use crate::landmark::Landmark;
use crate::units::FilmPx;
use nalgebra::Vector2;

/// Why marks cannot be laid.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LayError {
    /// A hint names nothing of the spine that is laid.
    #[error("the hint {0} is no end-plate or centre of the spine that is laid")]
    Hint(Landmark),
    /// Two hints lie nearly on one another.
    #[error("the hints {0} and {1} lie nearly on one another")]
    Together(Landmark, Landmark),
    /// Both ends are needed.
    #[error("the spine needs a hint near each end, as C7.center=X,Y and S1.center=X,Y")]
    Ends,
    /// Nothing there looks like the film before.
    #[error(
        "the spine of the film before was not recognised; it needs a hint near each end, as C7.center=X,Y and S1.center=X,Y"
    )]
    Unlike,
}

/// Hints nearer each other than this share of what the pattern has between them lie on one another.
const TOGETHER: f64 = 0.2;

/// The hints as places along the pattern and on the film, from the head down. Both ends of one plate
/// count as its middle.
fn anchors(
    pattern: &Pattern,
    steps: Steps,
    hints: &[(Landmark, FilmPx)],
) -> Result<Vec<(f64, Vector2<f64>)>, LayError> {
    let mut out: Vec<(f64, Vector2<f64>, f64, Landmark)> = Vec::new();
    for (name, at) in hints.iter().map(|h| (h.0, steps.mm(h.1))) {
        let along = pattern.along_of(name).ok_or(LayError::Hint(name))?;
        match out.iter_mut().find(|a| (a.0 - along).abs() < 1e-9) {
            Some(a) => {
                a.1 += at;
                a.2 += 1.0;
            }
            None => out.push((along, at, 1.0, name)),
        }
    }
    out.sort_by(|a, b| a.0.total_cmp(&b.0));
    for w in out.windows(2) {
        let apart = (w[1].1 / w[1].2 - w[0].1 / w[0].2).norm();
        if w[0].3.level() != w[1].3.level() && apart < TOGETHER * (w[1].0 - w[0].0) {
            return Err(LayError::Together(w[0].3, w[1].3));
        }
    }
    Ok(out.into_iter().map(|a| (a.0, a.1 / a.2)).collect())
}

/// Marks laid on a film.
#[derive(Clone, Debug, PartialEq)]
pub struct Laid {
    /// The plates with their quality.
    pub plates: Vec<Refined>,
    /// Whether bone is dark in the plane that was given.
    pub dark: bool,
    /// How alike the vertebrae are to those on the film before, in the mean: 1 the same, 0 not at all; none
    /// for a usual spine.
    pub alike: Option<f64>,
    /// Metal that was looked past.
    pub metal: Option<Metal>,
}

/// A film on which marks are to be laid.
#[derive(Clone, Copy, Debug)]
pub struct Unmarked<'a> {
    /// Its grey.
    pub plane: &'a GreyPlane,
    /// Its millimetres.
    pub steps: Steps,
    /// +1 when a plate's first end (left, or posterior) lies on the left with the head up, else −1.
    pub hand: f64,
    /// Whether bone may be dark in `plane`: it is found out which. Else it is bright.
    pub either: bool,
    /// Whether rods and screws are to be looked past.
    pub past_metal: bool,
}

impl<'a> Unmarked<'a> {
    /// A film with bone bright and no metal.
    #[must_use]
    pub fn of(plane: &'a GreyPlane, steps: Steps, hand: f64) -> Unmarked<'a> {
        Unmarked {
            plane,
            steps,
            hand,
            either: false,
            past_metal: false,
        }
    }
}

/// Lays a pattern along the spine of a film and fits it to what the film shows: a film's before where its
/// vertebrae look as they did, a usual one between hints.
///
/// # Errors
/// A hint that names nothing of the pattern; a usual spine with hints at fewer than two places; a film's
/// before not recognised without them.
pub fn lay(
    film: Unmarked<'_>,
    pattern: &Pattern,
    hints: &[(Landmark, FilmPx)],
) -> Result<Laid, LayError> {
    let (steps, either) = (film.steps, film.either);
    let anchors = anchors(pattern, steps, hints)?;
    let on = |dark: bool| Laying::on(film, dark, pattern, &anchors);
    if pattern.looks.is_empty() {
        let levels = |h: &(Landmark, FilmPx)| h.0.level();
        let two = hints.iter().any(|h| levels(h) != levels(&hints[0]));
        let [first, .., last] = &anchors[..] else {
            return Err(LayError::Ends);
        };
        if !two {
            return Err(LayError::Ends);
        }
        let bright = on(false);
        let between = || dark_between(film.plane, steps, first.1, last.1);
        let dark = either && bright.dark().unwrap_or_else(between);
        let laying = if dark { on(true) } else { bright };
        return Ok(laying.proposed(first, last));
    }
    let bright = on(false);
    if !(either && film.past_metal) {
        let found = bright.sought(either);
        let dark = found.sign < 0.0;
        return if dark { on(true) } else { bright }.carried(found);
    }
    // What would be metal on a film is not on its negative: each is looked at without its own.
    let dark = on(true);
    let (on_bright, on_dark) = (bright.sought(false), dark.sought(false));
    if on_dark.alike > on_bright.alike {
        dark.carried(on_dark)
    } else {
        bright.carried(on_bright)
    }
}
