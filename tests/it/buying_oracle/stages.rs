//! A purchase now and another one later.

use std::collections::BTreeMap;

use proptest::prelude::*;
use slotwright::assess::Planner;
use slotwright::finding::Severity;
use slotwright::machine::Machine;
use slotwright::module::MemoryModule;
use slotwright::purchase::{ModuleSource, Offer, Outcome, Plan, PlanRequest, Present, ShelfItem};
use slotwright::rule::RuleBook;
use slotwright::unit::{Capacity, Cost, Name, Price};

use super::market::{Market, lines_of};
use super::worlds;
use crate::boards::{self, Source, bytes, name};
use crate::judge;
use crate::purchase_oracle::{self, case, euros};

/// What is credited for a module that a plan leaves in a slot, if it is pulled later.
fn credit(request: &PlanRequest, slot: &Name, source: &ModuleSource) -> Option<Price> {
    match source {
        ModuleSource::Stays => request.present.credits.get(slot).copied(),
        ModuleSource::MovesFrom { slot } => request.present.credits.get(slot).copied(),
        ModuleSource::Shelf { id } => request.shelf.iter().find(|item| item.id == *id).unwrap().unit_value,
        ModuleSource::Offer { id } => request.offers.iter().find(|offer| offer.id == *id).unwrap().surplus_value,
        other => panic!("{other:?}"),
    }
}

/// What is present once a plan of a request is carried out.
fn present_after(request: &PlanRequest, plan: &Plan) -> Present {
    // of several machines, a slot's modules come from several sources: what they are credited is not said
    if request.machines > 1 {
        return request.after(plan).present;
    }
    let credits =
        plan.slots.iter().filter_map(|slot| Some((slot.slot.clone(), credit(request, &slot.slot, &slot.source)?)));
    let (population, pinned) = (plan.population.clone(), request.present.pinned.clone());
    {
        let mut changed = Present::default().credits(credits).pinned(pinned);
        changed.population = population;
        changed
    }
}

/// What lies on the shelf then.
fn shelf_after(request: &PlanRequest, plan: &Plan) -> Vec<ShelfItem> {
    let taken = |id: &Name| {
        let of = |source: &ModuleSource| matches!(source, ModuleSource::Shelf { id: other } if other == id);
        plan.lines.iter().filter(|line| of(&line.source)).map(|line| line.quantity as u32).sum::<u32>()
    };
    let mut shelf = request.shelf.clone();
    for item in &mut shelf {
        item.stock -= taken(&item.id);
    }
    let machines = plan.machines;
    for (index, pulled) in plan.pulled.iter().enumerate() {
        let item = ShelfItem::new(name(&format!("pulled {index}")), pulled.module.clone(), machines);
        shelf.push(item.unit_value(request.present.credits.get(&pulled.slot).copied()));
    }
    for (index, line) in plan.to_shelf.iter().enumerate() {
        let offer = request.offers.iter().find(|offer| offer.id == line.id).unwrap();
        let item = ShelfItem::new(name(&format!("over {index}")), line.module.clone(), line.quantity as u32);
        shelf.push(item.unit_value(offer.surplus_value).condition(offer.condition));
    }
    shelf
}

/// A request with as many fewer units on offer as a plan orders, those included that go back.
fn with_less(mut request: PlanRequest, plan: &Plan) -> PlanRequest {
    for line in &plan.lines {
        let is_it = |id: &Name| matches!(&line.source, ModuleSource::Offer { id: other } if other == id);
        if let Some(offer) = request.offers.iter_mut().find(|offer| is_it(&offer.id)) {
            offer.stock = offer.stock.saturating_sub(line.quantity as u32);
        }
    }
    request
}

/// The later request as it stands once a plan for now is carried out.
fn later_after(now: &PlanRequest, later: &PlanRequest, plan: &Plan) -> PlanRequest {
    let mut request = with_less(later.clone(), plan);
    request.present = present_after(now, plan);
    request.shelf = [shelf_after(now, plan), later.shelf.clone()].concat();
    request
}

/// By module, value and nothing else: how many lie on the shelf.
fn stock(shelf: &[ShelfItem]) -> BTreeMap<(&MemoryModule, u64), u32> {
    let mut stock = BTreeMap::new();
    for item in shelf.iter().filter(|item| item.stock > 0) {
        let value = item.unit_value.map_or(0, Price::amount_minor);
        *stock.entry((&item.module, value)).or_default() += item.stock;
    }
    stock
}

