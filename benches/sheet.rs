//! Sheets and the picture of the slots.
// a bench may stop at what it did not expect
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::cast_possible_truncation)]

use std::hint::black_box;

use criterion::Criterion;
use slotwright::population::Population;
use slotwright::sheet::{Job, map_picture};
use slotwright::work_order::OrderRequest;
use slotwright::{Machine, MemoryModule, PlanRequest, Planner, RuleBook};

// boards and modules; its offers are for another bench
#[allow(dead_code, unreachable_pub)]
#[path = "support/mod.rs"]
mod support;

/// The same module in every slot.
fn full(machine: &Machine, module: &MemoryModule) -> Population {
    let labels = machine.platform().slots().iter().map(|slot| slot.label().clone());
    labels.fold(Population::new(), |population, label| population.with(label, module.clone()))
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    let machine = support::machine(2, 8, 2);
    let (old, new) = (support::module("16GB 1Rx4 PC4-2400T-RC1-11"), support::module("32GB 2Rx4 PC4-2400T-RB2-11"));
    let (before, after) = (full(&machine, &old), full(&machine, &new));
    criterion.bench_function("picture of 32 slots, all exchanged", |bench| {
        bench.iter(|| map_picture("a machine", "serial 77", &machine, black_box(&before), &after));
    });
    let rules = RuleBook::standard();
    let order = Planner::new(&machine, &rules).work_order(&OrderRequest::new(before.clone(), after)).unwrap();
    let request = PlanRequest::new().present(before);
    let job = Job::new("a machine", &machine, &request);
    criterion
        .bench_function("work order of 32 slots as a sheet", |bench| bench.iter(|| job.work_order(black_box(&order))));
    let sheet = job.work_order(&order);
    for (name, write) in [
        ("text", (|sheet| sheet.to_text(100)) as fn(&slotwright::sheet::Sheet) -> String),
        ("Markdown", |sheet| sheet.to_markdown()),
        ("HTML", |sheet| sheet.to_html()),
    ] {
        criterion.bench_function(&format!("the sheet as {name}"), |bench| bench.iter(|| write(black_box(&sheet))));
    }
    criterion.final_summary();
}
