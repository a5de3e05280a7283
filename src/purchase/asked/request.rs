use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::finding::Severity;
use crate::machine::Machine;
use crate::module::ModuleKind;
use crate::population::Population;
use crate::processor::MissingFact;
use crate::purchase::{Condition, Offer, Offers, ShelfItem};
use crate::stated::{Schema, Scope};
use crate::unit::{Bandwidth, Capacity, DataRate, Name, Price};

/// What is wanted of a machine, and from what it can be had; also its document.
///
/// ```
/// use slotwright::purchase::{Offer, PlanRequest};
/// use slotwright::module::Label;
/// use slotwright::unit::{Capacity, Price};
///
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let offer = Offer::new("lot-7".parse()?, module, Price::new(4_500, "EUR".parse()?), 16);
/// let request = PlanRequest::new().usable_at_least(Capacity::from_gib(256)).offer(offer);
/// assert_eq!(request.offers.len(), 1);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
#[non_exhaustive]
pub struct PlanRequest {
    /// Schema number of the document.
    pub schema: Schema,
    /// The least usable capacity of each machine.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub usable_at_least_mib: Option<Capacity>,
    /// The most usable capacity of each machine.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub usable_at_most_mib: Option<Capacity>,
    /// The lowest running rate.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate_at_least_mts: Option<DataRate>,
    /// The least bandwidth of each machine, by its lower bound.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bandwidth_at_least_mbps: Option<Bandwidth>,
    /// The fewest free slots of each machine: live, empty, and able to take a further module of the sorts that the plan fits
    /// without an error on its channel, once the slots before it are filled.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub free_slots_at_least: Option<usize>,
    /// The module kinds that may be used; any where absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kinds: Option<BTreeSet<ModuleKind>>,
    /// Where all modules must be of one part: equal facts, part number included.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub one_part_number: Option<Scope>,
    /// The conditions that offers and shelf items may be in; any where absent. An offer that says none is then left out; a
    /// shelf item that says none is the owner's, and may be used unless all must be new.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub conditions: Option<BTreeSet<Condition>>,
    /// The most days that an offer may take to arrive; one that says nothing of it is then left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lead_time_at_most_days: Option<u32>,
    /// How many modules of each sort that is fitted must be at hand afterwards and not fitted, all machines together:
    /// left on the shelf, pulled, or bought. Modules are of one sort that differ at most in part number, maker and power:
    /// each stands in for the other.
    #[serde(skip_serializing_if = "is_none")]
    pub spares: u32,
    /// Whether spares are asked for of each part that is fitted: only a module of equal facts, part number, maker and power
    /// included, is then a spare of it.
    #[serde(skip_serializing_if = "is_false")]
    pub spares_per_part: bool,
    /// The most that it may cost, all machines together.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub budget: Option<Price>,
    /// How much more than the least a plan may cost, all machines together, for being better: in population rows, processors
    /// without memory, rate, balance and bandwidth, in this order.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub worth_paying: Option<Price>,
    /// Whether only modules may be used whose form factor, ranks, stack, width, grade, check bits and voltages are
    /// all known.
    pub known_facts_only: bool,
    /// Facts of modules that may be unknown: what cannot be judged for want of one of these is a note. Of modules in use that
    /// stay or move in their machine any fact may be unknown; what runs is evidence.
    #[serde(skip_serializing_if = "BTreeSet::is_empty")]
    pub accept_unknown: BTreeSet<MissingFact>,
    /// From which severity a finding refuses a plan; warnings and errors unless said otherwise.
    pub refuse_from: Severity,
    /// How many like machines are planned from one stock; all get the same population.
    pub machines: u32,
    /// What taking one module out or putting one in costs; a move is two handlings.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub labour_per_handling: Option<Price>,
    /// What each machine holds now.
    pub present: Present,
    /// Modules that are on offer.
    pub offers: Offers,
    /// Modules that are owned and not fitted.
    pub shelf: Vec<ShelfItem>,
    /// What a supplier charges for an order, whatever its size.
    pub supplier_charges: BTreeMap<Name, Price>,
    /// How many nodes the search may visit.
    pub nodes: u64,
    /// How many nodes each search may visit for what accepting warnings would save beside the plan; with none a plan says
    /// nothing of it.
    pub savings_nodes: u64,
}

