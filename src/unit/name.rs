use core::borrow::Borrow;
use core::fmt;
use std::sync::Arc;

use itertools::Itertools;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// A short text that names something: a slot label, a channel, a part number, an offer's id.
///
/// Never empty, at most [`Name::MAX_BYTES`] (120) bytes, free of control characters and of white space
/// at either end. Cheap to clone. Ordered by bytes.
///
/// ```
/// use slotwright::unit::Name;
///
/// let name: Name = "A1".parse()?;
/// assert_eq!(name.as_str(), "A1");
/// assert!("".parse::<Name>().is_err());
/// # Ok::<(), slotwright::unit::NameError>(())
/// ```
///
/// ```
/// use slotwright::Name;
///
/// let name = Name::new("A1")?;
/// assert_eq!(name, "A1".parse::<Name>()?);
/// assert_eq!(name.as_str(), "A1");
/// assert!(Name::new(" A1").is_err());
/// # Ok::<(), slotwright::unit::NameError>(())
/// ```
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(
    feature = "schemars",
    derive(schemars::JsonSchema),
    schemars(extend("minLength" = 1, "maxLength" = Name::MAX_BYTES, "pattern" = PATTERN))
)]
#[serde(try_from = "String", into = "String")]
pub struct Name(Arc<str>);

/// What makes a name, as far as a pattern can say it. White space is listed, since dialects differ in what they
/// count as such.
#[cfg(feature = "schemars")]
const PATTERN: &str = concat!(
    r"^[^\u0000-\u0020\u007F-\u00A0\u1680\u2000-\u200A\u2028\u2029\u202F\u205F\u3000]",
    r"([^\u0000-\u001F\u007F-\u009F]*",
    r"[^\u0000-\u0020\u007F-\u00A0\u1680\u2000-\u200A\u2028\u2029\u202F\u205F\u3000])?$"
);

/// Why a text is no [`Name`].
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum NameError {
    /// Nothing between the quotes.
    #[error("a name is empty; it needs at least one character")]
    Empty,
    /// Longer than [`Name::MAX_BYTES`].
    #[error("a name of {bytes} bytes is too long; at most {} are allowed", Name::MAX_BYTES)]
    TooLong {
        /// How long it is.
        bytes: usize,
    },
    /// A control character, or white space at an end.
    #[error("the name {name:?} has a control character or white space at an end")]
    Unprintable {
        /// The text as given.
        name: String,
    },
}

impl Name {
    /// The longest name allowed, in bytes.
    pub const MAX_BYTES: usize = 120;

    /// Makes a name of a text.
    ///
    /// # Errors
    /// When the text is empty, longer than [`Name::MAX_BYTES`], or has control characters or white
    /// space at an end.
    pub fn new(text: &str) -> Result<Self, NameError> {
        if is_plain(text) {
            Ok(Self(text.into()))
        } else if text.is_empty() {
            Err(NameError::Empty)
        } else if text.len() > Self::MAX_BYTES {
            Err(NameError::TooLong { bytes: text.len() })
        } else if text.trim() != text || text.chars().any(char::is_control) {
            Err(NameError::Unprintable { name: text.to_owned() })
        } else {
            Ok(Self(text.into()))
        }
    }

    /// Makes a name of any text: control characters and white space at the ends are dropped, what is
    /// too long is cut, and nothing at all becomes "?".
    #[must_use]
    pub fn lossy(text: &str) -> Self {
        if is_plain(text) {
            return Self(text.into());
        }
        let mut kept = String::new();
        for letter in text.trim().chars().filter(|letter| !letter.is_control()) {
            if kept.len() + letter.len_utf8() > Self::MAX_BYTES {
                break;
            }
            kept.push(letter);
        }
        let kept = kept.trim();
        Self(if kept.is_empty() { "?" } else { kept }.into())
    }

    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// Whether a text is a name by its bytes alone, as nearly all are: ASCII without control characters, and no blanks at the ends.
fn is_plain(text: &str) -> bool {
    let bytes = text.as_bytes();
    let (Some(first), Some(last)) = (bytes.first(), bytes.last()) else { return false };
    bytes.len() <= Name::MAX_BYTES
        && first.is_ascii_graphic()
        && last.is_ascii_graphic()
        && bytes.iter().all(|byte| matches!(byte, b' '..=b'~'))
}

impl core::str::FromStr for Name {
    type Err = NameError;

    fn from_str(text: &str) -> Result<Self, NameError> {
        Self::new(text)
    }
}

impl TryFrom<String> for Name {
    type Error = NameError;

