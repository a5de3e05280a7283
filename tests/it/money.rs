//! What a plan says that it costs is what its own lines come to.

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;
use slotwright::assess::Planner;
use slotwright::fill::Arrangement;
use slotwright::finding::Severity;
use slotwright::machine::Machine;
use slotwright::population::Population;
use slotwright::purchase::{
    Axis, BreakEvenOutcome, CostSheet, ModuleSource, Offer, Outcome, Plan, PlanLine, PlanRequest, Sequence, WhyNot,
};
use slotwright::rule::RuleBook;
use slotwright::unit::{Capacity, Cost, Name, Price};

use crate::boards::{self, Source, bytes, config};
use crate::buying_oracle::worlds;
use crate::purchase_oracle::{case, euros};

fn minor(price: Price) -> i128 {
    i128::from(price.amount_minor())
}

fn of(cost: Cost) -> i128 {
    i128::from(cost.amount_minor())
}

fn units(count: usize) -> i128 {
    i128::try_from(count).unwrap()
}

/// A plan, with the request that it answers.
#[derive(Debug)]
struct Answer {
    verb: &'static str,
    request: PlanRequest,
    plan: Plan,
    /// An offer of which the price is not what the request says.
    repriced: Option<Name>,
}

/// The plans of all answers to one request.
struct Answers<'m> {
    planner: Planner<'m>,
    request: PlanRequest,
    all: Vec<Answer>,
}

impl Answers<'_> {
    fn add(&mut self, verb: &'static str, plan: &Plan) {
        self.add_of(verb, self.request.clone(), plan, None);
    }

    fn add_of(&mut self, verb: &'static str, request: PlanRequest, plan: &Plan, repriced: Option<&Name>) {
        if let Some(clean) = &plan.without_warnings {
            self.add_of("without warnings", request.clone(), clean, repriced);
        }
        self.all.push(Answer { verb, request, plan: plan.clone(), repriced: repriced.cloned() });
    }

    fn add_why(&mut self, why: &WhyNot) {
        for reachable in &why.reachable {
            reachable.witness().into_iter().for_each(|witness| self.add("reach", witness));
        }
        why.waivers.iter().for_each(|waiver| self.add("waiver", &waiver.plan));
    }

    fn add_outcome(&mut self, outcome: &Outcome) {
        match outcome {
            Outcome::Optimal(plan) => self.add("plan", plan),
            Outcome::Infeasible(why) => self.add_why(why),
            Outcome::Stopped { best, .. } => best.iter().for_each(|plan| self.add("stopped", plan)),
        }
    }

    fn add_sequence(&mut self, later: &PlanRequest, sequence: &Sequence) -> Result<(), TestCaseError> {
        self.add("now", &sequence.now);
        let next = self.request.after(&sequence.now);
        let shelf = [next.shelf, later.shelf.clone()].concat();
        let then = {
            let mut changed = later.clone();
            changed.present = next.present;
            changed.shelf = shelf;
            changed
        };
        self.add_of("later", then, &sequence.later, None);
        let both = of(sequence.now.cost.total) + of(sequence.later.cost.total);
        prop_assert_eq!(of(sequence.cost), both);
        Ok(())
    }

    /// Asks every verb that plans.
    fn ask(&mut self, later: &PlanRequest, wish: Capacity) -> Result<(), TestCaseError> {
        let (planner, request) = (self.planner, self.request.clone());
        self.add_outcome(&planner.plan(&request).unwrap());
        self.add_outcome(&planner.plan(&request.clone().nodes(60)).unwrap());
        planner.plans(&request, 3).unwrap().plans.iter().for_each(|plan| self.add("plans", plan));
        let axes = [Axis::UsableCapacity, Axis::Cost];
        planner.frontier(&request, axes).unwrap().plans.iter().for_each(|plan| self.add("frontier", plan));
        if let Some(offer) = request.offers.first() {
            if let BreakEvenOutcome::Known(known) = planner.break_even(&request, offer.id.as_str()).unwrap() {
                self.add("break even", &known.plan);
                for beyond in [&known.below, &known.above] {
                    let plan = beyond.plan().into_iter();
                    plan.for_each(|plan| self.add_of("beyond", request.clone(), plan, Some(&offer.id)));
                }
            }
        }
        let savings = planner.savings(&request).unwrap();
        for saving in &savings.accepting {
            self.add("saving", &saving.plan);
            let saved = savings.without.as_ref().map(|plan| of(plan.cost.total) - of(saving.plan.cost.total));
            if let Some(saves) = saving.saves {
                prop_assert_eq!(Some(of(saves)), saved);
            }
        }
        savings.without.iter().for_each(|plan| self.add("savings", plan));
        let stages = planner.stages(&request, later).unwrap();
        for sequence in stages.best.iter().chain(&stages.alone) {
            self.add_sequence(later, sequence)?;
        }
        let near = planner.totals_near(&request, wish).unwrap();
        near.below.iter().chain(&near.exact).chain(&near.above).for_each(|plan| self.add("totals", plan));
        Ok(())
    }
}

