use core::fmt;

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// When a report was made, in the caller's word: a date, or a date and a time, `2026-11-27` or `2026-11-27T14:05`.
///
/// Two reports of one day, of which one has no time, cannot be told apart: neither is later.
///
/// ```
/// use slotwright::population::ReportDate;
///
/// let day: ReportDate = "2026-11-27".parse()?;
/// let noon: ReportDate = "2026-11-27T12:00".parse()?;
/// assert!(!noon.is_later_than(&day) && !day.is_later_than(&noon));
/// assert!(noon.is_later_than(&"2026-11-27T11:59:59".parse()?));
/// assert!("27.11.2026".parse::<ReportDate>().is_err());
/// # Ok::<(), slotwright::population::ReportDateError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(with = "String"))]
#[serde(try_from = "String", into = "String")]
pub struct ReportDate(String);

/// A text that is no [`ReportDate`].
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error(
    "{found:?} is no date of the calendar; write 2026-11-27, or 2026-11-27T14:05 or 2026-11-27T14:05:30 with a time"
)]
#[non_exhaustive]
pub struct ReportDateError {
    /// The text as given.
    pub found: String,
}

impl ReportDate {
    /// What it looks like: a digit for each 0.
    const FORM: &'static str = "0000-00-00T00:00:00";

    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether it is known to be later.
    #[must_use]
    pub fn is_later_than(&self, other: &Self) -> bool {
        let known = self.0.len().min(other.0.len());
        self.0.get(..known) > other.0.get(..known)
    }
}

impl TryFrom<String> for ReportDate {
    type Error = ReportDateError;

    fn try_from(text: String) -> Result<Self, ReportDateError> {
        let is_of_form = text.len() <= Self::FORM.len()
            && text.chars().zip(Self::FORM.chars()).all(|(letter, form)| match form {
                '0' => letter.is_ascii_digit(),
                form => letter == form,
            });
        let number = |from: usize, to: usize| text.get(from..to).map(|digits| digits.parse::<u8>().unwrap_or(u8::MAX));
        let within = |from, to, least, most| number(from, to).is_none_or(|number| (least..=most).contains(&number));
        let year = text.get(..4).and_then(|digits| digits.parse::<u16>().ok()).unwrap_or_default();
        let days = match number(5, 7) {
            Some(2) if year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) => 29,
            Some(2) => 28,
            Some(4 | 6 | 9 | 11) => 30,
            _ => 31,
        };
        let is_sound = matches!(text.len(), 10 | 16 | 19)
            && is_of_form
            && within(5, 7, 1, 12)
            && within(8, 10, 1, days)
            && within(11, 13, 0, 23)
            && within(14, 16, 0, 59)
            && within(17, 19, 0, 60);
        if is_sound { Ok(Self(text)) } else { Err(ReportDateError { found: text }) }
    }
}

impl core::str::FromStr for ReportDate {
    type Err = ReportDateError;

    fn from_str(text: &str) -> Result<Self, ReportDateError> {
        text.to_owned().try_into()
    }
}

impl From<ReportDate> for String {
    fn from(date: ReportDate) -> Self {
        date.0
    }
}

impl fmt::Display for ReportDate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates() {
        for good in ["2026-11-27", "2028-02-29", "2000-02-29", "2026-11-27T00:00", "1999-01-31T23:59:60"] {
            assert_eq!(good.parse::<ReportDate>().unwrap().as_str(), good);
        }
        for bad in [
            "",
            "2026",
            "2026-13-01",
            "2026-00-01",
            "2026-01-32",
            "2026-02-31",
            "2026-02-29",
            "1900-02-29",
            "2026-04-31",
            "2026-11-27T24:00",
            "2026-11-27 12:00",
            "２026-11-27",
        ] {
            assert_eq!(bad.parse::<ReportDate>().unwrap_err().found, bad);
        }
    }
}
