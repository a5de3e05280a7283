//! Makes ways back.

use std::collections::{BTreeMap, BTreeSet};

use crate::assess::Planner;
use crate::platform::SlotId;
use crate::population::{Fault, Fitted, Occupant, Population};
use crate::stated::Schema;
use crate::unit::Name;
use crate::work_order::before_and_after::{Texts, can_start, closing, first_start, opening};
use crate::work_order::bench::Bench;
use crate::work_order::{
    Action, Caution, Check, FoundBad, HaltAt, OrderLine, PutDown, Step, WayBack, WayBackError, Without, WorkOrder,
    WorkState,
};

impl Planner<'_> {
    /// The way back from a halt of an order, where modules were found bad. Without any it is the one that the order itself has.
    ///
    /// A bad module of before stays out, and the machine goes on in the best way without it ([`WithoutAnswer::best`](crate::work_order::WithoutAnswer::best)). So does one that
    /// had failed before and is out.
    ///
    /// ```
    /// # use slotwright::{Label, Machine, Planner, Population, RuleBook, reference};
    /// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// # let rules = RuleBook::standard();
    /// # let planner = Planner::new(&machine, &rules);
    /// use slotwright::work_order::{FoundBad, HaltAt, OrderRequest};
    ///
    /// let small = "16GB 1Rx4 PC4-2400T-RC1-11".parse::<Label>()?.to_module();
    /// let large = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let before = Population::new().with("A1".parse()?, small.clone()).with("A2".parse()?, small.clone());
    /// let after = Population::new().with("A1".parse()?, large);
    /// let order = planner.work_order(&OrderRequest::new(before, after))?;
    ///
    /// // what came out of A1 was dropped: what was in A2 goes into A1
    /// let back = planner.way_back(&order, &HaltAt::AllOut, &[FoundBad::InBag { slot: "A1".parse()? }])?;
    /// let modules: Vec<_> = back.population.modules().map(|(slot, fitted)| (slot.as_str(), &fitted.module)).collect();
    /// assert_eq!(modules, [("A1", &small)]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// A halt that the order does not have, a place where no module is at that halt, an order of another machine.
    pub fn way_back(&self, order: &WorkOrder, halt: &HaltAt, bad: &[FoundBad]) -> Result<WayBack, WayBackError> {
        self.knows_slots_of(order)?;
        let state = order.state_at(halt)?.ok_or_else(|| WayBackError::NoSuchHalt { at: halt.clone() })?;
        let bench = Bench::new(self.machine(), &order.before);
        Back { planner: self, bench: &bench, before: &order.before }.way(&state, &Stop::at(halt.clone()), bad)
    }

    /// The way back where work stopped after so many steps of an order, blanks counted, at no halt: the lid is off and power is out.
    ///
    /// ```
    /// # use slotwright::{Label, Machine, Planner, Population, RuleBook, reference};
    /// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// # let rules = RuleBook::standard();
    /// # let planner = Planner::new(&machine, &rules);
    /// use slotwright::work_order::OrderRequest;
    ///
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let after = Population::new().with("A1".parse()?, module.clone()).with("B1".parse()?, module);
    /// let order = planner.work_order(&OrderRequest::new(Population::new(), after))?;
    ///
    /// // A1 is filled, B1 is not
    /// let back = planner.way_back_after(&order, 1, &[])?;
    /// let slots: Vec<_> = back.steps().map(|step| step.slot.as_str()).collect();
    /// assert_eq!(slots, ["A1"]);
    /// assert_eq!(back.population, order.before);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// More steps than the order has, a place where no module is then, an order of another machine.
    pub fn way_back_after(&self, order: &WorkOrder, steps: usize, bad: &[FoundBad]) -> Result<WayBack, WayBackError> {
        self.knows_slots_of(order)?;
        let no_such_step = || WayBackError::NoSuchStep { steps, count: order.steps().count() };
        let (halt, state) = order.state_after(steps)?.ok_or_else(no_such_step)?;
        let bench = Bench::new(self.machine(), &order.before);
        let stop = Stop { halt, steps_done: Some(steps) };
        Back { planner: self, bench: &bench, before: &order.before }.way(&state, &stop, bad)
    }

    fn knows_slots_of(&self, order: &WorkOrder) -> Result<(), WayBackError> {
        let platform = self.machine().platform();
        let is_unknown = |label: &&Name| platform.slot_named(label.as_str()).is_none();
        let mut labels = order.before.iter().map(|(label, _)| label).chain(order.steps().map(|step| &step.slot));
        match labels.find(is_unknown) {
            Some(slot) => Err(WayBackError::UnknownSlot { slot: slot.clone(), allowed: platform.slot_labels() }),
            None => Ok(()),
        }
    }
}

