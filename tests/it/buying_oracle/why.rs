//! Why nothing meets a request: clashes, what is within reach, what may be waived.

use std::collections::BTreeSet;

use proptest::prelude::*;
use slotwright::assess::Planner;
use slotwright::finding::Severity;
use slotwright::machine::Machine;
use slotwright::module::{MemoryModule, ModuleKind};
use slotwright::purchase::{HeldFast, Outcome, Plan, PlanRequest, Reach, Reachable, Requirement, Waiver, WhyNot};
use slotwright::rule::RuleBook;
use slotwright::stated::Scope;

use super::answers::Found;
use super::market::Market;
use super::wishes::{CONDITIONS, KINDS, harder, held_to, requirements, with};
use super::worlds;
use crate::boards::{self, Source, bytes};
use crate::purchase_oracle::{case, euros};

/// What can be had of a requirement while the others stand: the best value, or that none is needed.
#[derive(Debug, PartialEq)]
enum Within {
    Value(Requirement),
    GivenUp,
    Nothing,
}

/// The smallest set with these and others that will do.
fn fewest_more<T: Copy + Ord>(
    asked: &BTreeSet<T>,
    among: &[T],
    will_do: impl Fn(BTreeSet<T>) -> bool,
) -> Option<usize> {
    let more: Vec<T> = among.iter().copied().filter(|item| !asked.contains(item)).collect();
    let chosen = |bits: usize| more.iter().enumerate().filter(move |(index, _)| bits >> index & 1 == 1);
    let sets = (0..1_usize << more.len()).map(|bits| asked.iter().copied().chain(chosen(bits).map(|(_, &item)| item)));
    sets.map(Iterator::collect).filter(|set| will_do(BTreeSet::clone(set))).map(|set: BTreeSet<T>| set.len()).min()
}

/// How far a requirement can be met; of sets, any of the fewest.
fn within(market: &Market<'_, '_>, others: &PlanRequest, asked: &Requirement, said: Option<&Requirement>) -> Within {
    let all = market.each(others);
    if all.is_empty() {
        return Within::Nothing;
    }
    let feasible = |requirement: Requirement| market.best(&with(others.clone(), &requirement)).is_some();
    let first = |values: Vec<Requirement>| values.into_iter().find(|value| feasible(value.clone()));
    // of sets of one size any may be named
    let named = |size: Option<usize>| match said {
        Some(Requirement::Kinds(kinds)) if Some(kinds.len()) == size && feasible(said.unwrap().clone()) => {
            said.cloned()
        }
        Some(Requirement::Conditions(set)) if Some(set.len()) == size && feasible(said.unwrap().clone()) => {
            said.cloned()
        }
        _ => size.map(|size| Requirement::Spares(size as u32)),
    };
    let most = |value: &dyn Fn(&Found<'_>) -> Option<Requirement>, order: &dyn Fn(&Found<'_>, &Found<'_>) -> bool| {
        let best = all.iter().reduce(|a, b| if order(a, b) { a } else { b });
        value(best.unwrap())
    };
    let best = match asked {
        Requirement::UsableAtLeastMib(_) => {
            most(&|found| Some(Requirement::UsableAtLeastMib(found.candidate.usable)), &|a, b| {
                a.candidate.usable >= b.candidate.usable
            })
        }
        Requirement::UsableAtMostMib(_) => {
            most(&|found| Some(Requirement::UsableAtMostMib(found.candidate.usable)), &|a, b| {
                a.candidate.usable <= b.candidate.usable
            })
        }
        Requirement::RateAtLeastMts(_) => {
            most(&|found| found.key.rate.0.map(Requirement::RateAtLeastMts), &|a, b| a.key.rate <= b.key.rate)
        }
        Requirement::BandwidthAtLeastMbps(_) => {
            most(&|found| Some(Requirement::BandwidthAtLeastMbps(found.key.bandwidth.0.1)), &|a, b| {
                a.key.bandwidth.0.1 >= b.key.bandwidth.0.1
            })
        }
        Requirement::FreeSlotsAtLeast(_) => {
            most(&|found| Some(Requirement::FreeSlotsAtLeast(found.key.free.0)), &|a, b| a.key.free <= b.key.free)
        }
        Requirement::Budget(_) => {
            let value = |found: &Found<'_>| usize::try_from(found.key.cost).ok().map(euros).map(Requirement::Budget);
            most(&value, &|a, b| a.key.cost <= b.key.cost)
        }
        Requirement::Kinds(kinds) => named(fewest_more(kinds, &KINDS, |set| feasible(Requirement::Kinds(set)))),
        Requirement::Conditions(set) => {
            named(fewest_more(set, &CONDITIONS, |set| feasible(Requirement::Conditions(set))))
        }
        Requirement::OnePartNumber(scope) => {
            let narrower: &[Scope] = match scope {
                Scope::Machine => &[Scope::Socket, Scope::Channel],
                Scope::Socket => &[Scope::Channel],
                Scope::Channel => &[],
            };
            first(narrower.iter().copied().map(Requirement::OnePartNumber).collect())
        }
        Requirement::LeadTimeAtMostDays(days) => first((days + 1..8).map(Requirement::LeadTimeAtMostDays).collect()),
        Requirement::Spares(spares) => first((0..*spares).rev().map(Requirement::Spares).collect()),
        Requirement::SparesPerPart(spares) => first((0..*spares).rev().map(Requirement::SparesPerPart).collect()),
        _ => None,
    };
    best.map_or(Within::GivenUp, Within::Value)
}

