use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::figure::{Filled, filled};
use crate::finding::{FactValue, Place};
use crate::machine::Machine;
use crate::module::{DeviceWidth, Ecc, MemoryModule};
use crate::platform::{ChannelMinimum, Identical, Mode, Redundancy, SlotId, SocketId};
use crate::population::{ChannelLoad, Content, Layout, SocketLoad};
use crate::processor::{CountedRanks, MissingFact};
use crate::unit::{Capacity, Name};

/// How much memory can be used in the machine's redundancy mode, and whether the population meets it.
///
/// Where it does not, the capacity is what the mode would leave all the same: many machines then run in the
/// independent mode without a word.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// use slotwright::{Capacity, Population};
///
/// let usable = planner.assess(&Population::new().with("A1".parse()?, module))?.figures.usable;
/// assert_eq!(usable.total_mib, Capacity::from_gib(32)); // all of it in the independent mode
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct UsableCapacity {
    /// The mode's name.
    pub mode: Name,
    /// What can be used, rounded down to whole MiB.
    pub total_mib: Capacity,
    /// The same by processor present, each rounded down by itself.
    pub sockets: Vec<SocketUsable>,
    /// What the mode asks for, and whether it is so.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub demands: Vec<ModeDemand>,
}

/// What can be used of the memory at one processor.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SocketUsable {
    /// The socket's label.
    pub socket: Name,
    /// What can be used.
    pub capacity_mib: Capacity,
}

/// Something that a mode asks for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ModeDemand {
    /// What.
    pub demand: DemandSort,
    /// Where it is not so; none where it is met.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unmet: Vec<Place>,
    /// The slots of modules of which it cannot be told.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unknown: Vec<Place>,
}

/// What a mode can ask for.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum DemandSort {
    /// One of these processors.
    Processors(BTreeSet<Name>),
    /// The same in the channels of a group.
    Identical(Identical),
    /// So many modules in a channel that holds any.
    ModulesAtLeast(u8),
    /// So many modules of a sort in a channel that holds any, one of these.
    AnyOf(Vec<ChannelMinimum>),
    /// A partner in another channel of the group for the part that is mirrored, in thousandths of what the group holds.
    Partners(u16),
    /// So many counted ranks in a channel that holds modules.
    CountedRanksAtLeast(u32),
    /// These device widths.
    Widths(BTreeSet<DeviceWidth>),
    /// These check bits.
    Ecc(BTreeSet<Ecc>),
}

impl ModeDemand {
    /// Whether it is known to be met.
    #[must_use]
    pub fn is_met(&self) -> bool {
        self.unmet.is_empty() && self.unknown.is_empty()
    }
}

impl UsableCapacity {
    /// The usable capacity of a layout.
    #[must_use]
    pub fn of(layout: &Layout<'_>) -> Self {
        Self::of_filled(layout, &filled(layout))
    }

    pub(crate) fn of_filled(layout: &Layout<'_>, filled: &[Filled<'_>]) -> Self {
        let machine = layout.machine();
        let mode = machine.mode_description();
        let held = |socket: &Filled<'_>| socket.caps.iter().fold(0, |sum: u64, cap| sum.saturating_add(*cap));
        let by_socket: Vec<(SocketId, u64)> = filled.iter().map(|socket| (socket.id, held(socket))).collect();
        let total = by_socket.iter().fold(0, |sum: u64, (_, held)| sum.saturating_add(*held));
        let of_socket = |(id, held)| SocketUsable {
            socket: machine.platform().socket(id).label.clone(),
            capacity_mib: usable_of(mode, held),
        };
        Self {
            mode: machine.mode_name().clone(),
            total_mib: usable_of(mode, total),
            sockets: by_socket.into_iter().map(of_socket).collect(),
            demands: mode.map(|mode| demands(layout, mode)).unwrap_or_default(),
        }
    }

    /// The demands that are not known to be met.
    pub fn unmet(&self) -> impl Iterator<Item = &ModeDemand> {
        self.demands.iter().filter(|demand| !demand.is_met())
    }
}

/// How much of the memory a mode leaves once spare ranks are taken off: so many parts of so many.
fn kept(mode: Option<&Mode>) -> (u128, u128) {
    match mode.map_or(Redundancy::None, |mode| mode.redundancy) {
        Redundancy::Mirrored => (1, 2),
        Redundancy::PartlyMirrored { mirrored_per_mille } => (1000_u16.saturating_sub(mirrored_per_mille).into(), 1000),
        Redundancy::Own { usable_per_mille } => (usable_per_mille.into(), 1000),
        Redundancy::None | Redundancy::Paired | Redundancy::RankSparing { .. } | Redundancy::DeviceCorrection => (1, 1),
    }
}

