//! Calendar dates (ISO 8601), without a clock.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// A calendar date. Never compared with the machine's clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Date {
    year: i32,
    month: u8,
    day: u8,
}

impl Date {
    /// A date, if it exists in the Gregorian calendar.
    #[must_use]
    pub fn new(year: i32, month: u8, day: u8) -> Option<Date> {
        let leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
        let days = match month {
            1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
            4 | 6 | 9 | 11 => 30,
            2 if leap => 29,
            2 => 28,
            _ => return None,
        };
        ((1..=days).contains(&day) && (1800..=9999).contains(&year)).then_some(Date {
            year,
            month,
            day,
        })
    }

    /// A DICOM DA value, `YYYYMMDD`.
    #[must_use]
    pub fn from_dicom(text: &str) -> Option<Date> {
        let digits: String = text.trim().chars().filter(|c| *c != '.').collect();
        if digits.len() != 8 || !digits.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        Date::new(
            digits[..4].parse().ok()?,
            digits[4..6].parse().ok()?,
            digits[6..].parse().ok()?,
        )
    }

    /// The DICOM DA value.
    #[must_use]
    pub fn to_dicom(self) -> String {
        format!("{:04}{:02}{:02}", self.year, self.month, self.day)
    }

    /// Days since 1970-01-01; differences are days between films.
    #[must_use]
    pub fn day_number(self) -> i64 {
        // Days from civil, era arithmetic of the proleptic Gregorian calendar.
        let (m, d) = (i64::from(self.month), i64::from(self.day));
        let y = i64::from(self.year) - i64::from(m <= 2);
        let era = y.div_euclid(400);
        let yoe = y.rem_euclid(400);
        let doy = (153 * (m + if m > 2 { -3 } else { 9 }) + 2) / 5 + d - 1;
        era * 146_097 + yoe * 365 + yoe / 4 - yoe / 100 + doy - 719_468
    }

    /// The date `days` later.
    #[must_use]
    pub fn plus_days(self, days: i64) -> Option<Date> {
        let z = self.day_number() + days + 719_468;
        let era = z.div_euclid(146_097);
        let doe = z.rem_euclid(146_097);
        let yoe = (doe - doe / 1460 + doe / 36_524 - doe / 146_096) / 365;
        let doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
        let mp = (5 * doy + 2) / 153;
        let day = u8::try_from(doy - (153 * mp + 2) / 5 + 1).ok()?;
        let month = u8::try_from(if mp < 10 { mp + 3 } else { mp - 9 }).ok()?;
        let year = i32::try_from(yoe + era * 400 + i64::from(month <= 2)).ok()?;
        Date::new(year, month, day)
    }

    /// `3 Mar`, for axes and headings where the year is clear.
    #[must_use]
    pub fn short(self) -> String {
        const MONTHS: [&str; 12] = [
            "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
        ];
        format!("{} {}", self.day, MONTHS[usize::from(self.month) - 1])
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

impl FromStr for Date {
    type Err = String;
    fn from_str(text: &str) -> Result<Date, String> {
        let bad = || format!("\"{text}\" is no date; write it as 2031-03-31");
        let parts: Vec<&str> = text.split('-').collect();
        let [y, m, d] = parts[..] else {
            return Err(bad());
        };
        if y.len() != 4 || m.len() != 2 || d.len() != 2 {
            return Err(bad());
        }
        match (y.parse(), m.parse(), d.parse()) {
            (Ok(y), Ok(m), Ok(d)) => Date::new(y, m, d).ok_or_else(bad),
            _ => Err(bad()),
        }
    }
}

impl TryFrom<String> for Date {
    type Error = String;
    fn try_from(text: String) -> Result<Date, String> {
        text.parse()
    }
}

impl From<Date> for String {
    fn from(date: Date) -> String {
        date.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn day_numbers_agree_with_the_calendar() {
        // Unix epoch and a leap day, both common knowledge of calendars.
        assert_eq!(Date::new(1970, 1, 1).map(Date::day_number), Some(0));
        assert_eq!(Date::new(2000, 3, 1).map(Date::day_number), Some(11_017));
        assert_eq!(
            Date::new(2024, 2, 29).and_then(|d| d.plus_days(366)),
            Date::new(2025, 3, 1)
        );
        assert!(Date::new(2023, 2, 29).is_none());
        assert!("2031-3-1".parse::<Date>().is_err());
        for day in (-40_000..60_000).step_by(97) {
            let d = Date::new(1970, 1, 1).and_then(|d| d.plus_days(day));
            assert_eq!(d.map(Date::day_number), Some(day));
        }
    }
}
