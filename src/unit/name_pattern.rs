//! Texts by which reports name something.

use core::fmt;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::unit::{Name, NameError};

/// A text by which reports name something, with `*` for anything. Case, and how many blanks stand between words, are no matter.
///
/// ```
/// use slotwright::unit::NamePattern;
///
/// let pattern: NamePattern = "Gale 24*".parse()?;
/// assert!(pattern.matches("GALE  24 rev B") && !pattern.matches("Gale 12"));
/// assert!("*".parse::<NamePattern>().is_err());
/// # Ok::<(), slotwright::unit::NamePatternError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(try_from = "Name", into = "Name")]
pub struct NamePattern(Name);

/// Why a text is no pattern of names.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum NamePatternError {
    /// It is no name.
    #[error(transparent)]
    Name(#[from] NameError),
    /// It would match anything.
    #[error("the pattern {pattern:?} matches any name; it needs a letter or a digit at least")]
    Anything {
        /// The pattern.
        pattern: Name,
    },
}

impl NamePattern {
    /// Whether a text is one of those meant.
    #[must_use]
    pub fn matches(&self, text: &str) -> bool {
        let fold = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
        let (pattern, text) = (fold(self.0.as_str()), fold(text));
        let mut parts = pattern.split('*');
        let first = parts.next().unwrap_or_default();
        let Some(mut rest) = text.strip_prefix(first) else { return false };
        let mut last = None;
        for part in parts {
            // each part at its first place; the last one must end the text
            if let Some(part) = last.replace(part) {
                match rest.find(part) {
                    None => return false,
                    Some(at) => rest = rest.get(at + part.len()..).unwrap_or_default(),
                }
            }
        }
        last.map_or(rest.is_empty(), |last: &str| rest.ends_with(last))
    }
}

impl TryFrom<Name> for NamePattern {
    type Error = NamePatternError;

    fn try_from(pattern: Name) -> Result<Self, NamePatternError> {
        match pattern.as_str().chars().any(char::is_alphanumeric) {
            true => Ok(Self(pattern)),
            false => Err(NamePatternError::Anything { pattern }),
        }
    }
}

impl core::str::FromStr for NamePattern {
    type Err = NamePatternError;

    fn from_str(text: &str) -> Result<Self, NamePatternError> {
        Name::new(text)?.try_into()
    }
}

impl From<NamePattern> for Name {
    fn from(pattern: NamePattern) -> Self {
        pattern.0
    }
}

impl fmt::Display for NamePattern {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_of_names() {
        let cases = [
            ("abc", "ABC", true),
            ("abc", "abcd", false),
            ("a*c", "abbc", true),
            ("a*c", "ac", true),
            ("a*c", "a c d", false),
            ("*b*", "abc", true),
            ("*b*", "ac", false),
            ("a*b*a", "aba", true),
            ("a*a", "a", false),
            ("2 x*", "2  X 4", true),
        ];
        for (pattern, text, is_meant) in cases {
            assert_eq!(pattern.parse::<NamePattern>().unwrap().matches(text), is_meant, "{pattern} {text}");
        }
        assert!(serde_json::from_str::<NamePattern>("\"* *\"").is_err());
    }
}