/// Where work stopped: at a halt, or after so many steps since.
pub(crate) struct Stop {
    halt: HaltAt,
    steps_done: Option<usize>,
}

impl Stop {
    pub(crate) const fn at(halt: HaltAt) -> Self {
        Self { halt, steps_done: None }
    }

    const fn is_closed(&self) -> bool {
        self.steps_done.is_none() && self.halt.is_closed()
    }
}

/// Makes ways back to what was there before.
pub(crate) struct Back<'b, 'a> {
    pub(crate) planner: &'b Planner<'a>,
    pub(crate) bench: &'b Bench<'a>,
    pub(crate) before: &'b Population,
}

/// What is to be where: by slot, in which slot its module was before; and the blanks.
struct Goal {
    modules: BTreeMap<Name, Name>,
    blanks: BTreeSet<Name>,
    without: Option<Without>,
}

impl Back<'_, '_> {
    pub(crate) fn way(&self, state: &WorkState, stop: &Stop, bad: &[FoundBad]) -> Result<WayBack, WayBackError> {
        let goal = self.goal(state, &self.missing(state, bad)?)?;
        let is_bad = |slot: &Name| bad.contains(&FoundBad::InSlot { slot: slot.clone() });
        let mut kept: BTreeSet<&Name> = BTreeSet::new();
        let (mut outs, mut ins, mut blank_ins) = (Vec::new(), Vec::new(), Vec::new());
        for (slot, module) in state.slots.modules() {
            let home = state.homes.get(slot);
            let is_home = matches!(home, Some(PutDown::Bag { slot: bag }) if goal.modules.get(slot) == Some(bag));
            if is_home && !is_bad(slot) {
                kept.insert(slot);
            } else if let (Some(id), Some(home)) = (self.slot(slot), home) {
                let to = if is_bad(slot) { PutDown::Bad } else { home.clone() };
                outs.push((id, Action::TakeOut { module: module.clone(), to }));
            }
        }
        for (slot, occupant) in state.slots.iter() {
            let goes = *occupant == Occupant::Blank && !goal.blanks.contains(slot);
            outs.extend(self.slot(slot).filter(|_| goes).map(|id| (id, Action::TakeOutBlank)));
        }
        for (slot, from) in goal.modules.iter().filter(|(slot, _)| !kept.contains(slot)) {
            if let (Some(id), Some(Occupant::Module(module))) = (self.slot(slot), self.before.get(from.as_str())) {
                let from = PutDown::Bag { slot: from.clone() };
                ins.push((id, Action::PutIn { module: module.clone(), from }));
            }
        }
        let is_there = |slot: &Name| state.slots.get(slot.as_str()) == Some(&Occupant::Blank);
        blank_ins.extend(goal.blanks.iter().filter(|slot| !is_there(slot)).filter_map(|slot| self.slot(slot)));
        let blanks_out = outs.iter().filter(|(_, action)| *action == Action::TakeOutBlank).count();
        let blanks_to_bring = blank_ins.len().saturating_sub(state.blanks + blanks_out);
        let mut steps = self.bench.outs(outs);
        steps.extend(self.bench.ins(ins, blank_ins));
        let population = self.population(&goal);
        let way = WayBack {
            schema: Schema,
            from: stop.halt.clone(),
            steps_done: stop.steps_done,
            bad: bad.to_vec(),
            handlings: steps.iter().filter(|step| step.is_handling()).count(),
            lines: self.lines(stop, steps, &population),
            blanks_to_bring,
            population,
            without: goal.without,
        };
        let end = if way.steps().next().is_none() { None } else { Some(way.simulate(state)?) };
        match end.as_ref().unwrap_or(&state.slots).changes_to(&way.population).into_iter().next() {
            None => Ok(way),
            Some(change) => Err(WayBackError::EndsElsewhere { slot: change.slot }),
        }
    }

    /// The same way from another halt at which everything is where it is at that of a way.
    pub(crate) fn also_from(&self, way: &WayBack, stop: &Stop) -> WayBack {
        WayBack {
            schema: Schema,
            from: stop.halt.clone(),
            steps_done: stop.steps_done,
            bad: way.bad.clone(),
            lines: self.lines(stop, way.steps().cloned().collect(), &way.population),
            handlings: way.handlings,
            blanks_to_bring: way.blanks_to_bring,
            population: way.population.clone(),
            without: way.without.clone(),
        }
    }

