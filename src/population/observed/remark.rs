use core::fmt;

use serde::{Deserialize, Serialize};

use crate::unit::Name;

/// What a reader has to say of a part of its input: what it could not read, what does not go together, what it inferred.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Remark {
    /// Where: a byte ("byte 0x1c3"), a line ("line 12"), a path (`Members[3].CapacityMiB`).
    pub at: Name,
    /// What.
    pub says: Remarked,
}

/// What is remarked.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum Remarked {
    /// The input ends too early.
    CutOff {
        /// How many bytes there should be.
        needed: u64,
        /// How many there are.
        found: u64,
    },
    /// A part that is not read.
    Unread {
        /// What it is.
        what: Name,
        /// Why.
        why: Name,
    },
    /// A field with a code or text that is not known.
    UnknownCode {
        /// The field.
        field: Name,
        /// What stands there.
        found: Name,
    },
    /// A field with a value that cannot be right; it is left out.
    Unbelievable {
        /// The field.
        field: Name,
        /// What stands there.
        found: Name,
        /// Why it cannot be right.
        why: Name,
    },
    /// A checksum that does not fit what it covers; that is left out, or said to be doubtful.
    Checksum {
        /// What it covers.
        what: Name,
        /// As stored.
        stored: u32,
        /// As worked out.
        computed: u32,
    },
    /// Two statements that do not go together.
    Contradiction {
        /// The field.
        field: Name,
        /// What it says.
        found: Name,
        /// What the other says.
        with: Name,
    },
    /// A fact that is not stated, and follows from another.
    Inferred {
        /// The fact.
        field: Name,
        /// Its value.
        value: Name,
        /// From what.
        from: Name,
    },
}

impl Remark {
    /// Something that is to be said of a place.
    #[must_use]
    pub const fn new(at: Name, says: Remarked) -> Self {
        Self { at, says }
    }

    /// A part that is not read.
    #[must_use]
    pub fn unread(at: &str, what: &str, why: &str) -> Self {
        Self { at: Name::lossy(at), says: Remarked::Unread { what: Name::lossy(what), why: Name::lossy(why) } }
    }

    /// A code or text that is not known.
    #[must_use]
    pub fn unknown_code(at: &str, field: &str, found: &str) -> Self {
        Self {
            at: Name::lossy(at),
            says: Remarked::UnknownCode { field: Name::lossy(field), found: Name::lossy(found) },
        }
    }

    /// A value that cannot be right.
    #[must_use]
    pub fn unbelievable(at: &str, field: &str, found: &str, why: &str) -> Self {
        let [field, found, why] = [field, found, why].map(Name::lossy);
        Self { at: Name::lossy(at), says: Remarked::Unbelievable { field, found, why } }
    }

    /// Two statements that do not go together.
    #[must_use]
    pub fn contradiction(at: &str, field: &str, found: &str, with: &str) -> Self {
        let [field, found, with] = [field, found, with].map(Name::lossy);
        Self { at: Name::lossy(at), says: Remarked::Contradiction { field, found, with } }
    }

    /// A fact that is inferred.
    #[must_use]
    pub fn inferred(at: &str, field: &str, value: &str, from: &str) -> Self {
        let [field, value, from] = [field, value, from].map(Name::lossy);
        Self { at: Name::lossy(at), says: Remarked::Inferred { field, value, from } }
    }
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.at, self.says)
    }
}

impl fmt::Display for Remarked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::CutOff { needed, found } => write!(f, "the input ends after {found} of {needed} bytes"),
            Self::Unread { what, why } => write!(f, "{what} is not read: {why}"),
            Self::UnknownCode { field, found } => write!(f, "{field}: {found} is not known"),
            Self::Unbelievable { field, found, why } => write!(f, "{field}: {found} is left out: {why}"),
            Self::Checksum { what, stored, computed } => {
                write!(f, "the checksum of {what} is {stored:#06x} and should be {computed:#06x}")
            }
            Self::Contradiction { field, found, with } => write!(f, "{field}: {found} does not go with {with}"),
            Self::Inferred { field, value, from } => write!(f, "{field}: {value}, inferred from {from}"),
        }
    }
}
