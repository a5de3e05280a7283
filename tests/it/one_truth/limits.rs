//! Limits and tables that boards and processors share.

use slotwright::module::{Generation, MemoryModule, ModuleKind, Stack};
use slotwright::platform::{
    ChannelBan, ModuleLimit, PairBan, PositionOrder, RankPair, RanksMeet, SameRankCount, SharedLoadCap, UnlikeGrades,
    UnlikeVoltages,
};
use slotwright::processor::{
    CapacityCap, CountedRanks, MixLimit, MixProperty, MixRow, ModulePattern, RankCounting, RankLimit, RateCell,
    RateKey, RateRow, RateTable,
};
use slotwright::unit::{Capacity, Power, Voltage};

use crate::boards::name;
use crate::one_truth::draw::Draw;

fn cell(draw: &mut Draw<'_, '_>) -> RateCell {
    if draw.once_in(4) { RateCell::NotAllowed } else { RateCell::RateMts(draw.rate()) }
}

fn key(draw: &mut Draw<'_, '_>) -> RateKey {
    let voltage = match draw.generation {
        Generation::Ddr3 => draw.pick(&[Voltage::V1_35, Voltage::V1_5]),
        other => other.voltage(),
    };
    RateKey::default()
        .slots_wired(if draw.once_in(8) { Some(draw.pick(&[2, 1, 3])) } else { None })
        .running_voltage(draw.once_in(6).then_some(voltage))
}

/// Rates by load: rows for loads of one to three, rarely with gaps; now and then a row for a mix.
pub fn rate_table(draw: &mut Draw<'_, '_>) -> RateTable {
    let mut rows = Vec::new();
    let mut patterns = vec![ModulePattern::default()];
    for _ in 0..draw.pick(&[0, 1, 2]) {
        patterns.push(draw.pattern());
    }
    for (index, module) in patterns.into_iter().enumerate() {
        let channel = if index == 0 { RateKey::default() } else { key(draw) };
        for modules_in_channel in 1..=3 {
            if !draw.once_in(8) {
                rows.push(RateRow::new(module.clone(), modules_in_channel, cell(draw)).channel(channel));
            }
        }
    }
    let mut mixes = Vec::new();
    if draw.once_in(3) {
        let modules: Vec<_> = (0..draw.pick(&[2, 2, 3])).map(|_| draw.pattern()).collect();
        mixes.push(MixRow::new(modules, cell(draw)).channel(key(draw)));
    }
    let mut table = RateTable::new(draw.basis()).source(draw.text()).rows(rows).mixes(mixes);
    // rows that speak of the same load without one that is more specific make no table
    while !table.problems().is_empty() && table.rows.pop().is_some() {}
    table
}

pub fn rank_limit(draw: &mut Draw<'_, '_>) -> RankLimit {
    RankLimit::new(
        draw.pick(&[RankCounting::Package, RankCounting::Stacked, RankCounting::Counted]),
        draw.pick(&[4, 3, 2, 8, 6]),
    )
    .exempt(if draw.once_in(4) {
        vec![draw.pick(&[ModuleKind::LoadReduced, ModuleKind::Registered])]
    } else {
        vec![]
    })
}

pub fn counted_ranks(draw: &mut Draw<'_, '_>) -> CountedRanks {
    CountedRanks::new(draw.pattern(), draw.pick(&[2, 1, 3])).modules_in_channel(if draw.once_in(3) {
        Some(draw.pick(&[1, 2]))
    } else {
        None
    })
}

const PROPERTIES: [MixProperty; 12] = [
    MixProperty::Capacity,
    MixProperty::PackageRanks,
    MixProperty::Width,
    MixProperty::Kind,
    MixProperty::Maker,
    MixProperty::DieDensity,
    MixProperty::DieDensityUnlessOneWidth,
    MixProperty::Class,
    MixProperty::ClassOrNone,
    MixProperty::Stacked,
    MixProperty::StackHeight,
    MixProperty::Ecc,
];

