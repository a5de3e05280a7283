//! A clean board, processors, modules and populations for tests to break one thing at a time.

use std::collections::BTreeSet;

use crate::finding::{Finding, Severity, Verdict};
use crate::machine::Machine;
use crate::module::{Ecc, FormFactor, Generation, Label, MemoryModule, ModuleKind, Stack, Voltages};
use crate::platform::{
    ChannelDescription, ChannelGroup, ControllerDescription, Identical, Mode, PlatformDescription, PlatformOption,
    Redundancy, Settings, SlotDescription, SocketDescription,
};
use crate::population::{DeviceSort, Layout, OtherDevice, Population};
use crate::processor::{ProcessorDescription, RankCounting, RankLimit};
use crate::rule::RuleBook;
use crate::stated::{Basis, Stated};
use crate::unit::{Capacity, DataRate, Density, Name, Voltage};

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

/// 32 GB, quad-rank, registered.
pub(crate) fn quad() -> MemoryModule {
    module("32GB 4Rx4 PC4-2400T-RB2-11")
}

/// 32 GB, registered, whose ranks and device width are not known.
pub(crate) fn vague() -> MemoryModule {
    let vague = MemoryModule::builder(Generation::Ddr4, ModuleKind::Registered, Capacity::from_gib(32));
    let vague = vague.grade(DataRate::DDR4_2400).die_density(Density::from_gbit(8));
    let vague = vague.form_factor(FormFactor::Dimm).voltages(Voltages::only(Voltage::V1_2));
    vague.stack(Stack::Single).ecc(Ecc::Ecc).build().unwrap()
}

