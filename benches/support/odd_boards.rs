//! Boards and processors unlike the plain ones: uneven wiring, unlike processors, sizes that are no power of two, rates
//! by load that bite.

use std::collections::BTreeSet;

use slotwright::module::{Generation, ModuleKind};
use slotwright::processor::{
    CapacityCap, ModulePattern, RankCounting, RankLimit, RateCell, RateKey, RateRow, RateTable,
};
use slotwright::stated::{Basis, Stated};
use slotwright::{Capacity, DataRate, Density, Machine, MemoryModule, Offer, PlanRequest, ProcessorDescription};

use super::super::support::{LABELS, board, fitted, module, name, processor};
use super::source::{Source, euros};
use super::{Shape, budget, rules};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum OddBoard {
    /// Channels with one, two and three slots, or none; processors wired alike or not.
    Wiring,
    /// Processors that take other kinds, rates, ranks and capacities.
    Processors,
    /// Rates that fall with modules and ranks of a channel, and a rate asked for.
    Rates,
}

/// 24, 48 and 96 GB modules beside binary ones.
const LABELS_OF_DDR5: [&str; 14] = [
    "16GB 1Rx8 PC5-4800B-RD0-1010-XT",
    "16GB 1Rx8 PC5-5600B-RD0-1010-XT",
    "24GB 1Rx8 PC5-5600B-RD0-1010-XT",
    "32GB 1Rx4 PC5-4800B-RC0-1010-XT",
    "32GB 1Rx4 PC5-6400B-RC1-1211-XT",
    "32GB 2Rx8 PC5-4800B-RE0-1010-XT",
    "48GB 2Rx8 PC5-5600B-RE0-1010-XT",
    "48GB 1Rx4 PC5-5600B-RC0-1010-XT",
    "48GB 1Rx4 PC5-6400B-RC0-1010-XT",
    "64GB 2Rx4 PC5-4800B-RA0-1010-XT",
    "64GB 2Rx4 PC5-5600B-RA0-1010-XT",
    "96GB 2Rx4 PC5-5600B-RA0-1010-XT",
    "96GB 2Rx4 PC5-6400B-RA0-1010-XT",
    "128GB 2S2Rx4 PC5-4800B-RA0-1010-XT",
];

pub(super) fn instance(board: OddBoard, number: u64) -> (Machine, PlanRequest) {
    let source = &mut Source(number * 1_000_003 + 7_000 + board as u64);
    let machine = match board {
        OddBoard::Wiring => uneven(source),
        OddBoard::Processors => unlike(source),
        OddBoard::Rates => biting(source),
    };
    let labels: &[&str] = if board == OddBoard::Processors { &LABELS } else { &LABELS_OF_DDR5 };
    // layouts of three deep are many
    let leave_out = if board == OddBoard::Wiring { source.within(6, 9) } else { source.within(2, 8) };
    let sorts = some(source, labels, leave_out);
    let mut request = PlanRequest::new().savings_nodes(0).usable_at_least(target(source, &machine, &sorts));
    request.offers = offers(source, &sorts).into();
    if board == OddBoard::Rates || source.once_in(3) {
        let grades: Vec<DataRate> = sorts.iter().filter_map(MemoryModule::grade).collect();
        let lower = [source.pick(&grades), source.pick(&grades)].into_iter().min();
        request.rate_at_least_mts = lower;
    }
    if source.once_in(3) {
        request = request.labour_per_handling(euros(source.within(1, 9) * 400));
    }
    if board != OddBoard::Wiring && source.once_in(4) {
        request.budget = budget(source, (&machine, &rules(Shape::Board(board))), &request);
    }
    (machine, request)
}

fn some(source: &mut Source, labels: &[&str], leave_out: u64) -> Vec<MemoryModule> {
    let mut labels = labels.to_vec();
    for _ in 0..leave_out {
        labels.swap_remove(source.below(labels.len() as u64) as usize);
    }
    labels.into_iter().map(module).collect()
}

fn gib(module: &MemoryModule) -> u64 {
    module.capacity().mib() / 1024
}

/// From little to about what there can be of a middling size.
fn target(source: &mut Source, machine: &Machine, sorts: &[MemoryModule]) -> Capacity {
    let slots = machine.platform().slots().len() as u64;
    let middling = sorts.iter().map(gib).sum::<u64>() / sorts.len() as u64;
    let odd = if source.once_in(4) { source.below(8) } else { 0 };
    Capacity::from_mib((source.within(2, slots * middling / 8) * 8 + odd) * 1024)
}

