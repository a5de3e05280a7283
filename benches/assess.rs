//! Figures of a population, and the whole judgement of it.
// a bench may stop at what it did not expect
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::cast_possible_truncation)]

use std::hint::black_box;

use criterion::Criterion;
use slotwright::figure::{Figures, Interleave, MemoryBandwidth};
use slotwright::population::{Layout, Population};
use slotwright::{Machine, MemoryModule, Planner, RuleBook};

// boards and modules; its offers are for another bench
#[allow(dead_code, unreachable_pub)]
#[path = "support/mod.rs"]
mod support;

/// The same module in every slot.
fn full(machine: &Machine, module: &MemoryModule) -> Population {
    let slots = machine.platform().slots().iter();
    slots.fold(Population::new(), |population, slot| population.with(slot.label().clone(), module.clone()))
}

/// A population of the machine that carries no finding, and one that carries several.
fn populations(machine: &Machine) -> [(&'static str, Population); 2] {
    let clean = full(machine, &support::module("32GB 2Rx4 PC4-2400T-RB2-11"));
    let other = support::module("16GB 1Rx4 PC4-2133P-RC2-10");
    let unlike = clean.clone().with(support::name("1A3"), other.clone()).with(support::name("2C3"), other);
    [("clean", clean), ("unlike", unlike)]
}

fn assess(criterion: &mut Criterion) {
    let machine = support::machine(2, 4, 3);
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    for (name, population) in populations(&machine) {
        let layout = Layout::new(&machine, &population).unwrap();
        assert_eq!(planner.assess_layout(&layout).findings.is_empty(), name == "clean");
        criterion.bench_function(&format!("figures of 24 modules, {name}"), |bencher| {
            bencher.iter(|| Figures::of(black_box(&layout)));
        });
        criterion.bench_function(&format!("assess 24 modules, {name}"), |bencher| {
            bencher.iter(|| planner.assess_layout(black_box(&layout)));
        });
    }
}

/// The figures that follow from how channels are filled: 32 modules on two processors of eight channels.
fn interleave(criterion: &mut Criterion) {
    let machine = support::machine(2, 8, 2);
    let module = support::module("32GB 2Rx4 PC4-2400T-RB2-11");
    let even = full(&machine, &module);
    let uneven = even.clone().with(support::name("1A2"), support::module("16GB 1Rx4 PC4-2400T-RC2-11"));
    for (name, population) in [("even", even), ("uneven", uneven)] {
        let layout = Layout::new(&machine, &population).unwrap();
        criterion.bench_function(&format!("figures of 32 modules, {name}"), |bencher| {
            bencher.iter(|| Figures::of(black_box(&layout)));
        });
        let rate = Figures::of(&layout).running_rate;
        criterion.bench_function(&format!("interleave and bandwidth of 32 modules, {name}"), |bencher| {
            bencher.iter(|| {
                let layout = black_box(&layout);
                (Interleave::of(layout), MemoryBandwidth::of(layout, &rate))
            });
        });
    }
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    assess(&mut criterion);
    interleave(&mut criterion);
    criterion.final_summary();
}
