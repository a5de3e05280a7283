//! Work orders held against hands of their own, and against counting.

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;
use slotwright::finding::Severity;
use slotwright::machine::SlotState;
use slotwright::module::{Individual, MemoryModule};
use slotwright::population::{Fault, Fitted, Occupant, PlaceState, Population, SeenPlace};
use slotwright::question::Question;
use slotwright::rule::code;
use slotwright::sheet::{Cell, Job, Sheet, Table};
use slotwright::work_order::{
    Action, FoundBad, HaltAt, OrderError, OrderLine, OrderProblem, OrderRequest, PutDown, Step, TrialStart, WayBack,
    WithoutWay, WorkOrder,
};
use slotwright::{Machine, Name, Planner, RuleBook};

use crate::boards::{self, Source, bytes, config, name};
use crate::purchase_oracle::request;
use crate::reports::report;

/// Hands, and where everything is. Each module is a thing with a number of its own, so that nothing can be made of nothing.
#[derive(Debug, Clone, Default)]
struct Hands {
    things: Vec<Fitted>,
    slots: BTreeMap<Name, usize>,
    bags: BTreeMap<Name, usize>,
    brought: Vec<(PutDown, usize)>,
    bad: Vec<usize>,
    blank_slots: BTreeSet<Name>,
    blanks: usize,
    handlings: usize,
}

impl Hands {
    fn new(order: &WorkOrder) -> Self {
        let mut hands = Self { blanks: order.blanks_to_bring, ..Self::default() };
        for (slot, occupant) in order.before.iter() {
            match occupant {
                Occupant::Module(fitted) => {
                    hands.slots.insert(slot.clone(), hands.things.len());
                    hands.things.push(fitted.clone());
                }
                Occupant::Blank => drop(hands.blank_slots.insert(slot.clone())),
                Occupant::OtherDevice(_) => {}
            }
        }
        for supply in &order.supplies {
            for _ in 0..supply.count {
                let from = PutDown::Supply { source: supply.source.clone() };
                hands.brought.push((from, hands.things.len()));
                hands.things.push(Fitted::new(supply.module.clone()).individual(supply.individual.clone()));
            }
        }
        hands
    }

    fn do_step(&mut self, step: &Step) {
        let slot = &step.slot;
        let is_empty = !self.slots.contains_key(slot) && !self.blank_slots.contains(slot);
        match &step.action {
            Action::TakeOut { module, to } => {
                self.handlings += 1;
                let thing = self.slots.remove(slot).unwrap_or_else(|| panic!("nothing in {slot}"));
                assert_eq!(self.things[thing], *module, "{slot}");
                match to {
                    PutDown::Bag { slot } => assert_eq!(self.bags.insert(slot.clone(), thing), None, "bag {slot}"),
                    PutDown::Supply { .. } => self.brought.push((to.clone(), thing)),
                    PutDown::Bad => self.bad.push(thing),
                    other => panic!("{other:?}"),
                }
            }
            Action::PutIn { module, from } => {
                self.handlings += 1;
                assert!(is_empty, "{slot} is not empty");
                let thing = match from {
                    PutDown::Bag { slot } => self.bags.remove(slot).unwrap_or_else(|| panic!("bag {slot}")),
                    _ => {
                        let is_it = |(at, thing): &(PutDown, usize)| at == from && self.things[*thing] == *module;
                        let at = self.brought.iter().position(is_it).unwrap_or_else(|| panic!("none left for {slot}"));
                        self.brought.remove(at).1
                    }
                };
                assert_eq!(self.things[thing], *module);
                self.slots.insert(slot.clone(), thing);
            }
            Action::TakeOutBlank => {
                assert!(self.blank_slots.remove(slot), "no blank in {slot}");
                self.blanks += 1;
            }
            Action::PutInBlank => {
                assert!(is_empty, "{slot} is not empty");
                self.blanks = self.blanks.checked_sub(1).expect("a blank");
                self.blank_slots.insert(slot.clone());
            }
            other => panic!("{other:?}"),
        }
    }

