//! What follows from a population, each figure with its reasons. Figures know no rules.

mod bandwidth;
mod bandwidth_text;
mod installed;
mod interleave;
mod limits;
mod power;
mod rate_range;
pub(crate) mod regions;
mod running_rate;
mod running_voltage;
mod text;
pub(crate) mod usable;

pub use bandwidth::{BandwidthEstimate, MemoryBandwidth, SlowestRegion, SocketBandwidth};
pub use installed::{FittedCapacity, InstalledCapacity, SocketCapacity};
pub use interleave::{Interleave, InterleaveDomain, Region, SetsGrounds, WithoutMemory};
pub use limits::{Load, RateCause, RateLimit, RateObstacle, TableOwner};
pub use power::PowerDraw;
pub use rate_range::RateRange;
pub use running_rate::{DomainRate, RunningRate};
pub use running_voltage::{RuledOut, RunningVoltage, VoltageCause};
pub use text::Amounts;
pub use usable::{DemandSort, ModeDemand, SocketUsable, UsableCapacity};

pub(crate) use bandwidth::{channels_in_step, deciding};
pub(crate) use interleave::{Filled, filled, filled_socket};
pub(crate) use limits::{Raw, RowMemo, Table, channel_limits};

use serde::{Deserialize, Serialize};

use crate::population::Layout;

/// The figures of one population.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// use slotwright::{DataRate, Population};
///
/// let figures = planner.assess(&Population::new().with("A1".parse()?, module))?.figures;
/// assert_eq!(figures.running_rate.rate(), Some(DataRate::DDR4_2400));
/// assert_eq!(figures.usable.total_mib, figures.installed.total_mib);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Figures {
    /// How much memory is in slots, also in those that cannot be used.
    pub fitted: FittedCapacity,
    /// How much of it is in live slots.
    pub installed: InstalledCapacity,
    /// How much of it can be used in the machine's redundancy mode.
    pub usable: UsableCapacity,
    /// At which rate it runs, and why. The voltage is part of it.
    pub running_rate: RunningRate,
    /// Over which channels it is interleaved.
    pub interleave: Interleave,
    /// What it can move: an estimate.
    pub bandwidth: MemoryBandwidth,
    /// What it draws.
    pub power: PowerDraw,
}

impl Figures {
    /// The figures of a layout.
    #[must_use]
    pub fn of(layout: &Layout<'_>) -> Self {
        Self::at(layout, RunningRate::of(layout))
    }

    /// The same where the running rate is known.
    pub(crate) fn at(layout: &Layout<'_>, running_rate: RunningRate) -> Self {
        let filled = filled(layout);
        Self {
            fitted: FittedCapacity::of(layout),
            installed: InstalledCapacity::of(layout),
            usable: UsableCapacity::of_filled(layout, &filled),
            interleave: Interleave::of_filled(layout.machine(), &filled),
            bandwidth: MemoryBandwidth::of_filled(layout.machine(), &filled, &running_rate),
            power: PowerDraw::of(layout),
            running_rate,
        }
    }

    /// How much memory is fitted, installed and usable, as one phrase.
    #[must_use]
    pub const fn amounts(&self) -> Amounts<'_> {
        Amounts(self)
    }
}