fn offers(source: &mut Source, sorts: &[MemoryModule]) -> Vec<Offer> {
    let each_gib = source.within(150, 500);
    let wander = source.pick(&[30, 150, 400]);
    let most_stock = source.pick(&[4, 12, 40]);
    let count = source.pick(&[20, 60, 200]);
    let offer = |index| {
        let module = source.pick(sorts);
        let size = gib(&module);
        let price = euros(each_gib * size + source.below(wander * size));
        Offer::new(name(&format!("lot-{index:03}")), module, price, source.within(1, most_stock) as u32)
    };
    (0..count).map(offer).collect()
}

/// A processor of the later generation, whose table of rates follows.
fn later() -> ProcessorDescription {
    let kinds = [ModuleKind::Registered];
    let rate = DataRate::DDR5_6400;
    let mut processor = ProcessorDescription::new(name("later"), Generation::Ddr5, kinds, rate, Basis::Assumed);
    processor.die_densities_mbit = Some(Stated::assumed(BTreeSet::from([16, 24, 32].map(Density::from_gbit))));
    processor
}

/// Uneven wiring: no socket is without slots, and every slot can hold what any other can.
fn uneven(source: &mut Source) -> Machine {
    let sockets = source.within(1, 2) as usize;
    let channels = source.within(3, 8);
    let mut socket = || -> Vec<usize> {
        let mut slots: Vec<usize> = (0..channels).map(|_| source.pick(&[0, 1, 1, 2, 2, 3])).collect();
        slots[0] = slots[0].max(1);
        slots
    };
    let first = socket();
    let second = socket();
    let wired_alike = source.once_in(2);
    let wiring = if wired_alike { vec![first; sockets] } else { [first, second][..sockets].to_vec() };
    fitted(board(Generation::Ddr5, &wiring), &vec![later(); sockets])
}

/// Two processors of which the second differs.
fn unlike(source: &mut Source) -> Machine {
    let channels = source.within(4, 8) as usize;
    let mut second = processor();
    second.name = name("other");
    if source.once_in(2) {
        second.kinds = Stated::assumed(BTreeSet::from([ModuleKind::Registered]));
    }
    if source.once_in(2) {
        second.max_rate_mts = Stated::assumed(DataRate::DDR4_2666);
    }
    if source.once_in(2) {
        second.rank_limits = vec![Stated::assumed(RankLimit::new(RankCounting::Counted, source.pick(&[2, 3, 4])))];
    }
    if source.once_in(2) {
        let cap = Capacity::from_mib(source.pick(&[128, 384, 768]) * 1024);
        second.capacity_cap = Some(Stated::assumed(CapacityCap::new(cap)));
    }
    fitted(board(Generation::Ddr4, &vec![vec![2; channels]; 2]), &[processor(), second])
}

/// Channels of two slots, at times some of one; two modules run lower than one, more ranks lower than few, and one
/// module in a channel of two slots lower than in a channel of one.
fn biting(source: &mut Source) -> Machine {
    let rate = |steps: u64| {
        [DataRate::DDR5_6400, DataRate::DDR5_5600, DataRate::DDR5_4800, DataRate::DDR5_4400][steps.min(3) as usize]
    };
    let mut table = RateTable::new(Basis::Assumed);
    let wired_lower = source.below(2);
    for (ranks, stack) in [(1, 1), (2, 1), (2, 2)] {
        let pattern = ModulePattern::kind(ModuleKind::Registered).package_ranks(ranks).stacked(stack);
        let alone = source.below(2) + u64::from(stack) - 1;
        let paired = alone + wired_lower + source.within(0, 2);
        for (slots, modules, steps) in [(1, 1, alone), (2, 1, alone + wired_lower), (2, 2, paired)] {
            let row = RateRow::new(pattern.clone(), modules, RateCell::RateMts(rate(steps)));
            table.rows.push(row.channel(RateKey::default().slots_wired(slots)));
        }
    }
    let mut processor = later();
    processor.rate_table = Some(table);
    let channels = source.within(4, 8) as usize;
    let uneven = source.once_in(2);
    let wiring: Vec<usize> = (0..channels).map(|_| if uneven { source.within(1, 2) as usize } else { 2 }).collect();
    fitted(board(Generation::Ddr5, &vec![wiring; 2]), &vec![processor; 2])
}
