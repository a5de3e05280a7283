use core::fmt;

use serde::{Deserialize, Serialize};

use crate::platform::FillRow;
use crate::stated::{Basis, Source};

/// A printed row that a layout follows.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct FollowedRow {
    /// Its index in the platform's list of fill rows, from 0; absent for a row of a caller's own rule.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub index: Option<usize>,
    /// For how many modules it is.
    pub modules: usize,
    /// What it rests on.
    pub basis: Basis,
    /// The text that it was copied from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
}

impl FollowedRow {
    pub(crate) fn of(row: &FillRow, index: Option<usize>) -> Self {
        Self { index, modules: row.slots.len(), basis: row.basis, source: row.source.clone() }
    }
}

/// "fill row 3, of 6 modules [board manual]"; the rows of the platform's list are numbered from 1.
impl fmt::Display for FollowedRow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.index {
            Some(index) => write!(f, "fill row {}, of ", index.saturating_add(1))?,
            None => f.write_str("a fill row of the caller's rules, of ")?,
        }
        match self.modules {
            1 => f.write_str("1 module")?,
            modules => write!(f, "{modules} modules")?,
        }
        match &self.source {
            Some(source) => write!(f, " [{}: {source}]", self.basis),
            None => write!(f, " [{}]", self.basis),
        }
    }
}