    fn try_from(text: String) -> Result<Self, NameError> {
        Self::new(&text)
    }
}

impl From<Name> for String {
    fn from(name: Name) -> Self {
        name.as_str().to_owned()
    }
}

impl Borrow<str> for Name {
    fn borrow(&self) -> &str {
        self.as_str()
    }
}

impl PartialEq<str> for Name {
    fn eq(&self, text: &str) -> bool {
        self.as_str() == text
    }
}

impl PartialEq<&str> for Name {
    fn eq(&self, text: &&str) -> bool {
        self.as_str() == *text
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

impl fmt::Debug for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(self.as_str(), f)
    }
}

/// Names that are allowed, in a message: a list as data, and with commas as a text, which names the first 200. Cheap to clone.
///
/// ```
/// use slotwright::unit::Names;
///
/// let names: Names = ["A1", "A2"].into_iter().collect();
/// assert_eq!(names.to_string(), "A1, A2");
/// assert_eq!(Names::default().to_string(), "none");
/// assert_eq!(names.iter().count(), 2);
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(transparent)]
pub struct Names(Arc<[Name]>);

impl Default for Names {
    fn default() -> Self {
        Self(Arc::new([]))
    }
}

impl Names {
    /// How many names a text has at most.
    const MOST_IN_TEXT: usize = 200;

    /// In the order in which they were given.
    #[must_use]
    pub fn iter(&self) -> impl ExactSizeIterator<Item = &Name> {
        self.0.iter()
    }
}

impl<'n> FromIterator<&'n Name> for Names {
    fn from_iter<I: IntoIterator<Item = &'n Name>>(names: I) -> Self {
        Self(names.into_iter().cloned().collect())
    }
}

/// What is no name is made one.
impl<'n> FromIterator<&'n str> for Names {
    fn from_iter<I: IntoIterator<Item = &'n str>>(names: I) -> Self {
        Self(names.into_iter().map(Name::lossy).collect())
    }
}

impl fmt::Display for Names {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0.len().checked_sub(Self::MOST_IN_TEXT) {
            _ if self.0.is_empty() => f.write_str("none"),
            None | Some(0) => write!(f, "{}", self.0.iter().format(", ")),
            Some(more) => write!(f, "{} and {more} more", self.0.iter().take(Self::MOST_IN_TEXT).format(", ")),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn bad_names_are_refused() {
        let unprintable = |name: &str| Err(NameError::Unprintable { name: name.to_owned() });
        assert_eq!(Name::new(""), Err(NameError::Empty));
        assert_eq!(Name::new(&"x".repeat(121)), Err(NameError::TooLong { bytes: 121 }));
        assert!(Name::new(&"x".repeat(120)).is_ok());
        for text in [" ", " A1", "A1 ", "A\t1", "A1\n", "\u{a0}A1", "A\u{7f}1", "\0"] {
            assert_eq!(Name::new(text), unprintable(text));
        }
        assert_eq!(Name::new("A 1").unwrap(), "A 1");
    }

    #[test]
    fn any_text_makes_a_name() {
        assert_eq!(Name::lossy(" A\t1\u{a0}"), "A1");
        assert_eq!(Name::lossy("\n"), "?");
        let (most, more) = ("x".repeat(Name::MAX_BYTES), "x".repeat(Name::MAX_BYTES + 1));
        assert_eq!(Name::lossy(&most), most.as_str());
        assert_eq!(Name::lossy(&more), most.as_str());
        // a letter of two bytes does not fit in one
        assert_eq!(Name::lossy(&format!("{}\u{e9}", &most[1..])), &most[1..]);
    }

    proptest! {
        #[test]
        fn documents_and_texts_read_back(text in "\\PC{0,40}") {
            if let Ok(name) = Name::new(&text) {
                prop_assert_eq!(name.to_string(), text.as_str());
                prop_assert_eq!(format!("{name:?}"), format!("{text:?}"));
                let document = serde_json::to_string(&name).unwrap();
                prop_assert_eq!(serde_json::from_str::<Name>(&document).unwrap(), name);
            } else {
                prop_assert!(serde_json::from_value::<Name>(text.into()).is_err());
            }
        }

        #[test]
        fn order_is_that_of_the_bytes(left in "[ -~]{1,5}", right in "[ -~]{1,5}") {
            if let (Ok(a), Ok(b)) = (Name::new(&left), Name::new(&right)) {
                prop_assert_eq!(a.cmp(&b), left.as_bytes().cmp(right.as_bytes()));
            }
        }
    }
}
