//! The one place where numbers are rounded for people.
//!
//! Angles to whole degrees, millimetres to whole millimetres, per cent to whole per cent, ratios
//! to two decimals. A minus sign is the typographic one and zero carries none.

use crate::units::Unit;

/// Decimals shown for a unit.
#[must_use]
pub fn decimals(unit: Unit) -> usize {
    if unit == Unit::Ratio { 2 } else { 0 }
}

/// A number with `decimals` decimals and a typographic minus; never "−0".
#[must_use]
pub fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.bytes().all(|b| b == b'0' || b == b'.') => digits.to_owned(),
        Some(digits) => format!("\u{2212}{digits}"),
        None => text,
    }
}

/// A value rounded for its unit.
#[must_use]
pub fn value(value: f64, unit: Unit) -> String {
    number(value, decimals(unit))
}

/// A change rounded for its unit, with its sign.
#[must_use]
pub fn change(change: f64, unit: Unit) -> String {
    let text = value(change, unit);
    if text.starts_with('\u{2212}') || text.bytes().all(|b| b == b'0' || b == b'.') {
        text
    } else {
        format!("+{text}")
    }
}

/// `30 %`.
#[must_use]
pub fn percent(percent: f64) -> String {
    format!("{} %", number(percent, 0))
}

/// The unit as set behind a number for people.
#[must_use]
pub fn unit_sign(unit: Unit) -> &'static str {
    match unit {
        Unit::Degree => "°",
        Unit::Millimetre => " mm",
        Unit::Percent => " %",
        Unit::Ratio | Unit::None => "",
    }
}

/// `112° ± 3`.
#[must_use]
pub fn with_sd(v: f64, sd: Option<f64>, unit: Unit) -> String {
    let sign = unit_sign(unit);
    match sd {
        Some(sd) => {
            let sd = number(
                sd,
                if unit == Unit::Ratio {
                    2
                } else {
                    usize::from(sd < 0.95)
                },
            );
            format!("{}{sign} ± {sd}", value(v, unit))
        }
        None => format!("{}{sign}", value(v, unit)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zero_carries_no_sign() {
        assert_eq!(value(-0.3, Unit::Degree), "0");
        assert_eq!(change(0.2, Unit::Millimetre), "0");
        assert_eq!(change(-33.6, Unit::Degree), "−34");
        assert_eq!(change(4.0, Unit::Degree), "+4");
        assert_eq!(value(0.495, Unit::Ratio), "0.49");
        assert_eq!(with_sd(111.7, Some(2.31), Unit::Degree), "112° ± 2");
    }
}
