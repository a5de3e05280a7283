use serde::{Deserialize, Serialize};

use crate::acceptance::SlotCheck;
use crate::population::{PlaceState, SeenModule};

/// What was seen in a slot after the work. What was planned for it is never put in its place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum SlotHolds {
    /// A module, of which this is told.
    Module(SeenModule),
    /// Nothing.
    Empty,
    /// The report does not tell.
    NotTold,
}

impl SlotHolds {
    pub(crate) fn of(slot: &SlotCheck) -> Self {
        match (&slot.reported, slot.state) {
            (Some(module), _) => Self::Module(module.clone()),
            (None, PlaceState::Absent) => Self::Empty,
            (None, _) => Self::NotTold,
        }
    }

    /// What is told of the module.
    #[must_use]
    pub fn module(&self) -> Option<&SeenModule> {
        match self {
            Self::Module(module) => Some(module),
            Self::Empty | Self::NotTold => None,
        }
    }
}
