//! Processors.

use std::collections::BTreeSet;

use slotwright::module::{DeviceWidth, Ecc, MemoryModule, ModuleKind, Stack, Voltages};
use slotwright::processor::{InterleaveSet, InterleaveSets, PermittedSet, ProcessorDescription};
use slotwright::stated::Basis;
use slotwright::unit::{DataRate, Density};

use crate::boards::name;
use crate::one_truth::draw::Draw;
use crate::one_truth::{limits, modules};

/// Values of all of the sorts, or of some.
fn of_sorts<T: Ord + Clone>(draw: &mut Draw<'_, '_>, value: impl Fn(&MemoryModule) -> Option<T>, or: T) -> BTreeSet<T> {
    let values: Vec<T> = draw.sorts.iter().filter_map(value).collect();
    if values.is_empty() {
        return BTreeSet::from([or]);
    }
    if draw.once_in(2) { draw.some(&values).into_iter().collect() } else { values.into_iter().collect() }
}

/// Permitted sets of at most four channels "A" to "D".
fn interleave_sets(draw: &mut Draw<'_, '_>) -> InterleaveSets {
    let channels = ["A", "B", "C", "D"].map(name).to_vec();
    let mut permitted = Vec::new();
    for _ in 0..draw.pick(&[1, 2, 3]) {
        let set = match draw.below(6) {
            0 => InterleaveSet::Ways(2),
            1 => InterleaveSet::Ways(3),
            2 => InterleaveSet::Channels(channels[..2].to_vec()),
            3 => InterleaveSet::Channels(channels[1..3].to_vec()),
            4 => InterleaveSet::Channels(vec![channels[0].clone(), channels[2].clone()]),
            _ => InterleaveSet::Ways(4),
        };
        permitted.push(PermittedSet::of(set).equal(draw.once_in(4)));
    }
    InterleaveSets::new(channels, permitted)
}

fn voltages(draw: &mut Draw<'_, '_>) -> Voltages {
    let all = modules::voltages(draw.generation);
    if draw.once_in(6) { draw.pick(&all) } else { Voltages::new(all.iter().flat_map(Voltages::iter)).unwrap() }
}

/// A processor that mostly takes the sorts.
pub fn processor(draw: &mut Draw<'_, '_>, called: &str) -> ProcessorDescription {
    let generation = draw.generation;
    let max_rate = if draw.once_in(3) { draw.rate() } else { *generation.rates().last().unwrap() };
    let max_rate = draw.stated(max_rate);
    let kinds = of_sorts(draw, |sort| Some(sort.kind()), ModuleKind::Registered);
    let highest = max_rate.value;
    let some_rates = |draw: &mut Draw<'_, '_>| -> BTreeSet<DataRate> {
        let rates = BTreeSet::from([draw.rate(), draw.rate()]);
        // one that is low enough
        if rates.iter().any(|&rate| rate <= highest) { rates } else { BTreeSet::from([generation.rates()[0]]) }
    };
    let height = |sort: &MemoryModule| sort.stack().map(Stack::height);
    let kinds = draw.stated(kinds);
    let mut processor = ProcessorDescription::new(name(called), generation, [], highest, Basis::Assumed)
        .kinds(kinds)
        .max_rate(max_rate);
    processor.rates_mts = draw.maybe(some_rates);
    processor.rate_table = if draw.once_in(draw.one_in.div_ceil(2)) { Some(limits::rate_table(draw)) } else { None };
    processor.voltages_mv = {
        let voltages = voltages(draw);
        draw.stated(voltages)
    };
    processor.die_densities_mbit =
        draw.frequent(|draw| of_sorts(draw, MemoryModule::die_density, Density::from_gbit(8)));
    processor.widths = draw.frequent(|draw| of_sorts(draw, MemoryModule::width, DeviceWidth::X4));
    processor.stack_heights = draw.frequent(|draw| of_sorts(draw, height, 1));
    processor.ecc = draw.frequent(|draw| of_sorts(draw, MemoryModule::ecc, Ecc::Ecc));
    processor.rank_limits = draw.limits(limits::rank_limit);
    processor.counted_ranks = (0..draw.pick(&[0, 0, 0, 0, 1, 2])).map(|_| limits::counted_ranks(draw)).collect();
    processor.capacity_cap = draw.limit(limits::capacity_cap);
    processor.mix_limits = draw.limits(limits::mix_limit);
    processor.interleave = draw.limit(interleave_sets);
    processor
}
