//! The plans that no other beats on some axes.

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;
use slotwright::assess::Planner;
use slotwright::machine::Machine;
use slotwright::purchase::{Axis, PlanRequest};
use slotwright::rule::RuleBook;

use super::answers::Found;
use super::market::{Key, Market};
use super::worlds;
use crate::boards::{self, Source, bytes};
use crate::purchase_oracle::{case, euros};

const AXES: [Axis; 6] =
    [Axis::Cost, Axis::UsableCapacity, Axis::RunningRate, Axis::Bandwidth, Axis::FreeSlots, Axis::Power];

/// How good a plan is on an axis: less is better. Whole numbers over the axis's own scale, found by rank.
fn merit(axis: Axis, found: &Found<'_>, all: &[Found<'_>]) -> i64 {
    let (key, candidate) = (&found.key, found.candidate);
    let rank = |is_better: &dyn Fn(&Found<'_>) -> bool| all.iter().filter(|other| is_better(other)).count() as i64;
    match axis {
        Axis::Cost => key.cost,
        Axis::UsableCapacity => -(candidate.usable.mib() as i64),
        Axis::RunningRate => rank(&|other| other.key.rate < key.rate),
        Axis::Bandwidth => rank(&|other| other.key.bandwidth.0.1 > key.bandwidth.0.1),
        Axis::FreeSlots => -(key.free.0 as i64),
        Axis::Power => candidate.power.map_or(i64::MAX, i64::from),
        other => panic!("{other:?}"),
    }
}

fn beats(a: &[i64], b: &[i64]) -> bool {
    a != b && a.iter().zip(b).all(|(a, b)| a <= b)
}

/// Some axes in some order, each at most twice.
fn axes(source: &mut Source<'_>) -> Vec<Axis> {
    let mut axes = AXES.to_vec();
    source.shuffle(&mut axes);
    axes.truncate(source.below(5) + 1);
    if source.once_in(10) {
        axes.push(axes[0]);
    }
    if source.once_in(10) {
        axes.clear();
    }
    axes
}

/// By merits, the best plan of those that no other beats.
fn unbeaten<'c>(axes: &[Axis], each: &[Found<'c>]) -> BTreeMap<Vec<i64>, Found<'c>> {
    let mut best: BTreeMap<Vec<i64>, Found<'c>> = BTreeMap::new();
    for found in each {
        let merits = axes.iter().map(|&axis| merit(axis, found, each)).collect();
        let known = best.entry(merits).or_insert_with(|| found.clone());
        if found.key < known.key {
            *known = found.clone();
        }
    }
    let all: Vec<_> = best.keys().cloned().collect();
    best.retain(|merits, _| !all.iter().any(|other| beats(other, merits)));
    best
}

/// Holds a frontier, and the best of it under budgets, against brute force.
pub fn compare(machine: &Machine, request: &PlanRequest, axes: &[Axis], budgets: &[u64]) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let market = Market::new(&planner, request);
    let mut distinct = axes.to_vec();
    let mut seen = BTreeSet::new();
    distinct.retain(|&axis| seen.insert(axis));
    let frontier = planner.frontier(request, axes.iter().copied()).unwrap();
    let text = || format!("{axes:?}\n{}", case(machine, request));
    prop_assert!(frontier.stopped.is_none() && frontier.axes == distinct, "{}", text());
    let each = market.each(request);
    let best = unbeaten(axes, &each);
    let mut wanted: Vec<_> = best.values().map(|found| &found.key).collect();
    wanted.sort();
    let told = |key: &Key| if market.has_doubles() { key.without_sources() } else { key.clone() };
    let wanted: Vec<_> = wanted.into_iter().map(told).collect();
    let keys: Vec<_> = frontier.plans.iter().map(|plan| told(&market.key_of(plan).unwrap())).collect();
    let differ = keys.iter().zip(&wanted).position(|(a, b)| a != b).unwrap_or(keys.len().min(wanted.len()));
    prop_assert_eq!(keys.get(differ), wanted.get(differ), "plan {} {}", differ, text());
    for &budget in budgets {
        let found = frontier.best_under(euros(budget as usize)).map(|plan| told(&market.key_of(plan).unwrap()));
        let affordable = best.iter().filter(|(_, found)| found.key.cost <= budget as i64);
        // on the axes in their order, cost last
        let order = |merits: &[i64]| -> Vec<i64> {
            let of = |axis: &(&Axis, &i64)| *axis.0 != Axis::Cost;
            axes.iter().zip(merits).filter(of).map(|(_, merit)| *merit).collect()
        };
        let best =
            affordable.min_by_key(|(merits, found)| (order(merits), &found.key)).map(|(_, found)| told(&found.key));
        prop_assert_eq!(found, best, "under {} {}", budget, text());
    }
    Ok(())
}

/// A frontier is of more plans where less is asked for.
fn eased(source: &mut Source<'_>, mut request: PlanRequest) -> PlanRequest {
    if source.once_in(2) {
        request.usable_at_least_mib = None;
    }
    if source.once_in(2) {
        request.budget = None;
    }
    request
}

proptest! {
    #![proptest_config(boards::config(150))]

    #[test]
    fn frontiers_are_what_brute_force_finds(bytes in bytes(220)) {
        let mut source = Source::new(&bytes);
        let (machine, request) = worlds::world_of_power(&mut source, 4, 2);
        let request = eased(&mut source, request);
        let axes = axes(&mut source);
        compare(&machine, &request, &axes, &[0, 5, 20, 50])?;
    }
}
