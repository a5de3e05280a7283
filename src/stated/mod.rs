//! Where a limit comes from: its basis and, where known, the text that states it.

mod path;

use core::fmt;

use serde::{Deserialize, Serialize};

use crate::unit::Name;

pub use path::{FieldPath, Located, PathStep};

/// What a limit rests on.
///
/// A data sheet, a board manual and a measurement make errors. Not being on a maker's list is a
/// warning at most. What is assumed is shown wherever it decides something.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Basis {
    /// The data sheet of the processor or the module.
    DataSheet,
    /// The board's or the system's manual.
    BoardManual,
    /// A list of what the maker has tried.
    MakersList,
    /// Seen on a real machine.
    Measured,
    /// Nobody's word: common practice or a guess.
    Assumed,
}

impl fmt::Display for Basis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::DataSheet => "data sheet",
            Self::BoardManual => "board manual",
            Self::MakersList => "maker's list",
            Self::Measured => "measured",
            Self::Assumed => "assumed",
        })
    }
}

/// The text that a limit was taken from.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Source {
    /// Title, section, page.
    pub text: Name,
    /// Its date or revision, as it prints it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub date: Option<Name>,
}

impl Source {
    /// A text without a date.
    #[must_use]
    pub fn new(text: Name) -> Self {
        Self { text, date: None }
    }

    setters! {
        some date(date: Name);
    }
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.text)?;
        self.date.as_ref().map_or(Ok(()), |date| write!(f, " ({date})"))
    }
}

/// Whether something must be or should be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Demand {
    /// Otherwise it is an error.
    Required,
    /// Otherwise it is a warning.
    Advised,
}

/// Where something is counted or compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Scope {
    /// In each channel by itself.
    Channel,
    /// In each processor's channels by themselves.
    Socket,
    /// In the whole machine.
    Machine,
}

impl fmt::Display for Scope {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Channel => "channel",
            Self::Socket => "processor",
            Self::Machine => "machine",
        })
    }
}

/// A value with what it rests on.
///
/// ```
/// use slotwright::stated::{Basis, Stated};
///
/// let cap = Stated::new(768, Basis::BoardManual);
/// assert_eq!((cap.value, cap.basis), (768, Basis::BoardManual));
/// assert_eq!(Stated::assumed(3).basis, Basis::Assumed);
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(rename = "Stated_{T}"))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Stated<T> {
    /// The value.
    pub value: T,
    /// What it rests on.
    pub basis: Basis,
    /// The text that states it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
}

impl<T> Stated<T> {
    /// A value on a basis, without source text.
    #[must_use]
    pub const fn new(value: T, basis: Basis) -> Self {
        Self { value, basis, source: None }
    }

    /// A value that is assumed.
    #[must_use]
    pub const fn assumed(value: T) -> Self {
        Self::new(value, Basis::Assumed)
    }

    /// A value on the same basis and source.
    #[must_use]
    pub fn with<U>(&self, value: U) -> Stated<U> {
        Stated { value, basis: self.basis, source: self.source.clone() }
    }

    /// The same, with its source.
    #[must_use]
    pub fn from_source(mut self, source: Source) -> Self {
        self.source = Some(source);
        self
    }
}

/// The schema number of this version's documents. Reading any other number is an error.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(extend("const" = Schema::NUMBER)))]
#[serde(try_from = "u32", into = "u32")]
pub struct Schema;

impl Schema {
    /// The number that this version writes and reads.
    pub const NUMBER: u32 = 1;
}

impl TryFrom<u32> for Schema {
    type Error = String;

    fn try_from(number: u32) -> Result<Self, String> {
        if number == Self::NUMBER {
            Ok(Self)
        } else {
            Err(format!("schema {number} is not known; this version reads schema {}", Self::NUMBER))
        }
    }
}

impl From<Schema> for u32 {
    fn from(_: Schema) -> Self {
        Schema::NUMBER
    }
}