/// What a mode leaves of so many MiB of which spare ranks are taken off already.
pub(crate) fn usable_of(mode: Option<&Mode>, mib: u64) -> Capacity {
    let (parts, of) = kept(mode);
    Capacity::from_mib(u64::try_from(u128::from(mib) * parts / of).unwrap_or(u64::MAX))
}

/// The least capacity, before a mode takes its share, of which it leaves at least so much.
pub(crate) fn needed_for(mode: Option<&Mode>, usable: Capacity) -> Capacity {
    let (parts, of) = kept(mode);
    let needed = (u128::from(usable.mib()) * of).div_ceil(parts.max(1));
    Capacity::from_mib(u64::try_from(needed).unwrap_or(u64::MAX))
}

/// What the live modules of a channel hold less its spare ranks, in MiB.
pub(crate) fn unspared(load: &ChannelLoad<'_>, mode: Option<&Mode>) -> u64 {
    let machine = load.machine();
    let live = || load.modules().filter(|site| machine.is_live(site.slot));
    let held = live().fold(0, |sum: u64, site| sum.saturating_add(site.module.capacity().mib()));
    let spares = mode.map_or(0, Mode::spare_ranks);
    if spares == 0 {
        return held;
    }
    let count = live().count();
    let lines = load.processor().map_or(&[][..], |processor| processor.description().counted_ranks.as_slice());
    let mut ranks: Vec<(u64, u32)> = live().map(|site| rank_size(lines, site.module, count)).collect();
    ranks.sort_unstable_by(|a, b| b.cmp(a));
    let (mut left, mut spared) = (spares, 0_u64);
    for (size, number) in ranks {
        let taken = left.min(number);
        spared = spared.saturating_add(size.saturating_mul(u64::from(taken)));
        left -= taken;
    }
    held.saturating_sub(spared)
}

/// What one counted rank of a module holds, rounded up to whole MiB, and how many there are; a module of
/// unknown ranks counts as one.
pub(crate) fn rank_size(lines: &[CountedRanks], module: &MemoryModule, modules_in_channel: usize) -> (u64, u32) {
    let ranks = CountedRanks::of(lines, module, modules_in_channel).unwrap_or(1).max(1);
    (module.capacity().mib().div_ceil(u64::from(ranks)), ranks)
}

/// The counted ranks of a channel's live modules, and the slots of those whose ranks are not known.
pub(crate) fn channel_ranks(load: &ChannelLoad<'_>) -> (u32, Vec<(MissingFact, Place)>) {
    let machine = load.machine();
    let live = || load.modules().filter(|site| machine.is_live(site.slot));
    let (count, lines) =
        (live().count(), load.processor().map_or(&[][..], |p| p.description().counted_ranks.as_slice()));
    let (mut sum, mut unknown) = (0_u32, Vec::new());
    for site in live() {
        match CountedRanks::of(lines, site.module, count) {
            Ok(ranks) => sum = sum.saturating_add(ranks),
            Err(fact) => unknown.push((fact, Place::slot(machine.platform(), site.slot))),
        }
    }
    (sum, unknown)
}

/// What must be the same in the channels of a group, slot by slot from the far end; `None` where nothing must.
pub(crate) fn mates(load: &ChannelLoad<'_>, mode: &Mode) -> Option<FactValue> {
    if mode.identical == Identical::Nothing {
        return None;
    }
    let machine = load.machine();
    let held = |(slot, content): (SlotId, Content<'_>)| {
        content.module().filter(|_| machine.is_live(slot)).map(|module| mate(module, mode.identical))
    };
    let mut slots: Vec<Option<FactValue>> = load.contents().map(held).collect();
    // channels of a group may have unlike numbers of slots
    while slots.last().is_some_and(Option::is_none) {
        slots.pop();
    }
    Some(FactValue::list(slots.into_iter().map(given)))
}

/// What must be the same of a module in the channels of a group.
fn mate(module: &MemoryModule, identical: Identical) -> FactValue {
    match identical {
        Identical::Nothing | Identical::Capacity => FactValue::CapacityMib(module.capacity()),
        Identical::Organization => FactValue::list([
            FactValue::CapacityMib(module.capacity()),
            given(module.package_ranks().map(FactValue::PackageRanks)),
            given(module.stack().map(|stack| FactValue::text(&stack.to_string()))),
            given(module.width().map(FactValue::Width)),
        ]),
        Identical::Facts => all_facts(module),
        Identical::Part => FactValue::list([
            all_facts(module),
            given(module.part_number().cloned().map(FactValue::Text)),
            given(module.maker().cloned().map(FactValue::Text)),
        ]),
    }
}

