//! What a search stands on: the machine's slots, what modules can come from, and what is required.

use std::collections::BTreeSet;

use crate::assess::Planner;
use crate::figure::usable::{depends_on_places, needed_for};
use crate::fill::{SlotModel, Usable};
use crate::finding::Severity;
use crate::machine::Machine;
use crate::module::{MemoryModule, ModuleKind};
use crate::platform::SlotId;
use crate::population::{Content, Layout, Occupant};
use crate::purchase::engine::classes::Supply;
use crate::purchase::engine::stock::Amount;
use crate::purchase::{Condition, PlanRequest};
use crate::rule::RuleBook;
use crate::stated::Scope;
use crate::unit::{Bandwidth, Capacity, DataRate};

/// The requirements that a search holds candidates against.
#[derive(Debug, Clone)]
pub(crate) struct Needs {
    pub(crate) usable_at_least: Capacity,
    pub(crate) usable_at_most: Option<Capacity>,
    pub(crate) rate: Option<DataRate>,
    pub(crate) bandwidth: Option<Bandwidth>,
    /// What every channel must hold.
    pub(crate) even: Option<Capacity>,
    pub(crate) free_slots: usize,
    pub(crate) budget: Option<Amount>,
    /// The most power of each machine's modules, in mW, all of it known.
    pub(crate) power: Option<u64>,
    pub(crate) kinds: Option<BTreeSet<ModuleKind>>,
    pub(crate) known_facts: bool,
    pub(crate) terms: Terms,
}

/// What a search stands on beside a request: which stock may be used, and what tells modules apart.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Terms {
    /// The conditions that stock may be in.
    pub(crate) conditions: Option<BTreeSet<Condition>>,
    /// The most days that an offer may take.
    pub(crate) lead_time: Option<u32>,
    /// Within what modules must be of one part.
    pub(crate) one_part: Option<Scope>,
    /// How many spares there must be of each part.
    pub(crate) spares: usize,
    /// Whether modules that differ in part number, maker or power alone are told apart in any case.
    pub(crate) by_identity: bool,
}

impl Needs {
    pub(crate) fn of(request: &PlanRequest) -> Self {
        Self {
            usable_at_least: request.usable_at_least_mib.unwrap_or(Capacity::ZERO),
            usable_at_most: request.usable_at_most_mib,
            rate: request.rate_at_least_mts,
            bandwidth: request.bandwidth_at_least_mbps,
            even: None,
            free_slots: request.free_slots_at_least.unwrap_or(0),
            budget: request.budget.map(|budget| Amount::from(budget.amount_minor())),
            power: None,
            kinds: request.kinds.clone(),
            known_facts: request.known_facts_only,
            terms: Terms {
                conditions: request.conditions.clone(),
                lead_time: request.lead_time_at_most_days,
                one_part: request.one_part_number,
                spares: usize::try_from(request.spares).unwrap_or(usize::MAX),
                by_identity: false,
            },
        }
    }

    /// Nothing asked for.
    pub(crate) const NONE: Self = Self {
        usable_at_least: Capacity::ZERO,
        usable_at_most: None,
        rate: None,
        bandwidth: None,
        even: None,
        free_slots: 0,
        budget: None,
        power: None,
        kinds: None,
        known_facts: false,
        terms: Terms { conditions: None, lead_time: None, one_part: None, spares: 0, by_identity: false },
    };
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
    pub(crate) fn new(machine: &Machine, needs: &Needs) -> Self {
        let mode = machine.mode_description();
        let at_least = needed_for(mode, needs.usable_at_least);
        // the most of which no more than that is usable
        let beyond =
            |most: Capacity| needed_for(mode, most + Capacity::from_mib(1)).saturating_sub(Capacity::from_mib(1));
        let at_most = needs.usable_at_most.map(beyond);
        if let Some(share) = needs.even {
            return Self::even(machine, share, at_least, at_most);
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

    /// Just as much as every channel with slots of every processor makes.
    fn even(machine: &Machine, share: Capacity, at_least: Capacity, at_most: Option<Capacity>) -> Self {
        let channels =
            machine.processors().filter_map(|(id, _)| Some(machine.wiring(id)?.channels.len())).sum::<usize>();
        let total = share.times(u64::try_from(channels).unwrap_or(u64::MAX));
        let unspared = Usable(at_least.mib(), at_most.map_or(u64::MAX, Capacity::mib));
        Self { at_least: total, at_most: Some(total), unspared, spares: depends_on_places(machine) }
    }
}

/// The parts of a search that stay the same from question to question.
pub(crate) struct Ground<'a> {
    pub(crate) grid: SlotModel<'a>,
    pub(crate) errors: SlotModel<'a>,
    pub(crate) supply: Supply<'a>,
}

impl<'a> Ground<'a> {
    /// A ground for plans under some rules, with slots free as the planner's rules say.
    pub(crate) fn new(planner: &Planner<'a>, rules: &'a RuleBook, request: &'a PlanRequest, terms: &Terms) -> Self {
        let machine = planner.machine();
        let mut fixed = Layout::empty(machine);
        for (label, occupant) in request.present.population.iter() {
            if let (Some(slot), Occupant::OtherDevice(device)) =
                (machine.platform().slot_named(label.as_str()), occupant)
            {
                fixed.set(slot, Content::Other(device));
            }
        }
        let bare = SlotModel::new(machine, rules, request.refuse_from, Vec::new(), fixed.clone());
        let places: Vec<SlotId> = bare.slots.values().iter().map(|slot| slot.id).collect();
        let supply = Supply::new(machine, request, (&bare.in_force, terms), (&places, &fixed));
        let modules: Vec<&'a MemoryModule> = supply.classes.iter().map(|class| class.module).collect();
        let grid = |rules, threshold| SlotModel::new(machine, rules, threshold, modules.clone(), fixed.clone());
        Self { grid: grid(rules, request.refuse_from), errors: grid(planner.rules(), Severity::Error), supply }
    }
}
