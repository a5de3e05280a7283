//! Worked examples of published documents, with the documents' own slot numbers.
//!
//! Each is a platform description of what its document says and no more. Where a document says nothing of
//! rates, the processor is given its highest rate and no table.
#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

mod capacity;
mod fill_order;
mod interleave;
mod measured;
mod practice;

use std::collections::BTreeSet;

use slotwright::machine::Machine;
use slotwright::module::{Generation, Label, MemoryModule, ModuleKind};
use slotwright::platform::{
    ChannelDescription, ControllerDescription, Platform, PlatformDescription, SlotDescription, SocketDescription,
    WorkedModules, WorkedRow,
};
use slotwright::processor::{ModulePattern, ProcessorDescription, RateTable};
use slotwright::stated::{Basis, Source};
use slotwright::unit::{Capacity, DataRate, Name};
use slotwright::{Planner, RuleBook, worked};

fn name(text: &str) -> Name {
    text.parse().unwrap()
}

fn names(text: &str) -> Vec<Name> {
    text.split_whitespace().map(name).collect()
}

fn module(label: &str) -> MemoryModule {
    label.parse::<Label>().unwrap_or_else(|error| panic!("{label}: {error}")).to_module()
}

/// Sockets "1" and so on; channels from the text, one a word, slots from the far end between commas. Turns
/// as in `order`, which must name every slot.
fn board(generation: Generation, sockets: &[&str], order: &str) -> PlatformDescription {
    let order = names(order);
    let slot = |position: usize, label: &str| {
        let turn = order.iter().position(|slot| slot == label).unwrap_or_else(|| panic!("{label} has no turn"));
        SlotDescription::new(name(label), u8::try_from(position).unwrap(), u16::try_from(turn).unwrap())
    };
    let channel = |number: usize, slots: &str| {
        ChannelDescription::new(
            name(&(number + 1).to_string()),
            slots.split(',').enumerate().map(|(position, label)| slot(position, label)),
        )
    };
    let socket = |number: usize, channels: &str| {
        SocketDescription::new(
            name(&(number + 1).to_string()),
            [ControllerDescription::new(
                name("0"),
                channels.split_whitespace().enumerate().map(|(number, slots)| channel(number, slots)),
            )],
        )
    };
    let sockets: Vec<_> = sockets.iter().enumerate().map(|(number, channels)| socket(number, channels)).collect();
    let slots = sockets.iter().flat_map(|s| &s.controllers).flat_map(|c| &c.channels).flat_map(|c| &c.slots);
    assert_eq!(slots.count(), order.len(), "the order names every slot once");
    PlatformDescription::new(name("published"), generation, sockets)
}

/// A processor "p" without rates by load.
fn processor(generation: Generation, kinds: &[ModuleKind], max_rate: DataRate) -> ProcessorDescription {
    ProcessorDescription::new(name("p"), generation, kinds.iter().copied(), max_rate, Basis::BoardManual)
}

/// A table of rates by load; 0 is "not allowed".
fn table(generation: Generation, rows: &[(ModulePattern, &[u32])]) -> RateTable {
    let rate =
        |&name: &u32| (name > 0).then(|| *generation.rates().iter().find(|rate| rate.name_mts() == name).unwrap());
    rows.iter().fold(RateTable::new(Basis::BoardManual), |table, (module, rates)| {
        table.by_load(module, &rates.iter().map(rate).collect::<Vec<_>>())
    })
}

/// A row with processor "p" in the sockets that `sockets` names.
fn row(sockets: &str, modules: &[(&str, u16, &str)], source: &str) -> WorkedRow {
    let described: Vec<_> = modules.iter().map(|(label, count, _)| format!("{count} x {label}")).collect();
    WorkedRow::new(
        name(&format!("{} at {sockets}", described.join(" + "))),
        names(sockets).into_iter().map(|socket| (socket, name("p"))),
        Basis::BoardManual,
    )
    .modules(modules.iter().map(|&(label, count, slots)| WorkedModules::new(module(label), count, names(slots))))
    .source(Source::new(name(source)))
}

fn with_rate(row: WorkedRow, rate: DataRate) -> WorkedRow {
    row.rate(rate)
}

fn with_gib(row: WorkedRow, gib: u32) -> WorkedRow {
    row.capacity(Capacity::from_gib(gib))
}

fn refused(row: WorkedRow, code: &str) -> WorkedRow {
    row.refused_by(name(code))
}

/// Builds the platform and holds its worked rows.
fn proven(platform: PlatformDescription) -> Platform {
    let platform = platform.build().unwrap_or_else(|error| panic!("{error}"));
    assert!(!platform.description().worked_rows.is_empty());
    for result in worked::check(&platform) {
        assert!(result.holds(), "{result}");
    }
    platform
}

fn machine(platform: &Platform, sockets: &str) -> Machine {
    let builder = Machine::builder(platform.clone());
    names(sockets)
        .iter()
        .fold(builder, |machine, socket| machine.processor_named(socket.as_str(), "p"))
        .build()
        .unwrap()
}

/// The fill order for every number of modules is the beginning of `order`, and so many equal modules go
/// there.
fn fills_in_order(machine: &Machine, module: &MemoryModule, order: &str) {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let order = names(order);
    for count in 1..=order.len() {
        let expected: BTreeSet<_> = order[..count].iter().collect();
        assert_eq!(planner.fill_order(count).unwrap().slots, order[..count], "{count}");
        let arrangement = planner.arrange([(module.clone(), count)]).unwrap();
        let legal = arrangement.best().unwrap_or_else(|error| panic!("{count}: {error}"));
        assert_eq!(legal.population.modules().map(|(slot, _)| slot).collect::<BTreeSet<_>>(), expected, "{count}");
    }
    assert_eq!(planner.fill_order(order.len() + 1), None);
}