    fn is_like(&self, population: &Population) {
        let modules: BTreeMap<Name, Fitted> =
            population.modules().map(|(slot, fitted)| (slot.clone(), fitted.clone())).collect();
        let held: BTreeMap<Name, Fitted> =
            self.slots.iter().map(|(slot, &thing)| (slot.clone(), self.things[thing].clone())).collect();
        assert_eq!(held, modules);
        let blanks: BTreeSet<Name> =
            population.iter().filter(|(_, held)| **held == Occupant::Blank).map(|(slot, _)| slot.clone()).collect();
        assert_eq!(self.blank_slots, blanks);
    }
}

/// Some population, with all that can be in slots; other devices where `devices` has them.
fn any_population(
    source: &mut Source<'_>,
    machine: &Machine,
    sorts: &[MemoryModule],
    devices: &BTreeSet<Name>,
    faults: bool,
) -> Population {
    let mut population = Population::new();
    for slot in machine.platform().slots() {
        let label = slot.label().clone();
        let id = machine.platform().slot_named(label.as_str()).unwrap();
        if devices.contains(&label) {
            population.put(label, boards::other_device());
        } else if source.once_in(2) && !matches!(machine.slot_state(id), SlotState::Closed { .. }) {
            let fault =
                if faults && source.once_in(9) { Some(source.pick(&[Fault::Failed, Fault::Suspect])) } else { None };
            let individual = if faults { Some(Individual::new(name(&format!("n-{label}")))) } else { None };
            let individual = individual.filter(|_| source.once_in(2));
            let fitted = Fitted::new(source.pick(sorts)).fault(fault).individual(individual);
            population.put(label, Occupant::Module(fitted));
        } else if source.once_in(3) {
            population.put(label, Occupant::Blank);
        }
    }
    population
}

/// A machine, what is there, and what is to be there.
fn case(source: &mut Source<'_>, most_slots: usize) -> (Machine, Population, Population) {
    let machine = boards::machine(source, most_slots);
    let sorts = boards::sorts(source, machine.platform().generation(), 3);
    let devices: BTreeSet<Name> =
        machine.platform().slots().iter().map(|slot| slot.label().clone()).filter(|_| source.once_in(16)).collect();
    let before = any_population(source, &machine, &sorts, &devices, true);
    let mut after = any_population(source, &machine, &sorts, &devices, false);
    // now and then little changes
    if source.once_in(3) {
        for (slot, occupant) in before.iter() {
            let mut works = |fitted: &Fitted| fitted.fault.is_none() || source.once_in(2);
            match occupant {
                Occupant::Module(fitted) if works(fitted) => drop(after.put(slot.clone(), occupant.clone())),
                _ => {}
            }
        }
    }
    (machine, before, after)
}

/// Facts and fault of the module in a slot.
fn facts(population: &Population, slot: &Name) -> Option<(MemoryModule, Option<Fault>)> {
    match population.get(slot.as_str()) {
        Some(Occupant::Module(fitted)) => Some((fitted.module.clone(), fitted.fault)),
        _ => None,
    }
}

/// The modules that must leave a slot or come into one, by facts.
fn changed(machine: &Machine, before: &Population, after: &Population) -> usize {
    let slots = machine.platform().slots().iter().map(slotwright::platform::Slot::label);
    slots
        .map(|slot| (facts(before, slot), facts(after, slot)))
        .filter(|(before, after)| before != after)
        .map(|(before, after)| usize::from(before.is_some()) + usize::from(after.is_some()))
        .sum()
}

/// The order, unless what is asked for is rightly refused.
fn order(planner: &Planner<'_>, request: &OrderRequest) -> Option<WorkOrder> {
    match planner.work_order(request) {
        Ok(order) => Some(order),
        Err(OrderError::Request { problems }) => {
            let may_be = |problem: &OrderProblem| {
                matches!(problem, OrderProblem::FaultyComes { .. } | OrderProblem::Closed { .. })
            };
            assert!(problems.iter().all(may_be), "{problems:?}");
            None
        }
        Err(error) => panic!("{error}"),
    }
}

