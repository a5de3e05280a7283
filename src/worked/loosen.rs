//! The stated limits of a description, each loosened by a step.

use std::collections::BTreeSet;

use crate::module::{DeviceWidth, Generation, ModuleKind, Voltages};
use crate::platform::{Mode, PlatformDescription, PositionOrder, UnlikeGrades, UnlikeVoltages};
use crate::processor::{ProcessorDescription, RateCell, RateRow, RateTable};
use crate::stated::{Basis, Demand, FieldPath, Stated};
use crate::unit::{Capacity, DataRate, Density, Name, Power};

/// A description with one limit loosened.
pub(super) struct Loosened {
    /// The limit.
    pub(super) place: FieldPath,
    /// By what step.
    pub(super) step: String,
    pub(super) description: PlatformDescription,
    /// The processor that it is of; any where absent.
    pub(super) processor: Option<Name>,
    /// The mode that it is of; any where absent.
    pub(super) mode: Option<Name>,
    /// Whether another stated limit binds all the same, whatever is fitted.
    pub(super) is_moot: bool,
}

/// Every limit that a description states, loosened: the next rate, one more, one more member of a list, a ban removed, required to
/// advised.
pub(super) fn loosened(description: &PlatformDescription) -> Vec<Loosened> {
    let mut all = Vec::new();
    of_board(description, &mut all);
    modes(description, &mut all);
    for (index, processor) in description.processors.iter().enumerate() {
        for (place, step, changed) in of_processor(processor.description()) {
            if let Ok(changed) = changed.build() {
                let mut description = description.clone();
                description.processors.get_mut(index).into_iter().for_each(|processor| *processor = changed.clone());
                let name = processor.name().clone();
                let is_moot = is_moot(processor.description(), changed.description());
                let place = FieldPath::of("processors").named(&name).join(&place);
                all.push(Loosened { place, step, description, processor: Some(name), mode: None, is_moot });
            }
        }
    }
    all
}

/// Whether tables differ in a rate alone that the processor does not reach in either.
fn is_moot(before: &ProcessorDescription, after: &ProcessorDescription) -> bool {
    let highest = before.max_rate_mts.value;
    let rows = |description: &ProcessorDescription| {
        description.rate_table.clone().unwrap_or_else(|| RateTable::new(Basis::Assumed)).rows
    };
    let (rows, others) = (rows(before), rows(after));
    let differ = || rows.iter().zip(&others).filter(|(row, other)| row != other);
    let is_beyond = |cell: RateCell| matches!(cell, RateCell::RateMts(rate) if rate >= highest);
    rows.len() == others.len()
        && differ().next().is_some()
        && differ().all(|(row, other)| is_beyond(row.cell) && is_beyond(other.cell))
}

/// The densities of a generation's dies. Source: the standards' label and SPD tables; 12 Gb was never sold as DDR4 (common practice, no
/// source).
pub(super) const fn die_densities(generation: Generation) -> &'static [u32] {
    match generation {
        Generation::Ddr3 => &[1, 2, 4, 8],
        Generation::Ddr4 => &[4, 8, 16],
        Generation::Ddr5 => &[16, 24, 32, 64],
    }
}

/// The next rate of the generation above one.
fn next(generation: Generation, rate: DataRate) -> Option<DataRate> {
    generation.rates().iter().copied().find(|&next| next > rate)
}

/// A table with one cell loosened, for each of its cells.
fn tables(generation: Generation, table: &RateTable) -> Vec<(FieldPath, String, RateTable)> {
    let looser = |row: &RateRow| match row.cell {
        RateCell::RateMts(rate) => {
            next(generation, rate).map(|next| (format!("{row}: {next}"), RateCell::RateMts(next)))
        }
        RateCell::NotAllowed => {
            let fewer = |other: &&RateRow| {
                other.module == row.module
                    && other.channel == row.channel
                    && other.modules_in_channel + 1 == row.modules_in_channel
            };
            let cell = table.rows.iter().find(fewer).map(|row| row.cell).filter(|cell| *cell != RateCell::NotAllowed);
            let lowest = generation.rates().first().copied().map(RateCell::RateMts);
            cell.or(lowest).map(|cell| (format!("{row}: allowed"), cell))
        }
    };
    let rows = table.rows.iter().enumerate().filter_map(|(index, row)| {
        let (step, cell) = looser(row)?;
        let mut changed = table.clone();
        changed.rows.get_mut(index).into_iter().for_each(|row| row.cell = cell);
        Some((FieldPath::of("rows").index(index), step, changed))
    });
    rows.collect()
}

