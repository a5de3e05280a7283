//! Documents with numbers at the edge of their range: whatever can be read is answered.

use std::fmt::{Debug, Display};
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicU64, Ordering};

use proptest::prelude::*;
use serde::Serialize;
use serde_json::{Value, json};
use slotwright::assess::{Planner, Progress};
use slotwright::fill::ArrangeRequest;
use slotwright::machine::Machine;
use slotwright::population::Occupant;
use slotwright::purchase::{Axis, PlanRequest, Present};
use slotwright::rule::RuleBook;
use slotwright::unit::Capacity;
use slotwright::{reference, worked};

use crate::boards::{Source, bytes, config, name};
use crate::buying_oracle::worlds;
use crate::one_truth::case::Case;

/// How many nodes a search may visit.
const NODES: u64 = 2_000;
/// How often a search may say how far it is before it is told to stop: those without a budget of the caller's, too.
const ASKED: u64 = 40;

/// What stands in the place of a number.
fn extremes() -> Vec<Value> {
    let whole = [0, 1, 2, 1 << 31, (1 << 32) - 1, 1 << 63, u64::MAX];
    let mut values: Vec<Value> = whole.into_iter().map(Value::from).collect();
    values.extend([json!(-1), json!(i64::MIN), json!(0.5), json!(1e300)]);
    values
}

/// The numbers of a document, by path.
fn numbers(value: &Value) -> Vec<String> {
    let inner = |part: String, value: &Value| {
        let part = part.replace('~', "~0").replace('/', "~1");
        numbers(value).into_iter().map(move |path| format!("/{part}{path}"))
    };
    match value {
        Value::Number(_) => vec![String::new()],
        Value::Array(items) => items.iter().enumerate().flat_map(|(i, item)| inner(i.to_string(), item)).collect(),
        Value::Object(fields) => fields.iter().flat_map(|(key, field)| inner(key.clone(), field)).collect(),
        _ => Vec::new(),
    }
}

/// The words of a path that name fields: neither places in lists nor what the document itself names.
fn fields(path: &str) -> Vec<&str> {
    let is_field = |part: &&str| part.len() > 2 && part.bytes().all(|byte| byte.is_ascii_lowercase() || byte == b'_');
    path.split('/').filter(is_field).collect()
}

/// One number of each field.
fn one_of_each(document: &Value) -> Vec<String> {
    let mut seen: Vec<Vec<String>> = Vec::new();
    let mut paths = numbers(document);
    paths.retain(|path| {
        let fields: Vec<_> = fields(path).into_iter().map(str::to_owned).collect();
        let is_new = !seen.contains(&fields);
        seen.push(fields);
        is_new
    });
    paths
}

/// A machine and a request of it.
fn document(machine: &impl Serialize, request: &impl Serialize) -> Value {
    json!({ "machine": machine, "request": request })
}

/// The documents of the examples.
fn demos() -> Vec<Value> {
    let read = |text: &str| -> Value { serde_json::from_str(text).unwrap() };
    let both = |machine: slotwright::machine::MachineDescription, processor: &str| {
        machine.processor_named("1", processor).processor_named("2", processor).build().unwrap()
    };
    let small = both(Machine::builder(reference::ddr4_2s_4ch_3spc()), "later");
    let large = both(Machine::builder(reference::ddr4_2s_8ch_2spc()), "plain");
    let upgrade = read(include_str!("../../examples/data/upgrade.json"));
    let sold = read(include_str!("../../examples/data/plan_json.json"));
    let mut asked = read(include_str!("../../examples/data/request.json"));
    asked["offers"] = upgrade["request"]["offers"].clone();
    asked["present"]["population"] = upgrade["request"]["present"]["population"].clone();
    vec![document(&small, &upgrade["request"]), document(&large, &sold["request"]), document(&small, &asked)]
}

/// What is left of an answer once it is written in every way: nothing.
fn written(answer: &(impl Debug + Serialize)) {
    assert!(!format!("{answer:?}").is_empty());
    serde_json::to_string(answer).unwrap();
}

fn said(answer: &(impl Display + Debug + Serialize)) {
    let _text = answer.to_string();
    written(answer);
}

/// An answer, or an error that says something.
fn typed<T, E: Display>(answer: Result<T, E>) -> Option<T> {
    answer.map_err(|error| assert!(!error.to_string().is_empty())).ok()
}

