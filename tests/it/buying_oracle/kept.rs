//! Single cases that brute force has found, as small as they get.

use serde_json::Value;
use slotwright::assess::Planner;
use slotwright::finding::Severity;
use slotwright::machine::Machine;
use slotwright::purchase::{HeldFast, Outcome, PlanRequest, Reach, Requirement, WhyNot};
use slotwright::rule::RuleBook;

use super::market::Market;
use super::{plans, savings, stages, stops};
use crate::judge::{self, Channels};

fn read(text: &str) -> (Machine, PlanRequest, Value) {
    let case: Value = serde_json::from_str(text).unwrap();
    let part = |name: &str| case[name].clone();
    (serde_json::from_value(part("machine")).unwrap(), serde_json::from_value(part("request")).unwrap(), part("later"))
}

fn plan(text: &str) {
    let (machine, request, _) = read(text);
    plans::compare_plan(&machine, &request).unwrap();
}

fn why(text: &str, nodes: u64) -> WhyNot {
    let (machine, request, _) = read(text);
    let outcome = Planner::new(&machine, &RuleBook::standard()).plan(&request.nodes(nodes)).unwrap();
    let Outcome::Infeasible(why) = outcome else { panic!("{outcome:?}") };
    why
}

// Rates are each processor's own: the slower one stays empty for the sake of the rate.
#[test]
fn a_slower_processor_may_stay_empty() {
    plan(include_str!("../cases/unlike_processors_rate_per_socket.json"));
}

// The processor with one live slot cannot have two modules, and stays empty.
#[test]
fn an_empty_processor_does_not_bar_a_rate() {
    plan(include_str!("../cases/rate_with_an_empty_processor.json"));
}

// Processors must be alike: one of unlike modules can only have both, or none.
#[test]
fn an_empty_processor_does_not_bar_a_bandwidth() {
    plan(include_str!("../cases/bandwidth_with_an_empty_processor.json"));
}

// The same, where rules make a note of a processor without memory.
#[test]
fn an_empty_processor_of_which_no_more_is_made_than_a_note_does_not_bar_a_rate() {
    let (machine, request, _) = read(include_str!("../cases/rate_with_an_empty_processor_noted.json"));
    let rules = RuleBook::standard().with_severity("socket-minimum", Severity::Note).unwrap();
    let planner = Planner::new(&machine, &rules);
    let market = Market::new(&planner, &request);
    let found = planner.plan(&request).unwrap().optimal().map(|plan| market.key_of(plan).unwrap());
    assert_eq!(found, market.best(&request).map(|best| best.key));
}

// What differs in part number alone is decided by the number of units, then by id.
#[test]
fn parts_that_work_alike_are_told_apart_by_their_sources() {
    plan(include_str!("../cases/alike_parts_of_one_price.json"));
    plan(include_str!("../cases/alike_parts_and_ids.json"));
    plan(include_str!("../cases/alike_parts_and_units.json"));
}

// The one module on offer has no row in the rate table.
#[test]
fn a_rate_that_nothing_has_can_be_given_up() {
    let why = why(include_str!("../cases/no_rate_at_all.json"), PlanRequest::NODES);
    let is_rate = |requirement: &Requirement| matches!(requirement, Requirement::RateAtLeastMts(_));
    let rate = why.reachable.iter().find(|reachable| is_rate(&reachable.requirement)).unwrap();
    assert!(matches!(rate.reach, Reach::GivenUp { .. }), "{rate}");
}

// With few nodes a waiver is named all the same, or it is said that the search for it was stopped.
#[test]
fn a_waiver_is_not_lost_for_want_of_nodes() {
    let (machine, request, _) = read(include_str!("../cases/waiver_with_few_nodes.json"));
    let rules = RuleBook::standard();
    let outcomes = (20..80).map(|nodes| Planner::new(&machine, &rules).plan(&request.clone().nodes(nodes)).unwrap());
    let mut proved = 0;
    for outcome in outcomes {
        let Outcome::Infeasible(why) = outcome else { continue };
        proved += 1;
        assert!(why.stopped.is_some() || why.waivers.iter().any(|waiver| waiver.given_up == HeldFast::NoWarnings));
    }
    assert!(proved > 0);
}

// Nothing can be had without warnings; the request accepts them.
#[test]
fn no_plan_without_warnings_has_some() {
    let (machine, request, _) = read(include_str!("../cases/savings_of_one_warning.json"));
    let savings = Planner::new(&machine, &RuleBook::standard()).savings(&request).unwrap();
    let warned = savings.without.as_ref().map(|plan| plan.assessment.from_severity(Severity::Warning).count());
    assert!(warned.is_none_or(|warned| warned == 0), "{warned:?}");
}

// A rule that cannot be judged of one module, and is broken by another.
#[test]
fn accepting_a_warning_is_not_accepting_an_error() {
    let (machine, request, _) = read(include_str!("../cases/warning_of_a_rule_with_errors.json"));
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    for saving in planner.savings(&request).unwrap().accepting {
        let assessment = judge::assess(&planner, &request.present.population, &saving.plan.population);
        assert!(judge::has_no_error(&assessment), "{saving}");
        assert_eq!(assessment, saving.plan.assessment, "{saving}");
    }
}

// A slot is free as long as no rule of the planner has an error against filling it.
#[test]
fn accepting_a_warning_frees_no_slot() {
    let (machine, request, _) = read(include_str!("../cases/free_slots_of_a_noted_rule.json"));
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    for saving in planner.savings(&request).unwrap().accepting {
        let free = Channels::new(&planner).free_slots(&saving.plan.population).len();
        assert!(Some(free) >= request.free_slots_at_least, "{saving}: {free}");
    }
}

// The modules of one slot come from the shelf in one machine and from an offer in the other.
#[test]
fn credits_of_two_machines_are_of_one_mind() {
    let (machine, now, later) = read(include_str!("../cases/stages_of_two_machines.json"));
    stages::compare(&machine, &now, &serde_json::from_value(later).unwrap()).unwrap();
}

#[test]
fn both_plans_of_a_sequence_are_in_one_currency() {
    let (machine, now, later) = read(include_str!("../cases/stages_without_a_currency.json"));
    let later = serde_json::from_value(later).unwrap();
    let best = Planner::new(&machine, &RuleBook::standard()).stages(&now, &later).unwrap().best.unwrap();
    assert_eq!(best.now.cost.total.currency(), best.later.cost.total.currency());
}

// One processor is slower, and each has a rate of its own.
#[test]
fn a_slower_processor_has_its_own_rate() {
    let (machine, request, _) = read(include_str!("../cases/saving_with_unlike_processors.json"));
    savings::compare(&machine, &request).unwrap();
}

// After few nodes, more warnings are named than have to be accepted.
#[test]
fn savings_found_with_few_nodes_are_savings() {
    let (machine, request, _) = read(include_str!("../cases/savings_with_few_nodes.json"));
    stops::compare(&machine, &request).unwrap();
}
