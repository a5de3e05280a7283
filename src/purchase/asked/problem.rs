use core::fmt;

use serde::Serialize;
use thiserror::Error;

use crate::population::{Fault, PopulationError};
use crate::purchase::PlanRequest;
use crate::stated::{FieldPath, Located};
use crate::unit::{Currency, Name, Names, Price};

/// Why a request makes no sense: every problem found.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error("request: {}", problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
#[non_exhaustive]
pub struct RequestError {
    /// What is wrong; never empty.
    pub problems: Vec<RequestProblem>,
}

/// One problem of a request.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum RequestProblem {
    /// An id that stands twice in one list.
    #[error("{what} {id} is given twice: {first} and {second}; ids must be unique")]
    GivenTwice {
        /// An offer or a shelf item.
        what: &'static str,
        /// The id.
        id: Name,
        /// Where it stands first.
        first: FieldPath,
        /// Where it stands again.
        second: FieldPath,
    },
    /// An amount in another currency than most.
    #[error("{place} is in {found}, the request in {expected}; all amounts must be in one currency")]
    TwoCurrencies {
        /// Where it stands.
        place: FieldPath,
        /// Its currency.
        found: Currency,
        /// The request's.
        expected: Currency,
    },
    /// An amount that is too large to reckon with.
    #[error("{place} is {found}; at most {} minor units are allowed", PlanRequest::MAX_AMOUNT_MINOR)]
    TooLarge {
        /// Where it stands.
        place: FieldPath,
        /// The amount.
        found: Price,
    },
    /// More money than can be reckoned with, were all bought that could be.
    #[error("with {place}, all that could be bought, used and done comes to more than can be reckoned with; lower it")]
    SumTooLarge {
        /// What has the largest share.
        place: FieldPath,
    },
    /// Packs of none.
    #[error("offer {id} is sold in packs of 0; at least 1 is needed")]
    EmptyPack {
        /// The offer.
        id: Name,
    },
    /// An order of none.
    #[error("offer {id} is sold from a quantity of 0 on; at least 1 is needed")]
    EmptyOrder {
        /// The offer.
        id: Name,
    },
    /// A larger order that is dearer by the unit.
    #[error("offer {id}: from {from} on a unit costs {found}, more than the {before} below that; prices must not rise")]
    RisingBreak {
        /// The offer.
        id: Name,
        /// From which quantity.
        from: u32,
        /// The price from there on.
        found: Price,
        /// The price below it.
        before: Price,
    },
    /// Quantity breaks that do not rise in quantity.
    #[error("offer {id}: the price from {from} on stands after the one from {before} on; quantities must rise, from 1")]
    UnorderedBreaks {
        /// The offer.
        id: Name,
        /// The quantity that does not rise.
        from: u32,
        /// The one before it; 0 for the first.
        before: u32,
    },
    /// A set of kinds or conditions that is empty: nothing could be used.
    #[error("no {what} are allowed at all; leave it out to allow any")]
    NothingAllowed {
        /// Kinds or conditions.
        what: &'static str,
    },
    /// A surplus worth more than it costs.
    #[error("offer {id}: a surplus unit is worth {value}, more than its lowest price of {price}")]
    SurplusAbovePrice {
        /// The offer.
        id: Name,
        /// What a surplus unit is worth.
        value: Price,
        /// The lowest unit price.
        price: Price,
    },
    /// The present population is another machine's.
    #[error("present population: {}", .0.problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Present(PopulationError),
    /// A slot that is pinned, credited or to be kept empty and that the board does not have.
    #[error("slot {slot} is {what} but the board has no such slot; its slots are {allowed}")]
    UnknownSlot {
        /// The label given.
        slot: Name,
        /// Pinned, credited or to be kept empty.
        what: &'static str,
        /// The labels that exist.
        allowed: Names,
    },
    /// A slot that is pinned or credited and holds no module.
    #[error("slot {slot} is {what} but holds no module")]
    NoModule {
        /// The slot.
        slot: Name,
        /// Pinned or credited.
        what: &'static str,
    },
    /// A worth of being better where a question is about the least cost.
    #[error("a plan may cost more for being better; {question} can only be asked of the cheapest")]
    WorthPaying {
        /// What is asked.
        question: &'static str,
    },
    /// A module that is to stay and cannot.
    #[error("slot {slot} is pinned but its module cannot stay: {why}")]
    CannotStay {
        /// The slot.
        slot: Name,
        /// Why.
        why: MustGo,
    },
    /// A slot to keep empty that holds a device other than a module. Such devices stay where they are.
    #[error(
        "slot {slot} is to be kept empty, but holds another device ({device}), and such devices stay where they are"
    )]
    OtherDevice {
        /// The slot.
        slot: Name,
        /// What the device is called.
        device: Name,
    },
    /// An offer that is asked about and that the request does not have.
    #[error("there is no offer {id}; the offers are {allowed}")]
    UnknownOffer {
        /// The id given.
        id: Name,
        /// The ids that exist.
        allowed: Names,
    },
    /// A second stage that says what is present: that follows from the first.
    #[error("the later request says what is present; that follows from the plan for now, so leave it out")]
    LaterPresent,
    /// A second stage for another number of machines than the first.
    #[error(
        "the later request is for {found} machines, the one for now for {expected}; they must be the same machines"
    )]
    OtherMachines {
        /// The number for later.
        found: u32,
        /// The number for now.
        expected: u32,
    },
    /// More spares than can be planned.
    #[error("{found} spares; at most {} can be asked for", PlanRequest::MAX_SPARES)]
    Spares {
        /// The number given.
        found: u32,
    },
    /// Spares per part where no spares are asked for.
    #[error("spares are to be counted per part, and none are asked for")]
    NoSparesPerPart,
    /// A number of machines that cannot be planned.
    #[error("{found} machines; 1 to {} can be planned together", PlanRequest::MAX_MACHINES)]
    Machines {
        /// The number given.
        found: u32,
    },
}