/// The page of all ways back, read as hands read it: for each halt the slots at which something is done, and whether it is taken out.
fn ways_on_paper(sheet: &Sheet) -> BTreeMap<String, Vec<(String, bool)>> {
    let column = |table: &Table, heading: &str| table.columns.iter().position(|column| column.heading == heading);
    let cell = |table: &Table, row: &[Cell], heading: &str| {
        column(table, heading).map_or(String::new(), |at| row[at].to_string())
    };
    let mut lists: BTreeMap<&str, BTreeMap<usize, (String, bool)>> = BTreeMap::new();
    for (heading, table) in sheet.tables().filter(|(heading, _)| heading.unwrap().starts_with("STEPS")) {
        let list = lists.entry(heading.unwrap()).or_default();
        for row in &table.rows {
            for (column, is_out) in [("out", true), ("in", false)] {
                for number in cell(table, row, column).split(']').filter(|number| !number.is_empty()) {
                    let number = number.trim().trim_start_matches('[').trim().parse().unwrap();
                    assert_eq!(list.insert(number, (cell(table, row, "slot"), is_out)), None);
                }
            }
        }
    }
    let mut ways = BTreeMap::new();
    let begin = sheet.tables().find(|(heading, _)| *heading == Some("WHERE TO BEGIN"));
    for (table, row) in begin.iter().flat_map(|(_, table)| table.rows.iter().map(move |row| (table, row))) {
        let steps = cell(table, row, "then steps");
        let (numbers, list) = steps.split_once(" of ").unwrap_or((&steps, "STEPS"));
        let mut done = Vec::new();
        for range in numbers.split(", ") {
            let (first, last) = range.split_once(" to ").unwrap_or((range, range));
            for number in first.parse::<usize>().unwrap()..=last.parse().unwrap() {
                done.push(lists[list][&number].clone());
            }
        }
        // what is to be done first and last is there
        let headings: Vec<&str> = sheet.sections.iter().filter_map(|section| section.heading.as_deref()).collect();
        let [first, last] = ["first", "last"].map(|heading| cell(table, row, heading));
        assert!(
            headings.iter().filter(|heading| heading.starts_with("FIRST")).count() == 1
                || headings.contains(&first.as_str())
        );
        assert!(
            headings.iter().filter(|heading| heading.starts_with("LAST")).count() == 1
                || headings.contains(&last.as_str())
        );
        assert_eq!(ways.insert(cell(table, row, "halt reached last"), done), None);
    }
    ways
}

/// Holds the page of all ways back against the ways.
fn is_on_paper(machine: &Machine, order: &WorkOrder) {
    let wish = slotwright::PlanRequest::new();
    let paper = ways_on_paper(&Job::new("A job", machine, &wish).ways_back(order));
    let is_out = |action: &Action| matches!(action, Action::TakeOut { .. } | Action::TakeOutBlank);
    let with_steps = order.ways_back.iter().filter(|way| way.steps().next().is_some());
    let ways: BTreeMap<String, Vec<(String, bool)>> = with_steps
        .map(|way| {
            (way.from.to_string(), way.steps().map(|step| (step.slot.to_string(), is_out(&step.action))).collect())
        })
        .collect();
    assert_eq!(paper, ways);
}

/// Modules found bad, some of those that are in slots and bags.
fn some_bad(source: &mut Source<'_>, hands: &Hands) -> Vec<FoundBad> {
    let mut bad = Vec::new();
    bad.extend(hands.slots.keys().filter(|_| source.once_in(4)).map(|slot| FoundBad::InSlot { slot: slot.clone() }));
    bad.extend(hands.bags.keys().filter(|_| source.once_in(4)).map(|slot| FoundBad::InBag { slot: slot.clone() }));
    bad
}

/// Goes a way back from where hands are.
fn back(hands: &Hands, way: &WayBack) -> Hands {
    let mut hands = Hands { handlings: 0, ..hands.clone() };
    hands.blanks += way.blanks_to_bring;
    way.steps().for_each(|step| hands.do_step(step));
    hands.is_like(&way.population);
    assert_eq!(hands.handlings, way.handlings);
    hands
}