/// A value that may not be known, or not be there.
fn given(value: Option<FactValue>) -> FactValue {
    FactValue::list(value)
}

/// Everything that rules can tell of a module.
fn all_facts(module: &MemoryModule) -> FactValue {
    FactValue::list([
        FactValue::Generation(module.generation()),
        FactValue::Kind(module.kind()),
        FactValue::CapacityMib(module.capacity()),
        given(module.form_factor().map(FactValue::FormFactor)),
        given(module.height().map(FactValue::HeightUm)),
        given(module.ecc().map(FactValue::Ecc)),
        given(module.package_ranks().map(FactValue::PackageRanks)),
        given(module.stack().map(|stack| FactValue::text(&stack.to_string()))),
        given(module.width().map(FactValue::Width)),
        given(module.die_density().map(FactValue::DensityMbit)),
        given(module.grade().map(FactValue::RateMts)),
        given(module.voltages().cloned().map(FactValue::VoltagesMv)),
        given(module.class().cloned().map(FactValue::Text)),
    ])
}

/// The groups of channels of a processor that must be the same.
pub(crate) fn groups<'a>(
    load: &SocketLoad<'a>,
    mode: &'a Mode,
) -> impl Iterator<Item = Vec<ChannelLoad<'a>>> + use<'a> {
    let load = *load;
    let platform = load.machine().platform();
    let label = &platform.socket(load.id()).label;
    mode.groups
        .iter()
        .filter(move |group| group.socket == *label)
        .map(move |group| load.channels().filter(|channel| group.channels.contains(&channel.channel().label)).collect())
}

fn demands(layout: &Layout<'_>, mode: &Mode) -> Vec<ModeDemand> {
    let machine = layout.machine();
    let mut demands = Vec::new();
    let mut add = |demand: DemandSort, unmet: Vec<Place>, unknown: Vec<Place>| {
        demands.push(ModeDemand { demand, unmet, unknown });
    };
    let channel = |load: &ChannelLoad<'_>| Place::channel(machine.platform(), load.id());
    let populated = || layout.channels().filter(|load| !load.is_empty());
    if let Some(names) = &mode.processors {
        let others = machine.processors().filter(|(_, processor)| !names.contains(processor.name()));
        let unmet = others.map(|(id, _)| Place::socket(machine.platform(), id)).collect();
        add(DemandSort::Processors(names.clone()), unmet, Vec::new());
    }
    if let Some(demand) = group_demand(mode) {
        let unlike = layout
            .sockets()
            .flat_map(|load| groups(&load, mode).filter(|group| !works_as_one(group, mode)).collect::<Vec<_>>());
        let unmet = unlike.flatten().map(|load| channel(&load)).collect();
        add(demand, unmet, Vec::new());
    }
    if let Some(least) = mode.modules_at_least {
        let few = populated().filter(|load| load.len() < usize::from(least));
        add(DemandSort::ModulesAtLeast(least), few.map(|load| channel(&load)).collect(), Vec::new());
    }
    if !mode.any_of.is_empty() {
        let (mut unmet, mut unknown) = (Vec::new(), Vec::new());
        for load in populated() {
            match has_minimum(&load, mode) {
                Ok(true) => {}
                Ok(false) => unmet.push(channel(&load)),
                Err((_, places)) => unknown.extend(places),
            }
        }
        add(DemandSort::AnyOf(mode.any_of.clone()), unmet, unknown);
    }
    let least = mode.least_counted_ranks();
    if least > 0 {
        let (mut unmet, mut unknown) = (Vec::new(), Vec::new());
        for load in populated() {
            match channel_ranks(&load) {
                (ranks, missing) if ranks < least && missing.is_empty() => unmet.push(channel(&load)),
                (ranks, missing) if ranks < least => unknown.extend(missing.into_iter().map(|(_, place)| place)),
                _ => {}
            }
        }
        add(DemandSort::CountedRanksAtLeast(least), unmet, unknown);
    }
    let mut facts = |demand: DemandSort, has: &dyn Fn(&MemoryModule) -> Option<bool>| {
        let of = |wanted: Option<bool>| {
            let sites = layout.modules().filter(|site| site.is_live() && has(site.module) == wanted);
            sites.map(|site| Place::slot(machine.platform(), site.slot)).collect::<Vec<_>>()
        };
        add(demand, of(Some(false)), of(None));
    };
    if let Some(widths) = &mode.widths {
        facts(DemandSort::Widths(widths.clone()), &|module| module.width().map(|width| widths.contains(&width)));
    }
    if let Some(ecc) = &mode.ecc {
        facts(DemandSort::Ecc(ecc.clone()), &|module| module.ecc().map(|bits| ecc.contains(&bits)));
    }
    demands
}