/// Asks every verb.
fn ask(machine: &Machine, request: &PlanRequest) {
    let rules = RuleBook::standard();
    let asked = AtomicU64::new(0);
    let watch = |progress: Progress| match progress.nodes >= NODES || asked.fetch_add(1, Ordering::Relaxed) >= ASKED {
        true => ControlFlow::Break(()),
        false => ControlFlow::Continue(()),
    };
    let unwatched = Planner::new(machine, &rules);
    let planner = unwatched.watched(&watch);
    let again = || asked.store(0, Ordering::Relaxed);
    let request = &{
        let mut changed = request.clone();
        changed.nodes = request.nodes.min(NODES);
        changed
    };

    if let Some(outcome) = typed(unwatched.plan(request)) {
        said(&outcome);
        if let Some(plan) = outcome.optimal() {
            written(&request.after(plan));
        }
    }
    typed(unwatched.plans(request, 3)).iter().for_each(written);
    let axes = [Axis::Cost, Axis::UsableCapacity, Axis::Power];
    typed(unwatched.frontier(request, axes)).iter().for_each(written);
    if let Some(offer) = request.offers.first() {
        typed(unwatched.break_even(request, offer.id.as_str())).iter().for_each(said);
    }
    typed(unwatched.savings(request)).iter().for_each(written);
    let mut later = {
        let mut changed = request.clone();
        changed.present = Present::default();
        changed
    };
    later.shelf.iter_mut().for_each(|item| item.id = name(&format!("later {}", item.id)));
    typed(unwatched.stages(request, &later)).iter().for_each(written);
    let wish = request.usable_at_least_mib.unwrap_or(Capacity::from_gib(64));
    typed(unwatched.totals_near(request, wish)).iter().for_each(written);

    let present = &request.present.population;
    for (slot, _) in present.iter().take(1) {
        typed(unwatched.stand_ins(request, slot.as_str())).iter().for_each(written);
    }
    again();
    typed(planner.meet_mode(present)).iter().for_each(said);
    again();
    typed(planner.even_out(present)).iter().for_each(written);
    typed(planner.assess(present)).iter().for_each(written);
    let mut pieces = ArrangeRequest::new().nodes(NODES).around(present.clone());
    for offer in &request.offers {
        pieces = pieces.piece(offer.module.clone(), offer.stock as usize);
    }
    typed(unwatched.arrange_with(&pieces)).iter().for_each(written);
    let present = present.iter().filter_map(|(_, occupant)| match occupant {
        Occupant::Module(fitted) => Some(&fitted.module),
        _ => None,
    });
    let modules: Vec<_> = request.offers.iter().map(|offer| &offer.module).chain(present.take(1)).collect();
    for module in modules {
        again();
        said(&planner.accepts(module));
    }
    again();
    written(&planner.ceiling());
    assert!(!format!("{:?}", worked::check(machine.platform())).is_empty());
    [0, 1, 7].into_iter().filter_map(|count| planner.fill_order(count)).for_each(|order| written(&order));
}

/// Asks of a document what can be asked, and says whether it could be read.
fn answered(document: &Value) -> bool {
    let machine = serde_json::from_value::<Machine>(document["machine"].clone());
    let request = serde_json::from_value::<PlanRequest>(document["request"].clone());
    let (Ok(machine), Ok(request)) = (machine, request) else { return false };
    ask(&machine, &request);
    true
}

/// The document with another number in one place.
fn with(document: &Value, path: &str, number: &Value) -> Value {
    let mut document = document.clone();
    *document.pointer_mut(path).unwrap() = number.clone();
    document
}

/// A random document: of any machine, or with much that makes purchases.
fn drawn(source: &mut Source<'_>, bytes: &[u8]) -> Value {
    if source.once_in(2) {
        let case = Case::draw(bytes);
        document(&case.machine, &case.request)
    } else {
        let machine = worlds::machine(source, 6);
        let request = worlds::request(source, &machine, 3);
        document(&machine, &request)
    }
}

proptest! {
    #![proptest_config(config(40))]

    #[test]
    fn law_documents_with_extreme_numbers_are_answered(bytes in bytes(300)) {
        let mut source = Source::new(&bytes);
        let document = match source.below(16) {
            15 => source.pick(&demos()),
            _ => drawn(&mut source, &bytes),
        };
        let (paths, values) = (one_of_each(&document), extremes());
        // most numbers are refused where they stand: of a few one is asked of
        for _ in 0..6 {
            let mut changed = document.clone();
            for _ in 0..source.below(2) + 1 {
                changed = with(&changed, &source.pick(&paths), &source.pick(&values));
            }
            if answered(&changed) {
                break;
            }
        }
    }
}

/// Each number of the examples in turn where more cases are asked for; some of the first one otherwise.
#[test]
fn the_examples_with_extreme_numbers_are_answered() {
    let all = std::env::var_os("PROPTEST_CASES").is_some();
    let (step, most) = if all { (1, usize::MAX) } else { (41, 1) };
    let (mut read, values) = (0, extremes());
    for demo in demos().into_iter().take(most) {
        let paths = one_of_each(&demo);
        let changes = paths.iter().flat_map(|path| values.iter().map(move |value| (path, value)));
        for (path, value) in changes.step_by(step) {
            read += usize::from(answered(&with(&demo, path, value)));
        }
    }
    assert!(read > 0);
}
