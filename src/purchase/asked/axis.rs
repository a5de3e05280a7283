use core::fmt;

use serde::{Deserialize, Serialize};

/// What plans are compared in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Axis {
    /// The cost of all machines together: less is better.
    Cost,
    /// The usable capacity of a machine: more is better.
    UsableCapacity,
    /// The running rate of a machine: more is better, and any is better than none.
    RunningRate,
    /// The bandwidth of a machine, by its lower bound: more is better.
    Bandwidth,
    /// The free slots of a machine: more is better.
    FreeSlots,
    /// The power of a machine's modules: less is better, and any is better than one that is not known.
    Power,
}

impl fmt::Display for Axis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Cost => "cost",
            Self::UsableCapacity => "usable memory",
            Self::RunningRate => "running rate",
            Self::Bandwidth => "bandwidth",
            Self::FreeSlots => "free slots",
            Self::Power => "power",
        })
    }
}
