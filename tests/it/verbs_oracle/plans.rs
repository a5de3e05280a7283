//! Even totals, unbeaten plans and the bandwidth within reach against brute force.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;
use slotwright::assess::{Assessment, Planner};
use slotwright::finding::Severity;
use slotwright::machine::Machine;
use slotwright::module::MemoryModule;
use slotwright::population::Population;
use slotwright::purchase::{Axis, Offer, Outcome, Plan, PlanRequest, Requirement};
use slotwright::rule::RuleBook;
use slotwright::stated::Scope;
use slotwright::unit::{Bandwidth, Capacity, DataRate};

use super::{fillings, is_even, plain};
use crate::boards::{self, Source, bytes, name};
use crate::judge::{self, Channels, Spread};
use crate::purchase_oracle::{case, euros};

type Swept = Reverse<(Bandwidth, Bandwidth)>;

/// A request with plain offers only, on what is empty.
fn request(source: &mut Source<'_>, machine: &Machine) -> PlanRequest {
    let sorts = boards::sorts(source, machine.platform().generation(), 3);
    let mut request = PlanRequest::new().savings_nodes(0);
    for index in 0..source.below(3) + 1 {
        let (module, price, stock) = (source.pick(&sorts), source.below(20), 1 + source.below(6) as u32);
        request = request.offer(Offer::new(name(&format!("o{index}")), module, euros(price), stock));
    }
    if source.once_in(2) {
        request = request.refuse_from(Severity::Error);
    }
    if source.once_in(3) {
        request = request.usable_at_least(Capacity::from_gib(source.pick(&[8, 16, 24, 32, 48])));
    }
    let rates = machine.rate_steps();
    if source.once_in(5) && !rates.is_empty() {
        request = request.rate_at_least(rates[source.below(rates.len())]);
    }
    if source.once_in(5) {
        request = request.free_slots_at_least(source.below(3));
    }
    if source.once_in(8) {
        request = request.budget(euros(source.below(80)));
    }
    if source.once_in(8) { request.one_part_number(Scope::Machine) } else { request }
}

/// The least that so many modules cost.
fn cost(request: &PlanRequest, population: &Population) -> Option<i64> {
    let mut cost = 0;
    for sort in judge::modules(population) {
        let offers = request.offers.iter().filter(|offer| offer.module == *sort);
        let mut units: Vec<u64> =
            offers.flat_map(|offer| vec![offer.unit_price.amount_minor(); offer.stock as usize]).collect();
        units.sort_unstable();
        let needed = population.modules().filter(|(_, fitted)| fitted.module == *sort).count();
        cost += units.get(..needed)?.iter().sum::<u64>();
    }
    i64::try_from(cost).ok()
}

/// What decides between plans, before the population itself: less is better.
type Key = (i64, bool, usize, Reverse<Option<DataRate>>, Spread, Swept, usize, usize, Reverse<usize>);

fn key(machine: &Machine, population: &Population, assessment: &Assessment, cost: i64, free: usize) -> Key {
    let (rate, bandwidth) = (judge::rate(assessment), judge::bandwidth(assessment));
    let (parts, handlings) = (judge::modules(population).len(), population.modules().count());
    let (outside, spread) = (judge::breaks_rows(assessment), judge::spread(machine, assessment));
    let bare = judge::bare(assessment);
    (cost, outside, bare, Reverse(rate), spread, Reverse(bandwidth), handlings, parts, Reverse(free))
}

fn key_of(machine: &Machine, plan: &Plan) -> Key {
    key(machine, &plan.population, &plan.assessment, plan.cost.total.amount_minor(), plan.free_slots.len())
}

fn sorts_on_offer(request: &PlanRequest) -> Vec<MemoryModule> {
    let sorts: BTreeSet<_> = request.offers.iter().map(|offer| offer.module.clone()).collect();
    sorts.into_iter().collect()
}

/// Every population that meets the request, with its key and what of it can be used.
fn meeting(planner: &Planner<'_>, request: &PlanRequest) -> Vec<(Key, Capacity, Population)> {
    let machine = planner.machine();
    let sorts = sorts_on_offer(request);
    let (mut channels, mut found) = (Channels::new(planner), Vec::new());
    for population in fillings(&boards::live(machine), &sorts, &Population::new()) {
        let Some(cost) = cost(request, &population) else { continue };
        let assessment = planner.assess(&population).unwrap();
        let usable = assessment.figures.usable.total_mib;
        let refused = assessment.from_severity(request.refuse_from).next().is_some()
            || request.budget.is_some_and(|budget| cost > budget.amount_minor() as i64)
            || request.one_part_number.is_some() && judge::modules(&population).len() > 1
            || request.rate_at_least_mts.is_some_and(|least| judge::rate(&assessment) < Some(least))
            || request.bandwidth_at_least_mbps.is_some_and(|least| judge::bandwidth(&assessment).1 < least)
            || request.usable_at_least_mib.is_some_and(|least| usable < least);
        if refused {
            continue;
        }
        let free = channels.free_slots(&population).len();
        if request.free_slots_at_least.is_none_or(|least| free >= least) {
            found.push((key(machine, &population, &assessment, cost, free), usable, population));
        }
    }
    found
}