/// 128 GB that keep their content without power.
pub(crate) fn other_device() -> OtherDevice {
    OtherDevice {
        sort: DeviceSort::Persistent,
        capacity_mib: Capacity::from_gib(128),
        text: name("persistent module"),
        may_be_removed: false,
    }
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

/// The slots of a board.
pub(crate) fn slots_mut(board: &mut PlatformDescription) -> impl Iterator<Item = &mut SlotDescription> {
    let channels = board.sockets.iter_mut().flat_map(|socket| &mut socket.controllers).flat_map(|c| &mut c.channels);
    channels.flat_map(|channel| &mut channel.slots)
}

/// An option that takes one position of every channel away.
pub(crate) fn mask(board: &PlatformDescription, option: &str, position: u8) -> PlatformOption {
    let mut board = board.clone();
    let masked = slots_mut(&mut board).filter(|slot| slot.position == Some(position));
    PlatformOption {
        name: name(option),
        masks: masked.map(|slot| slot.label.clone()).collect(),
        rate_cap_mts: None,
        capacity_cap_mib: None,
        basis: Basis::BoardManual,
        source: None,
    }
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

/// The clean board, mirrored over channels A and B, and C and D, of both processors.
pub(crate) fn mirrored(identical: Identical) -> Machine {
    let group = |socket: &str, channels: [&str; 2]| ChannelGroup {
        socket: name(socket),
        channels: channels.map(name).to_vec(),
    };
    let groups = ["1", "2"].into_iter().flat_map(|socket| [group(socket, ["A", "B"]), group(socket, ["C", "D"])]);
    let mode = Mode {
        groups: groups.collect(),
        identical,
        ..Mode::new(name("mirrored"), Redundancy::Mirrored, Basis::BoardManual)
    };
    let default_settings = Settings { mode: Some(name("mirrored")), ..Settings::default() };
    machine(PlatformDescription { modes: vec![mode], default_settings, ..board() }, processor())
}

/// One module in each of these slots.
pub(crate) fn population(fitted: &[(&str, &MemoryModule)]) -> Population {
    fitted.iter().fold(Population::new(), |population, (slot, module)| population.with(name(slot), (*module).clone()))
}

/// The plain module in the first slot of every channel.
pub(crate) fn clean_population(machine: &Machine) -> Population {
    let platform = machine.platform();
    let slots = platform.slot_ids().filter(|&slot| platform.slot(slot).position() == Some(0) && machine.is_live(slot));
    slots.fold(Population::new(), |population, slot| population.with(platform.slot(slot).label().clone(), plain()))
}

/// These modules, from the far end, in every live channel.
pub(crate) fn in_every_channel(machine: &Machine, modules: &[&MemoryModule]) -> Population {
    let platform = machine.platform();
    let mut population = Population::new();
    for channel in platform.channels() {
        for (&slot, module) in channel.slots.iter().filter(|&&slot| machine.is_live(slot)).zip(modules) {
            population = population.with(platform.slot(slot).label().clone(), (*module).clone());
        }
    }
    population
}

/// The findings of the standard rules, less those on interleave: the small populations of most tests leave
/// channels empty or uneven.
pub(crate) fn findings(machine: &Machine, population: &Population) -> Vec<Finding> {
    let mut findings = all_findings(machine, population);
    let on_interleave =
        ["uneven-interleave", "empty-channel", "empty-controller", "odd-channels", "spread-first"].map(name);
    findings.retain(|finding| !on_interleave.contains(&finding.code));
    findings
}

/// The findings of all standard rules.
pub(crate) fn all_findings(machine: &Machine, population: &Population) -> Vec<Finding> {
    RuleBook::standard().check(&Layout::new(machine, population).unwrap())
}

/// The findings of the standard rules in short, sorted, each once: "error height", "warning height unknown".
pub(crate) fn said(machine: &Machine, population: &Population) -> Vec<String> {
    let short = |finding: &Finding| {
        let unknown = if finding.verdict == Verdict::Unknown { " unknown" } else { "" };
        format!("{} {}{unknown}", finding.severity, finding.code)
    };
    let mut said: Vec<_> = findings(machine, population).iter().map(short).collect();
    said.sort();
    said.dedup();
    said
}

/// The codes of the findings of the standard rules, sorted, each once.
pub(crate) fn codes(machine: &Machine, population: &Population) -> Vec<String> {
    let mut codes: Vec<_> = findings(machine, population).iter().map(|f| f.code.to_string()).collect();
    codes.sort();
    codes.dedup();
    codes
}

/// The findings of the standard rules, as severity, verdict and code, sorted, each once.
pub(crate) fn verdicts(machine: &Machine, population: &Population) -> Vec<(Severity, Verdict, String)> {
    let findings = findings(machine, population);
    let mut verdicts: Vec<_> = findings.iter().map(|f| (f.severity, f.verdict, f.code.to_string())).collect();
    verdicts.sort();
    verdicts.dedup();
    verdicts
}

/// The module without some of its facts, by their names in documents.
pub(crate) fn lacking(module: &MemoryModule, facts: &[&str]) -> MemoryModule {
    let mut document = serde_json::to_value(module).unwrap();
    let object = document.as_object_mut().unwrap();
    facts.iter().for_each(|fact| assert!(object.remove(*fact).is_some(), "{fact}"));
    serde_json::from_value(document).unwrap()
}

/// A module in the first slot of each processor's first channels.
pub(crate) fn by_channels(machine: &Machine, module: &MemoryModule, channels: usize) -> Population {
    let platform = machine.platform();
    let first = platform.socket_ids().flat_map(|socket| platform.socket(socket).channels.iter().take(channels));
    let slots = first.filter_map(|&channel| platform.channel(channel).slots.first());
    slots.fold(Population::new(), |all, &slot| all.with(platform.slot(slot).label().clone(), module.clone()))
}

/// These modules, from the far end, in every channel of socket 1 and those in every channel of socket 2.
pub(crate) fn by_socket(machine: &Machine, first: &[&MemoryModule], second: &[&MemoryModule]) -> Population {
    let (one, two) = (in_every_channel(machine, first), in_every_channel(machine, second));
    let of = |population: &Population, socket: char| -> Vec<_> {
        let slots = population.iter().filter(|(slot, _)| slot.as_str().starts_with(socket));
        slots.map(|(slot, occupant)| (slot.clone(), occupant.clone())).collect()
    };
    of(&one, '1').into_iter().chain(of(&two, '2')).collect()
}
