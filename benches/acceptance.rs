//! What a machine of 32 slots reports, against what was planned.
// a bench may stop at what it did not expect
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use std::hint::black_box;

use criterion::Criterion;
use slotwright::acceptance::{AcceptanceRequest, WorkFault};
use slotwright::finding::Place;
use slotwright::module::Individual;
use slotwright::population::{Fitted, Observed, Occupant, PlaceState, Population};
use slotwright::{Label, Machine, Name, Planner, RuleBook, reference};

/// Two parts by turns in all 32 slots, each with its serial number.
fn planned(machine: &Machine) -> Population {
    let parts = ["16GB 1Rx4 PC4-3200AA-RC2-12", "32GB 2Rx4 PC4-3200AA-RB2-12"];
    let parts = parts.map(|label| label.parse::<Label>().unwrap().to_module());
    let slots = machine.platform().slots().iter().enumerate().map(|(at, slot)| {
        let id = Name::lossy(&format!("4B30{at:04}"));
        let fitted = Fitted::new(parts[at % 2].clone()).individual(Individual::new(id));
        (slot.label().clone(), Occupant::Module(fitted))
    });
    slots.collect()
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    let platform = reference::ddr4_2s_8ch_2spc();
    let processor = platform.description().processors[0].name().to_string();
    let machine =
        Machine::builder(platform).processor_named("1", &processor).processor_named("2", &processor).build().unwrap();
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let planned = planned(&machine);
    let slot = |at: usize| machine.platform().slots()[at].label().clone();
    let asked = |faults: &[WorkFault]| {
        let report = planner.expected_report(&planned, None, faults).unwrap();
        AcceptanceRequest::new(planned.clone(), Observed::from(report))
    };
    let clean = asked(&[]);
    assert!(planner.acceptance(&clean).unwrap().is_accepted());
    criterion.bench_function("a clean report of 32 slots", |bench| {
        bench.iter(|| planner.acceptance(black_box(&clean)).unwrap());
    });
    let unread = |at: usize| WorkFault::Unread {
        unit: Place::Slot { slot: slot(at) },
        slots: vec![slot(at)],
        reads: PlaceState::Absent,
    };
    let swapped = WorkFault::Swapped { first: slot(4), second: slot(21) };
    for (name, faults) in [("unread", [unread(3), unread(18)]), ("unread and swapped", [unread(3), swapped])] {
        let request = asked(&faults);
        assert_eq!(planner.acceptance(&request).unwrap().causes.unwrap().faults_at_least, 2);
        criterion.bench_function(&format!("causes of two faults on 32 slots: {name}"), |bench| {
            bench.iter(|| planner.acceptance(black_box(&request)).unwrap());
        });
    }
    criterion.final_summary();
}
