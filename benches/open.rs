//! Laying reports on a board, and judging what they leave open.
// a bench may stop at what it did not expect
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use std::hint::black_box;

use criterion::Criterion;
use slotwright::population::{Medium, Observed, PlaceState, Report, SeenModule, SeenPlace};
use slotwright::{Label, Machine, Name, Planner, Platform, RuleBook, reference};

/// A report of every slot of a board, all filled with one part of which neither width, stack nor density is told; each place is
/// named by a text.
fn report(platform: &Platform, label: &str, text: impl Fn(usize) -> String) -> Report {
    let module = label.parse::<Label>().unwrap().to_module();
    let mut seen = SeenModule::of(&module).part_number(Name::lossy("GW-16-2R4"));
    seen.rank_number = seen.package_ranks.take();
    (seen.width, seen.stack, seen.die_density_mbit) = (None, None, None);
    let place = |at: usize| {
        SeenPlace::new(Name::lossy(&format!("0x{at:04x}")), PlaceState::InUse)
            .locator(Name::lossy(&text(at)))
            .module(seen.clone().serial(Name::lossy(&format!("4B30{at:04}"))))
    };
    let report = Report::new(Name::lossy("dump"), Medium::Machine);
    report.places((0..platform.slots().len()).map(place))
}

fn laid(criterion: &mut Criterion) {
    let platform = reference::ddr4_2s_8ch_2spc();
    let label = "16GB 2Rx4 PC4-3200AA-RA1-11";
    let by_label = report(&platform, label, |at| platform.slots()[at].label().to_string());
    let by_counting = report(&platform, label, |at| format!("CPU{}_C{}D{}", at / 16, at / 2 % 8, at % 2));
    for (name, report) in [("labels", by_label), ("counting", by_counting)] {
        let observed = Observed::from(report);
        assert_eq!(observed.on(&platform).unwrap().slots.len(), 32);
        criterion.bench_function(&format!("places of 32 slots by {name}"), |bench| {
            bench.iter(|| black_box(&observed).on(&platform).unwrap());
        });
    }
}

fn judged(criterion: &mut Criterion) {
    let platform = reference::ddr4_2s_4ch_3spc();
    let machine =
        Machine::builder(platform.clone()).processor_named("1", "later").processor_named("2", "later").build().unwrap();
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let label = "16GB 2Rx4 PC4-2400T-RA1-11";
    let report = report(&platform, label, |at| platform.slots()[at].label().to_string());
    let sited = planner.narrow(&Observed::from(report).on(&platform).unwrap());
    let readings = sited.modules[0].readings.len();
    criterion.bench_function(&format!("judging 24 open modules of one part in {readings} readings"), |bench| {
        bench.iter(|| planner.assess_open(black_box(&sited)).unwrap());
    });
    criterion.bench_function("narrowing 24 open modules of one part", |bench| {
        bench.iter(|| planner.narrow(black_box(&sited)));
    });
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    laid(&mut criterion);
    judged(&mut criterion);
    criterion.final_summary();
}
