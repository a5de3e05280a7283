//! Boards, processors and offers for the benches.

use std::collections::BTreeSet;

use slotwright::module::{Generation, ModuleKind};
use slotwright::platform::{ChannelDescription, ControllerDescription, SlotDescription, SocketDescription};
use slotwright::processor::{ModulePattern, RankCounting, RankLimit, RateTable};
use slotwright::stated::{Basis, Stated};
use slotwright::{
    DataRate, Density, Label, Machine, MemoryModule, Name, Offer, PlatformDescription, Price, ProcessorDescription,
};

pub(crate) fn name(text: &str) -> Name {
    text.parse().unwrap()
}

pub(crate) fn module(label: &str) -> MemoryModule {
    label.parse::<Label>().unwrap().to_module()
}

/// A board with so many slots in each channel of each socket.
pub(crate) fn board(generation: Generation, wiring: &[Vec<usize>]) -> PlatformDescription {
    let sockets = wiring.len();
    let slot = |s: usize, c: usize, p: usize| {
        let label = name(&format!("{}{}{}", s + 1, char::from(b'A' + c as u8), p + 1));
        SlotDescription::new(label, p as u8, ((p * wiring[s].len() + c) * sockets + s) as u16)
    };
    let channel = |s: usize, (c, &slots): (usize, &usize)| {
        ChannelDescription::new(name(&char::from(b'A' + c as u8).to_string()), (0..slots).map(|p| slot(s, c, p)))
    };
    let socket = |(s, channels): (usize, &Vec<usize>)| {
        let channels = channels.iter().enumerate().map(|at| channel(s, at));
        SocketDescription::new(name(&(s + 1).to_string()), [ControllerDescription::new(name("0"), channels)])
    };
    PlatformDescription::new(name("bench"), generation, wiring.iter().enumerate().map(socket).collect())
}

/// A board with these processors.
pub(crate) fn fitted(platform: PlatformDescription, processors: &[ProcessorDescription]) -> Machine {
    let platform = platform.build().unwrap();
    (processors.iter().enumerate())
        .fold(Machine::builder(platform), |machine, (socket, processor)| {
            machine.processor(&(socket + 1).to_string(), processor.clone().build().unwrap())
        })
        .build()
        .unwrap()
}

/// The processor of most benches.
pub(crate) fn processor() -> ProcessorDescription {
    let kinds = [ModuleKind::Registered, ModuleKind::LoadReduced];
    let mut processor =
        ProcessorDescription::new(name("proc"), Generation::Ddr4, kinds, DataRate::DDR4_3200, Basis::Assumed);
    processor.die_densities_mbit = Some(Stated::assumed(BTreeSet::from([4, 8, 16].map(Density::from_gbit))));
    processor.rank_limits = vec![Stated::assumed(RankLimit::new(RankCounting::Counted, 8))];
    let fast = [Some(DataRate::DDR4_3200), Some(DataRate::DDR4_2933), Some(DataRate::DDR4_2400)];
    let table = [1, 2, 4].iter().fold(RateTable::new(Basis::Assumed), |table, &ranks| {
        let registered = ModulePattern::kind(ModuleKind::Registered).ranks(ranks);
        let reduced = ModulePattern::kind(ModuleKind::LoadReduced).ranks(ranks);
        table.by_load(&registered, &fast).by_load(&reduced, &fast)
    });
    processor.rate_table = Some(table);
    processor
}

pub(crate) fn machine(sockets: usize, channels: usize, slots: usize) -> Machine {
    let board = board(Generation::Ddr4, &vec![vec![slots; channels]; sockets]);
    fitted(board, &vec![processor(); sockets])
}

/// Labels of the sorts on offer.
pub(crate) const LABELS: [&str; 16] = [
    "8GB 1Rx8 PC4-2400T-RD1-11",
    "16GB 1Rx4 PC4-2400T-RC2-11",
    "16GB 2Rx8 PC4-2400T-RE1-11",
    "16GB 2Rx4 PC4-2133P-RA0-10",
    "32GB 2Rx4 PC4-2400T-RB2-11",
    "32GB 2Rx4 PC4-2666V-RB2-12",
    "16GB 1Rx4 PC4-2666V-RC2-12",
    "32GB 2Rx4 PC4-2933Y-RB2-12",
    "16GB 2Rx8 PC4-2933Y-RE1-12",
    "64GB 2Rx4 PC4-2933Y-RA2-12",
    "64GB 2Rx4 PC4-3200AA-RB2-14",
    "32GB 2Rx8 PC4-3200AA-RE3-12",
    "32GB 1Rx4 PC4-3200AA-RC3-12",
    "16GB 1Rx8 PC4-3200AA-RD3-12",
    "64GB 4DRx4 PC4-2666V-LD2-12",
    "128GB 4DRx4 PC4-3200AA-LD3-12",
];

/// Offers of finite stock at prices that wander about their size; proportional to it where asked.
pub(crate) fn offers(count: usize, proportional: bool) -> Vec<Offer> {
    let euro = "EUR".parse().unwrap();
    (0..count)
        .map(|index| {
            let module = module(LABELS[index * 7 % LABELS.len()]);
            let gib = module.capacity().mib() / 1024;
            let wander = if proportional { 0 } else { (index as u64 * 7919) % 100 * gib };
            Offer::new(
                name(&format!("lot-{index:03}")),
                module,
                Price::new(200 * gib + wander, euro),
                2 + (index as u32 * 13) % 19,
            )
        })
        .collect()
}
