//! What is said when the nodes are used up, or the caller cancels: less, and nothing that is not true.

use std::ops::ControlFlow;

use proptest::prelude::*;
use slotwright::assess::Planner;
use slotwright::machine::Machine;
use slotwright::purchase::{Axis, Beyond, BreakEven, BreakEvenOutcome, Outcome, Plan, PlanRequest, StopReason};
use slotwright::rule::RuleBook;

use super::market::{Key, Market, amount};
use super::{why, wishes, worlds};
use crate::boards::{self, Source, bytes};
use crate::purchase_oracle::case;

const NODES: [u64; 4] = [1, 20, 300, 5_000];
const AXES: [Axis; 3] = [Axis::UsableCapacity, Axis::RunningRate, Axis::Cost];

fn is_stopped_for(reason: Option<StopReason>, wanted: StopReason) -> Result<(), TestCaseError> {
    prop_assert!(reason.is_none_or(|reason| reason == wanted), "{:?}", reason);
    Ok(())
}

/// Holds a plan against what is wanted; it need not be the best.
fn will_do(market: &Market<'_, '_>, request: &PlanRequest, plan: &Plan) -> Result<Key, TestCaseError> {
    let found = market.each(request).into_iter().find(|found| found.candidate.population == plan.population);
    let key = market.key_of(plan);
    prop_assert!(found.is_some_and(|found| Some(found.key.cost) <= key.as_ref().map(|key| key.cost)), "{:?}", key);
    Ok(key.unwrap())
}

fn compare_plan(
    planner: &Planner<'_>,
    market: &Market<'_, '_>,
    request: &PlanRequest,
    reason_given: StopReason,
) -> Result<(), TestCaseError> {
    let best = market.best(request).map(|best| best.key);
    match planner.plan(request).unwrap() {
        Outcome::Optimal(plan) => prop_assert_eq!(market.key_of(&plan), best),
        Outcome::Infeasible(found) => {
            prop_assert_eq!(None, best);
            why::compare_why(planner, request, &found, true)?;
        }
        Outcome::Stopped { best: found, cost_at_least, reason, .. } => {
            is_stopped_for(Some(reason), reason_given)?;
            let least = cost_at_least.amount_minor();
            prop_assert!(best.as_ref().is_none_or(|best| least <= best.cost), "{:?}", least);
            if let Some(found) = found {
                prop_assert!(Some(will_do(market, request, &found)?) >= best);
            }
        }
    }
    Ok(())
}

fn compare_lists(
    planner: &Planner<'_>,
    market: &Market<'_, '_>,
    request: &PlanRequest,
    reason: StopReason,
) -> Result<(), TestCaseError> {
    let plans = planner.plans(request, 5).unwrap();
    is_stopped_for(plans.stopped, reason)?;
    let all: Vec<_> = market.plans(request).into_iter().take(5).map(|found| Some(found.key)).collect();
    let keys: Vec<_> = plans.plans.iter().map(|plan| market.key_of(plan)).collect();
    prop_assert!(all.starts_with(&keys) && (plans.stopped.is_some() || all.len() == keys.len()), "{:?}", keys);
    let frontier = planner.frontier(request, AXES).unwrap();
    is_stopped_for(frontier.stopped, reason)?;
    for plan in &frontier.plans {
        will_do(market, request, plan)?;
    }
    Ok(())
}

/// What is said of an end is so; where it is not known, the true end is not nearer.
fn compare_end(at: i64, beyond: &Beyond, end: i64, truly: &Beyond, is_within: bool) -> Result<(), TestCaseError> {
    match beyond {
        Beyond::Unknown { .. } => prop_assert!(is_within, "{} to {}", at, end),
        known => prop_assert!(at == end && known == truly, "{} to {}", at, end),
    }
    Ok(())
}

