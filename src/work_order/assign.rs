//! Which module comes to which slot.

use std::collections::{BTreeMap, BTreeSet};

use crate::machine::{Machine, SlotState};
use crate::module::{Individual, MemoryModule};
use crate::platform::{Platform, Slot, SlotId};
use crate::population::{Fitted, Occupant, Population};
use crate::purchase::ModuleSource;
use crate::unit::Name;
use crate::work_order::{OrderProblem, OrderRequest, Side};

/// A module that hands move.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Item {
    /// The one that is in this slot before.
    Own(SlotId),
    /// The one that is brought for this slot.
    New(SlotId),
}

/// Which module is in which slot.
pub(crate) type Held = BTreeMap<SlotId, Item>;

/// How many modules are taken out or put in between two states.
pub(crate) fn handlings(from: &Held, to: &Held) -> usize {
    let changed = |one: &Held, other: &Held| one.iter().filter(|(slot, item)| other.get(slot) != Some(item)).count();
    changed(from, to) + changed(to, from)
}

/// What is there, what is to be there, and which module goes where.
#[derive(Debug, Clone)]
pub(crate) struct Assigned<'a> {
    pub(crate) machine: &'a Machine,
    pub(crate) request: &'a OrderRequest,
    pub(crate) before: BTreeMap<SlotId, &'a Fitted>,
    pub(crate) after: BTreeMap<SlotId, &'a Fitted>,
    pub(crate) start: Held,
    pub(crate) target: Held,
    /// The slots that hold a blank before.
    pub(crate) blanks: BTreeSet<SlotId>,
}

impl<'a> Assigned<'a> {
    /// Says for each module where it goes.
    ///
    /// # Errors
    /// Everything that is wrong with the request.
    pub(crate) fn new(machine: &'a Machine, request: &'a OrderRequest) -> Result<Self, Vec<OrderProblem>> {
        let mut problems = Vec::new();
        let platform = machine.platform();
        let before = modules(platform, &request.before, Side::Before, &mut problems);
        let after = modules(platform, &request.after, Side::After, &mut problems);
        let is_blank = |(label, occupant): (&Name, &Occupant)| match occupant {
            Occupant::Blank => platform.slot_named(label.as_str()),
            Occupant::Module(_) | Occupant::OtherDevice(_) => None,
        };
        let blanks = request.before.iter().filter_map(is_blank).collect();
        let start = before.keys().map(|&slot| (slot, Item::Own(slot))).collect();
        let mut assigned = Self { machine, request, before, after, start, target: Held::new(), blanks };
        assigned.check(&mut problems);
        if problems.is_empty() {
            assigned.by_source(&mut problems);
        }
        if problems.is_empty() {
            assigned.by_individual(&mut problems);
            assigned.by_facts();
            assigned.hold_against_what_is_expected(&mut problems);
        }
        if problems.is_empty() { Ok(assigned) } else { Err(problems) }
    }