proptest! {
    #![proptest_config(config(300))]

    #[test]
    fn law_steps_on_before_give_after(bytes in bytes(300)) {
        let mut source = Source::new(&bytes);
        let (machine, before, after) = case(&mut source, 8);
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let blanks = [None, Some(true), Some(false)][source.below(3)];
        let request = OrderRequest::new(before.clone(), after.clone()).blanks(blanks);
        let Some(order) = order(&planner, &request) else { return Ok(()) };

        let mut hands = Hands::new(&order);
        let mut steps = 0;
        for line in &order.lines {
            match line {
                OrderLine::Step(step) => {
                    hands.do_step(step);
                    steps += 1;
                }
                OrderLine::Halt(halt) => {
                    let state = order.state_at(&halt.at).unwrap().unwrap();
                    hands.is_like(&state.slots);
                    prop_assert_eq!(hands.bags.len(), state.bags.len());
                    // the way back from here gives what was there, less what had failed and is out
                    let way = order.way_back(&halt.at).unwrap();
                    let failed = |slot: &&Name| hands.things[hands.bags[*slot]].fault == Some(Fault::Failed);
                    let stays_out: Vec<&Name> = hands.bags.keys().filter(failed).collect();
                    let returned = back(&hands, way);
                    prop_assert_eq!(way.simulate(&state).unwrap(), way.population.clone());
                    if stays_out.is_empty() {
                        returned.is_like(&order.before);
                        prop_assert_eq!(&way.without, &None);
                    } else {
                        let stays_out: Vec<Name> = stays_out.into_iter().cloned().collect();
                        let answer = planner.without(&order.before, &stays_out).unwrap();
                        prop_assert_eq!(&way.without, &answer.best().cloned());
                    }
                }
                _ => {}
            }
        }
        hands.is_like(&order.after);
        prop_assert_eq!(order.simulate(&before).unwrap(), order.after.clone());
        for slot in machine.platform().slots() {
            prop_assert_eq!(facts(&order.after, slot.label()), facts(&after, slot.label()));
        }
        // none is shorter: what differs must be touched
        prop_assert_eq!(order.handlings, changed(&machine, &before, &after));
        prop_assert_eq!(hands.handlings, order.handlings);
        prop_assert_eq!(hands.brought.len(), 0);
        prop_assert_eq!(order.lines.is_empty(), steps == 0);
        // nothing is left to do
        let again = OrderRequest::new(order.after.clone(), after).blanks(blanks);
        let again = planner.work_order(&again).unwrap();
        prop_assert_eq!((again.handlings, again.lines.len(), again.ways_back.len()), (0, 0, 0));
        prop_assert_eq!(&again.after, &order.after);
        // as a document
        let text = serde_json::to_string(&order).unwrap();
        prop_assert_eq!(serde_json::from_str::<WorkOrder>(&text).unwrap(), order);
    }

    #[test]
    fn law_a_way_back_leaves_out_what_was_found_bad(bytes in bytes(300)) {
        let mut source = Source::new(&bytes);
        let (machine, before, after) = case(&mut source, 6);
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let request = OrderRequest::new(before, after).trial_start(source.once_in(2));
        let Some(order) = order(&planner, &request) else { return Ok(()) };
        let mut hands = Hands::new(&order);
        for line in &order.lines {
            if let OrderLine::Step(step) = line {
                hands.do_step(step);
            }
            let OrderLine::Halt(halt) = line else { continue };
            let bad = some_bad(&mut source, &hands);
            let things: BTreeSet<usize> = bad
                .iter()
                .map(|bad| match bad {
                    FoundBad::InSlot { slot } => hands.slots[slot],
                    FoundBad::InBag { slot } => hands.bags[slot],
                    other => panic!("{other:?}"),
                })
                .collect();
            let way = planner.way_back(&order, &halt.at, &bad).unwrap();
            let returned = back(&hands, &way);
            prop_assert!(returned.slots.values().all(|thing| !things.contains(thing)));
            // only what was there before is in it, and all of it that the best way without keeps
            let first: usize = order.before.modules().count();
            prop_assert!(returned.slots.values().all(|&thing| thing < first));
            if things.iter().all(|&thing| thing >= first) && bad.len() == things.len() {
                let plain = order.way_back(&halt.at).unwrap();
                prop_assert_eq!(&plain.population, &way.population);
            }
            if bad.is_empty() {
                prop_assert_eq!(order.way_back(&halt.at).unwrap(), &way);
            }
        }
        is_on_paper(&machine, &order);
    }

    #[test]
    fn law_there_is_a_way_back_after_any_step(bytes in bytes(300)) {
        let mut source = Source::new(&bytes);
        let (machine, before, after) = case(&mut source, 6);
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let request = OrderRequest::new(before, after).trial_start(source.once_in(2));
        let Some(order) = order(&planner, &request) else { return Ok(()) };
        let count = order.steps().count();
        let mut hands = Hands::new(&order);
        let mut halt = None;
        let first: usize = order.before.modules().count();
        let mut done = 0;
        for line in &order.lines {
            match line {
                OrderLine::Halt(reached) => halt = Some(&reached.at),
                OrderLine::Step(step) => {
                    // before the first step, too
                    for is_done in [false, true].into_iter().skip(usize::from(done > 0)) {
                        if is_done {
                            hands.do_step(step);
                            done += 1;
                        }
                        let bad = if source.once_in(2) { some_bad(&mut source, &hands) } else { Vec::new() };
                        let way = planner.way_back_after(&order, done, &bad).unwrap();
                        prop_assert_eq!((way.steps_done, Some(&way.from), &way.bad), (Some(done), halt, &bad));
                        let (at, state) = order.state_after(done).unwrap().unwrap();
                        prop_assert_eq!(Some(&at), halt);
                        hands.is_like(&state.slots);
                        prop_assert_eq!(&way.simulate(&state).unwrap(), &way.population);
                        let returned = back(&hands, &way);
                        // nothing bad is in it, nor what had failed before and is out; only what was there before; all of it where none is missing
                        let is_failed = |slot: &&Name| hands.things[hands.bags[*slot]].fault == Some(Fault::Failed);
                        let failed = hands.bags.keys().filter(is_failed).map(|slot| hands.bags[slot]);
                        let of_bad = bad.iter().map(|bad| match bad {
                            FoundBad::InSlot { slot } => hands.slots[slot],
                            FoundBad::InBag { slot } => hands.bags[slot],
                            other => panic!("{other:?}"),
                        });
                        let gone: BTreeSet<usize> = failed.chain(of_bad).collect();
                        prop_assert!(returned.slots.values().all(|thing| *thing < first && !gone.contains(thing)));
                        if gone.iter().all(|&thing| thing >= first) {
                            returned.is_like(&order.before);
                            prop_assert_eq!(&way.without, &None);
                        } else {
                            let lost: Vec<Name> = order.before.modules().map(|(slot, _)| slot.clone()).enumerate()
                                .filter(|(thing, _)| gone.contains(thing)).map(|(_, slot)| slot).collect();
                            let answer = planner.without(&order.before, &lost).unwrap();
                            prop_assert_eq!(&way.without, &answer.best().cloned());
                        }
                        // it begins with power out, and its own page has its steps
                        let text = Job::new("A job", &machine, &slotwright::PlanRequest::new()).way_back(&order, &way).to_text(100);
                        prop_assert!(text.contains(&format!("AFTER STEP {done} OF THE ORDER")), "{}", text);
                    }
                }
                _ => {}
            }
        }
        prop_assert_eq!(done, count);
        let beyond = planner.way_back_after(&order, count + 1, &[]);
        prop_assert!(beyond.is_err());
    }

}