/// A set with one more member, for each that it lacks.
fn with_each<T: Ord + Copy>(set: &BTreeSet<T>, all: &[T]) -> Vec<(T, BTreeSet<T>)> {
    let lacking = all.iter().copied().filter(|one| !set.contains(one));
    lacking.map(|one| (one, set.iter().copied().chain([one]).collect())).collect()
}

type Step<T> = (FieldPath, String, T);

fn of_processor(description: &ProcessorDescription) -> Vec<Step<ProcessorDescription>> {
    let (generation, of) = (description.generation, FieldPath::of);
    let mut all = Vec::new();
    let mut add = |place: FieldPath, step: String, change: &dyn Fn(&mut ProcessorDescription)| {
        let mut changed = description.clone();
        change(&mut changed);
        all.push((place, step, changed));
    };
    let kinds = [ModuleKind::Unbuffered, ModuleKind::Registered, ModuleKind::LoadReduced];
    for (kind, kinds) in with_each(&description.kinds.value, &kinds) {
        add(of("kinds"), format!("{kind} as well"), &|changed| changed.kinds.value.clone_from(&kinds));
    }
    if let Some(rate) = next(generation, description.max_rate_mts.value) {
        add(of("max_rate_mts"), rate.to_string(), &|changed| changed.max_rate_mts.value = rate);
    }
    for (place, step, table) in description.rate_table.iter().flat_map(|table| tables(generation, table)) {
        add(of("rate_table").join(&place), step, &|changed| changed.rate_table = Some(table.clone()));
    }
    let voltages: Vec<_> = description.voltages_mv.value.iter().collect();
    for &voltage in generation.voltages().iter().filter(|voltage| !voltages.contains(voltage)) {
        if let Some(more) = Voltages::new(voltages.iter().copied().chain([voltage])) {
            add(of("voltages_mv"), format!("{voltage} as well"), &|changed| changed.voltages_mv.value = more.clone());
        }
    }
    if let Some(densities) = &description.die_densities_mbit {
        let all: Vec<Density> = die_densities(generation).iter().map(|&gbit| Density::from_gbit(gbit)).collect();
        for (density, densities) in with_each(&densities.value, &all) {
            add(of("die_densities_mbit"), format!("{density} as well"), &|changed| {
                changed.die_densities_mbit.iter_mut().for_each(|list| list.value.clone_from(&densities));
            });
        }
    }
    if let Some(widths) = &description.widths {
        for (width, widths) in with_each(&widths.value, DeviceWidth::ALL) {
            add(of("widths"), format!("{width} as well"), &|changed| {
                changed.widths.iter_mut().for_each(|list| list.value.clone_from(&widths));
            });
        }
    }
    if let Some(heights) = &description.stack_heights {
        let more = [1, 2, 4, 8].into_iter().find(|height| !heights.value.contains(height));
        if let Some(height) = more {
            add(of("stack_heights"), format!("{height} high as well"), &|changed| {
                changed.stack_heights.iter_mut().for_each(|list| list.value.extend([height]));
            });
        }
    }
    if let Some(ecc) = &description.ecc {
        for (bits, ecc) in with_each(&ecc.value, generation.check_bits()) {
            add(of("ecc"), format!("{bits} as well"), &|changed| {
                changed.ecc.iter_mut().for_each(|list| list.value.clone_from(&ecc));
            });
        }
    }
    for (index, limit) in description.rank_limits.iter().enumerate() {
        let more = limit.value.at_most.saturating_add(1);
        add(of("rank_limits").index(index), format!("{more} ranks a channel"), &|changed| {
            changed.rank_limits.get_mut(index).into_iter().for_each(|limit| limit.value.at_most = more);
        });
    }
    for (index, line) in description.counted_ranks.iter().enumerate() {
        if let Some(fewer) = line.ranks.checked_sub(1).filter(|ranks| *ranks > 0) {
            add(of("counted_ranks").index(index), format!("{} count as {fewer}", line.module), &|changed| {
                changed.counted_ranks.get_mut(index).into_iter().for_each(|line| line.ranks = fewer);
            });
        }
    }
    if let Some(cap) = &description.capacity_cap {
        let twice = cap.value.capacity_mib.times(2);
        add(of("capacity_cap"), format!("twice as much, {twice}"), &|changed| {
            changed.capacity_cap.iter_mut().for_each(|cap| cap.value.capacity_mib = twice);
        });
    }
    for (index, limit) in description.mix_limits.iter().enumerate() {
        let more = limit.value.at_most.saturating_add(1);
        add(of("mix_limits").index(index), format!("{more} of {}", limit.value.property), &|changed| {
            changed.mix_limits.get_mut(index).into_iter().for_each(|limit| limit.value.at_most = more);
        });
    }
    all
}

