//! Single cases that brute force has found, as small as they get.
#![allow(clippy::unwrap_used)]

use serde_json::Value;
use slotwright::assess::Planner;
use slotwright::machine::Machine;
use slotwright::purchase::PlanRequest;
use slotwright::rule::RuleBook;

use crate::arrange_oracle::{self, Task};
use crate::purchase_oracle;

fn read(text: &str) -> (Machine, Value) {
    let case: Value = serde_json::from_str(text).unwrap();
    (serde_json::from_value(case["machine"].clone()).unwrap(), case)
}

/// Plans a case's request.
fn plan(text: &str) {
    let (machine, case) = read(text);
    purchase_oracle::compare(&machine, &serde_json::from_value(case["request"].clone()).unwrap()).unwrap();
}

/// Arranges a case's pieces.
fn arrange(text: &str) {
    let (machine, case) = read(text);
    let pieces = serde_json::from_value(case["pieces"].clone()).unwrap();
    arrange_oracle::compare(&machine, &Task { pieces, ..Task::default() }).unwrap();
}

// One unit at no price and a pack of two, of which one is left over: 2 x 4 - 1.
#[test]
fn the_surplus_of_a_pack_lowers_the_cost() {
    plan(include_str!("cases/surplus_of_a_pack.json"));
}

// One module a channel has a row at the running voltage, two have none.
#[test]
fn channels_of_unlike_turns_are_filled_for_the_rate() {
    arrange(include_str!("cases/rate_by_voltage.json"));
}

// Of a required row for both processors and an advised one for the first, only one can be followed.
#[test]
fn a_required_row_holds_where_an_advised_one_clashes() {
    arrange(include_str!("cases/rows_that_clash.json"));
}

// The better balanced place leaves fewer slots that can take a module than are asked for.
#[test]
fn free_slots_that_are_asked_for_come_before_balance() {
    plan(include_str!("cases/free_slots_before_balance.json"));
}

// Which of three present modules are kept decides how many parts there are.
#[test]
fn parts_are_counted_of_what_is_kept() {
    plan(include_str!("cases/parts_of_what_is_kept.json"));
    plan(include_str!("cases/parts_and_fill_order.json"));
}

// Modules with a fact known meet some without it: a warning, which the request does not accept.
#[test]
fn a_mix_that_cannot_be_judged_is_not_planned() {
    plan(include_str!("cases/unknown_fact_in_a_mix.json"));
}

// Which part the kept module is of decides whether one handling or two make all modules of one part.
#[test]
fn parts_come_before_handlings() {
    plan(include_str!("cases/parts_and_credit.json"));
}

// Pulled modules are the spares, also when they lie on the shelf, whatever condition is asked of what is bought.
#[test]
fn spares_that_were_pulled_are_there_when_planning_again() {
    let (machine, case) = read(include_str!("cases/pulled_modules_as_spares.json"));
    let request: PlanRequest = serde_json::from_value(case["request"].clone()).unwrap();
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let first = planner.plan(&request).unwrap();
    let again = planner.plan(&request.after(first.optimal().unwrap())).unwrap();
    let again = again.optimal().unwrap();
    assert_eq!((again.handlings, again.lines.len(), again.spares[0].on_shelf), (0, 0, 2));
}

// A domain was without memory, and its processor is left alone.
#[test]
fn a_domain_that_was_empty_before_refuses_nothing() {
    plan(include_str!("cases/a_domain_that_was_empty_before.json"));
}

// A processor was without memory: a module that must leave its slot is something that is touched.
#[test]
fn a_module_that_must_go_is_touched() {
    plan(include_str!("cases/a_module_that_must_go_is_touched.json"));
}