proptest! {
    #![proptest_config(config(100))]

    #[test]
    fn law_an_order_of_a_plan_takes_its_handlings(bytes in bytes(400)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 6);
        let request = request(&mut source, &machine, 3).nodes(20_000);
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let outcome = planner.plan(&request).unwrap();
        let Some(plan) = outcome.optimal() else { return Ok(()) };
        let present = request.present.population.clone();
        let order = planner.work_order(&OrderRequest::of_plan(present.clone(), plan)).unwrap();
        prop_assert_eq!(order.handlings, plan.handlings);
        for slot in machine.platform().slots() {
            prop_assert_eq!(facts(&order.after, slot.label()), facts(&plan.population, slot.label()));
        }
        // by facts it never takes more, and mostly as many
        let by_facts = planner.work_order(&OrderRequest::new(present.clone(), plan.population.clone())).unwrap();
        prop_assert!(by_facts.handlings <= plan.handlings);
        // what is brought is what the plan has for this machine
        let brought: usize = order.supplies.iter().map(|supply| supply.count).sum();
        let stays = plan.slots.iter().filter(|slot| {
            use slotwright::purchase::ModuleSource::{MovesFrom, Stays};
            matches!(slot.source, Stays | MovesFrom { .. })
        });
        prop_assert_eq!(brought, plan.slots.len() - stays.count());
        // nothing is left to do, also by the request as it stands then
        let outcome = planner.plan(&request.after(plan)).unwrap();
        if let Some(later) = outcome.optimal() {
            let again = planner.work_order(&OrderRequest::of_plan(order.after.clone(), later)).unwrap();
            prop_assert_eq!(again.handlings, later.handlings);
        }
        // made of something else, it is refused
        if let Some((slot, _)) = present.modules().next() {
            let mut other = present.clone();
            other.take(slot.as_str());
            let refused = planner.work_order(&OrderRequest::of_plan(other, plan));
            prop_assert!(matches!(refused, Err(OrderError::Request { .. })), "{:?}", refused);
        }
    }

}