// one line for each limit of a board
#[allow(clippy::too_many_lines)]
fn of_board(description: &PlatformDescription, all: &mut Vec<Loosened>) {
    let of = FieldPath::of;
    let mut add = |place: FieldPath, step: String, change: &dyn Fn(&mut PlatformDescription)| {
        let mut description = description.clone();
        change(&mut description);
        all.push(Loosened { place, step, description, processor: None, mode: None, is_moot: false });
    };
    let generation = description.generation;
    for (place, step, table) in description.rate_table.iter().flat_map(|table| tables(generation, table)) {
        add(of("rate_table").join(&place), step, &|changed| changed.rate_table = Some(table.clone()));
    }
    if let Some(rate) = description.highest_grade_mts.as_ref().and_then(|rate| next(generation, rate.value)) {
        add(of("highest_grade_mts"), rate.to_string(), &|changed| {
            changed.highest_grade_mts.iter_mut().for_each(|grade| grade.value = rate);
        });
    }
    if description.unlike_grades.as_ref().is_some_and(|policy| policy.value != UnlikeGrades::Lowest) {
        add(of("unlike_grades"), "all run at the lowest".to_owned(), &|changed| changed.unlike_grades = None);
    }
    if description.unlike_voltages.as_ref().is_some_and(|policy| policy.value != UnlikeVoltages::Common) {
        add(of("unlike_voltages"), "all run at a common one".to_owned(), &|changed| changed.unlike_voltages = None);
    }
    for (index, limit) in description.rank_limits.iter().enumerate() {
        let more = limit.value.at_most.saturating_add(1);
        add(of("rank_limits").index(index), format!("{more} ranks a channel"), &|changed| {
            changed.rank_limits.get_mut(index).into_iter().for_each(|limit| limit.value.at_most = more);
        });
    }
    for (index, limit) in description.module_limits.iter().enumerate() {
        let place = || of("module_limits").index(index);
        let module = &limit.value.module;
        if let Some(more) = limit.value.at_most_per_channel.map(|most| most.saturating_add(1)) {
            add(place().field("at_most_per_channel"), format!("{more} {module} a channel"), &|changed| {
                let limit = changed.module_limits.get_mut(index);
                limit.into_iter().for_each(|limit| limit.value.at_most_per_channel = Some(more));
            });
        }
        for (at, &position) in limit.value.barred_positions.iter().enumerate() {
            add(place().field("barred_positions").index(at), format!("{module} in position {position}"), &|changed| {
                let limit = changed.module_limits.get_mut(index);
                limit.into_iter().for_each(|limit| limit.value.barred_positions.retain(|one| *one != position));
            });
        }
        if limit.value.first_in_channel {
            add(place().field("first_in_channel"), format!("{module} anywhere in a channel"), &|changed| {
                let limit = changed.module_limits.get_mut(index);
                limit.into_iter().for_each(|limit| limit.value.first_in_channel = false);
            });
        }
    }
    for (index, cap) in description.shared_load_caps.iter().enumerate() {
        let more = cap.value.modules_per_channel.saturating_add(1);
        add(of("shared_load_caps").index(index), format!("{more} a channel"), &|changed| {
            changed.shared_load_caps.get_mut(index).into_iter().for_each(|cap| cap.value.modules_per_channel = more);
        });
    }
    for (index, limit) in description.mix_limits.iter().enumerate() {
        let more = limit.value.at_most.saturating_add(1);
        add(of("mix_limits").index(index), format!("{more} of {}", limit.value.property), &|changed| {
            changed.mix_limits.get_mut(index).into_iter().for_each(|limit| limit.value.at_most = more);
        });
    }
    if description.neighbouring_sizes.is_some() {
        add(of("neighbouring_sizes"), "any two sizes".to_owned(), &|changed| changed.neighbouring_sizes = None);
    }
    if description.same_rank_count.is_some() {
        add(of("same_rank_count"), "any ranks together".to_owned(), &|changed| changed.same_rank_count = None);
    }
    for (index, ban) in description.pair_bans.iter().enumerate() {
        let step = format!("{} beside {}", ban.value.first, ban.value.second);
        add(of("pair_bans").index(index), step, &|changed| drop(changed.pair_bans.remove(index)));
    }
    for index in 0..description.channel_bans.len() {
        add(of("channel_bans").index(index), "not banned".to_owned(), &|changed| {
            changed.channel_bans.remove(index);
        });
    }
    if description.listed_modules.is_some() {
        add(of("listed_modules"), "no list".to_owned(), &|changed| changed.listed_modules = None);
    }
    if let Some(cap) = &description.capacity_cap_mib {
        let twice: Capacity = cap.value.times(2);
        add(of("capacity_cap_mib"), format!("twice as much, {twice}"), &|changed| {
            changed.capacity_cap_mib.iter_mut().for_each(|cap| cap.value = twice);
        });
    }
    if let Some(budget) = &description.power_budget_mw {
        let twice = Power::from_mw(budget.value.mw().saturating_mul(2));
        add(of("power_budget_mw"), format!("twice as much, {twice}"), &|changed| {
            changed.power_budget_mw.iter_mut().for_each(|budget| budget.value = twice);
        });
    }
    if description.position_order.as_ref().is_some_and(|order| order.value != PositionOrder::Any) {
        add(of("position_order"), "any order".to_owned(), &|changed| {
            changed.position_order.iter_mut().for_each(|order| order.value = PositionOrder::Any);
        });
    }
    demands(description, &mut add);
    rows(description, &mut add);
}