/// What a machine holds, and what may happen to it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
#[non_exhaustive]
pub struct Present {
    /// What sits in each slot.
    pub population: Population,
    /// Slots whose modules must stay where they are.
    pub pinned: BTreeSet<Name>,
    /// What is credited for a module that is pulled, by the slot in which it sits.
    pub credits: BTreeMap<Name, Price>,
    /// Slots that are to be empty; a module in one moves or is pulled. They stay live: rules and figures are as without
    /// this. A slot that must not be used is closed in the machine's settings.
    pub keep_empty: BTreeSet<Name>,
}

impl Present {
    /// What is in the machine: nothing is pinned or worth a credit.
    #[must_use]
    pub fn new(population: Population) -> Self {
        Self { population, pinned: BTreeSet::new(), credits: BTreeMap::new(), keep_empty: BTreeSet::new() }
    }

    setters! {
        each pinned(pinned: Name);
        each credits(credits: (Name, Price));
        each keep_empty(keep_empty: Name);
    }
}

// serde hands over a reference
#[allow(clippy::trivially_copy_pass_by_ref)]
const fn is_none(count: &u32) -> bool {
    *count == 0
}

// serde hands over a reference
#[allow(clippy::trivially_copy_pass_by_ref)]
const fn is_false(value: &bool) -> bool {
    !*value
}

impl Default for PlanRequest {
    fn default() -> Self {
        Self {
            schema: Schema,
            usable_at_least_mib: None,
            usable_at_most_mib: None,
            rate_at_least_mts: None,
            bandwidth_at_least_mbps: None,
            free_slots_at_least: None,
            kinds: None,
            one_part_number: None,
            conditions: None,
            lead_time_at_most_days: None,
            spares: 0,
            spares_per_part: false,
            budget: None,
            worth_paying: None,
            known_facts_only: false,
            accept_unknown: BTreeSet::new(),
            refuse_from: Severity::Warning,
            machines: 1,
            labour_per_handling: None,
            present: Present::default(),
            offers: Offers::default(),
            shelf: Vec::new(),
            supplier_charges: BTreeMap::new(),
            nodes: Self::NODES,
            savings_nodes: Self::SAVINGS_NODES,
        }
    }
}

impl PlanRequest {
    /// How many nodes a search may visit unless the request says otherwise.
    pub const NODES: u64 = 5_000_000;

    /// How many nodes a search for what accepting warnings would save may visit unless the request says otherwise.
    pub const SAVINGS_NODES: u64 = 100;

    /// A request for nothing in particular.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Asks for at least so much usable memory in each machine.
    #[must_use]
    pub fn usable_at_least(mut self, capacity: Capacity) -> Self {
        self.usable_at_least_mib = Some(capacity);
        self
    }

    /// Asks for at most so much usable memory in each machine.
    #[must_use]
    pub fn usable_at_most(mut self, capacity: Capacity) -> Self {
        self.usable_at_most_mib = Some(capacity);
        self
    }

    /// Asks for a running rate.
    #[must_use]
    pub fn rate_at_least(mut self, rate: DataRate) -> Self {
        self.rate_at_least_mts = Some(rate);
        self
    }

    /// Asks for a bandwidth, by its lower bound: the regions of the interleave one after another.
    #[must_use]
    pub fn bandwidth_at_least(mut self, bandwidth: Bandwidth) -> Self {
        self.bandwidth_at_least_mbps = Some(bandwidth);
        self
    }

    /// Asks for free slots.
    #[must_use]
    pub fn free_slots_at_least(mut self, slots: usize) -> Self {
        self.free_slots_at_least = Some(slots);
        self
    }

    /// Allows these kinds only.
    #[must_use]
    pub fn kinds(mut self, kinds: impl IntoIterator<Item = ModuleKind>) -> Self {
        self.kinds = Some(kinds.into_iter().collect());
        self
    }

    /// Asks that all modules of a channel, of a processor or of the machine be of one part.
    #[must_use]
    pub fn one_part_number(mut self, within: Scope) -> Self {
        self.one_part_number = Some(within);
        self
    }

    /// Allows offers and shelf items in these conditions only.
    #[must_use]
    pub fn conditions(mut self, conditions: impl IntoIterator<Item = Condition>) -> Self {
        self.conditions = Some(conditions.into_iter().collect());
        self
    }

    /// Allows only offers that arrive within so many days.
    #[must_use]
    pub fn lead_time_at_most(mut self, days: u32) -> Self {
        self.lead_time_at_most_days = Some(days);
        self
    }