proptest! {
    #![proptest_config(config(200))]

    #[test]
    fn law_named_individuals_come_where_they_are_named(bytes in bytes(300)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 6);
        let sorts = boards::sorts(&mut source, machine.platform().generation(), 2);
        let mut before = Population::new();
        let live = boards::live(&machine);
        for slot in &live {
            if source.once_in(2) {
                let one = Fitted::new(source.pick(&sorts)).individual(Individual::new(name(&format!("n-{slot}"))));
                before.put(slot.clone(), Occupant::Module(one));
            }
        }
        let mut moved: Vec<Fitted> = before.modules().map(|(_, fitted)| fitted.clone()).collect();
        source.shuffle(&mut moved);
        moved.truncate(live.len());
        let mut slots = live.clone();
        source.shuffle(&mut slots);
        let after: Population =
            slots.into_iter().zip(moved).map(|(slot, fitted)| (slot, Occupant::Module(fitted))).collect();
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let request = OrderRequest::new(before.clone(), after.clone()).individuals(true);
        let order = planner.work_order(&request).unwrap();
        prop_assert_eq!(&order.after, &after);
        prop_assert_eq!(order.supplies.len(), 0);
        let moves = after.modules().filter(|(slot, fitted)| before.get(slot.as_str()) != Some(&Occupant::Module((*fitted).clone())));
        prop_assert_eq!(order.handlings, 2 * moves.count());
        let mut hands = Hands::new(&order);
        order.steps().for_each(|step| hands.do_step(step));
        hands.is_like(&after);
    }

    #[test]
    fn law_a_trial_start_holds_one_piece_of_each_new_part(bytes in bytes(300)) {
        let mut source = Source::new(&bytes);
        let (machine, before, after) = case(&mut source, 5);
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let request = OrderRequest::new(before.clone(), after.clone());
        let Some(plain) = order(&planner, &request) else { return Ok(()) };
        let order = planner.work_order(&request.trial_start(true)).unwrap();
        prop_assert_eq!(order.handlings, plain.handlings);
        let works = |module: &MemoryModule| {
            before.modules().any(|(_, fitted)| fitted.fault.is_none() && fitted.module == *module)
        };
        let new: BTreeSet<&MemoryModule> =
            order.supplies.iter().map(|supply| &supply.module).filter(|module| !works(module)).collect();
        let starts = |population: &Population| {
            let assessment = planner.assess(population).unwrap();
            assessment.from_severity(Severity::Error).all(|finding| finding.code == *code::MODE_UNMET)
        };
        let one_each = |population: &Population| {
            new.iter().all(|part| population.modules().filter(|(_, fitted)| fitted.module == **part).count() == 1)
        };
        let mut hands = Hands::new(&order);
        match &order.trial {
            TrialStart::NothingNew => prop_assert!(new.is_empty()),
            TrialStart::Made(trial) => {
                let mut seen = false;
                for line in &order.lines {
                    match line {
                        OrderLine::Step(step) => hands.do_step(step),
                        OrderLine::Halt(halt) if halt.at == HaltAt::TrialDone => {
                            hands.is_like(&trial.population);
                            seen = true;
                        }
                        _ => {}
                    }
                }
                prop_assert!(seen && starts(&trial.population) && one_each(&trial.population));
                prop_assert_eq!(trial.slots.len(), new.len());
                hands.is_like(&order.after);
                prop_assert_eq!(hands.handlings, order.handlings + trial.handlings);
            }
            TrialStart::NoneFound => {}
            other => prop_assert!(false, "{:?}", other),
        }
        // no population on the way that starts takes fewer
        let best = on_the_way(&machine, &before, &after).filter(|way| one_each(way) && starts(way)).map(|way| {
            changed(&machine, &before, &way) + changed(&machine, &way, &after) - order.handlings
        }).min();
        let is_plain = plain.steps().all(|step| !matches!(&step.action, Action::PutIn { from: PutDown::Bag { .. }, .. }));
        let only_new = order.supplies.iter().all(|supply| !works(&supply.module));
        match &order.trial {
            TrialStart::Made(trial) if !trial.is_not_proved && is_plain && only_new && !new.is_empty() => {
                prop_assert!(best.is_none_or(|best| best >= trial.handlings), "{best:?} {}", trial.handlings);
            }
            TrialStart::NoneFound if only_new && is_plain => {
                prop_assert_eq!(best, None);
            }
            _ => {}
        }
    }

}