type Change<'c> = &'c dyn Fn(&mut PlatformDescription);

/// What is required, advised.
fn demands(description: &PlatformDescription, add: &mut dyn FnMut(FieldPath, String, Change<'_>)) {
    type Field = fn(&mut PlatformDescription) -> &mut Option<Stated<Demand>>;
    let fields: [(&'static str, Field); 8] = [
        ("processors_alike", |changed| &mut changed.processors_alike),
        ("priority_along_channel", |changed| &mut changed.priority_along_channel),
        ("memory_per_processor", |changed| &mut changed.memory_per_processor),
        ("channels_alike", |changed| &mut changed.channels_alike),
        ("controllers_alike", |changed| &mut changed.controllers_alike),
        ("sockets_alike", |changed| &mut changed.sockets_alike),
        ("even_counts", |changed| &mut changed.even_counts),
        ("blanks", |changed| &mut changed.blanks),
    ];
    let mut own = description.clone();
    for (name, field) in fields {
        if field(&mut own).as_ref().is_some_and(|demand| demand.value == Demand::Required) {
            add(FieldPath::of(name), "were it only advised".to_owned(), &|changed| {
                field(changed).iter_mut().for_each(|demand| demand.value = Demand::Advised);
            });
        }
    }
}

fn rows(description: &PlatformDescription, add: &mut dyn FnMut(FieldPath, String, Change<'_>)) {
    for (index, row) in description.fill_rows.iter().enumerate().filter(|(_, row)| row.demand == Demand::Required) {
        add(
            FieldPath::of("fill_rows").index(index),
            format!("{} slots, were it only advised", row.slots.len()),
            &|changed| {
                changed.fill_rows.get_mut(index).into_iter().for_each(|row| row.demand = Demand::Advised);
            },
        );
    }
    for (index, row) in description.count_rows.iter().enumerate().filter(|(_, row)| row.demand == Demand::Required) {
        let more = (1..=u16::MAX).find(|count| !row.counts.contains(count)).unwrap_or(u16::MAX);
        add(FieldPath::of("count_rows").index(index), format!("{more} modules as well"), &|changed| {
            changed.count_rows.get_mut(index).into_iter().for_each(|row| row.counts.push(more));
        });
    }
}

fn modes(description: &PlatformDescription, all: &mut Vec<Loosened>) {
    for (index, mode) in description.modes.iter().enumerate() {
        let place = |field| FieldPath::of("modes").named(&mode.name).field(field);
        let mut change = |field: &'static str, step: &str, change: fn(&mut Mode)| {
            let mut description = description.clone();
            description.modes.get_mut(index).into_iter().for_each(change);
            let (place, step, mode) = (place(field), step.to_owned(), Some(mode.name.clone()));
            all.push(Loosened { place, step, description, processor: None, mode, is_moot: false });
        };
        if mode.widths.is_some() {
            change("widths", "any width", |mode| mode.widths = None);
        }
        if mode.ecc.is_some() {
            change("ecc", "any check bits", |mode| mode.ecc = None);
        }
        if mode.modules_at_least.is_some() {
            change("modules_at_least", "one fewer", |mode| {
                mode.modules_at_least = mode.modules_at_least.map(|least| least.saturating_sub(1));
            });
        }
        if mode.counted_ranks_at_least.is_some() {
            change("counted_ranks_at_least", "one fewer", |mode| {
                mode.counted_ranks_at_least = mode.counted_ranks_at_least.map(|least| least.saturating_sub(1));
            });
        }
        if mode.rate_cap_mts.is_some() {
            change("rate_cap_mts", "none", |mode| mode.rate_cap_mts = None);
        }
    }
}
