//! Writes orders.

use std::collections::BTreeMap;

use crate::acceptance::sound_report;
use crate::assess::Planner;
use crate::finding::Severity;
use crate::module::MemoryModule;
use crate::population::{Fitted, Occupant};
use crate::stated::Schema;
use crate::work_order::assign::{Assigned, Held, Item, handlings};
use crate::work_order::before_and_after::{Texts, can_start, closing, first_start, opening};
use crate::work_order::bench::Bench;
use crate::work_order::going_back::{Back, Stop};
use crate::work_order::leg::{Blanks, Leg, fitted, population};
use crate::work_order::{
    Action, Caution, Check, Halt, HaltAt, OrderError, OrderLine, OrderProblem, OrderRequest, PutDown, Side, StopRule,
    Supply, TrialStart, WayBack, WorkOrder, WorkState, trial,
};

impl Planner<'_> {
    /// What hands do to come from what is there to what is to be there: the fewest handlings, with halts, and the way back from each. It is
    /// returned only after it has been carried out, step by step, by other code than made it.
    ///
    /// Modules of equal facts are interchangeable, unless the request says where each comes from or means the individuals that it names. A
    /// slot that is emptied gets a blank where the board's maker asks for blanks or the caller does; a blank makes room for a module.
    ///
    /// # Errors
    /// Everything that is wrong with the request: slots that the board does not have, modules that are not where they are said to be or go to
    /// two slots, something else that leaves than was expected, a faulty module or one for a closed slot that is to come in, other devices that
    /// change, another number of handlings than was expected.
    pub fn work_order(&self, request: &OrderRequest) -> Result<WorkOrder, OrderError> {
        let assigned = Assigned::new(self.machine(), request).map_err(|problems| OrderError::Request { problems })?;
        let bench = Bench::new(self.machine(), &request.before);
        let (trial, tried) = match request.trial_start {
            true => trial::find(self, &assigned),
            false => (TrialStart::NotAsked, None),
        };
        let blanks = last_blanks(&assigned, &bench);
        let before = population(&assigned, &assigned.start, &assigned.blanks);
        let after = population(&assigned, &assigned.target, &blanks);
        let assessment = self.assess(&after).map_err(|_| unknown_slots(&assigned))?;
        let mut legs = Vec::new();
        let mut at: (&Held, Blanks) = (&assigned.start, assigned.blanks.clone());
        if let Some(tried) = &tried {
            let left = at.1.iter().copied().filter(|slot| !tried.contains_key(slot)).collect();
            legs.push(Leg::new(&assigned, &bench, (at.0, &at.1), (tried, &left)));
            at = (tried, left);
        }
        legs.push(Leg::new(&assigned, &bench, (at.0, &at.1), (&assigned.target, &blanks)));
        let supplies = supplies(&assigned);
        let findings: Vec<_> =
            assessment.findings.iter().filter(|finding| finding.severity >= Severity::Warning).cloned().collect();
        let mut order = WorkOrder {
            schema: Schema,
            platform: self.machine().platform().name().clone(),
            identity: request.identity.clone(),
            place: request.place.clone(),
            machines: request.machines,
            handlings: handlings(&assigned.start, &assigned.target),
            trial,
            blanks_to_bring: blanks_to_bring(&legs),
            supplies,
            lines: Vec::new(),
            stop_rules: Vec::new(),
            ways_back: Vec::new(),
            expected: sound_report(self.machine(), &after),
            findings,
            before,
            after,
        };
        if legs.iter().any(|leg| !leg.outs.is_empty() || !leg.ins.is_empty()) {
            order.stop_rules = StopRule::all(matches!(order.trial, TrialStart::Made(_)), can_start(&order.after));
            order.lines = lines(&Texts::new(self.machine(), &assigned, &order), legs, &order);
        }
        self.verify(&mut order, &bench)?;
        Ok(order)
    }

    /// Carries an order out, and finds the way back from each halt.
    fn verify(&self, order: &mut WorkOrder, bench: &Bench<'_>) -> Result<(), OrderError> {
        let back = Back { planner: self, bench, before: &order.before };
        let mut state = WorkState::before(&order.before, &order.supplies, order.blanks_to_bring);
        let (mut ways, mut has_moved): (Vec<WayBack>, _) = (Vec::new(), true);
        for (number, line) in order.lines.iter().enumerate() {
            state.carry_out(std::iter::once(line)).map_err(|mut error| {
                error.step = order.lines.iter().take(number + 1).filter_map(OrderLine::step).count();
                error
            })?;
            has_moved |= line.step().is_some();
            if let OrderLine::Halt(halt) = line {
                let stop = Stop::at(halt.at.clone());
                // where nothing was moved since the last halt, its steps are those from here
                let way = match ways.last().filter(|_| !has_moved) {
                    Some(last) => back.also_from(last, &stop),
                    None => back.way(&state, &stop, &[]).map_err(OrderError::from)?,
                };
                ways.push(way);
                has_moved = false;
            }
        }
        order.ways_back = ways;
        match state.slots.changes_to(&order.after).into_iter().next() {
            None => Ok(()),
            Some(change) => Err(OrderError::EndsElsewhere { slot: change.slot }),
        }
    }
}