proptest! {
    #![proptest_config(config(100))]

    #[test]
    fn law_without_is_judged_as_it_is(bytes in bytes(200)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 6);
        let sorts = boards::sorts(&mut source, machine.platform().generation(), 2);
        let population = boards::fitted(&mut source, &boards::live(&machine), &sorts, 2);
        let held: Vec<Name> = population.modules().map(|(slot, _)| slot.clone()).collect();
        if held.is_empty() {
            return Ok(());
        }
        let mut slots = vec![source.pick(&held)];
        if source.once_in(3) {
            slots.push(source.pick(&held));
        }
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let answer = planner.without(&population, &slots).unwrap();
        let faults = |population: &Population| {
            let assessment = planner.assess(population).unwrap();
            let of = |severity| assessment.findings.iter().filter(|finding| finding.severity == severity).count();
            (of(Severity::Error), of(Severity::Warning))
        };
        prop_assert!(answer.ways.is_sorted_by_key(|way| way.handlings));
        prop_assert!(answer.ways.iter().any(|way| way.way == WithoutWay::TakenOut));
        for way in &answer.ways {
            let assessment = planner.assess(&way.population).unwrap();
            prop_assert_eq!(&assessment.findings, &way.findings);
            prop_assert_eq!(assessment.figures.usable.total_mib, way.usable_mib);
            prop_assert_eq!(assessment.figures.running_rate.rate(), way.rate_mts);
            prop_assert_eq!(changed(&machine, &population, &way.population) <= way.handlings, true);
            for slot in &slots {
                let gone = !way.population.modules().any(|(at, _)| at == slot)
                    || way.moved.iter().any(|(_, to)| to == slot);
                prop_assert!(gone, "{answer} {way}");
            }
            let gone = population.modules().count() - way.population.modules().count();
            prop_assert_eq!(gone, way.taken_out.len());
            prop_assert_eq!(way.handlings, way.taken_out.len() + 2 * way.moved.len());
        }
        // of evened ones that are said to be the fewest, none with fewer partners is as good
        let base = answer.ways.iter().filter(|way| way.way != WithoutWay::Evened).min_by_key(|way| faults(&way.population)).unwrap();
        for way in answer.ways.iter().filter(|way| way.way == WithoutWay::Evened && !way.is_not_proved) {
            let partners = base.population.modules().count() - way.population.modules().count();
            let rest: Vec<Name> = base.population.modules().map(|(slot, _)| slot.clone()).collect();
            for set in 0_u32..1 << rest.len() {
                if (set.count_ones() as usize) < partners {
                    let mut fewer = base.population.clone();
                    let chosen = rest.iter().enumerate().filter(|(at, _)| set >> at & 1 == 1);
                    chosen.for_each(|(_, slot)| drop(fewer.take(slot.as_str())));
                    prop_assert!(faults(&fewer) > faults(&way.population));
                }
            }
        }
    }

}

