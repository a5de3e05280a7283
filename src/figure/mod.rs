//! What follows from a population, each figure with its reasons. Figures know no rules.
//!
//! Interleave, bandwidth, usable capacity under a redundancy mode, and power have their place here and
//! come later; until then usable capacity is installed capacity, as in the independent mode.

mod installed;
mod limits;
mod running_rate;
mod running_voltage;
mod text;

pub use installed::{InstalledCapacity, SocketCapacity};
pub use limits::{Load, RateCause, RateLimit, RateObstacle, TableOwner};
pub use running_rate::{DomainRate, RunningRate};
pub use running_voltage::{RuledOut, RunningVoltage, VoltageCause};

pub(crate) use limits::{Raw, Table, channel_limits};

use serde::{Deserialize, Serialize};

use crate::population::Layout;

/// The figures of one population.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Figures {
    /// How much memory is there.
    pub installed: InstalledCapacity,
    /// At which rate it runs, and why. The voltage is part of it.
    pub running_rate: RunningRate,
}

impl Figures {
    /// The figures of a layout.
    #[must_use]
    pub fn of(layout: &Layout<'_>) -> Self {
        Self { installed: InstalledCapacity::of(layout), running_rate: RunningRate::of(layout) }
    }
}
