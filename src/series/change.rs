//! The change of one measure between two films, or why there is none.

use crate::case::FilmRecord;
use crate::measure::{Measured, Status};
use crate::units::Unit;

/// Whether a value is a magnitude that points to a side, so that crossing over is the whole way.
fn is_sided_magnitude(key: &str) -> bool {
    key == "cobb"
}

fn signed(result: &Measured, base: &Measured) -> Option<f64> {
    let value = result.value.as_ref()?.v;
    let crossed = is_sided_magnitude(result.key)
        && matches!((result.toward, base.toward), (Some(a), Some(b)) if a != b);
    Some(if crossed { -value } else { value })
}

/// Why millimetres of two films cannot be compared; `None` when they can.
fn scales_differ(a: (&Measured, &FilmRecord), b: (&Measured, &FilmRecord)) -> Option<&'static str> {
    if a.0.unit != Unit::Millimetre {
        return None;
    }
    match (a.0.status, b.0.status) {
        (Status::Ok, Status::Ok) => None,
        (Status::Uncorrected, Status::Uncorrected) => {
            let distance = |f: &FilmRecord| f.said.source_detector_mm;
            match (distance(a.1), distance(b.1)) {
                (Some(x), Some(y)) if (x - y).abs() < 1e-6 => None,
                (Some(_), Some(_)) => Some("no change: the source-detector distances differ"),
                _ => Some("no change: magnification and source-detector distance are not known"),
            }
        }
        _ => Some("no change: one film is calibrated, the other is not"),
    }
}

/// SD of a per cent correction, (pre − post) / pre: first order, the two films independent (handbook §5.1).
/// Each of `pre` and `post` is a value with its SD.
#[must_use]
pub fn percent_sd(pre: (f64, f64), post: (f64, f64)) -> Option<f64> {
    let of_post = post.1 / pre.0;
    let of_pre = post.0 * pre.1 / (pre.0 * pre.0);
    let sd = 100.0 * of_post.hypot(of_pre);
    sd.is_finite().then_some(sd)
}

/// Change between two results of one measure, with its SD, or why there is none.
pub(super) fn change(
    to: (&Measured, &FilmRecord),
    from: (&Measured, &FilmRecord),
    base: &Measured,
) -> Result<(f64, Option<f64>), Option<&'static str>> {
    let (Some(now), Some(then)) = (signed(to.0, base), signed(from.0, base)) else {
        return Err(None);
    };
    if let Some(why) = scales_differ(to, from) {
        return Err(Some(why));
    }
    let sd = match (to.0.sd, from.0.sd) {
        _ if to.1.id == from.1.id => None,
        (Some(a), Some(b)) => Some(a.hypot(b)),
        _ => None,
    };
    Ok((now - then, sd))
}
