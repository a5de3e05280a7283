//! Printed rows that say which slots to fill for a number of modules.

use serde::{Deserialize, Serialize};

use crate::platform::Mode;
use crate::processor::ModulePattern;
use crate::stated::{Basis, Demand, Scope, Source};
use crate::unit::Name;

/// One row of a population table: for this many modules, these slots.
///
/// A row speaks of the sockets that its slots hang on: rows for one processor's slots are held against
/// that processor's modules, rows for the whole board against all of them. Rows need not nest.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct FillRow {
    /// The slots to fill, and only these.
    pub slots: Vec<FillSlot>,
    /// The row holds when so many processors are present; any number where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub processors: Option<u8>,
    /// The mode for which it holds; the independent mode where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mode: Option<Name>,
    /// Whether it must or should be kept.
    pub demand: Demand,
    /// What it rests on.
    pub basis: Basis,
    /// The text that it was copied from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
}

/// A slot of a row, and what belongs there.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct FillSlot {
    /// The slot's label.
    pub slot: Name,
    /// The modules that belong there; any where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub module: Option<ModulePattern>,
}

/// The numbers of modules that a board takes or advises.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct CountRow {
    /// Where modules are counted.
    pub within: Scope,
    /// The numbers listed. A channel or processor without any module is not held against them.
    pub counts: Vec<u16>,
    /// The row holds when so many processors are present; any number where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub processors: Option<u8>,
    /// The mode for which it holds; the independent mode where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mode: Option<Name>,
    /// Whether any other number is an error or a warning.
    pub demand: Demand,
    /// What it rests on.
    pub basis: Basis,
    /// The text that it was copied from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
}

impl FillRow {
    /// A row that holds for any number of processors in the independent mode.
    #[must_use]
    pub fn new(slots: impl IntoIterator<Item = Name>, demand: Demand, basis: Basis) -> Self {
        let slots = slots.into_iter().map(|slot| FillSlot { slot, module: None }).collect();
        Self { slots, processors: None, mode: None, demand, basis, source: None }
    }

    /// Whether the row speaks of a machine set to this mode, with so many processors present.
    #[must_use]
    pub fn is_for(&self, mode: &str, processors: usize) -> bool {
        is_for((self.mode.as_ref(), self.processors), mode, processors)
    }
}

fn is_for(row: (Option<&Name>, Option<u8>), mode: &str, processors: usize) -> bool {
    row.0.map_or(Mode::INDEPENDENT, Name::as_str) == mode && row.1.is_none_or(|count| usize::from(count) == processors)
}

impl CountRow {
    /// Numbers for each processor in the independent mode.
    #[must_use]
    pub fn per_socket(counts: impl IntoIterator<Item = u16>, demand: Demand, basis: Basis) -> Self {
        let counts = counts.into_iter().collect();
        Self { within: Scope::Socket, counts, processors: None, mode: None, demand, basis, source: None }
    }

    /// Whether the row speaks of a machine set to this mode, with so many processors present.
    #[must_use]
    pub fn is_for(&self, mode: &str, processors: usize) -> bool {
        is_for((self.mode.as_ref(), self.processors), mode, processors)
    }
}