/// The properties in which modules differ.
fn differing(one: &MemoryModule, other: &MemoryModule) -> Vec<MixProperty> {
    let stacked = |module: &MemoryModule| module.stack().map(Stack::is_stacked);
    let height = |module: &MemoryModule| module.stack().map(Stack::height);
    let unlike = |property: &MixProperty| match property {
        MixProperty::Capacity => one.capacity() != other.capacity(),
        MixProperty::PackageRanks => one.package_ranks() != other.package_ranks(),
        MixProperty::Width => one.width() != other.width(),
        MixProperty::Kind => one.kind() != other.kind(),
        MixProperty::Maker => one.maker() != other.maker(),
        MixProperty::DieDensity => one.die_density() != other.die_density(),
        MixProperty::DieDensityUnlessOneWidth => {
            one.die_density() != other.die_density() && one.width() != other.width()
        }
        MixProperty::Class | MixProperty::ClassOrNone => one.class() != other.class(),
        MixProperty::Stacked => stacked(one) != stacked(other),
        MixProperty::StackHeight => height(one) != height(other),
        MixProperty::Ecc => one.ecc() != other.ecc(),
        _ => false,
    };
    PROPERTIES.into_iter().filter(unlike).collect()
}

pub fn mix_limit(draw: &mut Draw<'_, '_>) -> MixLimit {
    let unlike = differing(&draw.sorts[0], draw.sorts.last().unwrap_or(&draw.sorts[0]));
    let property = if unlike.is_empty() || draw.once_in(3) { draw.pick(&PROPERTIES) } else { draw.pick(&unlike) };
    MixLimit::new(property, draw.scope(), draw.pick(&[1, 1, 1, 2]))
}

pub fn capacity(draw: &mut Draw<'_, '_>, most: u64) -> Capacity {
    let count = draw.below(usize::try_from(most).unwrap());
    draw.sort().capacity().times(count as u64 + 1)
}

pub fn capacity_cap(draw: &mut Draw<'_, '_>) -> CapacityCap {
    CapacityCap::new(capacity(draw, 3)).counts_other_devices(draw.once_in(3))
}

pub fn power(draw: &mut Draw<'_, '_>) -> Power {
    Power::from_mw(draw.pick(&[8000, 12_000, 20_000]))
}

pub fn unlike_grades(draw: &mut Draw<'_, '_>) -> UnlikeGrades {
    let rate = draw.rate();
    draw.pick(&[
        UnlikeGrades::NotValidated,
        UnlikeGrades::Refused,
        UnlikeGrades::LowerToMts(rate),
        UnlikeGrades::Lowest,
    ])
}

pub fn unlike_voltages(draw: &mut Draw<'_, '_>) -> UnlikeVoltages {
    draw.pick(&[UnlikeVoltages::NotAdvised, UnlikeVoltages::Refused, UnlikeVoltages::Common])
}

pub fn module_limit(draw: &mut Draw<'_, '_>) -> ModuleLimit {
    let barred = draw.once_in(2);
    ModuleLimit::new(draw.pattern())
        .at_most_per_channel(if barred && draw.once_in(2) { None } else { Some(draw.pick(&[1, 1, 2])) })
        .barred_positions(if barred { vec![draw.pick(&[0, 1, 2])] } else { Vec::new() })
        .first_in_channel(draw.once_in(3))
}

pub fn shared_load_cap(draw: &mut Draw<'_, '_>) -> SharedLoadCap {
    SharedLoadCap::new(draw.pattern(), draw.scope(), draw.pick(&[1, 1, 2]))
}

pub fn pair_ban(draw: &mut Draw<'_, '_>) -> PairBan {
    PairBan::new(draw.pattern(), draw.pattern(), draw.scope())
}

pub fn channel_ban(draw: &mut Draw<'_, '_>) -> ChannelBan {
    ChannelBan::new((0..draw.pick(&[2, 1, 2, 3])).map(|_| draw.pattern()))
}

pub fn same_rank_count(draw: &mut Draw<'_, '_>) -> SameRankCount {
    let mut except = Vec::new();
    for _ in 0..draw.pick(&[1, 0, 2]) {
        let (first, second) = draw.pick(&[(1, 2), (2, 4), (4, 1)]);
        except.push(RankPair::new(first, second, draw.pick(&[RanksMeet::WhenFull, RanksMeet::Always])));
    }
    SameRankCount::default().except(except)
}

pub fn listed_modules(draw: &mut Draw<'_, '_>) -> Vec<ModulePattern> {
    let mut listed = vec![draw.pattern()];
    if draw.once_in(3) {
        listed.push(ModulePattern::default().part_number(name(draw.pick(&["part-a", "part-b"]))));
    }
    listed
}

pub fn position_order(draw: &mut Draw<'_, '_>) -> PositionOrder {
    let sequence = draw.pick(&[vec![1, 0], vec![1, 0, 2], vec![0, 2, 1]]);
    draw.pick(&[PositionOrder::Any, PositionOrder::Sequence(sequence), PositionOrder::FarEndFirst])
}
