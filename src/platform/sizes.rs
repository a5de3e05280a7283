//! The larger and the smaller of the two sizes of module in a population.

use core::fmt;
use std::collections::BTreeSet;

use itertools::Itertools;
use serde::{Deserialize, Serialize};

use crate::module::MemoryModule;
use crate::platform::{FillRow, FillSlot};
use crate::processor::MissingFact;
use crate::unit::Capacity;

/// One of the two sizes of module in a population.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum RelativeSize {
    /// The larger of two capacities.
    Larger,
    /// The smaller of them.
    Smaller,
}

/// "larger" or "smaller".
impl fmt::Display for RelativeSize {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Larger => "larger",
            Self::Smaller => "smaller",
        })
    }
}

/// The two capacities of the modules of a population.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct TwoSizes {
    smaller: Capacity,
    larger: Capacity,
}

impl TwoSizes {
    /// Those of some modules; `None` where they are not of just two.
    pub(crate) fn of<'m>(modules: impl Iterator<Item = &'m MemoryModule>) -> Option<Self> {
        let sizes: BTreeSet<Capacity> = modules.map(MemoryModule::capacity).collect();
        let (smaller, larger) = sizes.into_iter().collect_tuple()?;
        Some(Self { smaller, larger })
    }

    /// Each two that there are among some modules.
    pub(crate) fn among<'m>(modules: impl Iterator<Item = &'m MemoryModule>) -> Vec<Self> {
        let sizes: BTreeSet<Capacity> = modules.map(MemoryModule::capacity).collect();
        sizes.iter().tuple_combinations().map(|(&smaller, &larger)| Self { smaller, larger }).collect()
    }

    /// Whether a module is of the size asked for; of either where none is.
    fn suit(self, capacity: Capacity, asked: Option<RelativeSize>) -> bool {
        let is = |size| match size {
            RelativeSize::Larger => capacity == self.larger,
            RelativeSize::Smaller => capacity == self.smaller,
        };
        asked.map_or(capacity == self.smaller || capacity == self.larger, is)
    }
}

impl FillRow {
    /// Whether it says which size belongs where, and so speaks of populations of two sizes only.
    pub(crate) fn marks_sizes(&self) -> bool {
        self.slots.iter().any(|slot| slot.size.is_some())
    }

    /// Whether it speaks of so many modules, of two sizes or not.
    pub(crate) fn speaks_of(&self, modules: usize, sizes: Option<TwoSizes>) -> bool {
        self.slots.len() == modules && (sizes.is_some() || !self.marks_sizes())
    }
}

impl FillSlot {
    /// Whether a module belongs there, in a population of these two sizes or of no two.
    pub(crate) fn takes(&self, module: &MemoryModule, sizes: Option<TwoSizes>) -> Result<bool, MissingFact> {
        match sizes.map_or(self.size.is_none(), |sizes| sizes.suit(module.capacity(), self.size)) {
            true => self.module.as_ref().map_or(Ok(true), |pattern| pattern.matches(module)),
            false => Ok(false),
        }
    }
}