    /// Asks for so many spare modules of each sort that is fitted, whatever the part, all machines together.
    #[must_use]
    pub fn spares(mut self, spares: u32) -> Self {
        self.spares = spares;
        self
    }

    /// Asks for spares of each part that is fitted.
    #[must_use]
    pub fn spares_per_part(mut self) -> Self {
        self.spares_per_part = true;
        self
    }

    /// Sets the most that it may cost.
    #[must_use]
    pub fn budget(mut self, budget: Price) -> Self {
        self.budget = Some(budget);
        self
    }

    /// Sets how much more than the least it may cost for being better.
    #[must_use]
    pub fn worth_paying(mut self, worth: Price) -> Self {
        self.worth_paying = Some(worth);
        self
    }

    /// What it is worth to be better, if anything, in minor units.
    pub(crate) fn worth_minor(&self) -> Option<u64> {
        self.worth_paying.map(Price::amount_minor).filter(|worth| *worth > 0)
    }

    /// Allows only modules of which form factor, ranks, stack, device width, grade, check bits and voltages are known, whatever
    /// else the request accepts.
    #[must_use]
    pub fn known_facts_only(mut self) -> Self {
        self.known_facts_only = true;
        self
    }

    /// Accepts modules of which this is not known.
    #[must_use]
    pub fn accept_unknown(mut self, fact: MissingFact) -> Self {
        self.accept_unknown.insert(fact);
        self
    }

    /// The same on a machine in which the present modules run.
    pub(crate) fn as_it_runs(&self, machine: &Machine) -> Cow<'_, Self> {
        match self.present.population.as_it_runs(machine) {
            None => Cow::Borrowed(self),
            Some(population) => {
                let present = Present { population, ..self.present.clone() };
                Cow::Owned(Self { present, ..self.clone() })
            }
        }
    }

    /// Sets from which severity a finding refuses a plan.
    #[must_use]
    pub fn refuse_from(mut self, severity: Severity) -> Self {
        self.refuse_from = severity;
        self
    }

    /// Plans so many like machines from one stock.
    #[must_use]
    pub fn machines(mut self, machines: u32) -> Self {
        self.machines = machines;
        self
    }

    /// Sets what a handling costs.
    #[must_use]
    pub fn labour_per_handling(mut self, labour: Price) -> Self {
        self.labour_per_handling = Some(labour);
        self
    }

    /// Says what the machine holds now.
    #[must_use]
    pub fn present(mut self, population: Population) -> Self {
        self.present.population = population;
        self
    }

    /// Keeps the module of a slot where it is.
    #[must_use]
    pub fn pin(mut self, slot: Name) -> Self {
        self.present.pinned.insert(slot);
        self
    }

    /// Keeps a slot empty.
    #[must_use]
    pub fn keep_empty(mut self, slot: Name) -> Self {
        self.present.keep_empty.insert(slot);
        self
    }

    /// Credits the module of a slot if it is pulled.
    #[must_use]
    pub fn credit(mut self, slot: Name, credit: Price) -> Self {
        self.present.credits.insert(slot, credit);
        self
    }

    /// Adds an offer.
    #[must_use]
    pub fn offer(mut self, offer: Offer) -> Self {
        self.offers.push(offer);
        self
    }

    /// Adds offers.
    #[must_use]
    pub fn offers(mut self, offers: impl IntoIterator<Item = Offer>) -> Self {
        self.offers.extend(offers);
        self
    }

    /// Buys from a list that other requests share, in the place of what was offered so far.
    #[must_use]
    pub fn market(mut self, offers: &Offers) -> Self {
        self.offers = offers.clone();
        self
    }

    /// Adds modules from the shelf.
    #[must_use]
    pub fn shelf(mut self, items: impl IntoIterator<Item = ShelfItem>) -> Self {
        self.shelf.extend(items);
        self
    }

    /// Sets what a supplier charges for an order.
    #[must_use]
    pub fn supplier_charge(mut self, supplier: Name, charge: Price) -> Self {
        self.supplier_charges.insert(supplier, charge);
        self
    }

    /// Lets each search for what accepting warnings would save visit so many nodes.
    #[must_use]
    pub fn savings_nodes(mut self, nodes: u64) -> Self {
        self.savings_nodes = nodes;
        self
    }

    /// Lets the search visit so many nodes.
    #[must_use]
    pub fn nodes(mut self, nodes: u64) -> Self {
        self.nodes = nodes;
        self
    }
}
