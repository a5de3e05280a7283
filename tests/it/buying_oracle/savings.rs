//! What accepting warnings would save.

use std::collections::BTreeSet;

use proptest::prelude::*;
use slotwright::assess::Planner;
use slotwright::finding::{Finding, Severity};
use slotwright::machine::Machine;
use slotwright::purchase::PlanRequest;
use slotwright::rule::RuleBook;
use slotwright::unit::{Cost, Name};

use super::market::{Key, Market};
use super::worlds;
use crate::boards::{self, Source, bytes};
use crate::judge;
use crate::purchase_oracle::case;

/// The codes of the warnings of a population.
fn warnings(findings: &[Finding]) -> BTreeSet<Name> {
    let warnings = findings.iter().filter(|finding| finding.severity == Severity::Warning);
    warnings.map(|finding| finding.code.clone()).collect()
}

/// The best plan where warnings of these rules are accepted, and no others.
fn accepting(planner: &Planner<'_>, request: &PlanRequest, codes: &BTreeSet<Name>) -> Option<Key> {
    let is_refused = |finding: &Finding| {
        finding.severity == Severity::Error || (finding.severity == Severity::Warning && !codes.contains(&finding.code))
    };
    let market = Market::refusing(planner, request, is_refused);
    market.best(request).map(|best| best.key)
}

/// What is said to be saved: codes, how much, and the plan's cost.
type Said = (BTreeSet<Name>, Option<i64>, i64);

/// All that can be saved, the most first.
fn savings(planner: &Planner<'_>, request: &PlanRequest) -> (Option<Key>, Vec<Said>) {
    let without = accepting(planner, request, &BTreeSet::new());
    let market = Market::refusing(planner, request, |finding| finding.severity == Severity::Error);
    let Some(cheapest) = market.best(request) else { return (without, Vec::new()) };
    let all = warnings(&judge::assess(planner, &request.present.population, &cheapest.candidate.population).findings);
    let of = |codes: BTreeSet<Name>, cost: i64| {
        let saves = without.as_ref().map(|without| without.cost - cost);
        saves.is_none_or(|saves| saves > 0).then_some((codes, saves, cost))
    };
    let alone = all.iter().filter_map(|code| {
        let codes = BTreeSet::from([code.clone()]);
        let cost = accepting(planner, request, &codes)?.cost;
        of(codes, cost)
    });
    let mut said: Vec<Said> = alone.collect();
    let more = said.iter().all(|(_, _, cost)| *cost > cheapest.key.cost);
    if all.len() > 1 && more {
        said.extend(of(all, cheapest.key.cost));
    }
    said.sort_by_key(|(_, _, cost)| *cost);
    (without, said)
}

/// Holds what is said to be saved against the best plans where just those warnings are accepted.
pub fn compare(machine: &Machine, request: &PlanRequest) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let found = planner.savings(request).unwrap();
    let (without, said) = savings(&planner, request);
    let text = || format!("{said:?}\n{}", case(machine, request));
    prop_assert!(found.stopped.is_none(), "{}", text());
    let strict = Market::new(&planner, &request.clone().refuse_from(Severity::Warning));
    prop_assert_eq!(found.without.as_ref().and_then(|plan| strict.key_of(plan)), without, "without {}", text());
    let costs: Vec<_> = found.accepting.iter().map(|saving| saving.plan.cost.total.amount_minor()).collect();
    prop_assert!(costs.is_sorted(), "{:?} {}", costs, text());
    let mut listed: Vec<Said> = found
        .accepting
        .iter()
        .map(|saving| {
            let codes = saving.warnings.iter().cloned().collect();
            (codes, saving.saves.map(Cost::amount_minor), saving.plan.cost.total.amount_minor())
        })
        .collect();
    let mut wanted = said.clone();
    listed.sort();
    wanted.sort();
    prop_assert_eq!(listed, wanted, "{}", text());
    for saving in &found.accepting {
        let codes = warnings(&saving.plan.assessment.findings);
        // what was so before, and is left alone, refuses nothing
        let was_so = warnings(&saving.plan.was_so_before);
        let accepted: BTreeSet<_> = saving.warnings.iter().cloned().chain(was_so).collect();
        prop_assert!(
            codes.is_subset(&accepted) && judge::has_no_error(&saving.plan.assessment),
            "{:?} {}",
            codes,
            text()
        );
        let market = Market::refusing(&planner, request, |finding| finding.severity == Severity::Error);
        prop_assert_eq!(market.key_of(&saving.plan).map(|key| key.cost), Some(saving.plan.cost.total.amount_minor()));
    }
    Ok(())
}

proptest! {
    #![proptest_config(boards::config(60))]

    #[test]
    fn savings_are_what_brute_force_finds(bytes in bytes(200)) {
        let (machine, request) = worlds::world(&mut Source::new(&bytes), 4, 2);
        let request = worlds::without_doubles(request);
        compare(&machine, &request)?;
    }
}