/// What is said of a slot that is to be empty.
pub(super) const KEPT: &str = "to be kept empty";

/// Why a module cannot stay in its slot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum MustGo {
    /// The slot is closed.
    Closed {
        /// Why.
        reason: Name,
    },
    /// The module is faulty.
    Faulty(Fault),
    /// The slot is to be kept empty.
    KeptEmpty,
}

impl fmt::Display for MustGo {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Closed { reason } => write!(f, "the slot is closed ({reason})"),
            Self::Faulty(fault) => write!(f, "it is {fault}"),
            Self::KeptEmpty => f.write_str("the slot is to be kept empty"),
        }
    }
}

impl Located for RequestProblem {
    fn place(&self) -> FieldPath {
        let of = FieldPath::of;
        let offer = |id: &Name, field| of("offers").named(id).field(field);
        let marked = |what: &str, slot: &Name| match what {
            "pinned" => of("present").field("pinned").named(slot),
            "credited" => of("present").field("credits").named(slot),
            KEPT => of("present").field("keep_empty").named(slot),
            _ => of("present").field("population").field("slots").named(slot),
        };
        match self {
            Self::GivenTwice { second, .. } => second.clone(),
            Self::TwoCurrencies { place, .. } | Self::TooLarge { place, .. } | Self::SumTooLarge { place } => {
                place.clone()
            }
            Self::EmptyPack { id } => offer(id, "pack"),
            Self::EmptyOrder { id } => offer(id, "minimum_quantity"),
            Self::RisingBreak { id, .. } | Self::UnorderedBreaks { id, .. } => offer(id, "breaks"),
            Self::NothingAllowed { what } => of(what),
            Self::SurplusAbovePrice { id, .. } => offer(id, "surplus_value"),
            Self::Present(error) => {
                let within = match error.problems.as_slice() {
                    [one] => one.place(),
                    _ => of("slots"),
                };
                of("present").field("population").join(&within)
            }
            Self::UnknownSlot { slot, what, .. } | Self::NoModule { slot, what } => marked(what, slot),
            Self::WorthPaying { .. } => of("worth_paying"),
            Self::CannotStay { slot, .. } => marked("pinned", slot),
            Self::OtherDevice { slot, .. } => marked(KEPT, slot),
            Self::UnknownOffer { .. } => of("offers"),
            Self::LaterPresent => of("later").field("present"),
            Self::OtherMachines { .. } => of("later").field("machines"),
            Self::Spares { .. } => of("spares"),
            Self::NoSparesPerPart => of("spares_per_part"),
            Self::Machines { .. } => of("machines"),
        }
    }
}
