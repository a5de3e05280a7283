//! The small parts of a label that are printed as they are.

use core::fmt;

/// The letter behind `PC3` or `PC4`. DDR3 says its supply voltage with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum VariantLetter {
    /// `PC3L`: 1.35 V, and 1.5 V as well.
    L,
    /// `PC3U`: 1.25 V, and 1.35 V and 1.5 V as well (from memory).
    U,
    /// `PC4E`: DDR4E, which plans like DDR4.
    E,
}

impl fmt::Display for VariantLetter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::L => "L",
            Self::U => "U",
            Self::E => "E",
        })
    }
}

/// A revision of the SPD content, as `1.1`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SpdRevision {
    /// Before the point.
    pub major: u8,
    /// Behind it.
    pub minor: u8,
}

impl fmt::Display for SpdRevision {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}.{}", self.major, self.minor)
    }
}

/// A short text of ASCII, kept in place.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Tail {
    bytes: [u8; Self::MAX_BYTES],
    length: u8,
}

impl Tail {
    pub(crate) const MAX_BYTES: usize = 15;

    /// `None` where the text is too long.
    pub(crate) fn new(text: &str) -> Option<Self> {
        let mut bytes = [0; Self::MAX_BYTES];
        bytes.get_mut(..text.len())?.copy_from_slice(text.as_bytes());
        Some(Self { bytes, length: u8::try_from(text.len()).ok()? })
    }

    pub(crate) fn as_str(&self) -> &str {
        let text = self.bytes.get(..usize::from(self.length)).unwrap_or_default();
        core::str::from_utf8(text).unwrap_or_default()
    }
}

impl fmt::Debug for Tail {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(self.as_str(), f)
    }
}