proptest! {
    #![proptest_config(config(200))]

    #[test]
    fn law_what_is_expected_is_what_a_sound_machine_reports(bytes in bytes(200)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 8);
        let sorts = boards::sorts(&mut source, machine.platform().generation(), 3);
        let population = boards::fitted(&mut source, &boards::live(&machine), &sorts, 2);
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let expected = planner.expected_report(&population, None, &[]).unwrap();
        let figures = planner.assess(&population).unwrap().figures;
        prop_assert_eq!(expected.totals[0].capacity_mib, figures.usable.total_mib);
        let order = planner.work_order(&OrderRequest::new(population.clone(), population.clone())).unwrap();
        prop_assert_eq!(&order.expected, &expected);
        let report = report(machine.platform(), &population);
        for own in &expected.places {
            let place = report.places.iter().find(|place| place.locator == own.locator).unwrap();
            if own.state == PlaceState::NotInUse {
                continue;
            }
            prop_assert_eq!(place.state, own.state);
            let module = |place: &SeenPlace| place.module.clone().unwrap_or_default();
            let (seen, own) = (module(place), module(own));
            prop_assert_eq!((seen.capacity_mib, seen.kind), (own.capacity_mib, own.kind));
            prop_assert_eq!((seen.grade_mts, seen.part_number), (own.grade_mts, own.part_number));
        }
    }
}

/// Asked by a document, it is answered or refused by one.
#[test]
fn orders_are_asked_for_by_documents() {
    let ask = |ask: serde_json::Value| {
        let question = serde_json::json!({
            "schema": 1, "platform": "ddr4-2s-4ch-3spc", "processors": { "1": "later" }, "ask": ask,
        });
        match serde_json::from_value::<Question>(question).unwrap().answer() {
            Ok(answer) => serde_json::to_value(answer).unwrap(),
            Err(error) => serde_json::to_value(error).unwrap(),
        }
    };
    let module = |slot: &str| serde_json::json!({ "slots": { slot: { "module": "32GB 2Rx4 PC4-2400T-RB2-11" } } });
    let order = ask(serde_json::json!({ "work_order": { "before": module("A1"), "after": module("B1") } }));
    assert_eq!(order["handlings"], 2);
    let bad = serde_json::json!([{ "in_slot": { "slot": "B1" } }]);
    let back = ask(serde_json::json!({ "way_back": { "order": order, "halt": "all_in", "bad": bad } }));
    assert_eq!(back["without"]["way"], "taken_out");
    let without = ask(serde_json::json!({ "without": { "population": module("A1"), "slots": ["A1"] } }));
    assert_eq!(without["ways"][0]["usable_mib"], 0);
    let expected = ask(serde_json::json!({ "expected_report": module("A1") }));
    assert_eq!(expected["totals"][0]["capacity_mib"], 32_768);
    // what is wrong is said with its place
    let refused = ask(serde_json::json!({ "work_order": { "before": module("Z1"), "after": module("A1") } }));
    assert_eq!(refused["problems"][0]["at"], "ask.work_order.before.slots[Z1]");
    let refused = ask(serde_json::json!({ "without": { "population": module("A1"), "slots": ["B1"] } }));
    assert_eq!(refused["problems"][0]["data"]["no_module"]["slot"], "B1");
    let order = ask(serde_json::json!({ "work_order": { "before": module("A1"), "after": module("A1") } }));
    let refused = ask(serde_json::json!({ "way_back": { "order": order, "halt": "all_in" } }));
    assert_eq!(refused["problems"][0]["text"], "the order has no such halt (all in)");
}

/// Every population whose slots hold what is there, what is to be there, or nothing.
fn on_the_way(machine: &Machine, before: &Population, after: &Population) -> impl Iterator<Item = Population> {
    let slots: Vec<Name> = machine.platform().slots().iter().map(|slot| slot.label().clone()).collect();
    let mut ways = vec![Population::new()];
    for slot in &slots {
        let module = |population: &Population| match population.get(slot.as_str()) {
            Some(Occupant::Module(fitted)) => Some(Occupant::Module(fitted.clone())),
            _ => None,
        };
        let mut held = BTreeSet::from([module(before), module(after), None]);
        if let Some(device @ Occupant::OtherDevice(_)) = before.get(slot.as_str()) {
            held = BTreeSet::from([Some(device.clone())]);
        }
        ways = ways
            .iter()
            .flat_map(|way| {
                held.iter().map(move |held| {
                    let mut way = way.clone();
                    held.clone().map(|held| way.put(slot.clone(), held));
                    way
                })
            })
            .collect();
    }
    ways.into_iter()
}
