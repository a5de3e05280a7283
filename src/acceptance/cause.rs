use core::fmt;

use serde::{Deserialize, Serialize};

use crate::acceptance::{FaultSort, NextStep, WorkFault};
use crate::figure::RateCause;
use crate::population::PlaceState;
use crate::search::StopReason;
use crate::unit::{DataRate, Name};

/// Why a machine does not report what was planned: the least explanations, in groups that have nothing to do with each other.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Causes {
    /// How many faults there are at least, all groups together; so many are enough where nothing stopped the search.
    pub faults_at_least: usize,
    /// One explanation of each group explains everything.
    pub groups: Vec<CauseGroup>,
    /// Why the search was stopped, where it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StopReason>,
}

/// Explanations of one part of what is not as planned.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct CauseGroup {
    /// How many faults it takes at least.
    pub faults_at_least: usize,
    /// Whether that is proved, and these are all explanations of so many faults; otherwise the search was stopped, and what is listed explains
    /// the matter with as few faults as were found.
    pub is_proved: bool,
    /// The explanations, the likeliest first: by the most frequent fault, then by place.
    pub alternatives: Vec<Explanation>,
    /// How many more there are.
    pub further: u64,
    /// What to do next.
    pub next: NextStep,
}

/// Faults that together explain a part of what is seen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Explanation {
    /// Each of them.
    pub causes: Vec<Cause>,
}

/// One fault of an explanation.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Cause {
    /// What the report shows of it.
    pub fault: WorkFault,
    /// What it may be at bottom, the most frequent first.
    pub may_be: Vec<FaultSort>,
    /// What speaks for it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub speaks_for: Vec<Evidence>,
    /// What speaks against it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub speaks_against: Vec<Evidence>,
    /// What tells best what it is, or mends it.
    pub next: NextStep,
}

/// Something that speaks for a fault, or against it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum Evidence {
    /// How a slot is read.
    Reads {
        /// The slot.
        slot: Name,
        /// How.
        state: PlaceState,
    },
    /// The serial number of the module is read there.
    SerialRead {
        /// The slot.
        slot: Name,
        /// The number.
        serial: Name,
    },
    /// A serial number that no planned module has.
    SerialNotPlanned {
        /// The slot.
        slot: Name,
        /// The number.
        serial: Name,
    },
    /// No serial number is read, so that modules are told apart by their facts alone.
    NoSerials,
    /// The slot shows what was there before the work.
    AsBefore {
        /// The slot.
        slot: Name,
    },
    /// The module that was in the slot before had failed: the firmware may have kept that.
    FaultyBefore {
        /// The slot.
        slot: Name,
    },
    /// Nothing can be read of the module: an SPD that is not read looks like that.
    NothingRead {
        /// The slot.
        slot: Name,
    },
    /// Another module of the same channel is read.
    ChannelReads {
        /// Its slot.
        slot: Name,
    },
    /// Whether the report says that the processor is there.
    Processor {
        /// The socket.
        socket: Name,
        /// What it says.
        is_present: bool,
    },
    /// The firmware that is reported, and that which these modules need by the board's description.
    Firmware {
        /// As reported.
        found: Name,
        /// The first that will do.
        needed: Name,
    },
    /// A limit behind the planned rate that the board's description assumes.
    LimitAssumed {
        /// What limits it.
        cause: RateCause,
        /// At which rate.
        rate_mts: DataRate,
    },
    /// The report names a mode.
    ModeNamed {
        /// The mode.
        mode: Name,
    },
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

impl fmt::Display for Evidence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Reads { slot, state } => write!(f, "slot {slot} is {state}"),
            Self::SerialRead { slot, serial } => write!(f, "the serial number {serial} is read in slot {slot}"),
            Self::SerialNotPlanned { slot, serial } => {
                write!(f, "no planned module has the serial number {serial}, which is read in slot {slot}")
            }
            Self::NoSerials => f.write_str("no serial numbers are read: modules are told apart by their facts"),
            Self::AsBefore { slot } => write!(f, "slot {slot} shows what was there before the work"),
            Self::FaultyBefore { slot } => write!(f, "the module that was in slot {slot} before was faulty"),
            Self::NothingRead { slot } => write!(f, "nothing can be read of the module in slot {slot}"),
            Self::ChannelReads { slot } => write!(f, "slot {slot} of the same channel is read"),
            Self::Processor { socket, is_present: true } => write!(f, "the processor in socket {socket} is reported"),
            Self::Processor { socket, is_present: false } => {
                write!(f, "the report says that socket {socket} holds no processor")
            }
            Self::Firmware { found, needed } => write!(f, "firmware {found} is reported, {needed} is needed"),
            Self::LimitAssumed { cause, rate_mts } => write!(f, "assumed: {cause}, at most {rate_mts}"),
            Self::ModeNamed { mode } => write!(f, "the report says that the mode {mode} is on"),
            Self::Other(name) => name.fmt(f),
        }
    }
}

fn sentence<T: fmt::Display>(parts: &[T], between: &str) -> String {
    parts.iter().map(ToString::to_string).collect::<Vec<_>>().join(between)
}

/// One sentence.
impl fmt::Display for Cause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.fault, sentence(&self.may_be, "; or "))
    }
}

impl fmt::Display for Explanation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&sentence(&self.causes, "; and "))
    }
}

/// The explanations, then what to do next, a line each.
impl fmt::Display for CauseGroup {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, alternative) in self.alternatives.iter().enumerate() {
            writeln!(f, "{}{alternative}", if at == 0 { "" } else { "or: " })?;
        }
        match (self.is_proved, self.further) {
            (true, 0) => {}
            (true, further) => writeln!(f, "or one of {further} more of {} faults", self.faults_at_least)?,
            (false, _) => writeln!(f, "at least {} faults; there may be other explanations", self.faults_at_least)?,
        }
        write!(f, "next: {}", self.next)
    }
}

/// Group by group.
impl fmt::Display for Causes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&sentence(&self.groups, "\n"))?;
        self.stopped.map_or(Ok(()), |stopped| write!(f, "\nthe search for causes {stopped}"))
    }
}