    fn slot(&self, label: &Name) -> Option<SlotId> {
        self.planner.machine().platform().slot_named(label.as_str())
    }

    /// The slots whose modules of before do not go back.
    fn missing(&self, state: &WorkState, bad: &[FoundBad]) -> Result<Vec<Name>, WayBackError> {
        let failed = |(slot, module): (&Name, &Fitted)| (module.fault == Some(Fault::Failed)).then(|| slot.clone());
        let mut missing: BTreeSet<Name> = state.bags.iter().filter_map(failed).collect();
        for found in bad {
            let home = match found {
                FoundBad::InSlot { slot } => state.homes.get(slot).cloned(),
                FoundBad::InBag { slot } => state.bags.contains_key(slot).then(|| PutDown::Bag { slot: slot.clone() }),
                FoundBad::Other(_) => None,
            };
            match home {
                Some(PutDown::Bag { slot }) => drop(missing.insert(slot)),
                Some(_) => {}
                None => return Err(WayBackError::NothingThere { found: found.clone() }),
            }
        }
        Ok(missing.into_iter().collect())
    }

    fn goal(&self, state: &WorkState, missing: &[Name]) -> Result<Goal, WayBackError> {
        let mut modules: BTreeMap<Name, Name> =
            self.before.modules().map(|(slot, _)| (slot.clone(), slot.clone())).collect();
        let of = |(slot, occupant): (&Name, &Occupant)| (*occupant == Occupant::Blank).then(|| slot.clone());
        let mut blanks: BTreeSet<Name> = self.before.iter().filter_map(of).collect();
        if missing.is_empty() {
            return Ok(Goal { modules, blanks, without: None });
        }
        let without = self.planner.without(self.before, missing)?.best().cloned();
        for slot in without.iter().flat_map(|way| &way.taken_out) {
            modules.remove(slot);
        }
        for (from, to) in without.iter().flat_map(|way| &way.moved) {
            modules.remove(from);
            modules.insert(to.clone(), from.clone());
        }
        blanks.retain(|slot| !modules.contains_key(slot));
        // a slot that stays empty keeps the blank that it has, or gets one where the maker asks for it
        for (slot, _) in self.before.modules().filter(|(slot, _)| !modules.contains_key(*slot)) {
            let has = state.slots.get(slot.as_str()) == Some(&Occupant::Blank);
            if has || self.slot(slot).is_some_and(|id| self.bench.wants_blank(None, id)) {
                blanks.insert(slot.clone());
            }
        }
        Ok(Goal { modules, blanks, without })
    }

    fn population(&self, goal: &Goal) -> Population {
        let mut population = Population::new();
        for (slot, occupant) in self.before.iter() {
            if matches!(occupant, Occupant::OtherDevice(_)) {
                population.put(slot.clone(), occupant.clone());
            }
        }
        for (slot, from) in &goal.modules {
            self.before.get(from.as_str()).map(|module| population.put(slot.clone(), module.clone()));
        }
        for slot in &goal.blanks {
            population.put(slot.clone(), Occupant::Blank);
        }
        population
    }

    fn lines(&self, stop: &Stop, steps: Vec<Step>, end: &Population) -> Vec<OrderLine> {
        let texts = Texts::of(self.planner.machine());
        let mut lines = vec![OrderLine::Caution(Caution::WhoDecides)];
        let is_work = !steps.is_empty();
        if !stop.is_closed() {
            lines.push(OrderLine::Check(Check::PowerOut));
            lines.extend([Caution::Static, Caution::HotParts].map(OrderLine::Caution));
        } else if is_work {
            lines.extend(opening(&texts, true));
        }
        lines.extend(is_work.then_some(OrderLine::Caution(Caution::NoForce)));
        lines.extend(steps.into_iter().map(OrderLine::Step));
        if is_work || !stop.is_closed() {
            lines.extend(closing(&texts, None));
        }
        if !can_start(end) {
            lines.push(OrderLine::Check(Check::StaysOff));
            return lines;
        }
        if is_work || !stop.is_closed() {
            lines.extend(first_start(&texts));
        }
        lines.push(OrderLine::Check(Check::ReportAsBefore));
        lines
    }
}
