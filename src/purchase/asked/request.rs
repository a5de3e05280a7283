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
///
/// ```
/// use slotwright::module::Label;
/// use slotwright::population::Population;
/// use slotwright::purchase::{PlanRequest, Present};
///
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let fitted = Population::new().with("A1".parse()?, module);
/// // it stays where it is, and nothing may be put into A3
/// let present = Present::new(fitted).pinned(["A1".parse()?]).keep_empty(["A3".parse()?]);
/// assert_eq!(PlanRequest::new().present(present).present.pinned.len(), 1);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
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
    /// Slots that are to be empty; a module in one moves or is pulled, and none may hold another device. They stay live: rules and figures are as without
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

impl From<Population> for Present {
    fn from(population: Population) -> Self {
        Self::new(population)
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

    setters! {
        some usable_at_least(usable_at_least_mib: Capacity);
        some usable_at_most(usable_at_most_mib: Capacity);
        some rate_at_least(rate_at_least_mts: DataRate);
        some bandwidth_at_least(bandwidth_at_least_mbps: Bandwidth);
        some free_slots_at_least(free_slots_at_least: usize);
        any_of kinds(kinds: ModuleKind);
        some one_part_number(one_part_number: Scope);
        any_of conditions(conditions: Condition);
        some lead_time_at_most(lead_time_at_most_days: u32);
        value spares(spares: u32);
        value spares_per_part(spares_per_part: bool);
        some budget(budget: Price);
        some worth_paying(worth_paying: Price);
        value known_facts_only(known_facts_only: bool);
        each accept_unknown(accept_unknown: MissingFact);
        value refuse_from(refuse_from: Severity);
        value machines(machines: u32);
        some labour_per_handling(labour_per_handling: Price);
        each offers(offers: Offer);
        each shelf(shelf: ShelfItem);
        each supplier_charges(supplier_charges: (Name, Price));
        value nodes(nodes: u64);
        value savings_nodes(savings_nodes: u64);
    }

    /// Adds an offer.
    #[must_use]
    pub fn offer(mut self, offer: Offer) -> Self {
        self.offers.push(offer);
        self
    }

    /// Sets [`offers`](Self#structfield.offers) to a list that other requests share, in the place of what was offered so far.
    #[must_use]
    pub fn shared_offers(mut self, offers: &Offers) -> Self {
        self.offers = offers.clone();
        self
    }

    /// Sets [`present`](Self#structfield.present): a population, or a [`Present`] that says more of it.
    #[must_use]
    pub fn present(mut self, present: impl Into<Present>) -> Self {
        self.present = present.into();
        self
    }

    /// What it is worth to be better, if anything, in minor units.
    pub(crate) fn worth_minor(&self) -> Option<u64> {
        self.worth_paying.map(Price::amount_minor).filter(|worth| *worth > 0)
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
}
