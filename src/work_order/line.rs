use serde::{Deserialize, Serialize};

use crate::unit::Name;
use crate::work_order::{Caution, Check, Halt, Step};

/// One line of an order.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
// an order holds some dozens of lines; their size is no matter
#[allow(clippy::large_enum_variant)]
pub enum OrderLine {
    /// Something to mind.
    Caution(Caution),
    /// Something to look at and tick.
    Check(Check),
    /// Something to do at a slot.
    Step(Step),
    /// A point at which hands stop.
    Halt(Halt),
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

impl OrderLine {
    /// The step, where it is one.
    #[must_use]
    pub const fn step(&self) -> Option<&Step> {
        match self {
            Self::Step(step) => Some(step),
            Self::Caution(_) | Self::Check(_) | Self::Halt(_) | Self::Other(_) => None,
        }
    }

    /// The halt, where it is one.
    #[must_use]
    pub const fn halt(&self) -> Option<&Halt> {
        match self {
            Self::Halt(halt) => Some(halt),
            Self::Caution(_) | Self::Check(_) | Self::Step(_) | Self::Other(_) => None,
        }
    }
}
