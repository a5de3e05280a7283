//! Layouts and plans as a technician would sign them, worked out by hand (common practice, no source).

use slotwright::assess::Planner;
use slotwright::machine::Machine;
use slotwright::module::{Generation, Label, MemoryModule, ModuleKind};
use slotwright::platform::{
    ChannelDescription, ControllerDescription, Platform, PlatformDescription, SlotDescription, SocketDescription,
};
use slotwright::processor::ProcessorDescription;
use slotwright::reference;
use slotwright::rule::RuleBook;
use slotwright::stated::Basis;
use slotwright::unit::DataRate;

fn module(label: &str) -> MemoryModule {
    label.parse::<Label>().unwrap().to_module()
}

/// A board with the same processor in every socket.
fn machine(platform: Platform, processor: &str) -> Machine {
    let sockets: Vec<String> = platform.socket_ids().map(|id| platform.socket(id).label.to_string()).collect();
    let machine = Machine::builder(platform);
    sockets.iter().fold(machine, |machine, socket| machine.processor_named(socket, processor)).build().unwrap()
}

/// The labels of the filled slots, and what each processor holds in GB.
fn arranged(machine: &Machine, pieces: &[(&str, usize)]) -> (String, Vec<u64>) {
    let rules = RuleBook::standard();
    let pieces: Vec<_> = pieces.iter().map(|&(label, count)| (module(label), count)).collect();
    let arranged = Planner::new(machine, &rules).arrange(pieces).unwrap();
    let best = arranged.best().unwrap();
    let mut slots: Vec<String> = best.population.modules().map(|(slot, _)| slot.to_string()).collect();
    slots.sort_by_key(|slot| (slot[1..].to_owned(), slot.clone()));
    let held = best.assessment.figures.installed.sockets.iter().map(|socket| socket.capacity_mib.mib() / 1024);
    (slots.join(" "), held.collect())
}

const DUAL: &str = "32GB 2Rx4 PC4-2400T-RB2-11";

// Row 12 of the list of signed layouts: 6 + 6, never 8 + 4 for a larger sum of bandwidths.
#[test]
fn twelve_alike_are_six_and_six() {
    let machine = machine(reference::ddr4_2s_4ch_3spc(), "later");
    let (slots, held) = arranged(&machine, &[(DUAL, 12)]);
    assert_eq!(slots, "A1 B1 C1 D1 E1 F1 G1 H1 A2 B2 E2 F2");
    assert_eq!(held, [192, 192]);
}

#[test]
fn an_odd_half_is_shared_out_all_the_same() {
    let machine = machine(reference::ddr4_2s_4ch_3spc(), "later");
    let (_, held) = arranged(&machine, &[(DUAL, 14)]);
    assert_eq!(held, [7 * 32, 7 * 32]);
    let (_, held) = arranged(&machine, &[(DUAL, 10)]);
    assert_eq!(held, [5 * 32, 5 * 32]);
}

#[test]
fn twenty_two_alike_on_eight_channels_are_eleven_and_eleven() {
    let machine = machine(reference::ddr4_2s_8ch_2spc(), "plain");
    let (_, held) = arranged(&machine, &[("32GB 2Rx4 PC4-3200AA-RB2-12", 22)]);
    assert_eq!(held, [11 * 32, 11 * 32]);
}

/// Two processors of eight channels with a slot each, "A1" to "H1" and "I1" to "P1", in this order by turn.
fn two_by_eight_by_one() -> Machine {
    let slot = |at: u8| {
        let label = format!("{}1", char::from(b'A' + at));
        ChannelDescription {
            label: label[..1].parse().unwrap(),
            slots: vec![SlotDescription::new(label.parse().unwrap(), 0, u16::from(at))],
        }
    };
    let socket = |at: u8| SocketDescription {
        label: (at + 1).to_string().parse().unwrap(),
        controllers: vec![ControllerDescription {
            label: "0".parse().unwrap(),
            channels: (at * 8..at * 8 + 8).map(slot).collect(),
        }],
    };
    let board =
        PlatformDescription::new("two by eight".parse().unwrap(), Generation::Ddr4, (0..2).map(socket).collect());
    let kinds = [ModuleKind::Registered];
    let name = "plain".parse().unwrap();
    let processor = ProcessorDescription::new(name, Generation::Ddr4, kinds, DataRate::DDR4_2400, Basis::DataSheet);
    let processor = processor.build().unwrap();
    let machine = Machine::builder(board.build().unwrap()).processor("1", processor.clone());
    machine.processor("2", processor).build().unwrap()
}

#[test]
fn two_sizes_are_shared_out_alike() {
    let (_, held) = arranged(&two_by_eight_by_one(), &[("64GB 4Rx4 PC4-2400T-RB2-11", 4), (DUAL, 4)]);
    assert_eq!(held, [192, 192]);
}

// A second processor never stays without memory where both can have some, whatever rate or bandwidth that costs.
#[test]
fn no_processor_stays_without_memory() {
    let machine = machine(reference::ddr4_2s_4ch_3spc(), "later");
    let (slots, held) = arranged(&machine, &[(DUAL, 1), ("16GB 1Rx4 PC4-2133P-RC1-10", 1)]);
    assert_eq!((slots.as_str(), held), ("A1 E1", vec![32, 16]));
}
