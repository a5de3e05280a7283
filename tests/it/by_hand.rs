//! What whoever does the work sees at once: how far modules move, what becomes slower, what is not met.

use slotwright::assess::Planner;
use slotwright::machine::Machine;
use slotwright::platform::Settings;
use slotwright::population::{Occupant, Population};
use slotwright::purchase::{ModuleSource, Offer, PlanRequest};
use slotwright::reference;
use slotwright::rule::RuleBook;
use slotwright::unit::{Capacity, Price};

use crate::boards::{module, name};

// Equal modules that must move stay as near as they can.
#[test]
fn modules_move_within_their_channel_where_they_can() {
    let machine = Machine::builder(reference::ddr4_2s_4ch_3spc())
        .processor_named("1", "later")
        .processor_named("2", "later")
        .build()
        .unwrap();
    let (small, large) = (module("16GB 1Rx4 PC4-2400T-RC1-11"), module("32GB 2Rx4 PC4-2400T-RB2-11"));
    let slots = ["A1", "B1", "C1", "D1", "E1", "F1", "G1", "H1"];
    let present: Population = slots.iter().map(|slot| (name(slot), Occupant::module(small.clone()))).collect();
    let request = PlanRequest::new()
        .usable_at_least(Capacity::from_gib(384))
        .worth_paying(Price::new(100_000, "EUR".parse().unwrap()))
        .offer(Offer::new(name("large"), large, Price::new(3_000, "EUR".parse().unwrap()), 16))
        .present(present);
    let rules = RuleBook::standard();
    let outcome = Planner::new(&machine, &rules).plan(&request).unwrap();
    let plan = outcome.optimal().unwrap();
    let moves = plan.slots.iter().filter_map(|slot| match &slot.source {
        ModuleSource::MovesFrom { slot: from } => Some((from.as_str(), slot.slot.as_str())),
        _ => None,
    });
    let moves: Vec<_> = moves.collect();
    assert_eq!(moves.len(), 8, "{outcome}");
    assert!(moves.iter().all(|(from, to)| from[..1] == to[..1]), "{moves:?}");
}

// A plan that slows the machine down says so.
#[test]
fn a_slower_machine_is_said() {
    let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build().unwrap();
    let (fast, slow) = (module("32GB 2Rx4 PC4-2400T-RB2-11"), module("32GB 2Rx4 PC4-2133P-RB1-10"));
    let present: Population =
        ["A1", "B1", "C1", "D1"].iter().map(|slot| (name(slot), Occupant::module(fast.clone()))).collect();
    let request = PlanRequest::new()
        .usable_at_least(Capacity::from_gib(256))
        .offer(Offer::new(name("slow"), slow, Price::new(3_000, "EUR".parse().unwrap()), 16))
        .present(present);
    let rules = RuleBook::standard();
    let text = Planner::new(&machine, &rules).plan(&request).unwrap().to_string();
    assert!(text.contains("note: the memory runs at 2400 MT/s now, and at 2133 MT/s afterwards"), "{text}");
}

// Half of seven modules is nothing that any machine has: the mode is not met, and the amounts say so.
#[test]
fn amounts_of_a_mode_that_is_not_met_say_so() {
    let machine = Machine::builder(reference::ddr4_2s_4ch_2spc())
        .processor_named("1", "later")
        .settings(Settings::default().mode(name("mirrored")))
        .build()
        .unwrap();
    let rules = RuleBook::standard();
    let one = Population::new().with(name("A1"), module("32GB 2Rx4 PC4-2400T-RB2-11"));
    let assessed = Planner::new(&machine, &rules).assess(&one).unwrap();
    let text = assessed.figures.amounts().to_string();
    assert_eq!(text, "16 GB usable of 32 GB installed, in the mirrored mode, which is not met");
}
