//! The best plan and the runners-up.

use proptest::prelude::*;
use slotwright::assess::Planner;
use slotwright::machine::Machine;
use slotwright::purchase::{Outcome, PlanRequest};
use slotwright::rule::RuleBook;

use super::market::{Key, Market};
use super::worlds;
use crate::boards::{self, Source, bytes};
use crate::purchase_oracle::case;

fn is_stopped(outcome: &Outcome) -> bool {
    matches!(outcome, Outcome::Stopped { .. })
}

/// Holds the plan against brute force, sources and all.
pub fn compare_plan(machine: &Machine, request: &PlanRequest) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let market = Market::new(&planner, request);
    let (outcome, best) = (planner.plan(request).unwrap(), market.best(request));
    prop_assert!(!is_stopped(&outcome), "{}", case(machine, request));
    let found = outcome.optimal().map(|plan| market.key_of(plan).unwrap());
    prop_assert_eq!(&found, &best.as_ref().map(|best| best.key.clone()), "{:?}\n{}", best, case(machine, request));
    Ok(())
}

/// Holds the first so many plans against brute force.
pub fn compare_plans(machine: &Machine, request: &PlanRequest, most: usize) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let market = Market::new(&planner, request);
    let found = planner.plans(request, most).unwrap();
    prop_assert!(found.stopped.is_none(), "{}", case(machine, request));
    let best: Vec<_> = market.plans(request).into_iter().take(most).map(|found| found.key).collect();
    let keys: Vec<Key> = found.plans.iter().map(|plan| market.key_of(plan).unwrap()).collect();
    let differ = keys.iter().zip(&best).position(|(a, b)| a != b).unwrap_or(keys.len().min(best.len()));
    let (a, b) = (keys.get(differ), best.get(differ));
    let text = || format!("plan {differ} of {most} ({} and {})\n{}", keys.len(), best.len(), case(machine, request));
    prop_assert_eq!(a, b, "{}", text());
    let first = planner.plan(request).unwrap().optimal().map(|plan| market.key_of(plan).unwrap());
    prop_assert_eq!(keys.first(), first.as_ref(), "{}", text());
    Ok(())
}

proptest! {
    #![proptest_config(boards::config(200))]

    #[test]
    fn the_best_plan_is_what_brute_force_finds(bytes in bytes(200)) {
        let (machine, request) = worlds::world(&mut Source::new(&bytes), 4, 3);
        compare_plan(&machine, &request)?;
    }

    #[test]
    fn runners_up_are_what_brute_force_finds(bytes in bytes(200), most in 1..6_usize) {
        let (machine, request) = worlds::world(&mut Source::new(&bytes), 4, 2);
        // of parts that work alike one may be taken for the other when orders are made smaller
        let request = worlds::without_doubles(request);
        compare_plans(&machine, &request, most)?;
    }
}
