use core::fmt;

use serde::{Deserialize, Serialize};

use crate::finding::Place;
use crate::population::{PlaceState, SeenModule, TotalOf};
use crate::unit::{DataRate, Name};

/// A fault after work, by what a report shows of it. Faults that give one report are one; what each may be at bottom
/// ([`FaultSort`](crate::acceptance::FaultSort)) only a further test tells.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum WorkFault {
    /// Modules of one slot, channel or processor, or all of the machine, are not read as in use. Of one slot that reads as empty: the module planned
    /// for it is not seen anywhere.
    Unread {
        /// What they have in common: a slot, a channel, a processor, the machine.
        unit: Place,
        /// Their slots.
        slots: Vec<Name>,
        /// As what the slots are read.
        reads: PlaceState,
    },
    /// All modules of one part are not read as in use.
    PartUnread {
        /// Their slots.
        slots: Vec<Name>,
        /// As what the slots are read.
        reads: PlaceState,
    },
    /// A module sits in another slot than planned.
    WrongSlot {
        /// Where it was to be.
        from: Name,
        /// Where it is.
        to: Name,
    },
    /// A module that was to move to an empty slot still sits where it was, so that what was to come in its place could not be put in.
    MoveUndone {
        /// Where it was, and is.
        from: Name,
        /// Where it was to go.
        to: Name,
    },
    /// Two modules that are not alike sit in each other's slots.
    Swapped {
        /// A slot.
        first: Name,
        /// The other.
        second: Name,
    },
    /// Three modules or more, no two of them alike, sit each in the slot of the next.
    Rotated {
        /// The slots: the module planned for each is in the one after it, that of the last in the first.
        slots: Vec<Name>,
    },
    /// Another module than the one planned.
    WrongPart {
        /// The slot.
        slot: Name,
        /// How it is read.
        reads: PlaceState,
        /// What is read of it.
        shows: Box<SeenModule>,
    },
    /// A module where none was planned.
    Unplanned {
        /// The slot.
        slot: Name,
        /// How it is read.
        reads: PlaceState,
        /// What is read of it.
        shows: Box<SeenModule>,
    },
    /// Everything is as it was before the work.
    AsBefore,
    /// The report is of another machine.
    OtherMachine,
    /// The report is older than the work.
    OldReport,
    /// The report says that a socket holds no processor, though one is planned there; no module is planned at it.
    NoProcessor {
        /// The socket.
        socket: Name,
    },
    /// Another redundancy mode is on.
    Mode {
        /// The mode.
        runs: Name,
    },
    /// Another power profile is on.
    PowerProfile {
        /// The profile.
        runs: Name,
    },
    /// Something holds the rate down: a setting of the firmware, or a limit of the board that its description does not have.
    RateCap {
        /// At this rate.
        rate_mts: DataRate,
    },
    /// Modules that run at a rate are rated for no more, though more was planned. The report says so, or tells no rating of them; where it gives one
    /// rate as rated and as running, it may be the running one told twice.
    LowerGrade {
        /// Their slots: one of them is enough to hold the others.
        slots: Vec<Name>,
        /// The rate.
        rate_mts: DataRate,
    },
    /// The report gives as running rates those that the modules are rated for.
    RatedForRunning,
    /// The report states a total that is not of what it names.
    TotalAtFault {
        /// Which.
        of: TotalOf,
    },
    /// The report states running rates that do not go together, or that are higher than the limits of the description allow.
    RateAtFault,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

fn list(slots: &[Name]) -> String {
    slots.iter().map(Name::as_str).collect::<Vec<_>>().join(", ")
}

/// One sentence without its full stop.
impl fmt::Display for WorkFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unread { unit: Place::Slot { slot }, reads, .. } => match reads {
                PlaceState::Absent => write!(f, "the module planned for slot {slot} is not seen"),
                reads => write!(f, "the module in slot {slot} is {reads}"),
            },
            Self::Unread { unit: Place::Machine, reads: PlaceState::Absent, .. } => {
                f.write_str("the report has no memory at all")
            }
            Self::Unread { unit: Place::Machine, slots, reads } => {
                write!(f, "all modules, in slots {}, are {reads}", list(slots))
            }
            Self::PartUnread { slots, reads } => {
                write!(f, "the modules of one part, in slots {}, are {reads}", list(slots))
            }
            Self::Unread { unit, slots, reads } => write!(f, "slots {} of {unit} are {reads}", list(slots)),
            Self::WrongSlot { from, to } => write!(f, "the module planned for slot {from} sits in {to}"),
            Self::MoveUndone { from, to } => {
                write!(f, "the module that was to go from slot {from} to {to} is still in {from}")
            }
            Self::Swapped { first, second } => write!(f, "the modules of slots {first} and {second} are swapped"),
            Self::Rotated { slots } => {
                write!(f, "the modules of slots {} each sit in the slot of the next", list(slots))
            }
            Self::WrongPart { slot, shows, .. } => write!(f, "slot {slot} holds another module than planned: {shows}"),
            Self::Unplanned { slot, shows, .. } => {
                write!(f, "slot {slot} holds a module that is not planned there: {shows}")
            }
            Self::AsBefore => f.write_str("the report shows what was there before the work"),
            Self::OtherMachine => f.write_str("the report is of another machine"),
            Self::OldReport => f.write_str("the report is older than the work"),
            Self::NoProcessor { socket } => write!(f, "socket {socket} is reported to hold no processor"),
            Self::Mode { runs } => write!(f, "the mode {runs} is on"),
            Self::PowerProfile { runs } => write!(f, "the power profile {runs} is on"),
            Self::RateCap { rate_mts } => {
                write!(f, "the rate is held at {rate_mts}, by a limit of the board or a setting of its firmware")
            }
            Self::LowerGrade { slots, rate_mts } => {
                write!(f, "modules in {} are rated for no more than {rate_mts}", list(slots))
            }
            Self::RatedForRunning => f.write_str("the report gives rated rates as running rates"),
            Self::TotalAtFault { of } => write!(f, "{of} counts another total than the modules that are listed give"),
            Self::RateAtFault => f.write_str(
                "the running rates of the report do not go together, or are not those of the board's limits",
            ),
            Self::Other(name) => name.fmt(f),
        }
    }
}