    /// A module and what is known of it as an individual.
    pub(crate) fn fitted(&self, item: Item) -> Option<&'a Fitted> {
        match item {
            Item::Own(slot) => self.before.get(&slot).copied(),
            Item::New(slot) => self.after.get(&slot).copied(),
        }
    }

    pub(crate) fn label(&self, slot: SlotId) -> &'a Name {
        self.machine.platform().slot(slot).label()
    }

    /// Where a module that is brought comes from.
    pub(crate) fn source(&self, slot: SlotId) -> Option<&'a ModuleSource> {
        self.request.sources.get(self.label(slot)).filter(|source| !matches!(source, ModuleSource::MovesFrom { .. }))
    }

    /// What makes no sense on this machine, whatever goes where.
    fn check(&self, problems: &mut Vec<OrderProblem>) {
        let platform = self.machine.platform();
        let device = |population: &'a Population, label: &Name| match population.get(label.as_str()) {
            Some(Occupant::OtherDevice(device)) => Some(device),
            Some(Occupant::Module(_) | Occupant::Blank) | None => None,
        };
        for slot in platform.slots() {
            let label = slot.label();
            if device(&self.request.before, label) != device(&self.request.after, label) {
                problems.push(OrderProblem::OtherDevice { slot: label.clone() });
            }
        }
        for (side, held) in [(Side::Before, &self.before), (Side::After, &self.after)] {
            let mut known: BTreeMap<&Name, SlotId> = BTreeMap::new();
            let named = held.iter().filter_map(|(&slot, fitted)| Some((slot, &fitted.individual.as_ref()?.id)));
            for (slot, id) in named.filter(|_| self.request.individuals) {
                if let Some(first) = known.insert(id, slot) {
                    let [first, second] = [first, slot].map(|slot| self.label(slot).clone());
                    problems.push(OrderProblem::IndividualTwice { side, id: id.clone(), first, second });
                }
            }
        }
        for (label, source) in &self.request.sources {
            let slot = platform.slot_named(label.as_str()).filter(|slot| self.after.contains_key(slot));
            match source {
                _ if slot.is_none() => problems.push(OrderProblem::SourceOfNothing { slot: label.clone() }),
                ModuleSource::Other(found) => {
                    problems.push(OrderProblem::UnknownSource { slot: label.clone(), found: found.clone() });
                }
                _ => {}
            }
        }
    }

    /// What the caller says of where modules come from.
    fn by_source(&mut self, problems: &mut Vec<OrderProblem>) {
        let platform = self.machine.platform();
        let mut taken: BTreeMap<SlotId, SlotId> = BTreeMap::new();
        for (label, source) in &self.request.sources {
            let Some(slot) = platform.slot_named(label.as_str()) else { continue };
            let from = match source {
                ModuleSource::Stays => label,
                ModuleSource::MovesFrom { slot } => slot,
                _ => {
                    self.target.insert(slot, Item::New(slot));
                    continue;
                }
            };
            let own = platform.slot_named(from.as_str());
            let there = own.and_then(|own| self.before.get(&own));
            let Some(wanted) = self.after.get(&slot) else { continue };
            let (Some(own), true) = (own, there.is_some_and(|there| there.module.is_like(&wanted.module))) else {
                problems.push(OrderProblem::NotThere {
                    slot: label.clone(),
                    from: from.clone(),
                    expected: wanted.module.clone(),
                    found: self.request.before.get(from.as_str()).cloned(),
                });
                continue;
            };
            if let Some(first) = taken.insert(own, slot) {
                let [from, first, second] = [own, first, slot].map(|slot| self.label(slot).clone());
                problems.push(OrderProblem::TakenTwice { from, first, second });
            }
            self.target.insert(slot, Item::Own(own));
        }
    }

    /// Whether the caller means just this one.
    fn named(&self, fitted: &'a Fitted) -> Option<&'a Individual> {
        fitted.individual.as_ref().filter(|_| self.request.individuals)
    }

    /// The individuals that the caller means.
    fn by_individual(&mut self, problems: &mut Vec<OrderProblem>) {
        let at = |id: &Name| {
            let mut there = self.before.iter();
            there.find(|(_, fitted)| fitted.individual.as_ref().is_some_and(|one| one.id == *id))
        };
        let mut found = Vec::new();
        for (&slot, wanted) in &self.after {
            let Some(individual) = self.named(wanted).filter(|_| !self.target.contains_key(&slot)) else { continue };
            match at(&individual.id) {
                Some((&own, there)) if there.module.is_like(&wanted.module) => found.push((slot, Item::Own(own))),
                Some((&own, there)) => problems.push(OrderProblem::NotThere {
                    slot: self.label(slot).clone(),
                    from: self.label(own).clone(),
                    expected: wanted.module.clone(),
                    found: Some(Occupant::Module((*there).clone())),
                }),
                None => found.push((slot, Item::New(slot))),
            }
        }
        self.target.extend(found);
    }

    /// The others: a module stays where an equal one sits; else the nearest equal one that leaves its slot comes; else a new one.
    fn by_facts(&mut self) {
        let platform = self.machine.platform();
        let own = |item: &Item| match item {
            Item::Own(slot) => Some(*slot),
            Item::New(_) => None,
        };
        let mut taken: BTreeSet<SlotId> = self.target.values().filter_map(own).collect();
        let mut open: Vec<SlotId> = self.after.keys().copied().filter(|slot| !self.target.contains_key(slot)).collect();
        open.sort_by_key(|&slot| platform.slot(slot).order());
        open.retain(|&slot| {
            let (Some(wanted), Some(there)) = (self.after.get(&slot), self.before.get(&slot)) else { return true };
            let is_same = there.module.is_like(&wanted.module) && there.fault == wanted.fault;
            let stays = is_same && taken.insert(slot);
            if stays {
                self.target.insert(slot, Item::Own(slot));
            }
            !stays
        });
        let sorts = self.sorts();
        let near: [fn(&Slot, &Slot) -> bool; 3] =
            [|one, other| one.channel == other.channel, |one, other| one.socket == other.socket, |_, _| true];
        for is_near in near {
            open.retain(|&slot| {
                let Some(wanted) = self.after.get(&slot) else { return true };
                let like = sorts.iter().find(|(module, _)| module.is_like(&wanted.module));
                let comes = like
                    .into_iter()
                    .flat_map(|(_, slots)| slots)
                    .copied()
                    .find(|own| !taken.contains(own) && is_near(platform.slot(*own), platform.slot(slot)));
                taken.extend(comes);
                self.target.extend(comes.map(|own| (slot, Item::Own(own))));
                comes.is_none()
            });
        }
        self.target.extend(open.into_iter().map(|slot| (slot, Item::New(slot))));
    }

    /// The modules of before that work: each sort with the slots that hold it.
    fn sorts(&self) -> Vec<(&'a MemoryModule, Vec<SlotId>)> {
        let mut sorts: Vec<(&MemoryModule, Vec<SlotId>)> = Vec::new();
        for (&slot, fitted) in self.before.iter().filter(|(_, fitted)| fitted.fault.is_none()) {
            match sorts.iter_mut().find(|(module, _)| module.is_like(&fitted.module)) {
                Some((_, slots)) => slots.push(slot),
                None => sorts.push((&fitted.module, vec![slot])),
            }
        }
        sorts
    }

    fn hold_against_what_is_expected(&self, problems: &mut Vec<OrderProblem>) {
        for (&slot, &item) in self.target.iter().filter(|(slot, item)| self.start.get(slot) != Some(*item)) {
            if let Some(fault) = self.fitted(item).and_then(|fitted| fitted.fault) {
                problems.push(OrderProblem::FaultyComes { slot: self.label(slot).clone(), fault });
            }
            if let SlotState::Closed { reason } = self.machine.slot_state(slot) {
                problems.push(OrderProblem::Closed { slot: self.label(slot).clone(), reason: reason.clone() });
            }
        }
        if let Some(leaves) = &self.request.leaves {
            let stays: BTreeSet<Item> = self.target.values().copied().collect();
            let leaving = self.before.iter().filter(|(slot, _)| !stays.contains(&Item::Own(**slot)));
            let found: BTreeMap<&Name, &MemoryModule> =
                leaving.map(|(&slot, fitted)| (self.label(slot), &fitted.module)).collect();
            for slot in leaves.keys().chain(found.keys().copied()).collect::<BTreeSet<&Name>>() {
                let expected = leaves.get(slot);
                let is_so = match (expected, found.get(slot)) {
                    (Some(expected), Some(found)) => expected.is_like(found),
                    (one, other) => one.is_none() && other.is_none(),
                };
                if !is_so {
                    let found = self.request.before.get(slot.as_str()).filter(|_| found.contains_key(slot)).cloned();
                    problems.push(OrderProblem::LeavesElse { slot: slot.clone(), expected: expected.cloned(), found });
                }
            }
        }
        let found = handlings(&self.start, &self.target);
        if let Some(expected) = self.request.handlings.filter(|&expected| expected != found && problems.is_empty()) {
            problems.push(OrderProblem::Handlings { expected, found });
        }
    }
}

/// The modules of a population, by slot.
fn modules<'a>(
    platform: &Platform,
    population: &'a Population,
    side: Side,
    problems: &mut Vec<OrderProblem>,
) -> BTreeMap<SlotId, &'a Fitted> {
    let mut found = BTreeMap::new();
    for (label, occupant) in population.iter() {
        match (platform.slot_named(label.as_str()), occupant) {
            (Some(slot), Occupant::Module(fitted)) => drop(found.insert(slot, fitted)),
            (Some(_), Occupant::OtherDevice(_) | Occupant::Blank) => {}
            (None, _) => {
                problems.push(OrderProblem::UnknownSlot { side, slot: label.clone(), allowed: platform.slot_labels() });
            }
        }
    }
    found
}
