//! Finds everything that makes a request senseless on a machine.

use std::collections::{BTreeMap, BTreeSet};

use crate::machine::{Machine, SlotState};
use crate::population::{Layout, Occupant};
use crate::purchase::asked::problem::KEPT;
use crate::purchase::{MustGo, PlanRequest, RequestError, RequestProblem};
use crate::stated::FieldPath;
use crate::unit::{Currency, Name, Price};

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
            let held = self.present.population.get(slot.as_str());
            if machine.platform().slot_named(slot.as_str()).is_none() {
                let allowed = machine.platform().slot_labels();
                problems.push(RequestProblem::UnknownSlot { slot: slot.clone(), what, allowed });
            } else if let (KEPT, Some(Occupant::OtherDevice(device))) = (what, held) {
                problems.push(RequestProblem::OtherDevice { slot: slot.clone(), device: device.text.clone() });
            } else if what != KEPT && !matches!(held, Some(Occupant::Module(_))) {
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
