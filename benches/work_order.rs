//! Work orders, and what is left without a module.
// a bench may stop at what it did not expect
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::cast_possible_truncation)]

use std::hint::black_box;

use criterion::Criterion;
use slotwright::population::Population;
use slotwright::work_order::OrderRequest;
use slotwright::{Machine, MemoryModule, Planner, RuleBook};

// boards and modules; its offers are for another bench
#[allow(dead_code, unreachable_pub)]
#[path = "support/mod.rs"]
mod support;

/// The same module in so many slots.
fn in_slots(machine: &Machine, module: &MemoryModule, count: usize) -> Population {
    let slots = machine.platform().fill_order().iter().take(count);
    let label = |slot| machine.platform().slot(slot).label().clone();
    slots.fold(Population::new(), |population, &slot| population.with(label(slot), module.clone()))
}

fn orders(criterion: &mut Criterion) {
    let machine = support::machine(2, 8, 2);
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let (old, new) = (support::module("16GB 1Rx4 PC4-2400T-RC1-11"), support::module("32GB 2Rx4 PC4-2400T-RB2-11"));
    let (before, after) = (in_slots(&machine, &old, 32), in_slots(&machine, &new, 32));
    let request = OrderRequest::new(before.clone(), after.clone());
    let order = planner.work_order(&request).unwrap();
    assert_eq!((order.handlings, order.ways_back.len()), (64, 5));
    criterion.bench_function("order of 32 slots, all exchanged", |bench| {
        bench.iter(|| planner.work_order(black_box(&request)).unwrap());
    });
    criterion.bench_function("carrying it out", |bench| bench.iter(|| order.simulate(black_box(&before)).unwrap()));
    let trial = request.trial_start(true);
    criterion.bench_function("the same with a trial start", |bench| {
        bench.iter(|| planner.work_order(black_box(&trial)).unwrap());
    });
    let some = OrderRequest::new(in_slots(&machine, &new, 16), after.clone());
    assert_eq!(planner.work_order(&some).unwrap().handlings, 16);
    criterion.bench_function("order of 32 slots, half of them filled", |bench| {
        bench.iter(|| planner.work_order(black_box(&some)).unwrap());
    });
    let slots = [support::name("1A1")];
    criterion.bench_function("32 modules without one", |bench| {
        bench.iter(|| planner.without(black_box(&after), &slots).unwrap());
    });
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    orders(&mut criterion);
    criterion.final_summary();
}