/// Holds a plan against the best one that there is.
fn is_best(market: &Market<'_, '_>, wants: &PlanRequest, plan: &Plan) -> Result<(), TestCaseError> {
    let best = market.best(wants).map(|found| found.key);
    prop_assert_eq!(market.key_of(plan), best, "witness");
    Ok(())
}

fn compare_reach(
    market: &Market<'_, '_>,
    request: &PlanRequest,
    reachable: &Reachable,
    may_stop: bool,
) -> Result<(), TestCaseError> {
    let all = requirements(request);
    let others = held_to(request, all.iter().filter(|other| **other != reachable.requirement));
    let asked = &reachable.requirement;
    let wanted = within(market, &others, asked, reachable.best());
    let found = match &reachable.reach {
        Reach::Value { best, .. } => Within::Value(best.clone()),
        Reach::GivenUp { .. } => Within::GivenUp,
        Reach::Nothing => Within::Nothing,
        Reach::Unknown { .. } if may_stop => return Ok(()),
        Reach::Unknown { .. } => return Err(TestCaseError::fail("unknown")),
    };
    prop_assert_eq!(found, wanted, "reach of {:?}", asked);
    if let Some(witness) = reachable.witness() {
        let relaxed = reachable.best().map_or_else(|| others.clone(), |best| with(others.clone(), best));
        is_best(market, &relaxed, witness)?;
    }
    let kinds: BTreeSet<_> = market.sorts.iter().map(MemoryModule::kind).collect();
    let by_kind = match asked {
        // of a most capacity nothing is said by kind
        Requirement::UsableAtLeastMib(_) | Requirement::RateAtLeastMts(_) => kinds,
        _ => BTreeSet::new(),
    };
    let best_with = |kind: ModuleKind| {
        let is_allowed = |kind: &ModuleKind| others.kinds.as_ref().is_none_or(|kinds| kinds.contains(kind));
        let alone = {
            let mut changed = others.clone();
            changed.kinds = Some([kind].into_iter().filter(is_allowed).collect());
            changed
        };
        match within(market, &alone, asked, None) {
            Within::Value(best) => Some(best),
            _ => None,
        }
    };
    let helping: Vec<_> = by_kind.into_iter().filter(|&kind| best_with(kind).is_some()).collect();
    let listed = |kind: &ModuleKind| reachable.by_kind.iter().any(|of_kind| of_kind.kind == *kind);
    prop_assert!(may_stop || helping.len() < 2 || helping.iter().all(listed), "kinds {:?} of {:?}", helping, asked);
    for of_kind in &reachable.by_kind {
        let wanted = best_with(of_kind.kind);
        if may_stop && of_kind.best.is_none() {
            continue;
        }
        prop_assert_eq!(&of_kind.best, &wanted, "{:?} with {:?} alone", asked, of_kind.kind);
    }
    Ok(())
}