fn plan(planner: &Planner<'_>, request: &PlanRequest) -> Option<Plan> {
    match planner.plan(request).unwrap() {
        Outcome::Optimal(plan) => Some(plan),
        Outcome::Infeasible(_) => None,
        stopped => panic!("{stopped:?}"),
    }
}

fn total(plan: &Plan) -> i64 {
    plan.cost.total.amount_minor()
}

/// Holds a request after a plan against what the plan does.
pub fn compare_after(machine: &Machine, request: &PlanRequest) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let Some(plan) = plan(&planner, request) else { return Ok(()) };
    let found = request.after(&plan);
    let text = || case(machine, request);
    prop_assert_eq!(&found.present, &present_after(request, &plan), "{}", text());
    let shelf = shelf_after(request, &plan);
    prop_assert_eq!(stock(&found.shelf), stock(&shelf), "{}", text());
    let mut wanted = with_less(request.clone(), &plan);
    (wanted.present, wanted.shelf, wanted.budget) = (found.present.clone(), found.shelf.clone(), None);
    let left = |request: &PlanRequest| -> BTreeMap<Name, u32> {
        request.offers.iter().filter(|offer| offer.stock > 0).map(|offer| (offer.id.clone(), offer.stock)).collect()
    };
    prop_assert_eq!(left(&found), left(&wanted), "{}", text());
    wanted.offers.clone_from(&found.offers);
    prop_assert_eq!(found, wanted, "{}", text());
    Ok(())
}

/// The least that a plan for now and the best one after it cost together.
fn least(planner: &Planner<'_>, now: &PlanRequest, later: &PlanRequest) -> Option<i64> {
    let all = planner.plans(now, usize::MAX).unwrap();
    let with_later = |first: &Plan| Some(total(first) + total(&plan(planner, &later_after(now, later, first))?));
    all.plans.iter().filter_map(with_later).min()
}

fn compare_stages(planner: &Planner<'_>, now: &PlanRequest, later: &PlanRequest) -> Result<(), TestCaseError> {
    let stages = planner.stages(now, later).unwrap();
    prop_assert!(stages.stopped.is_none(), "stopped");
    let least = least(planner, now, later);
    let costs = stages.best.as_ref().map(|best| best.cost.amount_minor());
    let text = || stages.best.as_ref().map(ToString::to_string);
    let is_simple = |offer: &Offer| (offer.pack, offer.minimum_quantity) == (1, 1) && offer.breaks.is_empty();
    if now.present.population.modules().next().is_none() && now.offers.iter().all(is_simple) {
        prop_assert_eq!(costs, least, "least, {:?}", text());
    }
    // of plans that buy the same, one that keeps or fits other modules than the best of them may do better in the end
    let is_as_good = least.is_none_or(|least| costs.is_some_and(|cost| cost <= least));
    prop_assert!(is_as_good, "{:?} but at most {:?}", text(), least);
    let least = costs;
    let first = plan(planner, now);
    let alone = first.and_then(|first| {
        let second = plan(planner, &later_after(now, later, &first))?;
        Some((total(&first), total(&second), lines_of(&first)))
    });
    let said = stages.alone.as_ref().map(|alone| (total(&alone.now), total(&alone.later), lines_of(&alone.now)));
    prop_assert_eq!(said, alone, "alone");
    // a plan for now that buys nothing may be without a currency: amounts only
    for sequence in stages.best.iter().chain(&stages.alone) {
        prop_assert_eq!(sequence.cost.amount_minor(), total(&sequence.now) + total(&sequence.later));
        let again = plan(planner, &later_after(now, later, &sequence.now)).map(|again| total(&again));
        prop_assert_eq!(again, Some(total(&sequence.later)), "later");
        let market = Market::new(planner, now);
        let key = market.key_of(&sequence.now);
        prop_assert!(key.is_some_and(|key| key.cost == total(&sequence.now)), "now");
    }
    // fewer nodes: nothing that is said turns false
    for nodes in [1, 40, 400, 4_000] {
        let stages = planner.stages(&now.clone().nodes(nodes), later).unwrap();
        let best = stages.best.map(|best| best.cost.amount_minor());
        let bound = stages.cost_at_least.map(Cost::amount_minor);
        if stages.stopped.is_none() {
            prop_assert_eq!(best, least, "not stopped with {} nodes", nodes);
        }
        prop_assert!(best.is_none_or(|best| Some(best) >= least && least.is_some()), "{:?} with {} nodes", best, nodes);
        prop_assert!(least.is_none_or(|least| bound.is_none_or(|bound| bound <= least)), "{:?} with {}", bound, nodes);
    }
    Ok(())
}

