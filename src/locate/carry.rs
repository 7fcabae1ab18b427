//! Marks laid on a film that has none: last film's vertebrae, or those of a usual spine, along the
//! spine found on the film.

use super::anchors::anchors;
use super::bone::dark_between;
use super::chain::Steps;
use super::laying::Laying;
use super::metal::Metal;
use super::pattern::Pattern;
use super::refine::Refined;
use crate::film::GreyPlane;
use crate::landmark::Landmark;
use crate::units::FilmPx;

/// Why marks cannot be laid.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LayError {
    /// A hint names nothing of the spine that is laid.
    #[error("the hint {0} is no end-plate or centre of the spine that is laid")]
    Hint(Landmark),
    /// Two hints lie nearly on one another.
    #[error("the hints {0} and {1} lie nearly on one another")]
    Together(Landmark, Landmark),
    /// Two hints lie too far from each other for one spine.
    #[error("the hints {0} and {1} lie too far apart for one spine")]
    Apart(Landmark, Landmark),
    /// Both ends are needed.
    #[error("the spine needs a hint near each end, as C7.center=X,Y and S1.center=X,Y")]
    Ends,
    /// Nothing there looks like the film before.
    #[error(
        "the spine of the film before was not recognised; it needs a hint near each end, as C7.center=X,Y and S1.center=X,Y"
    )]
    Unlike,
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
/// A hint that names nothing of the pattern; hints on one another or too far apart; a usual spine with hints at fewer
/// than two levels; a film's before not recognised without them.
pub fn lay(
    film: Unmarked<'_>,
    pattern: &Pattern,
    hints: &[(Landmark, FilmPx)],
) -> Result<Laid, LayError> {
    let (steps, either) = (film.steps, film.either);
    let anchors = anchors(pattern, &film, hints)?;
    let on = |dark: bool| Laying::on(film, dark, pattern, &anchors);
    if pattern.looks.is_empty() {
        // Two places of one vertebra tell no more than one.
        let one_level = hints.iter().all(|h| h.0.level() == hints[0].0.level());
        let [first, .., last] = &anchors[..] else {
            return Err(LayError::Ends);
        };
        if one_level {
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