/// Slots that the board does not have; they are found before.
fn unknown_slots(assigned: &Assigned<'_>) -> OrderError {
    let platform = assigned.machine.platform();
    let unknown = assigned.request.after.iter().find(|(label, _)| platform.slot_named(label.as_str()).is_none());
    let problem = |(label, _): (&crate::unit::Name, &Occupant)| OrderProblem::UnknownSlot {
        side: Side::After,
        slot: label.clone(),
        allowed: platform.slot_labels(),
    };
    OrderError::Request { problems: unknown.map(problem).into_iter().collect() }
}

/// The blanks of the end: those that are there and make no room, those that are asked for, and those of emptied slots.
fn last_blanks(assigned: &Assigned<'_>, bench: &Bench<'_>) -> Blanks {
    let Assigned { machine, request, before, target, blanks, .. } = assigned;
    let platform = machine.platform();
    let asked = request.after.iter().filter(|(_, occupant)| **occupant == Occupant::Blank);
    let asked = asked.filter_map(|(label, _)| platform.slot_named(label.as_str()));
    let emptied = before.keys().copied().filter(|&slot| bench.wants_blank(request.blanks, slot));
    blanks.iter().copied().chain(asked).chain(emptied).filter(|slot| !target.contains_key(slot)).collect()
}

/// How many blanks must be brought so that at no step one is missing.
fn blanks_to_bring(legs: &[Leg]) -> usize {
    let (mut at_hand, mut brought) = (0_usize, 0_usize);
    for step in legs.iter().flat_map(|leg| leg.outs.iter().chain(&leg.ins)) {
        match step.action {
            Action::TakeOutBlank => at_hand += 1,
            Action::PutInBlank if at_hand == 0 => brought += 1,
            Action::PutInBlank => at_hand -= 1,
            _ => {}
        }
    }
    brought
}

/// What must be brought.
fn supplies(assigned: &Assigned<'_>) -> Vec<Supply> {
    let mut supplies: BTreeMap<_, (Fitted, usize)> = BTreeMap::new();
    for &item in assigned.target.values() {
        if let (Item::New(slot), Some(fitted)) = (item, fitted(assigned, item)) {
            let key = (assigned.source(slot).cloned(), fitted.clone());
            supplies.entry(key).or_insert((fitted, 0)).1 += 1;
        }
    }
    let supply = |((source, _), (fitted, count))| {
        let Fitted { module, individual, fault: _ } = fitted;
        Supply { source, module, individual, count }
    };
    supplies.into_iter().map(supply).collect()
}

/// All the lines.
fn lines(texts: &Texts<'_>, legs: Vec<Leg>, order: &WorkOrder) -> Vec<OrderLine> {
    let mut lines = texts.before(order, bags(&legs));
    lines.extend(opening(texts, true));
    lines.push(OrderLine::Caution(Caution::NoForce));
    let mut legs = legs.into_iter();
    if let TrialStart::Made(trial) = &order.trial {
        lines.extend(legs.next().into_iter().flat_map(|first| first.lines((HaltAt::TrialOut, HaltAt::TrialIn))));
        lines.extend(closing(texts, Some(HaltAt::BeforeTrialPower)));
        lines.extend(first_start(texts));
        lines.push(OrderLine::Caution(Caution::TrialProves));
        let shown = Check::TrialShown { slots: trial.slots.clone() };
        lines.extend([Check::StoppedInSetUp, shown].map(OrderLine::Check));
        lines.extend(opening(texts, false));
        let checks = vec![Check::StoppedInSetUp, Check::PowerOut];
        lines.push(OrderLine::Halt(Halt { at: HaltAt::TrialDone, checks }));
    }
    for leg in legs {
        lines.extend(leg.lines((HaltAt::AllOut, HaltAt::AllIn)));
    }
    lines.extend(closing(texts, Some(HaltAt::BeforePower)));
    if !can_start(&order.after) {
        lines.extend([Check::StaysOff, Check::BagsKept].map(OrderLine::Check));
        return lines;
    }
    lines.extend(first_start(texts));
    let checks = vec![Check::ReportAsExpected, Check::BagsKept];
    lines.push(OrderLine::Halt(Halt { at: HaltAt::Started, checks }));
    lines
}

/// The slots under whose labels something is kept.
fn bags(legs: &[Leg]) -> Vec<crate::unit::Name> {
    let mut bags = Vec::new();
    for step in legs.iter().flat_map(|leg| &leg.outs) {
        if let Action::TakeOut { to: PutDown::Bag { slot }, .. } = &step.action {
            if !bags.contains(slot) {
                bags.push(slot.clone());
            }
        }
    }
    bags
}

/// The modules that come in.
pub(crate) fn comes<'a>(assigned: &Assigned<'a>) -> Vec<&'a MemoryModule> {
    let new = assigned.target.values().filter(|item| matches!(item, Item::New(_)));
    new.filter_map(|&item| Some(&assigned.fitted(item)?.module)).collect()
}
