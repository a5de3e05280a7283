use core::fmt;
use core::ops::Range;

use serde::{Deserialize, Serialize};

/// What was read otherwise than it stood in a label as found.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct LabelCorrection {
    /// What was wrong.
    pub sort: CorrectionSort,
    /// Where, in bytes of the text as given.
    pub at: usize,
    /// What stood there; empty where something was missing.
    pub found: String,
    /// What was read; empty where something was left out.
    pub read: String,
}

/// What is wrong with a text that is otherwise a label.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum CorrectionSort {
    /// A blank or the end of a line too much, or too little, or another than a plain blank.
    Blank,
    /// Another dash than a hyphen, or another separator in the place of one.
    Hyphen,
    /// A capital letter for a small one or the other way round.
    Case,
    /// A sign of multiplication for the x before the width.
    Cross,
    /// A quote mark or a dash around the label.
    Around,
    /// A letter for a digit that looks like it, or the other way round, where nothing hangs on it.
    Misread,
}

impl LabelCorrection {
    /// Where it is, in bytes of the text as given.
    #[must_use]
    pub fn span(&self) -> Range<usize> {
        self.at..self.at.saturating_add(self.found.len())
    }
}

impl fmt::Display for LabelCorrection {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { at, found, read, .. } = self;
        match (found.is_empty(), read.is_empty()) {
            (true, _) => write!(f, "{read:?} was put in at byte {at}"),
            (_, true) => write!(f, "{found:?} at byte {at} was left out"),
            _ => write!(f, "{found:?} at byte {at} was read as {read:?}"),
        }
    }
}