/// What a mode asks of the channels of a group together.
pub(crate) fn group_demand(mode: &Mode) -> Option<DemandSort> {
    match mode.redundancy {
        Redundancy::PartlyMirrored { mirrored_per_mille } if !mode.groups.is_empty() => {
            Some(DemandSort::Partners(mirrored_per_mille))
        }
        Redundancy::PartlyMirrored { .. } => None,
        _ => Some(DemandSort::Identical(mode.identical)).filter(|_| mode.identical != Identical::Nothing),
    }
}

/// Whether the channels of a group hold together what the mode asks for.
pub(crate) fn works_as_one(group: &[ChannelLoad<'_>], mode: &Mode) -> bool {
    let Some(DemandSort::Partners(per_mille)) = group_demand(mode) else {
        let mut mates = group.iter().map(|load| mates(load, mode));
        let first = mates.next();
        return mates.all(|other| Some(other) == first);
    };
    let channels: Vec<Vec<Option<&MemoryModule>>> = group.iter().map(held_in).collect();
    let size = |module: &Option<&MemoryModule>| module.map_or(0, |module| u128::from(module.capacity().mib()));
    let sums: Vec<u128> = channels.iter().map(|channel| channel.iter().map(size).sum()).collect();
    let (all, largest): (u128, u128) = (sums.iter().sum(), sums.iter().copied().max().unwrap_or(0));
    // twice the mirrored part: itself and its partner
    let paired = match mode.identical {
        Identical::Nothing => all.min(2 * (all - largest)),
        _ => paired_slots(&channels, mode, size),
    };
    paired * 1000 >= 2 * u128::from(per_mille) * all
}

/// The modules in the live slots of a channel, slot by slot.
fn held_in<'a>(load: &ChannelLoad<'a>) -> Vec<Option<&'a MemoryModule>> {
    let machine = load.machine();
    load.contents().map(|(slot, content)| content.module().filter(|_| machine.is_live(slot))).collect()
}