/// The fields of a sheet that are summed.
fn parts(sheet: &CostSheet) -> [(&'static str, i128); 7] {
    // a field that is forgotten here does not compile
    let CostSheet { purchases, returns, charges, shelf, labour, credit, surplus, total: _, .. } = sheet.clone();
    [
        ("purchases", of(purchases)),
        ("returns", of(returns)),
        ("charges", of(charges)),
        ("shelf", of(shelf)),
        ("labour", of(labour)),
        ("credit", of(credit)),
        ("surplus", of(surplus)),
    ]
}

fn offer<'r>(request: &'r PlanRequest, source: &ModuleSource) -> Option<&'r Offer> {
    match source {
        ModuleSource::Offer { id } => request.offers.iter().find(|offer| offer.id == *id),
        _ => None,
    }
}

fn is_bought(line: &PlanLine) -> bool {
    matches!(line.source, ModuleSource::Offer { .. })
}

/// The same fields by hand, from the plan's own lines.
fn by_hand(answer: &Answer) -> [(&'static str, i128); 7] {
    let Answer { request, plan, .. } = answer;
    let machines = i128::from(plan.machines);
    let price = |line: &PlanLine| line.unit_price.map_or(0, minor);
    let bought = || plan.lines.iter().filter(|line| is_bought(line));
    let value = |id: &Name| request.offers.iter().find(|offer| offer.id == *id).and_then(|offer| offer.surplus_value);
    let back = |line: &PlanLine| offer(request, &line.source).and_then(|offer| offer.return_cost).map_or(0, minor);
    let labour = request.labour_per_handling.map_or(0, minor);
    [
        ("purchases", bought().map(|line| units(line.quantity - line.returned) * price(line)).sum()),
        ("returns", bought().map(|line| units(line.returned) * back(line)).sum()),
        ("charges", plan.charges.iter().map(|line| minor(line.charge)).sum()),
        (
            "shelf",
            plan.lines.iter().filter(|line| !is_bought(line)).map(|line| units(line.quantity) * price(line)).sum(),
        ),
        ("labour", units(plan.handlings) * machines * labour),
        ("credit", plan.pulled.iter().map(|pulled| -machines * pulled.credit.map_or(0, minor)).sum()),
        ("surplus", plan.to_shelf.iter().map(|line| -units(line.quantity) * value(&line.id).map_or(0, minor)).sum()),
    ]
}

/// Holds a plan's money against its own lines, and these against the request.
fn hold(answer: &Answer) -> Result<(), TestCaseError> {
    let Answer { verb, request, plan, repriced } = answer;
    let found = parts(&plan.cost);
    prop_assert_eq!(found.iter().map(|(_, amount)| amount).sum::<i128>(), of(plan.cost.total), "{}", verb);
    prop_assert_eq!(found, by_hand(answer), "{}: {:?}", verb, plan);
    let prices = plan.lines.iter().all(|line| {
        let kept = line.quantity - line.returned;
        let stated = match offer(request, &line.source) {
            Some(offer) if repriced.as_ref() != Some(&offer.id) => {
                line.unit_price == Some(offer.price_at(u32::try_from(kept).unwrap()))
            }
            _ => true,
        };
        stated && line.line_price.map(minor) == line.unit_price.map(|price| minor(price) * units(kept))
    });
    prop_assert!(prices, "{verb}: {:?}", plan.lines);
    let suppliers: BTreeSet<&Name> = plan.lines.iter().filter_map(|line| line.supplier.as_ref()).collect();
    let charges: BTreeMap<&Name, i128> = suppliers
        .into_iter()
        .filter_map(|supplier| Some((supplier, minor(*request.supplier_charges.get(supplier)?))))
        .filter(|(_, charge)| *charge > 0)
        .collect();
    let said = plan.charges.iter().map(|line| (&line.supplier, minor(line.charge)));
    let (said, count) = (said.filter(|(_, charge)| *charge > 0).collect::<BTreeMap<_, _>>(), plan.charges.len());
    prop_assert!(said == charges && count >= said.len(), "{verb}: {:?} {charges:?}", plan.charges);
    let credited = plan.pulled.iter().all(|pulled| pulled.credit == request.present.credits.get(&pulled.slot).copied());
    prop_assert!(credited, "{verb}: {:?}", plan.pulled);

    // what moves counts twice, what stays not at all
    let is = |sort: fn(&ModuleSource) -> bool| plan.slots.iter().filter(|slot| sort(&slot.source)).count();
    let moved = is(|source| matches!(source, ModuleSource::MovesFrom { .. }));
    let new = is(|source| matches!(source, ModuleSource::Offer { .. } | ModuleSource::Shelf { .. }));
    prop_assert_eq!(plan.handlings, plan.pulled.len() + 2 * moved + new, "{}: {:?}", verb, plan);
    let got: usize = plan.lines.iter().map(|line| line.quantity - line.returned).sum();
    let over: usize = plan.to_shelf.iter().map(|line| line.quantity).sum();
    prop_assert_eq!(got, plan.machines as usize * new + over, "{}: {:?}", verb, plan);
    Ok(())
}

proptest! {
    #![proptest_config(config(120))]

    #[test]
    fn law_parts_of_a_cost_sum_to_its_total(bytes in bytes(220)) {
        let mut source = Source::new(&bytes);
        let machine = worlds::machine(&mut source, 4);
        let request = worlds::request(&mut source, &machine, 3).nodes(20_000);
        let other = worlds::request(&mut source, &machine, 2).nodes(20_000);
        let mut later = { let mut changed = other; changed.machines = request.machines; changed.present = Default::default(); changed };
        later.shelf.iter_mut().for_each(|item| item.id = boards::name(&format!("later {}", item.id)));
        let wish = Capacity::from_gib(source.pick(&[16, 32, 64]));
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let mut answers = Answers { planner, request: request.clone(), all: Vec::new() };
        answers.ask(&later, wish)?;
        for answer in &answers.all {
            hold(answer).map_err(|error| TestCaseError::fail(format!("{error}\n{}", case(&machine, &request))))?;
        }
    }
}

/// A population that no rule refuses: drawn, or arranged.
fn clean(source: &mut Source<'_>, planner: &Planner<'_>, from: Severity) -> Option<Population> {
    let machine = planner.machine();
    let sorts = boards::sorts(source, machine.platform().generation(), 3);
    let population = if source.once_in(3) {
        boards::fitted(source, &boards::live(machine), &sorts, 2)
    } else {
        let pieces = sorts.into_iter().map(|sort| (sort, source.below(4) + 1));
        match planner.arrange(pieces.collect::<Vec<_>>()).unwrap() {
            Arrangement::Best(legal) => legal.population,
            _ => return None,
        }
    };
    let assessment = planner.assess(&population).unwrap();
    assessment.from_severity(from).next().is_none().then_some(population)
}

proptest! {
    #![proptest_config(config(400))]

    #[test]
    fn law_nothing_asked_and_nothing_illegal_is_never_infeasible(bytes in bytes(200)) {
        let mut source = Source::new(&bytes);
        let machine: Machine = worlds::machine(&mut source, 6);
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let from = source.pick(&[Severity::Warning, Severity::Error]);
        let Some(population) = clean(&mut source, &planner, from) else { return Ok(()) };
        let drawn = worlds::request(&mut source, &machine, 3);
        let mut request = PlanRequest::new().refuse_from(from).present(population);
        request.offers = drawn.offers;
        request.shelf = drawn.shelf;
        request.machines = drawn.machines;
        request.labour_per_handling = drawn.labour_per_handling;
        request.supplier_charges = drawn.supplier_charges;
        for (slot, _) in request.present.population.clone().modules() {
            match source.below(4) {
                2 => drop(request.present.pinned.insert(slot.clone())),
                3 => drop(request.present.credits.insert(slot.clone(), euros(source.below(9)))),
                _ => {}
            }
        }
        let outcome = planner.plan(&request).unwrap();
        let Some(plan) = outcome.optimal() else {
            return Err(TestCaseError::fail(format!("{outcome:?}\n{}", case(&machine, &request))));
        };
        // all could be left as it is: no handling, and no money
        prop_assert!(plan.cost.total.amount_minor() <= 0, "{plan:?}\n{}", case(&machine, &request));
    }
}
