//! Purchases at real sizes: the planner against a general solver on an integer program of the same question.
//!
//! `cargo bench --bench integer_program -- 20 e` runs 20 instances of shape "e"; without arguments, 100 of each shape.
// a bench may stop at what it did not expect, counts in floats, and speaks
#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing, clippy::cast_possible_truncation)]
#![allow(clippy::float_arithmetic, clippy::cast_possible_wrap, clippy::print_stdout)]

#[path = "support/instances.rs"]
mod instances;
#[path = "support/patterns.rs"]
mod patterns;
#[path = "support/program.rs"]
mod program;
// not all of it is for this bench
#[allow(dead_code)]
#[path = "support/mod.rs"]
mod support;

use std::time::{Duration, Instant};

use instances::{SHAPES, Shape, instance};
use program::{Answer, Program};
use slotwright::{Outcome, Planner, RuleBook};

/// How long the solver may take for one instance.
const LIMIT: Duration = Duration::from_secs(20);

/// What became of an instance.
enum Result {
    Agree {
        ours: Duration,
        solver: Duration,
        is_feasible: bool,
    },
    /// The planner used up its nodes.
    OursStopped,
    SolverStopped,
}

fn median<T: PartialOrd + Copy>(values: impl Iterator<Item = T>) -> Option<T> {
    let mut values: Vec<T> = values.collect();
    values.sort_by(|a, b| a.partial_cmp(b).unwrap());
    values.get(values.len() / 2).copied()
}

/// Holds one instance against the program.
fn compare(shape: Shape, letter: &str, number: u64) -> Result {
    let (machine, request) = instance(shape, number);
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let start = Instant::now();
    let outcome = planner.plan(&request).unwrap();
    let mut ours = start.elapsed();
    // the best of three: what disturbs a run only makes it longer
    for _ in 0..if ours < Duration::from_secs(1) { 2 } else { 0 } {
        let start = Instant::now();
        let again = planner.plan(&request).unwrap();
        ours = ours.min(start.elapsed());
        assert!(again == outcome);
    }
    let (answer, solver) = Program::new(&planner, &request).solve(LIMIT);
    let say = |what: &str| println!("{letter} {number}: {what}; ours {ours:?}, solver {solver:?}: {answer:?}");
    let is_feasible = match (&outcome, &answer) {
        (Outcome::Optimal(plan), Answer::Cost(cost)) => {
            let found = plan.cost.total.amount_minor();
            assert_eq!(found, *cost, "{letter} {number}: the planner's cost, then the program's");
            true
        }
        (Outcome::Infeasible(_), Answer::Infeasible) => false,
        (Outcome::Stopped { best, cost_at_least, .. }, _) => {
            if let Answer::Cost(cost) = answer {
                assert!(cost_at_least.is_none_or(|bound| bound.amount_minor() <= cost), "{letter} {number}");
                assert!(best.as_ref().is_none_or(|plan| plan.cost.total.amount_minor() >= cost), "{letter} {number}");
            }
            let best = best.as_ref().map(|plan| plan.cost.total.to_string());
            say(&format!("ours stopped, best {best:?}, at least {cost_at_least:?}"));
            return Result::OursStopped;
        }
        (_, Answer::Stopped { .. } | Answer::Failed(_)) => {
            say("solver stopped");
            return Result::SolverStopped;
        }
        _ => panic!("{letter} {number}: {outcome}\nbut the program says {answer:?}"),
    };
    if std::env::var_os("EACH").is_some() {
        say("agree");
    }
    Result::Agree { ours, solver, is_feasible }
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    // as a test, it only shows that it works
    let is_bench = arguments.iter().any(|argument| argument == "--bench");
    let number = arguments.iter().find_map(|argument| argument.parse().ok());
    let instances: u64 = number.unwrap_or(if is_bench { 100 } else { 1 });
    let is_chosen = |letter: &str| {
        let mut letters = arguments.iter().filter(|argument| SHAPES.iter().any(|(known, ..)| known == argument));
        letters.next().is_none_or(|chosen| chosen == letter)
    };
    let mut lines = Vec::new();
    for (letter, what, shape) in SHAPES.into_iter().filter(|(letter, ..)| is_chosen(letter)) {
        let results: Vec<Result> = (0..instances).map(|number| compare(shape, letter, number)).collect();
        let stopped = [
            results.iter().filter(|result| matches!(result, Result::OursStopped)).count(),
            results.iter().filter(|result| matches!(result, Result::SolverStopped)).count(),
        ];
        lines.push(format!("{letter}: {what}; we stopped {}, solver stopped {}", stopped[0], stopped[1]));
        for wanted in [true, false] {
            let times: Vec<(Duration, Duration)> = results
                .iter()
                .filter_map(|result| match result {
                    Result::Agree { ours, solver, is_feasible } if *is_feasible == wanted => Some((*ours, *solver)),
                    _ => None,
                })
                .collect();
            let ratios = || times.iter().map(|(ours, solver)| solver.as_secs_f64() / ours.as_secs_f64());
            let (Some(ours), Some(solver), Some(ratio)) =
                (median(times.iter().map(|t| t.0)), median(times.iter().map(|t| t.1)), median(ratios()))
            else {
                continue;
            };
            let lowest = ratios().fold(f64::INFINITY, f64::min);
            let most = [times.iter().map(|t| t.0).max().unwrap(), times.iter().map(|t| t.1).max().unwrap()];
            lines.push(format!(
                "  {} {} agree: median {ours:.1?} and {solver:.1?}, most {:.1?} and {:.1?}; ratio {lowest:.2} to median {ratio:.2}",
                times.len(), if wanted {"optimal"} else {"infeasible"}, most[0], most[1]
            ));
        }
    }
    for line in lines {
        println!("{line}");
    }
}
