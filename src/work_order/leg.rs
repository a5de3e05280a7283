//! The steps from one state to another.

use std::collections::BTreeSet;

use crate::platform::SlotId;
use crate::population::{Fitted, Occupant, Population};
use crate::work_order::assign::{Assigned, Held, Item};
use crate::work_order::bench::Bench;
use crate::work_order::{Action, Check, Halt, HaltAt, OrderLine, PutDown, Step};

/// The slots that hold a blank.
pub(crate) type Blanks = BTreeSet<SlotId>;

/// What is in each slot in some state.
pub(crate) fn population(assigned: &Assigned<'_>, held: &Held, blanks: &Blanks) -> Population {
    let mut population = Population::new();
    for (label, occupant) in assigned.request.before.iter() {
        if matches!(occupant, Occupant::OtherDevice(_)) {
            population.put(label.clone(), occupant.clone());
        }
    }
    for (&slot, &item) in held {
        if let Some(fitted) = fitted(assigned, item) {
            population.put(assigned.label(slot).clone(), Occupant::Module(fitted));
        }
    }
    for &slot in blanks {
        population.put(assigned.label(slot).clone(), Occupant::Blank);
    }
    population
}

/// A module as hands find it: of one that is brought only what was asked for.
pub(crate) fn fitted(assigned: &Assigned<'_>, item: Item) -> Option<Fitted> {
    let mut fitted = assigned.fitted(item)?.clone();
    fitted.module = fitted.module.by_facts();
    if matches!(item, Item::New(_)) && !assigned.request.individuals {
        fitted.individual = None;
    }
    Some(fitted)
}

/// Where a module lies while it is in no slot.
fn home(assigned: &Assigned<'_>, item: Item) -> PutDown {
    match item {
        Item::Own(slot) => PutDown::Bag { slot: assigned.label(slot).clone() },
        Item::New(slot) => PutDown::Supply { source: assigned.source(slot).cloned() },
    }
}

/// What is taken out and put in between two states.
pub(crate) struct Leg {
    pub(crate) outs: Vec<Step>,
    pub(crate) ins: Vec<Step>,
}

impl Leg {
    pub(crate) fn new(
        assigned: &Assigned<'_>,
        bench: &Bench<'_>,
        (from, blanks_from): (&Held, &Blanks),
        (to, blanks_to): (&Held, &Blanks),
    ) -> Self {
        let (mut outs, mut ins) = (Vec::new(), Vec::new());
        for (&slot, &item) in from.iter().filter(|(slot, item)| to.get(slot) != Some(item)) {
            let module = fitted(assigned, item).map(|module| Action::TakeOut { module, to: home(assigned, item) });
            outs.extend(module.map(|action| (slot, action)));
        }
        outs.extend(blanks_from.difference(blanks_to).map(|&slot| (slot, Action::TakeOutBlank)));
        for (&slot, &item) in to.iter().filter(|(slot, item)| from.get(slot) != Some(item)) {
            let module = fitted(assigned, item).map(|module| Action::PutIn { module, from: home(assigned, item) });
            ins.extend(module.map(|action| (slot, action)));
        }
        let blanks = blanks_to.difference(blanks_from).copied().collect();
        Self { outs: bench.outs(outs), ins: bench.ins(ins, blanks) }
    }

    /// The steps with the halts after outs and ins.
    pub(crate) fn lines(self, (out, all_in): (HaltAt, HaltAt)) -> Vec<OrderLine> {
        let Self { outs, ins } = self;
        let mut lines = Vec::new();
        if !outs.is_empty() {
            let bags = |step: &Step| match &step.action {
                Action::TakeOut { to: PutDown::Bag { slot }, .. } => Some(slot.clone()),
                _ => None,
            };
            let count = outs.iter().filter(|step| step.is_handling()).count();
            let mut checks = vec![Check::ModulesOut { count, blanks: outs.len().saturating_sub(count) }];
            checks.push(Check::SlotsEmpty { slots: outs.iter().map(|step| step.slot.clone()).collect() });
            let slots: Vec<_> = outs.iter().filter_map(bags).collect();
            checks.extend((!slots.is_empty()).then_some(Check::BagsLabelled { slots }));
            lines.extend(outs.into_iter().map(OrderLine::Step));
            lines.push(OrderLine::Halt(Halt { at: out, checks }));
        }
        if !ins.is_empty() {
            let filled = ins.iter().filter(|step| step.is_handling());
            let slots: Vec<_> = filled.map(|step| step.slot.clone()).collect();
            let checks =
                vec![Check::ModulesIn { count: slots.len(), blanks: ins.len().saturating_sub(slots.len()), slots }];
            lines.extend(ins.into_iter().map(OrderLine::Step));
            lines.push(OrderLine::Halt(Halt { at: all_in, checks }));
        }
        lines
    }
}