fn compare_break_even(found: &BreakEven, truly: &BreakEven) -> Result<(), TestCaseError> {
    prop_assert_eq!((&found.plan, found.quantity), (&truly.plan, truly.quantity));
    let ends = |found: &BreakEven| (amount(Some(found.from)), amount(Some(found.to)));
    let ((from, to), (true_from, true_to)) = (ends(found), ends(truly));
    let price = amount(Some(found.price));
    prop_assert!((from..=to).contains(&price));
    compare_end(from, &found.below, true_from, &truly.below, from >= true_from)?;
    compare_end(to, &found.above, true_to, &truly.above, to <= true_to)
}

fn compare_savings(planner: &Planner<'_>, request: &PlanRequest, full: &PlanRequest) -> Result<(), TestCaseError> {
    let request = request.clone().refuse_from(slotwright::Severity::Warning);
    let full = full.clone().refuse_from(slotwright::Severity::Warning);
    let rules = planner.rules();
    let (found, all) =
        (planner.savings(&request).unwrap(), Planner::new(planner.machine(), rules).savings(&full).unwrap());
    prop_assert!(found.stopped.is_some() || found == all, "{:?} but {:?}", found, all);
    for saving in &found.accepting {
        let saves =
            |saving: &slotwright::purchase::Saving| (saving.warnings.clone(), saving.saves, saving.plan.cost.total);
        prop_assert!(all.accepting.iter().any(|other| saves(other) == saves(saving)), "{:?} but {:?}", found, all);
    }
    prop_assert!(found.without.is_none() || found.without == all.without, "{:?} but {:?}", found, all);
    Ok(())
}

fn compare_all(
    planner: &Planner<'_>,
    request: &PlanRequest,
    full: &PlanRequest,
    reason: StopReason,
) -> Result<(), TestCaseError> {
    let market = Market::new(planner, full);
    compare_plan(planner, &market, request, reason)?;
    compare_lists(planner, &market, request, reason)?;
    for offer in &request.offers {
        let patient = Planner::new(planner.machine(), planner.rules());
        let truly = patient.break_even(full, offer.id.as_str()).unwrap();
        match planner.break_even(request, offer.id.as_str()).unwrap() {
            BreakEvenOutcome::Known(found) => compare_break_even(&found, truly.known().unwrap())?,
            BreakEvenOutcome::Infeasible { .. } => {
                prop_assert!(matches!(truly, BreakEvenOutcome::Infeasible { .. }), "{truly:?}");
            }
            BreakEvenOutcome::Stopped { reason: found, .. } => is_stopped_for(Some(found), reason)?,
        }
    }
    compare_savings(planner, request, full)
}

/// Holds every verb that stops early against the answers in full.
pub fn compare(machine: &Machine, full: &PlanRequest) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let told = |error, nodes| TestCaseError::fail(format!("{error}\nnodes {nodes}\n{}", case(machine, full)));
    for nodes in NODES {
        let request = full.clone().nodes(nodes);
        let held = compare_all(&planner, &request, full, StopReason::NodesUsedUp { nodes });
        held.map_err(|error| told(error, nodes))?;
    }
    let watch = |_| ControlFlow::Break(());
    let held = compare_all(&planner.watched(&watch), full, full, StopReason::Cancelled);
    held.map_err(|error| told(error, 0))
}

proptest! {
    #![proptest_config(boards::config(25))]

    #[test]
    fn what_is_said_early_is_true(bytes in bytes(200)) {
        let (machine, request) = worlds::world(&mut Source::new(&bytes), 4, 2);
        compare(&machine, &worlds::without_doubles(request))?;
    }

    #[test]
    fn what_is_said_early_of_the_unreachable_is_true(bytes in bytes(220)) {
        let mut source = Source::new(&bytes);
        let (machine, request) = worlds::world(&mut source, 4, 2);
        let request = wishes::harder(&mut source, &machine, worlds::without_doubles(request));
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        for nodes in [1, 10, 50, 200, 1_000, 5_000] {
            let outcome = planner.plan(&request.clone().nodes(nodes)).unwrap();
            let Outcome::Infeasible(found) = outcome else { continue };
            let held = why::compare_why(&planner, &request, &found, true);
            held.map_err(|error| TestCaseError::fail(format!("{error}\nnodes {nodes}\n{}", case(&machine, &request))))?;
        }
    }
}