/// Holds the cheapest sequence against every plan for now with the best one that follows.
pub fn compare(machine: &Machine, now: &PlanRequest, later: &PlanRequest) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let held = compare_stages(&Planner::new(machine, &rules), now, later);
    let later = || serde_json::to_string(later).unwrap();
    held.map_err(|error| TestCaseError::fail(format!("{error}\nlater {}\n{}", later(), case(machine, now))))
}

/// Few lists of purchase lines.
fn small(mut request: PlanRequest) -> PlanRequest {
    request.offers.to_mut().truncate(2);
    for offer in &mut request.offers {
        offer.stock = offer.stock.min(3);
    }
    request
}

/// What is wanted later: partly from the same offers, at other prices.
fn later(source: &mut Source<'_>, machine: &Machine, now: &PlanRequest) -> PlanRequest {
    let mut later = small(purchase_oracle::request(source, machine, 2));
    later.present = Present::default();
    later.machines = now.machines;
    for item in &mut later.shelf {
        item.id = name(&format!("later {}", item.id));
    }
    for offer in &mut later.offers {
        offer.id = name(&format!("later {}", offer.id));
    }
    for offer in &now.offers {
        let mut offer = offer.clone();
        if source.once_in(2) {
            offer.unit_price = euros(source.below(20));
            offer.breaks.clear();
            offer.surplus_value =
                offer.surplus_value.filter(|value| value.amount_minor() <= offer.unit_price.amount_minor());
        }
        if source.once_in(3) {
            offer.id = name(&format!("again {}", offer.id));
        }
        later.offers.push(offer);
    }
    if source.once_in(2) {
        later = later.usable_at_least(Capacity::from_gib(source.pick(&[32, 48, 64])));
    }
    later
}

proptest! {
    #![proptest_config(boards::config(60))]

    #[test]
    fn a_request_after_a_plan_is_what_the_plan_leaves(bytes in bytes(200)) {
        let (machine, request) = worlds::world(&mut Source::new(&bytes), 4, 3);
        compare_after(&machine, &request)?;
    }
}

/// The same request with stock of which all is known: what is bought now runs later.
fn described(machine: &Machine, mut request: PlanRequest) -> PlanRequest {
    request.offers.to_mut().retain(|offer| !judge::lacks_a_fact(machine, &offer.module));
    request.shelf.retain(|item| !judge::lacks_a_fact(machine, &item.module));
    request
}

/// The request with nothing present, without warnings, of offers that are sold singly at a price.
fn plainly(request: PlanRequest) -> PlanRequest {
    let mut request = request.refuse_from(Severity::Warning);
    request.present = Present::default();
    for offer in &mut request.offers {
        (offer.pack, offer.minimum_quantity, offer.supplier) = (1, 1, None);
        offer.breaks.clear();
    }
    request
}

proptest! {
    #![proptest_config(boards::config(30))]

    #[test]
    fn the_cheapest_sequence_is_what_brute_force_finds(bytes in bytes(300)) {
        let mut source = Source::new(&bytes);
        let (machine, now) = worlds::world(&mut source, 4, 2);
        // several machines: credits are worked out in two ways
        let now = described(&machine, small(now).machines(1));
        let later = described(&machine, later(&mut source, &machine, &now));
        compare(&machine, &now, &later)?;
    }
    /// Where nothing is present, warnings are refused and all is sold singly, loads are repeated now and later.
    #[test]
    fn the_cheapest_sequence_of_like_loads_is_what_brute_force_finds(bytes in bytes(300)) {
        let mut source = Source::new(&bytes);
        let (machine, now) = worlds::world(&mut source, 4, 3);
        let now = plainly(described(&machine, small(now).machines(1)));
        let later = plainly(described(&machine, later(&mut source, &machine, &now)));
        compare(&machine, &now, &later)?;
    }
}
