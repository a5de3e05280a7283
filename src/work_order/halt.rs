use serde::{Deserialize, Serialize};

use crate::unit::Name;
use crate::work_order::Check;

/// A point at which hands stop until everything here is true. From each there is a way back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Halt {
    /// Which one it is.
    pub at: HaltAt,
    /// What must be true.
    pub checks: Vec<Check>,
}

/// Which halt; in the order of the work.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum HaltAt {
    /// Before the lid comes off.
    BeforeLid,
    /// What leaves for the trial start is out.
    TrialOut,
    /// What is tried is in.
    TrialIn,
    /// Before power for the trial start.
    BeforeTrialPower,
    /// The trial start was made, and power is out again.
    TrialDone,
    /// Everything that leaves is out.
    AllOut,
    /// Everything that comes is in.
    AllIn,
    /// Before power.
    BeforePower,
    /// The machine has started, and nothing is accepted yet.
    Started,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

impl HaltAt {
    /// Whether the lid is on there.
    pub(crate) const fn is_closed(&self) -> bool {
        matches!(self, Self::BeforeLid | Self::BeforeTrialPower | Self::BeforePower | Self::Started)
    }
}