fn compare_totals(source: &mut Source<'_>, machine: &Machine, request: &PlanRequest) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let sorts = sorts_on_offer(request);
    let mut best: BTreeMap<Capacity, Key> = BTreeMap::new();
    for (key, usable, population) in meeting(&planner, &{
        let mut changed = request.clone();
        changed.usable_at_least_mib = None;
        changed
    }) {
        if is_even(&planner, &population, &sorts) {
            let known = best.entry(usable).or_insert(key);
            *known = key.min(*known);
        }
    }
    let totals: Vec<_> = best.keys().copied().collect();
    let exact = !totals.is_empty() && source.once_in(2);
    let wish = if exact { source.pick(&totals) } else { Capacity::from_gib(source.pick(&[24, 8, 16, 40, 64, 100])) };
    let found = planner.totals_near(request, wish).unwrap();
    let text = || format!("{found:?}\nbut brute force {best:?}\nwish {wish}\n{}", case(machine, request));
    prop_assert!(found.stopped.is_none() && found.wish_mib == wish, "{}", text());
    let of = |plan: &Option<Plan>| {
        plan.as_ref().map(|plan| (plan.assessment.figures.usable.total_mib, key_of(machine, plan)))
    };
    let entry = |(&total, &key): (&Capacity, &Key)| (total, key);
    prop_assert_eq!(of(&found.below), best.range(..wish).next_back().map(entry), "below {}", text());
    prop_assert_eq!(of(&found.exact), best.get_key_value(&wish).map(entry), "just {}", text());
    let above = best.range(wish..).find(|(total, _)| **total > wish);
    prop_assert_eq!(of(&found.above), above.map(entry), "above {}", text());
    for plan in [&found.below, &found.exact, &found.above].into_iter().flatten() {
        prop_assert!(is_even(&planner, &plan.population, &sorts), "{}", text());
    }
    Ok(())
}

/// Cost, rate, bandwidth, free slots: less is better.
type Vector = (i64, Reverse<Option<DataRate>>, Reverse<Bandwidth>, Reverse<usize>);

fn vector(key: &Key) -> Vector {
    (key.0, key.3, Reverse(key.5.0.1), key.8)
}

fn beats(a: &Vector, b: &Vector) -> bool {
    a != b && a.0 <= b.0 && a.1 <= b.1 && a.2 <= b.2 && a.3 <= b.3
}

fn compare_unbeaten(machine: &Machine, request: &PlanRequest) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let mut best: BTreeMap<Vector, Key> = BTreeMap::new();
    for (key, _, _) in meeting(&planner, request) {
        let known = best.entry(vector(&key)).or_insert(key);
        *known = key.min(*known);
    }
    let all: Vec<_> = best.keys().copied().collect();
    best.retain(|vector, _| !all.iter().any(|other| beats(other, vector)));
    let axes = [Axis::Cost, Axis::RunningRate, Axis::Bandwidth, Axis::FreeSlots];
    let found = planner.frontier(request, axes).unwrap();
    let keys: Vec<_> = found.plans.iter().map(|plan| key_of(machine, plan)).collect();
    let text = || format!("{keys:?}\nbut brute force {best:?}\n{}", case(machine, request));
    prop_assert!(found.stopped.is_none() && keys.is_sorted_by_key(|key| key.0), "{}", text());
    let vectors: Vec<_> = keys.iter().map(vector).collect();
    let mut sorted = vectors.clone();
    sorted.sort_unstable();
    prop_assert!(sorted.iter().eq(best.keys()), "vectors {}", text());
    prop_assert!(keys.iter().zip(&vectors).all(|(key, vector)| best[vector] == *key), "keys {}", text());
    Ok(())
}

/// The bandwidth named where a request asks for too much of it is the most there is.
fn compare_bandwidth(machine: &Machine, request: &PlanRequest) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let asked = request.bandwidth_at_least_mbps.unwrap();
    let others = {
        let mut changed = request.clone();
        changed.bandwidth_at_least_mbps = None;
        changed
    };
    let most = meeting(&planner, &others).iter().map(|(key, _, _)| key.5.0.1).max();
    let outcome = planner.plan(request).unwrap();
    let text = || format!("{outcome:?}\nbut brute force {most:?}\n{}", case(machine, request));
    let Outcome::Infeasible(why) = &outcome else {
        prop_assert!(outcome.optimal().is_some() && most >= Some(asked), "{}", text());
        return Ok(());
    };
    prop_assert!(most < Some(asked), "{}", text());
    let this = Requirement::BandwidthAtLeastMbps(asked);
    let named = why.reachable.iter().find(|reachable| reachable.requirement == this);
    let best = named.and_then(|reachable| reachable.best().cloned());
    prop_assert_eq!(best, most.map(Requirement::BandwidthAtLeastMbps), "{}", text());
    Ok(())
}

proptest! {
    #![proptest_config(boards::config(150))]

    #[test]
    fn even_totals_are_what_brute_force_finds(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 5);
        let request = request(&mut source, &machine);
        if plain(&machine) {
            compare_totals(&mut source, &machine, &request)?;
        }
    }

    #[test]
    fn unbeaten_plans_are_what_brute_force_finds(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 5);
        let request = request(&mut source, &machine);
        compare_unbeaten(&machine, &request)?;
    }

    #[test]
    fn the_bandwidth_named_is_the_most(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 5);
        let channels = [3, 1, 2, 4, 5].map(|channels| DataRate::DDR4_2133.peak_bandwidth().times(channels, 1));
        let request = request(&mut source, &machine).bandwidth_at_least(source.pick(&channels));
        compare_bandwidth(&machine, &request)?;
    }
}