/// What could be had if this alone were given up.
fn waived(request: &PlanRequest) -> Vec<(HeldFast, PlanRequest)> {
    let mut all = Vec::new();
    if !request.present.pinned.is_empty() {
        let mut free = request.clone();
        free.present.pinned.clear();
        all.push((HeldFast::Pins, free));
    }
    if request.refuse_from < Severity::Error {
        all.push((HeldFast::NoWarnings, request.clone().refuse_from(Severity::Error)));
    }
    if request.machines > 1 {
        all.push((HeldFast::SeveralMachines, request.clone().machines(1)));
    }
    all
}

/// Holds the waivers against brute force; where nodes are few, some may be missing.
fn compare_waivers(
    planner: &Planner<'_>,
    request: &PlanRequest,
    why: &WhyNot,
    may_miss: bool,
) -> Result<(), TestCaseError> {
    let mut waivers: Vec<&Waiver> = why.waivers.iter().collect();
    for (given_up, request) in waived(request) {
        let market = Market::new(planner, &request);
        let waiver = waivers.iter().position(|waiver| waiver.given_up == given_up).map(|index| waivers.remove(index));
        if may_miss && waiver.is_none() {
            continue;
        }
        if waiver.is_some_and(|waiver| !waiver.proved) {
            continue;
        }
        let found = waiver.map(|waiver| market.key_of(&waiver.plan));
        prop_assert_eq!(found, market.best(&request).map(|best| Some(best.key)), "waiver {:?}", given_up);
        let Some(waiver) = waiver else { continue };
        let warnings = waiver.plan.assessment.findings.iter().filter(|finding| finding.severity == Severity::Warning);
        let accepted = given_up == HeldFast::NoWarnings;
        let codes: BTreeSet<_> = warnings.filter(|_| accepted).map(|finding| finding.code.clone()).collect();
        prop_assert!(waiver.warnings.iter().eq(&codes), "{:?} but {:?}", waiver.warnings, codes);
    }
    prop_assert!(waivers.is_empty(), "{:?}", waivers);
    Ok(())
}

/// Holds a why against brute force; where it stopped, what it says.
pub fn compare_why(
    planner: &Planner<'_>,
    request: &PlanRequest,
    why: &WhyNot,
    few_nodes: bool,
) -> Result<(), TestCaseError> {
    let market = Market::new(planner, request);
    let all = requirements(request);
    let feasible = |parts: Vec<&Requirement>| market.best(&held_to(request, parts)).is_some();
    prop_assert!(!feasible(why.clash.iter().collect()), "the clash is none: {:?}", why.clash);
    for left_out in &why.clash {
        prop_assert!(all.contains(left_out), "{:?} is not required", left_out);
        let part = why.clash.iter().filter(|other| *other != left_out).collect();
        prop_assert!(why.stopped.is_some() || feasible(part), "{:?} is not needed in {:?}", left_out, why.clash);
    }
    let named: Vec<_> = why.reachable.iter().map(|reachable| &reachable.requirement).collect();
    prop_assert!(named.len() == all.len() && all.iter().all(|one| named.contains(&one)), "{:?}", named);
    for reachable in &why.reachable {
        compare_reach(&market, request, reachable, why.stopped.is_some() || few_nodes)?;
    }
    compare_waivers(planner, request, why, why.stopped.is_some())
}

/// Holds what is said of a request that cannot be met against brute force.
pub fn compare(machine: &Machine, request: &PlanRequest) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    if let Outcome::Infeasible(why) = planner.plan(request).unwrap() {
        prop_assert!(why.stopped.is_none(), "stopped {}", case(machine, request));
        let held = compare_why(&planner, request, &why, false);
        held.map_err(|error| TestCaseError::fail(format!("{error}\n{why:#}\n{}", case(machine, request))))?;
    } else if Market::new(&planner, request).best(request).is_none() {
        return Err(TestCaseError::fail(format!("cannot be had\n{}", case(machine, request))));
    }
    Ok(())
}

proptest! {
    #![proptest_config(boards::config(150))]

    #[test]
    fn what_stands_in_the_way_is_what_brute_force_finds(bytes in bytes(220)) {
        let mut source = Source::new(&bytes);
        let (machine, request) = worlds::world(&mut source, 4, 2);
        let request = worlds::without_confusing_doubles(harder(&mut source, &machine, request));
        compare(&machine, &request)?;
    }
}
