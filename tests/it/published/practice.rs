//! A board of two sockets, four channels, three slots, sentence by sentence: common practice, no source.

use std::collections::BTreeSet;

use slotwright::fill::{Arrangement, Legal};
use slotwright::finding::{FactName, FactValue, Finding};
use slotwright::machine::Machine;
use slotwright::unit::{Capacity, DataRate, Density};
use slotwright::{Planner, RuleBook, reference};

use crate::published::{module, name, names};

const REGISTERED: &str = "32GB 2Rx4 PC4-2400T-RB2-11";
const LOAD_REDUCED: &str = "64GB 4DRx4 PC4-2400T-LD1-11";
const STACKED: &str = "128GB 2S4Rx4 PC4-2400U-LB1-11";
const FIRST: &str = "A1 B1 C1 D1 E1 F1 G1 H1";
const SECOND: &str = "A2 B2 C2 D2 E2 F2 G2 H2";
const THIRD: &str = "A3 B3 C3 D3 E3 F3 G3 H3";

fn machine(sockets: &str, processor: &str) -> Machine {
    let builder = Machine::builder(reference::ddr4_2s_4ch_3spc());
    let fitted = names(sockets).into_iter().fold(builder, |m, socket| m.processor_named(socket.as_str(), processor));
    fitted.build().unwrap()
}

fn arranged(machine: &Machine, label: &str, count: usize) -> Arrangement {
    let rules = RuleBook::standard();
    Planner::new(machine, &rules).arrange([(module(label), count)]).unwrap()
}

fn best(machine: &Machine, label: &str, count: usize) -> Legal {
    arranged(machine, label, count).best().unwrap_or_else(|error| panic!("{count} x {label}: {error}")).clone()
}

fn filled(legal: &Legal) -> BTreeSet<String> {
    legal.population.modules().map(|(slot, _)| slot.to_string()).collect()
}

fn slots(texts: &[&str]) -> BTreeSet<String> {
    texts.iter().flat_map(|text| text.split_whitespace()).map(str::to_owned).collect()
}

fn errors(arrangement: &Arrangement) -> Vec<Finding> {
    match arrangement {
        Arrangement::Illegal(illegal) => illegal.findings.clone(),
        Arrangement::Best(_) | Arrangement::Stopped { .. } => panic!("the modules are not refused: {arrangement:?}"),
    }
}

#[test]
fn eight_modules_take_the_first_slot_of_every_channel_of_both() {
    assert_eq!(filled(&best(&machine("1 2", "later"), REGISTERED, 8)), slots(&[FIRST]));
}

#[test]
fn no_second_slot_before_every_first() {
    let machine = machine("1 2", "later");
    for count in 1..8 {
        assert!(filled(&best(&machine, REGISTERED, count)).is_subset(&slots(&[FIRST])), "{count}");
    }
    for count in 9..16 {
        let filled = filled(&best(&machine, REGISTERED, count));
        assert!(filled.is_superset(&slots(&[FIRST])) && filled.is_subset(&slots(&[FIRST, SECOND])), "{count}");
    }
}

#[test]
fn slots_of_the_processors_alternate() {
    let (machine, rules) = (machine("1 2", "later"), RuleBook::standard());
    let order = Planner::new(&machine, &rules).fill_order(24).unwrap().slots;
    let expected = "A1 E1 B1 F1 C1 G1 D1 H1 A2 E2 B2 F2 C2 G2 D2 H2 A3 E3 B3 F3 C3 G3 D3 H3";
    assert_eq!(order, names(expected));
}

#[test]
fn with_one_processor_the_fifth_goes_to_the_second_slot_of_its_first_channel() {
    for (socket, expected) in [("1", "A1 B1 C1 D1 A2"), ("2", "E1 F1 G1 H1 E2")] {
        assert_eq!(filled(&best(&machine(socket, "later"), REGISTERED, 5)), slots(&[expected]));
    }
}

#[test]
fn sixteen_fill_first_and_second_and_leave_the_third_empty() {
    let legal = best(&machine("1 2", "later"), REGISTERED, 16);
    assert_eq!(filled(&legal), slots(&[FIRST, SECOND]));
    assert_eq!(legal.free_slots.iter().map(ToString::to_string).collect::<BTreeSet<_>>(), slots(&[THIRD]));
}

#[test]
fn twenty_four_fill_all() {
    let legal = best(&machine("1 2", "later"), REGISTERED, 24);
    assert_eq!(filled(&legal), slots(&[FIRST, SECOND, THIRD]));
    assert!(legal.free_slots.is_empty());
}

#[test]
fn faster_grades_run_at_what_the_processor_can() {
    for label in ["32GB 2Rx4 PC4-2666V-RB2-12", "32GB 2Rx4 PC4-2933Y-RB2-12", "32GB 2Rx4 PC4-3200AA-RB2-12"] {
        for (processor, rate) in [("later", DataRate::DDR4_2400), ("earlier", DataRate::DDR4_2133)] {
            for count in [8, 16] {
                let running = best(&machine("1 2", processor), label, count).running_rate();
                assert_eq!(running, Some(rate), "{count} x {label}, {processor}");
            }
        }
    }
}

#[test]
fn modules_of_denser_dies_are_refused_and_the_finding_names_the_density() {
    for label in ["32GB 2Rx8 PC4-3200AA-RE3-12", "32GB 1Rx4 PC4-3200AA-RC2-12", "64GB 2Rx4 PC4-3200AA-RB2-14"] {
        for processor in ["earlier", "later"] {
            let found = errors(&arranged(&machine("1 2", processor), label, 8));
            let dense = found.iter().find(|finding| finding.code == name("die-density"));
            let dense = dense.unwrap_or_else(|| panic!("{label}: {found:?}"));
            let said = dense.facts.iter().find(|fact| fact.name == FactName::Found).map(|fact| fact.value.clone());
            assert_eq!(said, Some(FactValue::DensityMbit(Density::from_gbit(16))), "{label}");
            assert!(dense.to_string().contains("16 Gb"), "{dense}");
        }
    }
}

#[test]
fn twenty_four_registered_are_768_gb() {
    for processor in ["earlier", "later"] {
        let legal = best(&machine("1 2", processor), REGISTERED, 24);
        assert_eq!(legal.assessment.figures.installed.total_mib, Capacity::from_gib(768));
    }
}

#[test]
fn twenty_four_load_reduced_are_1_5_tb() {
    for processor in ["earlier", "later"] {
        let legal = best(&machine("1 2", processor), LOAD_REDUCED, 24);
        assert_eq!(legal.assessment.figures.installed.total_mib, Capacity::from_gib(1536));
    }
}

#[test]
fn twenty_four_stacked_are_3_tb_and_slower() {
    let machine = machine("1 2", "later");
    let legal = best(&machine, STACKED, 24);
    assert_eq!(legal.assessment.figures.installed.total_mib, Capacity::from_gib(3072));
    assert!(legal.running_rate() < best(&machine, STACKED, 16).running_rate());
    assert!(legal.running_rate() < best(&machine, LOAD_REDUCED, 24).running_rate());
}

#[test]
fn stacked_modules_need_the_later_processors() {
    let found = errors(&arranged(&machine("1 2", "earlier"), STACKED, 8));
    assert!(found.iter().any(|finding| finding.code == name("stack-accepted")), "{found:?}");
}
