//! What a search is held to.

use std::collections::BTreeSet;

use crate::figure::usable::{depends_on_places, needed_for};
use crate::fill::{SlotModel, Usable};
use crate::module::ModuleKind;
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::stock::StockFilter;
use crate::purchase::{PlanRequest, Requirement};
use crate::stated::Scope;
use crate::unit::{Bandwidth, Capacity, DataRate};

/// The requirements that a search holds candidates against.
#[derive(Debug, Clone, Default)]
pub(crate) struct Needs {
    pub(crate) usable_at_least: Capacity,
    pub(crate) usable_at_most: Option<Capacity>,
    pub(crate) rate: Option<DataRate>,
    pub(crate) bandwidth: Option<Bandwidth>,
    /// What every channel must hold.
    pub(crate) even: Option<Capacity>,
    pub(crate) free_slots: usize,
    pub(crate) budget: Option<Amount>,
    /// Whether what a plan is like comes before what it costs, within the budget.
    pub(crate) quality_first: bool,
    /// The most power of each machine's modules, in mW, all of it known.
    pub(crate) power: Option<u64>,
    pub(crate) kinds: Option<BTreeSet<ModuleKind>>,
    pub(crate) known_facts: bool,
    pub(crate) terms: Terms,
}

/// What a search context depends on beside a request: which stock may be used, and what tells modules apart.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Terms {
    pub(crate) stock: StockFilter,
    /// Within what modules must be of one part.
    pub(crate) one_part: Option<Scope>,
    /// How many spares there must be of what is fitted.
    pub(crate) spares: u32,
    /// Whether only modules of one part are spares of each other.
    pub(crate) spares_per_part: bool,
    /// Whether modules that differ in part number, maker or power alone are told apart in any case.
    pub(crate) by_identity: bool,
}

impl Needs {
    /// What a request asks for.
    pub(crate) fn of(request: &PlanRequest) -> Self {
        Self::all(&Requirement::of(request))
    }

    /// The same where plans may cost so much, and what they are like comes before that.
    pub(crate) fn paying(&self, most: Amount) -> Self {
        let budget = Some(self.budget.map_or(most, |budget| budget.min(most)));
        Self { budget, quality_first: true, ..self.clone() }
    }

    /// What some requirements ask for.
    pub(crate) fn all<'r>(requirements: impl IntoIterator<Item = &'r Requirement>) -> Self {
        let mut needs = Self::default();
        for requirement in requirements {
            match requirement {
                Requirement::UsableAtLeastMib(capacity) => needs.usable_at_least = *capacity,
                Requirement::UsableAtMostMib(capacity) => needs.usable_at_most = Some(*capacity),
                Requirement::RateAtLeastMts(rate) => needs.rate = Some(*rate),
                Requirement::BandwidthAtLeastMbps(bandwidth) => needs.bandwidth = Some(*bandwidth),
                Requirement::FreeSlotsAtLeast(slots) => needs.free_slots = *slots,
                Requirement::Budget(price) => needs.budget = Some(Amount::from(price.amount_minor())),
                Requirement::Kinds(kinds) => needs.kinds = Some(kinds.clone()),
                Requirement::OnePartNumber(scope) => needs.terms.one_part = Some(*scope),
                Requirement::KnownFactsOnly => needs.known_facts = true,
                Requirement::Conditions(conditions) => needs.terms.stock.conditions = Some(conditions.clone()),
                Requirement::LeadTimeAtMostDays(days) => needs.terms.stock.lead_time = Some(*days),
                Requirement::Spares(spares) => needs.terms.spares = *spares,
                Requirement::SparesPerPart(spares) => {
                    needs.terms.spares = *spares;
                    needs.terms.spares_per_part = *spares > 0;
                }
            }
        }
        needs
    }
}

/// The capacity that usable capacities ask for in a machine's mode.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Bounds {
    /// Of all modules: every candidate outside is refused.
    pub(crate) at_least: Capacity,
    pub(crate) at_most: Option<Capacity>,
    /// Of all modules less spare ranks, which is known once they are placed.
    pub(crate) unspared: Usable,
    /// Whether ranks are spared.
    spares: bool,
}

impl Bounds {
    pub(crate) fn new(model: &SlotModel<'_>, needs: &Needs) -> Self {
        let machine = model.machine;
        let mode = machine.mode_description();
        let at_least = needed_for(mode, needs.usable_at_least);
        // the most of which no more than that is usable
        let beyond =
            |most: Capacity| needed_for(mode, most + Capacity::from_mib(1)).saturating_sub(Capacity::from_mib(1));
        let at_most = needs.usable_at_most.map(beyond);
        if let Some(share) = needs.even {
            return Self::even(model, share, at_least, at_most);
        }
        if depends_on_places(machine) {
            let most = at_most.map_or(u64::MAX, Capacity::mib);
            return Self { at_least, at_most: None, unspared: Usable(at_least.mib(), most), spares: true };
        }
        Self { at_least, at_most, unspared: Usable::default(), spares: false }
    }
}

impl Bounds {
    /// Whether the capacity of all modules, spare ranks included, is one of which enough can be usable, and where
    /// nothing is spared, not too much.
    pub(crate) fn may_be_met(&self) -> bool {
        self.at_least.mib() >= self.unspared.0 && (self.spares || self.at_least.mib() <= self.unspared.1)
    }

    /// Just as much as every channel that takes memory makes.
    fn even(model: &SlotModel<'_>, share: Capacity, at_least: Capacity, at_most: Option<Capacity>) -> Self {
        let channels = model.channels_with_memory().count();
        let total = share.times(u64::try_from(channels).unwrap_or(u64::MAX));
        let unspared = Usable(at_least.mib(), at_most.map_or(u64::MAX, Capacity::mib));
        Self { at_least: total, at_most: Some(total), unspared, spares: depends_on_places(model.machine) }
    }
}