/// What slots hold that hold the same in each channel.
fn paired_slots<'m>(
    channels: &[Vec<Option<&'m MemoryModule>>],
    mode: &Mode,
    size: impl Fn(&Option<&'m MemoryModule>) -> u128,
) -> u128 {
    let Some((first, others)) = channels.split_first() else { return 0 };
    let same = |index: usize, module: &Option<&MemoryModule>| {
        let of = |module: &Option<&MemoryModule>| module.map(|module| mate(module, mode.identical));
        others.iter().all(|other| other.get(index).is_some_and(|other| of(other) == of(module)))
    };
    let alike = first.iter().enumerate().filter(|(index, module)| same(*index, module));
    // a few channels of a group
    alike.map(|(_, module)| size(module) * u128::try_from(channels.len()).unwrap_or(1)).sum()
}

/// Whether a channel that holds modules has so many of one sort as the mode asks for.
///
/// # Errors
/// The fact that would tell, and the slots of the modules that lack it.
pub(crate) fn has_minimum(load: &ChannelLoad<'_>, mode: &Mode) -> Result<bool, (MissingFact, Vec<Place>)> {
    let machine = load.machine();
    let mut open: Option<(MissingFact, Vec<Place>)> = None;
    for minimum in &mode.any_of {
        let least = usize::from(minimum.modules_at_least);
        let live = load.modules().filter(|site| machine.is_live(site.slot));
        let told: Vec<_> = live.map(|site| (minimum.module.matches(site.module), site.slot)).collect();
        let of_it = told.iter().filter(|(told, _)| *told == Ok(true)).count();
        if of_it >= least {
            return Ok(true);
        }
        let lacking = || told.iter().filter_map(|(told, slot)| Some((told.err()?, *slot)));
        if of_it + lacking().count() >= least && open.is_none() {
            let places = lacking().map(|(_, slot)| Place::slot(machine.platform(), slot)).collect();
            open = lacking().next().map(|(fact, _)| (fact, places));
        }
    }
    open.map_or(Ok(mode.any_of.is_empty()), Err)
}

/// Whether the mode's share depends on where modules sit.
pub(crate) fn depends_on_places(machine: &Machine) -> bool {
    machine.mode_description().is_some_and(|mode| mode.spare_ranks() > 0)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::machine::Machine;
    use crate::module::DeviceWidth;
    use crate::platform::{PlatformDescription, Redundancy, Settings};
    use crate::stated::Basis;
    use crate::testing::{self, board, lacking, mask, module, name, plain, population, processor, vague};

    /// What the mode asks for, with the slots where it is not met and where that is not known.
    fn demanded(population: &crate::population::Population, masked: bool) -> Vec<(bool, usize, usize)> {
        let mode = Mode {
            widths: Some(BTreeSet::from([DeviceWidth::X4])),
            ..Mode::new(name("corrected"), Redundancy::None, Basis::BoardManual)
        };
        let default_settings = Settings { mode: Some(name("corrected")), ..Settings::default() };
        let mut board = PlatformDescription { modes: vec![mode], default_settings, ..board() };
        board.options = vec![mask(&board, "riser", 2)];
        let machine = Machine::builder(board.build().unwrap())
            .processor("1", processor().build().unwrap())
            .processor("2", processor().build().unwrap());
        let machine = if masked { machine.option("riser") } else { machine }.build().unwrap();
        let usable = UsableCapacity::of(&Layout::new(&machine, population).unwrap());
        usable.demands.iter().map(|demand| (demand.is_met(), demand.unmet.len(), demand.unknown.len())).collect()
    }

    #[test]
    fn a_mode_may_ask_for_some_modules_in_each_channel() {
        let mode = Mode {
            modules_at_least: Some(2),
            ..Mode::new(name("paired"), Redundancy::DeviceCorrection, Basis::BoardManual)
        };
        let default_settings = Settings { mode: Some(name("paired")), ..Settings::default() };
        let machine =
            testing::machine(PlatformDescription { modes: vec![mode], default_settings, ..board() }, processor());
        let plain = plain();
        let unmet = |fitted: &[(&str, &MemoryModule)]| {
            let usable = UsableCapacity::of(&Layout::new(&machine, &population(fitted)).unwrap());
            usable.demands.iter().map(|demand| demand.unmet.len()).sum::<usize>()
        };
        let all = [("1A1", &plain), ("1A2", &plain), ("1A3", &plain)];
        assert_eq!([unmet(&all[..1]), unmet(&all[..2]), unmet(&all)], [1, 0, 0]);
    }

    #[test]
    fn ranks_that_are_not_known_may_be_enough() {
        let mode = Mode::new(name("sparing"), Redundancy::RankSparing { spare_ranks: 1 }, Basis::BoardManual);
        let default_settings = Settings { mode: Some(name("sparing")), ..Settings::default() };
        let machine =
            testing::machine(PlatformDescription { modes: vec![mode], default_settings, ..board() }, processor());
        let demanded = |fitted: &MemoryModule| {
            let population = population(&[("1A1", fitted)]);
            let usable = UsableCapacity::of(&Layout::new(&machine, &population).unwrap());
            let demand = usable.demands.iter().find(|demand| demand.demand == DemandSort::CountedRanksAtLeast(2));
            demand.map(|demand| (demand.unmet.len(), demand.unknown.len()))
        };
        assert_eq!(demanded(&plain()), Some((0, 0)));
        assert_eq!(demanded(&module("16GB 1Rx4 PC4-2400T-RC1-11")), Some((1, 0)));
        assert_eq!(demanded(&vague()), Some((0, 1)));
    }

    #[test]
    fn a_mode_asks_only_of_what_is_live() {
        let (plain, wide) = (plain(), module("16GB 2Rx8 PC4-2400T-RE1-11"));
        let vague = lacking(&plain, &["width"]);
        assert_eq!(demanded(&population(&[("1A1", &plain)]), false), [(true, 0, 0)]);
        assert_eq!(demanded(&population(&[("1A1", &plain), ("1B3", &wide)]), false), [(false, 1, 0)]);
        assert_eq!(demanded(&population(&[("1A1", &plain), ("1B3", &wide)]), true), [(true, 0, 0)]);
        assert_eq!(demanded(&population(&[("1A1", &vague), ("1B1", &plain)]), false), [(false, 0, 1)]);
    }
}
