//! Plans at real sizes against an integer program of the same question, solved by a general solver. The bench
//! of the same name runs more of them, and measures both.
// the program counts in floats
#![allow(clippy::float_arithmetic)]

use std::time::Duration;

use slotwright::assess::Planner;
use slotwright::finding::Severity;
use slotwright::purchase::Outcome;

#[path = "../../benches/support/instances.rs"]
mod instances;
#[path = "../../benches/support/patterns.rs"]
mod patterns;
#[path = "../../benches/support/program.rs"]
mod program;
// not all of it is for these tests
#[allow(dead_code)]
#[path = "../../benches/support/mod.rs"]
mod support;

use instances::{SHAPES, instance, rules};
use program::{Form, Program, agree};

/// Few, so that what takes long costs no time here.
const NODES: u64 = 20_000;
const NODES_LOOSE: u64 = 1_000;

/// Holds some instances of each of these shapes against the program.
fn hold(letters: &str, (refuse_from, nodes): (Severity, u64), instances: u64) {
    let (mut plans, mut none, mut all) = (0, 0, 0);
    for (letter, _, shape) in SHAPES.into_iter().filter(|(letter, ..)| letters.contains(letter)) {
        for number in 0..instances {
            let (machine, request) = instance(shape, number);
            let (rules, request) = (rules(shape), request.refuse_from(refuse_from).nodes(nodes));
            let planner = Planner::new(&machine, &rules);
            let outcome = planner.plan(&request).unwrap();
            let (answer, _) = Program::new(&planner, &request, Form::Tight).solve(Duration::from_millis(500));
            let agrees = agree(&outcome, &answer).unwrap_or_else(|problem| panic!("{letter} {number}: {problem}"));
            all += 1;
            match outcome {
                Outcome::Optimal(_) if agrees => plans += 1,
                Outcome::Infeasible(_) if agrees => none += 1,
                _ => {}
            }
        }
    }
    assert!(
        plans * 3 >= all && (plans + none) * 2 >= all,
        "{letters}: of {all} only {plans} plans and {none} without one were compared"
    );
}

#[test]
fn plans_cost_what_an_integer_program_costs() {
    for letter in ["a", "b", "c", "d", "e", "f"] {
        hold(letter, (Severity::Warning, NODES), 8);
    }
}

#[test]
fn plans_with_warnings_cost_what_an_integer_program_costs() {
    hold("abcdef", (Severity::Error, NODES_LOOSE), 3);
}

#[test]
fn plans_on_odd_boards_cost_what_an_integer_program_costs() {
    hold("ghi", (Severity::Warning, NODES_LOOSE), 3);
    hold("ghi", (Severity::Error, NODES_LOOSE), 3);
}

#[test]
fn plans_on_odd_markets_cost_what_an_integer_program_costs() {
    hold("jklm", (Severity::Warning, NODES), 3);
    hold("jklm", (Severity::Error, NODES_LOOSE), 3);
}
