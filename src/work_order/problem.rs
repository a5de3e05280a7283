use core::fmt;

use serde::Serialize;
use thiserror::Error;

use crate::module::MemoryModule;
use crate::population::{Fault, Occupant};
use crate::stated::{FieldPath, Located};
use crate::unit::{Name, Names};
use crate::work_order::{SimulationError, WayBackError};

/// Why there is no order.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum OrderError {
    /// What is asked for makes no sense on this machine.
    #[error("no work order: {}", problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Request {
        /// What is wrong; never empty.
        problems: Vec<OrderProblem>,
    },
    /// The order that was made cannot be carried out: never seen.
    #[error("the order that was made cannot be carried out: {0}")]
    Simulation(#[from] SimulationError),
    /// There is no way back from a halt of the order that was made: never seen.
    #[error("the order that was made has no way back: {0}")]
    WayBack(Box<WayBackError>),
    /// The order that was made ends elsewhere: never seen.
    #[error("the order that was made leaves another content of slot {slot} than was asked for")]
    EndsElsewhere {
        /// The first slot.
        slot: Name,
    },
}

/// Which of two populations.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// What is there.
    Before,
    /// What is to be there.
    After,
}

impl fmt::Display for Side {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Before => "what is there",
            Self::After => "what is to be there",
        })
    }
}

/// What a slot is said to hold, as text.
struct Held<'o>(&'o Option<Occupant>);

impl fmt::Display for Held<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            Some(occupant) => write!(f, "{occupant}"),
            None => f.write_str("nothing"),
        }
    }
}

/// One thing that is wrong with what is asked for.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
// problems are few; their size is no matter
#[allow(clippy::large_enum_variant)]
pub enum OrderProblem {
    /// A slot that the platform does not have.
    #[error("{side} names a slot {slot}, which the board does not have; its slots are {allowed}")]
    UnknownSlot {
        /// Where it is named.
        side: Side,
        /// The label given.
        slot: Name,
        /// The labels that exist.
        allowed: Names,
    },
    /// A source for a slot that is to hold no module.
    #[error("a source is given for slot {slot}, which is to hold no module")]
    SourceOfNothing {
        /// The slot.
        slot: Name,
    },
    /// A source that is not known here.
    #[error(
        "the module of slot {slot} comes from \"{found}\", which is not known; it stays, moves, or is from shelf or offer"
    )]
    UnknownSource {
        /// The slot.
        slot: Name,
        /// The source given.
        found: Name,
    },
    /// A module that is to stay or move is not where it is said to be.
    #[error("slot {slot} is to hold the {expected} of slot {from}, and there is {} in {from}", Held(found))]
    NotThere {
        /// The slot that it is for.
        slot: Name,
        /// The slot in which it is said to be.
        from: Name,
        /// The module.
        expected: MemoryModule,
        /// What is there.
        found: Option<Occupant>,
    },
    /// One module for two slots.
    #[error("the module of slot {from} is to go to both {first} and {second}")]
    TakenTwice {
        /// Where it is.
        from: Name,
        /// One slot.
        first: Name,
        /// The other.
        second: Name,
    },
    /// One individual is named in two slots.
    #[error("{side} has module no. {id} in both {first} and {second}")]
    IndividualTwice {
        /// Where.
        side: Side,
        /// Its number.
        id: Name,
        /// One slot.
        first: Name,
        /// The other.
        second: Name,
    },
    /// Something else leaves a slot than is expected.
    #[error(
        "from slot {slot} there should leave {}, and by what is there it is {}",
        Held(&expected.clone().map(Occupant::module)),
        Held(found)
    )]
    LeavesElse {
        /// The slot.
        slot: Name,
        /// What was said to leave it.
        expected: Option<MemoryModule>,
        /// What does.
        found: Option<Occupant>,
    },
    /// A faulty module is to be put in.
    #[error("slot {slot} is to get a module that is {fault}")]
    FaultyComes {
        /// The slot.
        slot: Name,
        /// What is wrong with it.
        fault: Fault,
    },
    /// Another device changes.
    #[error("in slot {slot} another device comes, goes or changes; it stays as it is, for it holds data")]
    OtherDevice {
        /// The slot.
        slot: Name,
    },
    /// A module comes into a closed slot.
    #[error("slot {slot} is to get a module and is closed: {reason}")]
    Closed {
        /// The slot.
        slot: Name,
        /// Why it is closed.
        reason: Name,
    },
    /// Another number of handlings than was expected.
    #[error("{expected} handlings are expected and it takes {found}: the plan was made of something else")]
    Handlings {
        /// What was expected.
        expected: usize,
        /// What it takes.
        found: usize,
    },
}

impl Located for OrderProblem {
    fn place(&self) -> FieldPath {
        let of = |side: Side| FieldPath::of(if side == Side::Before { "before" } else { "after" }).field("slots");
        match self {
            Self::UnknownSlot { side, slot, .. } => of(*side).named(slot),
            Self::IndividualTwice { side, second, .. } => of(*side).named(second),
            Self::SourceOfNothing { slot } | Self::UnknownSource { slot, .. } => FieldPath::of("sources").named(slot),
            Self::NotThere { from, .. } => of(Side::Before).named(from),
            Self::TakenTwice { second, .. } => FieldPath::of("sources").named(second),
            Self::LeavesElse { slot, .. } => FieldPath::of("leaves").named(slot),
            Self::FaultyComes { slot, .. } | Self::OtherDevice { slot } | Self::Closed { slot, .. } => {
                of(Side::After).named(slot)
            }
            Self::Handlings { .. } => FieldPath::of("handlings"),
        }
    }
}
