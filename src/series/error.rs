//! Published measurement errors: what a change must exceed to be called real (handbook §6).

use crate::case::Cause;

/// A published error in the measure's own unit, with where it stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PublishedError {
    /// Smallest change beyond error.
    pub value: f64,
    /// Publication, and what kind of figure it is.
    pub source: &'static str,
}

const fn error(value: f64, source: &'static str) -> PublishedError {
    PublishedError { value, source }
}

const CARMAN_COBB: PublishedError = error(10.0, "Carman 1990: 10° is a change in scoliosis");
const CARMAN_GENERAL: PublishedError = error(
    10.0,
    "Carman 1990, scoliosis in general: no figure for this cause was found",
);
const CARMAN_KYPHOSIS: PublishedError = error(11.0, "Carman 1990: 11° is a change in kyphosis");
const CARMAN_KYPHOSIS_GENERAL: PublishedError = error(
    11.0,
    "Carman 1990, kyphosis in general: no figure for this cause was found",
);

/// The published error of a measure for a cause; `None` where no figure was found.
///
/// The cause decides for Cobb angle and kyphosis; other figures are from adult films or from one
/// study and hold for every cause for want of better.
#[must_use]
pub fn published_error(key: &str, cause: Option<Cause>) -> Option<PublishedError> {
    Some(match key {
        "cobb" => match cause {
            Some(Cause::Idiopathic) => CARMAN_COBB,
            Some(Cause::Young) => error(7.0, "Loder 2004: 7° is a change at ten years or younger"),
            Some(Cause::Congenital) => {
                error(23.0, "Loder 1995: 23° is a change in congenital curves")
            }
            Some(Cause::Neuromuscular) => {
                error(14.8, "Gupta 2007: 14.8° between observers, neuromuscular")
            }
            Some(Cause::Syndromic | Cause::Other) | None => CARMAN_GENERAL,
        },
        "kyphosis" | "kyphosis_max" => match cause {
            Some(Cause::Idiopathic) => CARMAN_KYPHOSIS,
            Some(Cause::Neuromuscular) => error(
                24.01,
                "Gupta 2007: kyphosis 24.01° between observers, neuromuscular",
            ),
            _ => CARMAN_KYPHOSIS_GENERAL,
        },
        "rib_vertebra_angle_difference" => error(
            23.0,
            "J Pediatr Orthop 2018: 95 % error about 23° between observers",
        ),
        "pelvic_incidence" => error(13.0, "Kyrölä 2018, adults: 7 to 13°, the larger"),
        "pelvic_tilt" => error(9.0, "Kyrölä 2018, adults: 2 to 9°, the larger"),
        "sacral_slope" => error(8.0, "Kyrölä 2018, adults: 6 to 8°, the larger"),
        "sagittal_vertical_axis" => error(16.0, "Kyrölä 2018, adults: 6 to 16 mm, the larger"),
        _ => return None,
    })
}
