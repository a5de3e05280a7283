use core::fmt;
use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use thiserror::Error;

use crate::machine::{Machine, SlotState};
use crate::population::{Fault, Layout, Occupant, PopulationError};
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
const KEPT: &str = "to be kept empty";

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
            Self::UnknownOffer { .. } => of("offers"),
            Self::LaterPresent => of("later").field("present"),
            Self::OtherMachines { .. } => of("later").field("machines"),
            Self::Spares { .. } => of("spares"),
            Self::NoSparesPerPart => of("spares_per_part"),
            Self::Machines { .. } => of("machines"),
        }
    }
}

/// Reports every id that stands twice in a list.
fn twice<'r>(
    what: &'static str,
    list: &'static str,
    ids: impl Iterator<Item = &'r Name>,
    problems: &mut Vec<RequestProblem>,
) {
    let mut seen = BTreeMap::new();
    for (index, id) in ids.enumerate() {
        if let Some(first) = seen.get(id) {
            let at = |index| FieldPath::of(list).index(index);
            let (first, second) = (at(*first), at(index));
            problems.push(RequestProblem::GivenTwice { what, id: id.clone(), first, second });
        } else {
            seen.insert(id, index);
        }
    }
}

/// Where an amount of money stands.
#[derive(Clone, Copy)]
enum AmountPlace<'r> {
    Request(&'static str),
    Credit(&'r Name),
    Offer(&'r Name, &'static str),
    Break(&'r Name, usize),
    Shelf(&'r Name),
    Charge(&'r Name),
}

impl AmountPlace<'_> {
    fn path(self) -> FieldPath {
        let of = FieldPath::of;
        match self {
            Self::Request(field) => of(field),
            Self::Credit(slot) => of("present").field("credits").named(slot),
            Self::Offer(id, field) => of("offers").named(id).field(field),
            Self::Break(id, index) => of("offers").named(id).field("breaks").index(index).field("unit_price"),
            Self::Shelf(id) => of("shelf").named(id).field("unit_value"),
            Self::Charge(supplier) => of("supplier_charges").named(supplier),
        }
    }
}

impl PlanRequest {
    /// The largest amount accepted, in minor units.
    pub const MAX_AMOUNT_MINOR: u64 = 1_000_000_000_000;
    /// The most machines planned together.
    pub const MAX_MACHINES: u32 = 10_000;
    /// The most spares of each sort of module, or of each part.
    pub const MAX_SPARES: u32 = 10_000;

    /// Every amount of money with where it stands.
    fn amounts(&self) -> impl Iterator<Item = (AmountPlace<'_>, Price)> {
        let of_request = [
            (AmountPlace::Request("budget"), self.budget),
            (AmountPlace::Request("worth_paying"), self.worth_paying),
            (AmountPlace::Request("labour_per_handling"), self.labour_per_handling),
        ];
        let credits = self.present.credits.iter().map(|(slot, credit)| (AmountPlace::Credit(slot), Some(*credit)));
        let offers = self.offers.iter().flat_map(|offer| {
            let breaks = offer.breaks.iter().enumerate();
            let breaks = breaks.map(|(index, step)| (AmountPlace::Break(&offer.id, index), Some(step.unit_price)));
            let of = |field, price| (AmountPlace::Offer(&offer.id, field), price);
            let last = [of("surplus_value", offer.surplus_value), of("return_cost", offer.return_cost)];
            std::iter::once(of("unit_price", Some(offer.unit_price))).chain(breaks).chain(last)
        });
        let shelf = self.shelf.iter().map(|item| (AmountPlace::Shelf(&item.id), item.unit_value));
        let charges = self.supplier_charges.iter().map(|(name, charge)| (AmountPlace::Charge(name), Some(*charge)));
        let all = of_request.into_iter().chain(credits).chain(offers).chain(shelf).chain(charges);
        all.filter_map(|(place, price)| Some((place, price?)))
    }

    /// The request's currency: that of its first amount.
    pub(crate) fn currency(&self) -> Option<Currency> {
        self.amounts().next().map(|(_, price)| price.currency())
    }

    /// Checks the request against a machine.
    pub(crate) fn check(&self, machine: &Machine) -> Result<(), RequestError> {
        let mut problems = Vec::new();
        // what most amounts are in, so that the one that differs is named
        let currencies: Vec<Currency> = self.amounts().map(|(_, price)| price.currency()).collect();
        let usual = |currency: &Currency| currencies.iter().filter(|other| *other == currency).count();
        let expected = currencies.iter().rev().max_by_key(|currency| usual(currency)).copied();
        for (place, found) in self.amounts() {
            if let Some(expected) = expected.filter(|expected| *expected != found.currency()) {
                let found = found.currency();
                problems.push(RequestProblem::TwoCurrencies { place: place.path(), found, expected });
            } else if found.amount_minor() > Self::MAX_AMOUNT_MINOR {
                problems.push(RequestProblem::TooLarge { place: place.path(), found });
            }
        }
        twice("offer", "offers", self.offers.iter().map(|offer| &offer.id), &mut problems);
        twice("shelf item", "shelf", self.shelf.iter().map(|item| &item.id), &mut problems);
        self.check_offers(&mut problems);
        if let Err(error) = Layout::new(machine, &self.present.population) {
            problems.push(RequestProblem::Present(error));
        }
        let marked = self.present.pinned.iter().map(|slot| (slot, "pinned"));
        let kept = self.present.keep_empty.iter().map(|slot| (slot, KEPT));
        for (slot, what) in marked.chain(self.present.credits.keys().map(|slot| (slot, "credited"))).chain(kept) {
            if machine.platform().slot_named(slot.as_str()).is_none() {
                let allowed = machine.platform().slot_labels();
                problems.push(RequestProblem::UnknownSlot { slot: slot.clone(), what, allowed });
            } else if what != KEPT && !matches!(self.present.population.get(slot.as_str()), Some(Occupant::Module(_))) {
                problems.push(RequestProblem::NoModule { slot: slot.clone(), what });
            }
        }
        problems.extend(self.present.pinned.iter().filter_map(|slot| self.cannot_stay(machine, slot)));
        if !(1..=Self::MAX_MACHINES).contains(&self.machines) {
            problems.push(RequestProblem::Machines { found: self.machines });
        }
        if self.kinds.as_ref().is_some_and(BTreeSet::is_empty) {
            problems.push(RequestProblem::NothingAllowed { what: "kinds" });
        }
        if self.conditions.as_ref().is_some_and(BTreeSet::is_empty) {
            problems.push(RequestProblem::NothingAllowed { what: "conditions" });
        }
        if self.spares > Self::MAX_SPARES {
            problems.push(RequestProblem::Spares { found: self.spares });
        }
        if self.spares_per_part && self.spares == 0 {
            problems.push(RequestProblem::NoSparesPerPart);
        }
        if problems.is_empty() {
            problems.extend(self.too_much(machine));
        }
        if problems.is_empty() { Ok(()) } else { Err(RequestError { problems }) }
    }

    /// Checks the request for a question that is about the least cost.
    pub(crate) fn check_cheapest(&self, machine: &Machine, question: &'static str) -> Result<(), RequestError> {
        self.check(machine)?;
        match self.worth_minor() {
            None => Ok(()),
            Some(_) => Err(RequestError { problems: vec![RequestProblem::WorthPaying { question }] }),
        }
    }

    /// Whether the module of a pinned slot must go in any case.
    fn cannot_stay(&self, machine: &Machine, slot: &Name) -> Option<RequestProblem> {
        let Some(Occupant::Module(fitted)) = self.present.population.get(slot.as_str()) else { return None };
        let state = machine.slot_state(machine.platform().slot_named(slot.as_str())?);
        let why = match (state, fitted.fault) {
            (SlotState::Closed { reason }, _) => MustGo::Closed { reason: reason.clone() },
            (_, Some(fault)) => MustGo::Faulty(fault),
            _ if self.present.keep_empty.contains(slot) => MustGo::KeptEmpty,
            _ => return None,
        };
        Some(RequestProblem::CannotStay { slot: slot.clone(), why })
    }

    /// Whether all that could be bought, used and done comes to more than a cost can say.
    fn too_much(&self, machine: &Machine) -> Option<RequestProblem> {
        let machines = u128::from(self.machines);
        let slots = u128::try_from(machine.platform().slots().len()).unwrap_or(u128::MAX);
        let fitted = slots.saturating_mul(machines);
        let times = |amount: Price, count: u128| u128::from(amount.amount_minor()).saturating_mul(count);
        let offers = self.offers.iter().map(|offer| {
            // beyond what is fitted and spare, the rest of a pack and what a break or the smallest order asks for
            let steps = offer.breaks.iter().map(|step| step.from).chain([offer.pack, offer.minimum_quantity]);
            let further = u128::from(steps.max().unwrap_or(0)).saturating_add(u128::from(self.spares));
            let most = fitted.saturating_add(further).min(u128::from(offer.stock));
            let dearest = offer.return_cost.into_iter().chain([offer.unit_price]).max_by_key(|p| p.amount_minor());
            (dearest.map_or(0, |price| times(price, most)), FieldPath::of("offers").named(&offer.id))
        });
        let shelf = self.shelf.iter().filter_map(|item| {
            let most = fitted.min(u128::from(item.stock));
            Some((times(item.unit_value?, most), AmountPlace::Shelf(&item.id).path()))
        });
        let credits = self.present.credits.iter();
        let credits = credits.map(|(slot, credit)| (times(*credit, machines), AmountPlace::Credit(slot).path()));
        let charges = self.supplier_charges.iter();
        let charges = charges.map(|(supplier, charge)| (times(*charge, 1), AmountPlace::Charge(supplier).path()));
        // a module is taken out and put in
        let labour =
            self.labour_per_handling.map(|labour| (times(labour, fitted * 2), FieldPath::of("labour_per_handling")));
        let mut all: Vec<(u128, FieldPath)> = offers.chain(shelf).chain(credits).chain(charges).chain(labour).collect();
        all.sort();
        let sum = all.iter().fold(0u128, |sum, (amount, _)| sum.saturating_add(*amount));
        let most = u128::try_from(i64::MAX).unwrap_or(u128::MAX);
        all.pop().filter(|_| sum > most).map(|(_, place)| RequestProblem::SumTooLarge { place })
    }

    fn check_offers(&self, problems: &mut Vec<RequestProblem>) {
        for offer in &self.offers {
            let id = || offer.id.clone();
            if offer.pack == 0 {
                problems.push(RequestProblem::EmptyPack { id: id() });
            }
            if offer.minimum_quantity == 0 {
                problems.push(RequestProblem::EmptyOrder { id: id() });
            }
            let (mut last, mut before) = (0, offer.unit_price);
            for step in &offer.breaks {
                let (from, found) = (step.from, step.unit_price);
                if from <= last {
                    problems.push(RequestProblem::UnorderedBreaks { id: id(), from, before: last });
                } else if found.amount_minor() > before.amount_minor() {
                    problems.push(RequestProblem::RisingBreak { id: id(), from, found, before });
                }
                (last, before) = (from, found);
            }
            let prices = offer.breaks.iter().map(|step| step.unit_price).chain([offer.unit_price]);
            let lowest = prices.min_by_key(|price| price.amount_minor());
            if let (Some(value), Some(price)) = (offer.surplus_value, lowest) {
                if value.amount_minor() > price.amount_minor() {
                    problems.push(RequestProblem::SurplusAbovePrice { id: id(), value, price });
                }
            }
        }
    }
}
