//! Purchases at real sizes: the planner against a general solver on an integer program of the same question. The
//! costs must be equal; the rest of the order of plans is not modelled, nor why nothing meets a request.
//!
//! `cargo bench --bench integer_program -- 20 e each` runs 20 instances of shape "e" and says what became of each;
//! `refused` or `allowed` is one use of warnings alone, `nodes N` lets the planner visit fewer nodes than it would.
//!
//! `-- export FOLDER`, an absolute path, solves nothing with the solver at hand: it writes both forms of each program
//! as MPS, and `ours.csv` with what the planner came to. `solvers.py` beside this file holds such a folder against
//! solvers that are no part of this crate.
// a bench may stop at what it did not expect, divides times, and speaks
#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing, clippy::cast_possible_truncation)]
#![allow(clippy::float_arithmetic, clippy::cast_possible_wrap, clippy::print_stdout)]

use std::fs;
use std::time::{Duration, Instant};

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

use instances::{SHAPES, Shape, instance, rules};
use program::{Answer, Form, Program, agree};
use slotwright::{Machine, Outcome, PlanRequest, Planner, RuleBook, Severity};

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

/// Which findings refuse a plan.
const WARNINGS: [(&str, Severity); 2] = [("refused", Severity::Warning), ("allowed", Severity::Error)];

fn plan(planner: &Planner<'_>, request: &PlanRequest) -> (Outcome, Duration) {
    quickest(|| {
        let start = Instant::now();
        let outcome = planner.plan(request).unwrap();
        (outcome, start.elapsed())
    })
}

/// The instance, and how the planner is asked.
#[derive(Clone, Copy)]
struct Asked {
    shape: Shape,
    refuse_from: Severity,
    nodes: u64,
    number: u64,
}

impl Asked {
    fn instance(self) -> (Machine, RuleBook, PlanRequest) {
        let (machine, request) = instance(self.shape, self.number);
        (machine, rules(self.shape), request.refuse_from(self.refuse_from).nodes(self.nodes))
    }
}

fn run(asked: Asked) -> Run {
    let (machine, rules, request) = asked.instance();
    let planner = Planner::new(&machine, &rules);
    let (outcome, ours) = plan(&planner, &request);
    // building the program is not counted
    let solve = |form, limit| {
        let program = Program::new(&planner, &request, form);
        quickest(|| program.solve(limit))
    };
    Run { outcome, ours, tight: solve(Form::Tight, LIMIT), plain: solve(Form::Plain, PLAIN_LIMIT) }
}

/// What the planner comes to, in a word.
fn end(outcome: &Outcome) -> String {
    match outcome {
        Outcome::Optimal(plan) => plan.cost.total.amount_minor().to_string(),
        Outcome::Infeasible(_) => "none".to_owned(),
        Outcome::Stopped { .. } => "stopped".to_owned(),
    }
}

/// Writes both forms of an instance, and returns the line that says what the planner came to.
fn export(folder: &str, name: &str, asked: Asked) -> String {
    let (machine, rules, request) = asked.instance();
    let planner = Planner::new(&machine, &rules);
    for (word, form) in [("compact", Form::Plain), ("tight", Form::Tight)] {
        let text = Program::new(&planner, &request, form).text(name);
        fs::write(format!("{folder}/{name}-{word}.mps"), text).unwrap();
    }
    let (outcome, took) = plan(&planner, &request);
    // of what was so before, and is left alone, the program knows nothing
    let was_so = outcome.optimal().is_some_and(|plan| !plan.was_so_before.is_empty());
    let end = if was_so { "was so before".to_owned() } else { end(&outcome) };
    format!("{name},{:.6},{end}\n", took.as_secs_f64())
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
    let usual = if says("--bench") { 20 } else { 1 };
    let after = |word: &str| arguments.iter().skip_while(|argument| *argument != word).nth(1);
    let before_nodes = arguments.iter().take_while(|argument| *argument != "nodes");
    let instances: u64 = before_nodes.filter_map(|argument| argument.parse().ok()).next().unwrap_or(usual);
    let nodes: u64 = after("nodes").and_then(|nodes| nodes.parse().ok()).unwrap_or(PlanRequest::NODES);
    let folder = after("export");
    let all = !SHAPES.iter().any(|(letter, ..)| says(letter));
    let both = !WARNINGS.iter().any(|(word, _)| says(word));
    let asked = SHAPES.into_iter().filter(|(letter, ..)| all || says(letter));
    let asked = asked.flat_map(|shape| WARNINGS.map(|warnings| (shape, warnings)));
    let asked = asked.filter(|(_, (word, _))| both || says(word));
    if let Some(folder) = folder {
        fs::create_dir_all(folder).unwrap();
        let mut ours = "name,seconds,end\n".to_owned();
        for ((letter, _, shape), (word, refuse_from)) in asked {
            for number in 0..instances {
                let name = format!("{letter}-{word}-{number:03}");
                let line = export(folder, &name, Asked { shape, refuse_from, nodes, number });
                print!("{line}");
                ours.push_str(&line);
            }
        }
        fs::write(format!("{folder}/ours.csv"), ours).unwrap();
        return;
    }
    println!(
        "| shape, warnings | instances | agree: plan + none | we stopped | solver stopped | ours, median (longest) | solver's | \
         lowest ratio | median ratio | plain form solved | its lowest ratio | its median ratio at least | at least 50 | ours where there is no plan |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|---|---|---|---|");
    for ((letter, what, shape), (word, refuse_from)) in asked {
        let run = |number| {
            let run = run(Asked { shape, refuse_from, nodes, number });
            let agrees = run.agrees(&format!("{letter} {number}, {word}"));
            if says("each") || !agrees {
                let Run { outcome, ours, tight, plain } = &run;
                println!(
                    "{letter} {number}, {word}: {} in {ours:.1?}; solver {tight:.1?}, plain form {plain:.1?}",
                    end(outcome)
                );
            }
            run
        };
        let runs: Vec<Run> = (0..instances).map(run).collect();
        println!("{}", line(&format!("{letter}: {what}, {word}"), &runs));
    }
}
