//! Purchases at real sizes: the planner against a general solver on an integer program of the same question. The
//! costs must be equal; the rest of the order of plans is not modelled, nor why nothing meets a request.
//!
//! `cargo bench --bench integer_program -- 20 e each` runs 20 instances of shape "e" and says what became of each.
// a bench may stop at what it did not expect, divides times, and speaks
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
use program::{Answer, Form, Program, agree};
use slotwright::{Outcome, Planner, RuleBook};

/// How long the solver may take for one instance.
const LIMIT: Duration = Duration::from_secs(5);
/// The plain form is seldom solved within that, so it has less.
const PLAIN_LIMIT: Duration = Duration::from_millis(500);

/// What became of an instance.
struct Run {
    outcome: Outcome,
    ours: Duration,
    tight: (Answer, Duration),
    plain: (Answer, Duration),
}

/// The quickest of three, unless it takes long: what disturbs a run only makes it longer.
fn quickest<T>(run: impl Fn() -> (T, Duration)) -> (T, Duration) {
    let (answer, mut took) = run();
    for _ in 0..if took < Duration::from_millis(200) { 2 } else { 0 } {
        took = took.min(run().1);
    }
    (answer, took)
}

fn run(shape: Shape, number: u64) -> Run {
    let (machine, request) = instance(shape, number);
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let (outcome, ours) = quickest(|| {
        let start = Instant::now();
        let outcome = planner.plan(&request).unwrap();
        (outcome, start.elapsed())
    });
    // building the program is not counted
    let solve = |form, limit| {
        let program = Program::new(&planner, &request, form);
        quickest(|| program.solve(limit))
    };
    Run { outcome, ours, tight: solve(Form::Tight, LIMIT), plain: solve(Form::Plain, PLAIN_LIMIT) }
}

impl Run {
    /// Whether both sides came to the same end; not where one did not come to an end.
    ///
    /// # Panics
    /// Where they contradict each other.
    fn agrees(&self, what: &str) -> bool {
        let all = [&self.plain, &self.tight].into_iter().map(|(answer, _)| agree(&self.outcome, answer));
        let all: Result<Vec<bool>, String> = all.collect();
        all.unwrap_or_else(|problem| panic!("{what}: {problem}")).last() == Some(&true)
    }

    fn is_optimal(&self) -> bool {
        self.outcome.optimal().is_some()
    }
}

/// The middle and the largest.
fn middle<T: PartialOrd + Copy>(values: impl Iterator<Item = T>) -> Option<(T, T)> {
    let mut values: Vec<T> = values.collect();
    values.sort_by(|a, b| a.partial_cmp(b).unwrap());
    values.get(values.len() / 2).copied().zip(values.last().copied())
}

fn times(values: Option<(Duration, Duration)>) -> String {
    values.map_or_else(|| "-".to_owned(), |(median, longest)| format!("{median:.1?} ({longest:.1?})"))
}

fn ratio(solver: Duration, ours: Duration) -> f64 {
    solver.as_secs_f64() / ours.as_secs_f64()
}

fn line(what: &str, runs: &[Run]) -> String {
    let is_stopped = |answer: &Answer| !matches!(answer, Answer::Cost(_) | Answer::Infeasible);
    let we_stopped = runs.iter().filter(|run| matches!(run.outcome, Outcome::Stopped { .. })).count();
    let it_stopped = runs.iter().filter(|run| is_stopped(&run.tight.0)).count();
    let agreed = |is_optimal: bool| runs.iter().filter(move |run| run.agrees(what) && run.is_optimal() == is_optimal);
    let ours = times(middle(agreed(true).map(|run| run.ours)));
    let solver = times(middle(agreed(true).map(|run| run.tight.1)));
    let ratios = || agreed(true).map(|run| ratio(run.tight.1, run.ours));
    let (lowest, median) = (ratios().fold(f64::INFINITY, f64::min), middle(ratios()).map_or(f64::NAN, |(m, _)| m));
    let none = times(middle(agreed(false).map(|run| run.ours)));
    // what was not solved in time counts as if it was just then: the ratio is at least that
    let plain: Vec<&Run> = runs.iter().filter(|run| run.is_optimal()).collect();
    let solved = plain.iter().filter(|run| !is_stopped(&run.plain.0)).count();
    let plain_ratios = || plain.iter().map(|run| ratio(run.plain.1, run.ours));
    let at_least = middle(plain_ratios()).map_or(f64::NAN, |(m, _)| m);
    let plain_lowest = plain_ratios().fold(f64::INFINITY, f64::min);
    let fifty = plain_ratios().filter(|ratio| *ratio >= 50.0).count();
    format!(
        "| {what} | {} | {} + {} | {we_stopped} | {it_stopped} | {ours} | {solver} | {lowest:.2} | {median:.2} | \
         {solved} of {} | {plain_lowest:.1} | {at_least:.0} | {fifty} | {none} |",
        runs.len(),
        agreed(true).count(),
        agreed(false).count(),
        plain.len(),
    )
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let says = |word: &str| arguments.iter().any(|argument| argument == word);
    // as a test, it only shows that it works
    let usual = if says("--bench") { 100 } else { 1 };
    let instances: u64 = arguments.iter().find_map(|argument| argument.parse().ok()).unwrap_or(usual);
    let all = !SHAPES.iter().any(|(letter, ..)| says(letter));
    println!(
        "| shape | instances | agree: plan + none | we stopped | solver stopped | ours, median (longest) | solver's | \
         lowest ratio | median ratio | plain form solved | its lowest ratio | its median ratio at least | at least 50 | ours where there is no plan |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|---|---|---|---|");
    for (letter, what, shape) in SHAPES.into_iter().filter(|(letter, ..)| all || says(letter)) {
        let run = |number| {
            let run = run(shape, number);
            let agrees = run.agrees(&format!("{letter} {number}"));
            if says("each") || !agrees {
                let Run { outcome, ours, tight, plain } = &run;
                let outcome = match outcome {
                    Outcome::Optimal(plan) => plan.cost.total.to_string(),
                    Outcome::Infeasible(_) => "none".to_owned(),
                    Outcome::Stopped { cost_at_least, .. } => format!("stopped at {cost_at_least:?}"),
                };
                println!("{letter} {number}: {outcome} in {ours:.1?}; solver {tight:.1?}, plain form {plain:.1?}");
            }
            run
        };
        let runs: Vec<Run> = (0..instances).map(run).collect();
        println!("{}", line(&format!("{letter}: {what}"), &runs));
    }
}
