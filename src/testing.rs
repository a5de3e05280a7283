//! A clean board, processors, modules and populations for tests to break one thing at a time.

use std::collections::BTreeSet;

use crate::machine::Machine;
use crate::module::{Generation, Label, MemoryModule, ModuleKind};
use crate::platform::{
    ChannelDescription, ControllerDescription, PlatformDescription, SlotDescription, SocketDescription,
};
use crate::population::{Layout, Population};
use crate::processor::{ProcessorDescription, RankCounting, RankLimit};
use crate::rule::RuleBook;
use crate::stated::{Basis, Stated};
use crate::unit::{DataRate, Density, Name};

pub(crate) fn name(text: &str) -> Name {
    text.parse().unwrap()
}

/// A module by its label.
pub(crate) fn module(label: &str) -> MemoryModule {
    label.parse::<Label>().unwrap().to_module()
}

/// 32 GB, dual-rank, registered: what the clean board runs best with.
pub(crate) fn plain() -> MemoryModule {
    module("32GB 2Rx4 PC4-2400T-RB2-11")
}

/// 2 sockets "1" and "2", 4 channels "A" to "D" of 3 slots: slots "1A1" to "2D3", far end first. Turns
/// take one position across all channels of both processors before the next.
pub(crate) fn board() -> PlatformDescription {
    board_of(2, 4, 3)
}

pub(crate) fn board_of(sockets: usize, channels: usize, slots: usize) -> PlatformDescription {
    let slot = |s: usize, c: usize, p: usize| {
        let label = name(&format!("{}{}{}", s + 1, char::from(b'A' + u8::try_from(c).unwrap()), p + 1));
        let turn = (p * channels + c) * sockets + s;
        SlotDescription::new(label, u8::try_from(p).unwrap(), u16::try_from(turn).unwrap())
    };
    let channel = |s: usize, c: usize| ChannelDescription {
        label: name(&char::from(b'A' + u8::try_from(c).unwrap()).to_string()),
        slots: (0..slots).map(|p| slot(s, c, p)).collect(),
    };
    let socket = |s: usize| SocketDescription {
        label: name(&(s + 1).to_string()),
        controllers: vec![ControllerDescription {
            label: name("0"),
            channels: (0..channels).map(|c| channel(s, c)).collect(),
        }],
    };
    PlatformDescription::new(name("clean"), Generation::Ddr4, (0..sockets).map(socket).collect())
}

/// Takes registered and load-reduced DDR4 of 4 and 8 Gb dies, 8 counted ranks a channel, 2400 MT/s.
pub(crate) fn processor() -> ProcessorDescription {
    let kinds = [ModuleKind::Registered, ModuleKind::LoadReduced];
    let mut processor =
        ProcessorDescription::new(name("proc"), Generation::Ddr4, kinds, DataRate::DDR4_2400, Basis::DataSheet);
    processor.die_densities_mbit =
        Some(Stated::new(BTreeSet::from([Density::from_gbit(4), Density::from_gbit(8)]), Basis::DataSheet));
    let ranks = RankLimit { counting: RankCounting::Counted, at_most: 8, exempt: Vec::new() };
    processor.rank_limits = vec![Stated::new(ranks, Basis::DataSheet)];
    processor
}

/// The board with such processors in all its sockets.
pub(crate) fn machine(board: PlatformDescription, processor: ProcessorDescription) -> Machine {
    let processor = processor.build().unwrap();
    let sockets: Vec<_> = board.sockets.iter().map(|socket| socket.label.clone()).collect();
    sockets
        .iter()
        .fold(Machine::builder(board.build().unwrap()), |machine, socket| {
            machine.processor(socket.as_str(), processor.clone())
        })
        .build()
        .unwrap()
}

/// The clean machine.
pub(crate) fn clean() -> Machine {
    machine(board(), processor())
}

/// One module in each of these slots.
pub(crate) fn population(fitted: &[(&str, &MemoryModule)]) -> Population {
    fitted.iter().fold(Population::new(), |population, (slot, module)| population.with(name(slot), (*module).clone()))
}

/// The plain module in the first slot of every channel.
pub(crate) fn clean_population(machine: &Machine) -> Population {
    let platform = machine.platform();
    let slots = platform.slot_ids().filter(|&slot| platform.slot(slot).position == 0 && machine.is_live(slot));
    slots.fold(Population::new(), |population, slot| population.with(platform.slot(slot).label.clone(), plain()))
}

/// The codes of the findings of the standard rules, sorted, each once.
pub(crate) fn codes(machine: &Machine, population: &Population) -> Vec<String> {
    let layout = Layout::new(machine, population).unwrap();
    let mut codes: Vec<_> = RuleBook::standard().check(&layout).iter().map(|f| f.code.to_string()).collect();
    codes.sort();
    codes.dedup();
    codes
}
