//! Interleave, bandwidth and usable capacity against brute force: every way to split a level's channels.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use std::cmp::Reverse;
use std::iter::repeat_n;

use proptest::prelude::*;
use slotwright::figure::Figures;
use slotwright::finding::Place;
use slotwright::machine::{FittedProcessor, Machine, MachineDescription};
use slotwright::module::{Generation, MemoryModule, ModuleKind};
use slotwright::platform::{
    Channel, ChannelDescription, ChannelGroup, ChannelId, ControllerDescription, DomainScheme, Domains, Identical,
    Mode, Platform, PlatformDescription, RatePolicy, Redundancy, Settings, SlotDescription, Socket, SocketDescription,
    SocketId,
};
use slotwright::population::{Layout, Occupant, Population};
use slotwright::processor::{
    CountedRanks, InterleaveSet, InterleaveSets, ModulePattern, PermittedSet, ProcessorDescription,
};
use slotwright::stated::{Basis, Stated};
use slotwright::unit::{Capacity, DataRate, Name};

use crate::boards::{self, Source, bytes, name};

const BASIS: Basis = Basis::BoardManual;

/// An exact fraction in lowest terms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Fraction(u128, u128);

impl Fraction {
    const ZERO: Self = Self(0, 1);

    fn of(numerator: u128, denominator: u128) -> Self {
        let (mut a, mut b) = (numerator, denominator);
        while b > 0 {
            (a, b) = (b, a % b);
        }
        Self(numerator / a, denominator / a)
    }

    fn read(terms: impl Into<(u64, u64)>) -> Self {
        let (numerator, denominator) = terms.into();
        Self::of(numerator.into(), denominator.into())
    }

    fn plus(self, other: Self) -> Self {
        Self::of(self.0 * other.1 + other.0 * self.1, self.1 * other.1)
    }

    fn times(self, numerator: u128, denominator: u128) -> Self {
        Self::of(self.0 * numerator, self.1 * denominator)
    }
}

/// The channels of one processor that have slots: which they are, what the processor calls them, what they hold.
#[derive(Debug)]
struct Channels<'a> {
    ids: Vec<ChannelId>,
    sets: Option<(Vec<&'a Name>, &'a InterleaveSets)>,
    held: Vec<u128>,
}

impl Channels<'_> {
    fn permits(&self, set: &[usize]) -> bool {
        let Some((names, sets)) = &self.sets else { return true };
        let is = |wanted: &InterleaveSet| match wanted {
            InterleaveSet::Ways(ways) => set.len() == usize::from(*ways),
            InterleaveSet::Channels(list) => list.len() == set.len() && set.iter().all(|&at| list.contains(names[at])),
            other => panic!("{other:?}"),
        };
        let equal = set.iter().all(|&at| self.held[at] == self.held[set[0]]);
        set.len() == 1 || sets.permitted.iter().any(|permitted| is(&permitted.set) && (equal || !permitted.equal))
    }

    /// The best of all ways to split a set into permitted ones.
    fn split(&self, set: &[usize]) -> Vec<Vec<usize>> {
        let permitted = |parts: &Vec<Vec<usize>>| parts.iter().all(|part| self.permits(part));
        let mut found: Vec<_> = partitions(set).into_iter().filter(permitted).collect();
        found.iter_mut().for_each(|parts| parts.sort_by_key(|part| (Reverse(part.len()), part.clone())));
        let sizes = |parts: &Vec<Vec<usize>>| parts.iter().map(|part| Reverse(part.len())).collect::<Vec<_>>();
        found.into_iter().min_by_key(|parts| (parts.len(), sizes(parts), parts.clone())).unwrap()
    }

    /// Level by level the interleaved channels, and how much of each.
    fn regions(&self, domain: &[usize]) -> Vec<(Vec<usize>, u128)> {
        let (mut regions, mut below) = (Vec::new(), 0);
        loop {
            let level: Vec<_> = domain.iter().copied().filter(|&at| self.held[at] > below).collect();
            let Some(top) = level.iter().map(|&at| self.held[at]).min() else { return regions };
            regions.extend(self.split(&level).into_iter().map(|part| (part, top - below)));
            below = top;
        }
    }
}

/// Every way to split a list into parts, each part in the order of the list.
fn partitions(items: &[usize]) -> Vec<Vec<Vec<usize>>> {
    let Some((&last, rest)) = items.split_last() else { return vec![Vec::new()] };
    let mut all = Vec::new();
    for parts in partitions(rest) {
        for at in 0..=parts.len() {
            let mut parts = parts.clone();
            parts.resize(parts.len().max(at + 1), Vec::new());
            parts[at].push(last);
            all.push(parts);
        }
    }
    all
}

/// A region: the division and the channels of its domain, its own channels, and what they hold of it.
type Row = (Domains, Vec<Place>, Vec<Place>, u128);

/// What regions of the same channels hold together, at the place of the first.
fn gathered(regions: Vec<Row>) -> Vec<Row> {
    let mut all: Vec<Row> = Vec::new();
    for row in regions {
        match all.iter_mut().find(|known| (&known.1, &known.2) == (&row.1, &row.2)) {
            Some(known) => known.3 += row.3,
            None => all.push(row),
        }
    }
    all
}

/// A machine, what is in it, and what the library says of it.
#[derive(Debug)]
struct Case {
    machine: Machine,
    population: Population,
    figures: Figures,
}

impl Case {
    fn new(machine: Machine, population: Population) -> Self {
        let figures = Figures::of(&Layout::new(&machine, &population).unwrap());
        Self { machine, population, figures }
    }

    fn shown(&self) -> String {
        let machine = serde_json::to_string(&self.machine).unwrap();
        format!("machine {machine}\npopulation {}", serde_json::to_string(&self.population).unwrap())
    }

    fn sockets(&self) -> impl Iterator<Item = SocketId> {
        self.machine.processors().map(|(socket, _)| socket)
    }

    fn mode(&self) -> Mode {
        let independent = || Mode::new(name(Mode::INDEPENDENT), Redundancy::None, BASIS);
        self.machine.mode_description().cloned().unwrap_or_else(independent)
    }

    /// The modules of a channel in slots that are not closed, and that neither the options nor the mode take away.
    fn modules(&self, id: ChannelId) -> Vec<&MemoryModule> {
        let (platform, mode, channel) = (self.machine.platform(), self.mode(), self.machine.platform().channel(id));
        let socket = &platform.socket(channel.socket).label;
        let holds = |group: &ChannelGroup| group.socket == *socket && group.channels.contains(&channel.label);
        let grouped = mode.groups.is_empty() || mode.groups.iter().any(holds);
        let masked: Vec<_> = self.machine.options().flat_map(|option| &option.masks).chain(&mode.masks).collect();
        let labels = channel.slots.iter().map(|&slot| platform.slot(slot).label());
        let closed = &self.machine.settings().closed_slots;
        let live = labels.filter(|label| grouped && !masked.contains(label) && !closed.contains_key(*label));
        let modules = live.filter_map(|label| match self.population.get(label.as_str())? {
            Occupant::Module(fitted) => Some(&fitted.module),
            _ => None,
        });
        modules.collect()
    }

    /// What a channel holds less its largest counted ranks, where ranks stand by.
    fn held(&self, channel: ChannelId) -> u128 {
        let socket = self.machine.platform().channel(channel).socket;
        let lines = &self.machine.processor(socket).unwrap().description().counted_ranks;
        let modules = self.modules(channel);
        let mut ranks: Vec<u128> = Vec::new();
        for module in &modules {
            let count = CountedRanks::of(lines, module, modules.len()).unwrap_or(1);
            ranks.extend(repeat_n(u128::from(module.capacity().mib()).div_ceil(count.into()), count as usize));
        }
        ranks.sort_unstable();
        let spare = if let Redundancy::RankSparing { spare_ranks } = self.mode().redundancy { spare_ranks } else { 0 };
        let total: u128 = modules.iter().map(|module| u128::from(module.capacity().mib())).sum();
        total.saturating_sub(ranks.iter().rev().take(spare as usize).sum())
    }

    fn channels(&self, socket: SocketId) -> Channels<'_> {
        let platform = self.machine.platform();
        let all = &platform.socket(socket).channels;
        let ids: Vec<_> = all.iter().copied().filter(|&id| !platform.channel(id).slots.is_empty()).collect();
        let label = |id: ChannelId| &platform.channel(id).label;
        let sets = self.machine.processor(socket).unwrap().description().interleave.as_ref().map(|stated| {
            let (sets, place) = (&stated.value, |id| all.iter().position(|&other| other == id).unwrap());
            let by_label = all.iter().all(|&id| sets.channels.contains(label(id)));
            let called = |&id: &ChannelId| if by_label { label(id) } else { &sets.channels[place(id)] };
            (ids.iter().map(called).collect(), sets)
        });
        let held = ids.iter().map(|&id| self.held(id)).collect();
        Channels { ids, sets, held }
    }

    /// Whether a scheme holds at the number of modules that the live slots of a processor have.
    fn holds_at_count(&self, scheme: &DomainScheme, socket: SocketId) -> bool {
        let platform = self.machine.platform();
        let slots = self.population.modules().map(|(label, _)| platform.slot_named(label.as_str()).unwrap());
        let own = slots.filter(|&slot| platform.slot(slot).socket == socket && self.machine.is_live(slot));
        let count = own.count() as u16;
        scheme.counts.as_ref().is_none_or(|counts| counts.contains(&count))
    }

    /// The domains of a scheme on a processor; none where firmware falls back.
    fn domains_of(&self, scheme: &DomainScheme, socket: SocketId) -> Option<Vec<Vec<usize>>> {
        let (platform, channels) = (self.machine.platform(), self.channels(socket));
        let all = || 0..channels.ids.len();
        if scheme.domains == Domains::AllProcessors && !self.sockets().all(|other| self.holds_at_count(scheme, other))
            || !self.holds_at_count(scheme, socket)
        {
            return None;
        }
        let Domains::Groups { groups, needs_memory_in_each } = &scheme.domains else {
            let alike = self.sockets().all(|other| self.channels(other).held == channels.held);
            return (alike || scheme.domains == Domains::OnePerProcessor).then(|| vec![all().collect()]);
        };
        let label = |at: usize| &platform.channel(channels.ids[at]).label;
        let own = groups.iter().filter(|group| group.socket == platform.socket(socket).label);
        let places = |group: &ChannelGroup| all().filter(|&at| group.channels.contains(label(at))).collect();
        let domains: Vec<Vec<_>> = own.map(places).collect();
        let filled = domains.iter().all(|domain| domain.iter().any(|&at| channels.held[at] > 0));
        (filled || !needs_memory_in_each).then_some(domains)
    }

    /// The division in force for a processor, and its domains.
    fn domains(&self, socket: SocketId) -> (Domains, Vec<Vec<usize>>) {
        let platform = self.machine.platform();
        let mut next = platform.scheme_named(self.machine.domain_scheme());
        while let Some(scheme) = next {
            if let Some(domains) = self.domains_of(scheme, socket) {
                return (scheme.domains.clone(), domains);
            }
            next = scheme.falls_back_to.as_ref().and_then(|name| platform.scheme_named(name.as_str()));
        }
        (Domains::OnePerProcessor, vec![(0..self.channels(socket).ids.len()).collect()])
    }

    /// The regions of one processor.
    fn regions(&self, socket: SocketId) -> Vec<Row> {
        let (channels, (division, domains)) = (self.channels(socket), self.domains(socket));
        let place = |&at: &usize| Place::channel(self.machine.platform(), channels.ids[at]);
        let places = |set: &[usize]| set.iter().map(place).collect();
        let mut rows = Vec::new();
        for domain in &domains {
            for (set, height) in channels.regions(domain) {
                rows.push((division.clone(), places(domain), places(&set), height * set.len() as u128));
            }
        }
        let mut rows = gathered(rows);
        for (.., mib) in &mut rows {
            *mib = self.left_of(*mib).mib().into();
        }
        rows
    }

    /// The regions of one processor that the library finds, its part of those of all.
    fn found(&self, socket: SocketId) -> Vec<Row> {
        let (platform, label) = (self.machine.platform(), &self.machine.platform().socket(socket).label);
        let of = |place: &&Place| matches!(place, Place::Channel { socket, .. } if socket == label);
        let own = |places: &[Place]| places.iter().filter(of).cloned().collect::<Vec<_>>();
        let mut rows = Vec::new();
        for domain in self.figures.interleave.domains.iter().filter(|domain| domain.sockets.contains(label)) {
            let scheme = platform.scheme_named(domain.scheme.as_str());
            let division = scheme.map_or(Domains::OnePerProcessor, |scheme| scheme.domains.clone());
            let sockets = if division == Domains::AllProcessors { self.sockets().count() } else { 1 };
            for region in &domain.regions {
                assert_eq!((domain.sockets.len(), region.ways as usize), (sockets, region.channels.len()));
                let mib = u128::from(region.capacity_mib.mib()) / sockets as u128;
                rows.push((division.clone(), own(&domain.channels), own(&region.channels), mib));
            }
        }
        gathered(rows)
    }

    /// What a channel of a processor moves, in MB/s.
    fn rate(&self, socket: SocketId) -> Fraction {
        let label = &self.machine.platform().socket(socket).label;
        let own = self.figures.running_rate.domains.iter().find(|domain| domain.sockets.contains(label));
        let (mts, over) = own.and_then(|domain| domain.rate_mts).map_or((0, 1), DataRate::exact_mts);
        Fraction::of(8 * u128::from(mts), over.into())
    }

    fn in_step(&self) -> u128 {
        match (self.mode().redundancy, self.mode().groups.first()) {
            (Redundancy::Mirrored, _) => 2,
            (_, group) => group.map_or(1, |group| group.channels.len() as u128),
        }
    }

    /// What a processor's memory moves when it is swept and when it is spread.
    fn bounds(&self, socket: SocketId) -> [Fraction; 2] {
        let (channels, rate) = (self.channels(socket), self.rate(socket));
        let mut ways = [Fraction::ZERO; 2];
        for domain in self.domains(socket).1 {
            let total: u128 = domain.iter().map(|&at| channels.held[at]).sum();
            let fullest = domain.iter().map(|&at| channels.held[at]).max().unwrap_or(0);
            // a region takes as long as one channel of its height
            let heights: u128 = channels.regions(&domain).iter().map(|(_, height)| height).sum();
            if total > 0 {
                ways = [ways[0].plus(Fraction::of(total, heights)), ways[1].plus(Fraction::of(total, fullest))];
            }
        }
        ways.map(|ways| ways.times(rate.0, rate.1).times(1, self.in_step()))
    }

    /// What the best rate would give on every channel that has slots.
    fn best(&self, socket: SocketId) -> Fraction {
        let (mts, over) = self.machine.best_rate(socket).map_or((0, 1), DataRate::exact_mts);
        Fraction::of(mts.into(), over.into()).times(8 * self.channels(socket).ids.len() as u128, 1)
    }

    /// What the mode leaves of so much, of which spare ranks are taken off already.
    fn left_of(&self, mib: u128) -> Capacity {
        let per_mille = match self.mode().redundancy {
            Redundancy::Mirrored => 500,
            Redundancy::PartlyMirrored { mirrored_per_mille } => 1000 - mirrored_per_mille,
            Redundancy::Own { usable_per_mille } => usable_per_mille,
            _ => 1000,
        };
        Capacity::from_mib((mib * u128::from(per_mille) / 1000) as u64)
    }
}

/// The labels of the channels of each socket.
type Labels = Vec<(Name, Vec<Name>)>;

fn labels(platform: &Platform, only_wired: bool) -> Labels {
    let wanted = |channel: &&Channel| !only_wired || !channel.slots.is_empty();
    let of = |socket: &Socket| {
        let channels = socket.channels.iter().map(|&id| platform.channel(id));
        channels.filter(wanted).map(|channel| channel.label.clone()).collect()
    };
    platform.sockets().iter().map(|socket| (socket.label.clone(), of(socket))).collect()
}

/// A board of up to two sockets of up to seven channels, without tables.
fn wide_machine(source: &mut Source<'_>) -> MachineDescription {
    let (count, widest, even) = (source.below(2) + 1, source.pick(&[4, 6, 3, 5, 2, 7]), !source.once_in(3));
    let (mut sockets, mut turn) = (Vec::new(), 0);
    for socket in 0..count {
        let width = if even { widest } else { source.below(widest) + 1 };
        let mut channel = |letter: char| {
            // the first channel always has slots
            let slots = if even || letter == 'A' { 2 } else { source.pick(&[2, 1, 2, 0]) };
            let slot = |position: u8| {
                turn += 1;
                SlotDescription::new(name(&format!("{socket}{letter}{position}")), position, turn)
            };
            ChannelDescription::new(name(&letter.to_string()), (0..slots).map(slot))
        };
        let channels: Vec<_> = ('A'..='G').take(width).map(&mut channel).collect();
        let controllers = vec![ControllerDescription::new(name("0"), channels)];
        sockets.push(SocketDescription::new(name(&socket.to_string()), controllers));
    }
    let mut board = PlatformDescription::new(name("wide"), Generation::Ddr4, sockets);
    board.rate_policy = if source.once_in(3) { RatePolicy::PerSocket } else { RatePolicy::PerMachine };
    let kinds = [ModuleKind::Registered, ModuleKind::LoadReduced];
    let max = source.pick(&[DataRate::DDR4_2400, DataRate::DDR4_2666]);
    let processor = ProcessorDescription::new(name("proc"), Generation::Ddr4, kinds, max, BASIS).build().unwrap();
    let machine = Machine::builder(board.build().unwrap());
    (0..count).fold(machine, |machine, socket| machine.processor(&socket.to_string(), processor.clone()))
}

/// Permitted sets of channels that go by the board's labels in some order, or by others and thus by position.
fn sets(source: &mut Source<'_>, labels: &Labels) -> InterleaveSets {
    let mut channels: Vec<_> = labels.iter().flat_map(|(_, channels)| channels.clone()).collect();
    channels.sort_unstable();
    channels.dedup();
    let one_length = labels.iter().all(|(_, own)| own.len() == channels.len());
    if one_length && source.once_in(3) {
        channels = ('B'..='H').take(channels.len()).map(|letter| name(&letter.to_string())).collect();
    } else if source.once_in(4) {
        channels.push(name("Z"));
    }
    if source.once_in(2) {
        source.shuffle(&mut channels);
    }
    let mut permitted = Vec::new();
    for _ in 0..source.below(6) {
        let (ways, mut list) = (source.below(channels.len()) + 1, channels.clone());
        source.shuffle(&mut list);
        list.truncate(ways);
        let set = if source.once_in(3) { InterleaveSet::Ways(ways as u8) } else { InterleaveSet::Channels(list) };
        permitted.push(PermittedSet::of(set).equal(source.once_in(3)));
    }
    InterleaveSets::new(channels, permitted)
}

/// Every channel in a group: up to three for a socket.
fn grouped(source: &mut Source<'_>, labels: &Labels) -> Domains {
    let mut groups = Vec::new();
    for (socket, channels) in labels {
        let mut parts = vec![Vec::new(); source.pick(&[2, 1, 3])];
        for channel in channels {
            let part = source.below(parts.len());
            parts[part].push(channel.clone());
        }
        let filled = parts.into_iter().filter(|part| !part.is_empty());
        groups.extend(filled.map(|channels| ChannelGroup::new(socket.clone(), channels)));
    }
    Domains::Groups { groups, needs_memory_in_each: !source.once_in(3) }
}

fn schemes(source: &mut Source<'_>, labels: &Labels) -> Vec<DomainScheme> {
    let one = DomainScheme::ONE_PER_PROCESSOR;
    let mut scheme = |text, domains: fn(&mut Source<'_>, &Labels) -> Domains, next: &[Option<&str>]| {
        DomainScheme::new(name(text), domains(source, labels), BASIS).falls_back_to(source.pick(next).map(name))
    };
    let mut schemes = vec![
        scheme("finer", grouped, &[Some("halves"), None, Some("each")]),
        scheme("halves", grouped, &[None, Some("each"), Some(one)]),
        scheme("all", |_, _| Domains::AllProcessors, &[None, Some("each")]),
        scheme("each", |_, _| Domains::OnePerProcessor, &[None]),
    ];
    for scheme in schemes.iter_mut().filter(|scheme| scheme.domains != Domains::OnePerProcessor) {
        if source.once_in(3) {
            let first = 1 + source.below(3) as u16;
            scheme.counts = Some(vec![first, first + 1 + source.below(3) as u16]);
        }
    }
    schemes
}

fn mode(source: &mut Source<'_>, labels: &Labels, slots: &[Name]) -> Mode {
    let group = |socket: &Name, some: &[Name]| ChannelGroup::new(socket.clone(), some.to_vec());
    let size = source.pick(&[2, 2, 3]);
    let groups = labels.iter().flat_map(|(socket, list)| list.chunks_exact(size).map(|some| group(socket, some)));
    let groups: Vec<_> = groups.collect();
    let redundancy = match source.below(9) {
        0 => Redundancy::None,
        1 | 2 => Redundancy::RankSparing { spare_ranks: 1 },
        3 => Redundancy::RankSparing { spare_ranks: 2 },
        4 => Redundancy::PartlyMirrored { mirrored_per_mille: source.pick(&[250, 500, 125, 333, 1]) },
        5 => Redundancy::Own { usable_per_mille: source.pick(&[750, 667, 1000, 1, 999]) },
        6 if !groups.is_empty() => Redundancy::Mirrored,
        7 if !groups.is_empty() => Redundancy::Paired,
        _ => Redundancy::DeviceCorrection,
    };
    let mut mode = Mode::new(name("mode"), redundancy, BASIS);
    mode.identical = Identical::Capacity;
    if matches!(redundancy, Redundancy::Mirrored | Redundancy::Paired) || source.once_in(5) {
        mode.groups = groups;
    }
    if source.once_in(4) {
        mode.masks.push(source.pick(slots));
    }
    mode
}

/// A random machine in a random mode, with sets and domains unless it is plain.
fn case(source: &mut Source<'_>, plain: bool) -> Case {
    let small = source.once_in(3);
    let mut described = if small { boards::machine(source, 8).into() } else { wide_machine(source) };
    let mut board = PlatformDescription::from(described.platform.clone());
    let (all, wired) = (labels(&described.platform, false), labels(&described.platform, true));
    let slots: Vec<_> = described.platform.slots().iter().map(|slot| slot.label().clone()).collect();
    board.default_settings = Settings::default();
    board.modes = vec![mode(source, &all, &slots)];
    board.domain_schemes = schemes(source, &wired);
    described.platform = board.build().unwrap();
    described.settings.mode = source.pick(&[None, Some(name("mode")), Some(name("mode"))]);
    let scheme = source.pick(&[None, Some("halves"), Some("finer"), Some("all"), Some("each")]);
    described.settings.domain_scheme = scheme.filter(|_| !plain).map(name);
    let interleave = if plain || source.once_in(5) { None } else { Some(Stated::new(sets(source, &all), BASIS)) };
    let module = source.pick(&[ModulePattern::kind(ModuleKind::LoadReduced), ModulePattern::default()]);
    let (modules_in_channel, ranks) = (source.pick(&[None, Some(2), Some(1)]), source.pick(&[2, 1, 3, 4]));
    let counted = source.once_in(3).then_some(CountedRanks::new(module, ranks).modules_in_channel(modules_in_channel));
    for fitted in described.processors.values_mut() {
        let FittedProcessor::Described(processor) = fitted else { continue };
        let mut own = ProcessorDescription::from(processor.clone());
        own.interleave.clone_from(&interleave);
        own.counted_ranks = counted.iter().cloned().collect();
        *processor = own.build().unwrap();
    }
    let (sorts, one_in) = (boards::sorts(source, described.platform.generation(), 3), source.pick(&[2, 1, 3, 2]));
    let mut population = boards::fitted(source, &slots, &sorts, one_in);
    if source.once_in(4) {
        alike(&described.platform, &mut population);
    }
    Case::new(described.build().unwrap(), population)
}

/// Puts into every socket what is in the first.
fn alike(platform: &Platform, population: &mut Population) {
    for socket in &platform.sockets()[1..] {
        for (&slot, &first) in socket.slots.iter().zip(&platform.sockets()[0].slots) {
            let [slot, first] = [slot, first].map(|slot| platform.slot(slot).label().clone());
            population.take(slot.as_str());
            population.get(first.as_str()).cloned().map(|occupant| population.put(slot, occupant));
        }
    }
}

proptest! {
    #![proptest_config(boards::config(500))]

    #[test]
    fn regions_are_what_brute_force_finds(bytes in bytes(260)) {
        let case = case(&mut Source::new(&bytes), false);
        let places = |socket: SocketId| case.channels(socket).regions(&case.domains(socket).1.concat());
        let first = case.sockets().next().unwrap();
        if case.domains(first).0 == Domains::AllProcessors {
            // what becomes of processors of one domain that do not interleave alike is not said
            prop_assume!(case.sockets().all(|socket| places(socket) == places(first)));
        }
        for socket in case.sockets() {
            prop_assert_eq!(case.found(socket), case.regions(socket), "{}", case.shown());
        }
    }

    #[test]
    fn swept_and_spread_are_what_brute_force_finds(bytes in bytes(260)) {
        let case = case(&mut Source::new(&bytes), false);
        let found = &case.figures.bandwidth;
        let wanted: Vec<_> = case.sockets().map(|socket| case.bounds(socket)).collect();
        let sockets = found.sockets.iter().map(|own| [own.swept_mbps, own.spread_mbps].map(Fraction::read));
        prop_assert_eq!(sockets.collect::<Vec<_>>(), &wanted[..], "{}", case.shown());
        let sum = |at: usize| wanted.iter().map(|bounds| bounds[at]).fold(Fraction::ZERO, Fraction::plus);
        let sums = [sum(0), sum(1)];
        prop_assert_eq!([found.swept_mbps, found.spread_mbps].map(Fraction::read), sums, "{}", case.shown());
        let best = case.sockets().map(|socket| case.best(socket)).fold(Fraction::ZERO, Fraction::plus);
        // all memory is used evenly: it takes as long as the processor that takes longest for its own
        let held: Vec<u128> = case.sockets().map(|socket| case.channels(socket).held.iter().sum()).collect();
        let even = [0, 1].map(|at| {
            let own = held.iter().zip(&wanted).filter(|(held, _)| **held > 0).map(|(held, bounds)| (*held, bounds[at]));
            let slow = own.reduce(|a, b| {
                // held over bandwidth is the time
                let (ours, theirs) = (a.0 * a.1.1 * b.1.0, b.0 * b.1.1 * a.1.0);
                if ours >= theirs { a } else { b }
            });
            let slow = slow.map_or((1, Some(Fraction::ZERO)), |(own, bandwidth)| (own, Some(bandwidth).filter(|b| b.0 > 0)));
            slow.1.map(|bandwidth| bandwidth.times(held.iter().sum(), slow.0))
        });
        let evenly = [found.even_swept_mbps, found.even_spread_mbps].map(|even| even.map(Fraction::read));
        prop_assert_eq!(evenly, even, "{}", case.shown());
        let relative = even.map(|even| even.filter(|_| best.0 > 0).map(|even| even.times(best.1, best.0)));
        let found = [found.relative_swept, found.relative_spread].map(|share| share.map(Fraction::read));
        prop_assert_eq!(found, relative, "{}", case.shown());
    }

    #[test]
    fn usable_capacity_is_what_the_mode_leaves(bytes in bytes(260)) {
        let case = case(&mut Source::new(&bytes), false);
        let held: Vec<u128> = case.sockets().map(|socket| case.channels(socket).held.iter().sum()).collect();
        prop_assert_eq!(case.figures.usable.total_mib, case.left_of(held.iter().sum()), "{}", case.shown());
        let wanted: Vec<_> = held.into_iter().map(|mib| case.left_of(mib)).collect();
        let found: Vec<_> = case.figures.usable.sockets.iter().map(|socket| socket.capacity_mib).collect();
        prop_assert_eq!(&found, &wanted, "{}", case.shown());
    }

    #[test]
    fn swept_is_spread_where_every_set_is_permitted(bytes in bytes(260)) {
        let case = case(&mut Source::new(&bytes), true);
        for (socket, own) in case.sockets().zip(&case.figures.bandwidth.sockets) {
            let (held, rate) = (case.channels(socket).held, case.rate(socket));
            let most = held.iter().copied().max().unwrap_or(0).max(1);
            let closed = rate.times(held.iter().sum(), most).times(1, case.in_step());
            prop_assert_eq!([own.swept_mbps, own.spread_mbps].map(Fraction::read), [closed; 2], "{}", case.shown());
        }
    }

    #[test]
    fn swept_is_never_above_spread_nor_spread_above_peak(bytes in bytes(260)) {
        let case = case(&mut Source::new(&bytes), false);
        let bandwidth = &case.figures.bandwidth;
        let sockets = bandwidth.sockets.iter().map(|own| [own.swept_mbps, own.spread_mbps, own.peak_mbps]);
        for bounds in sockets.chain([[bandwidth.swept_mbps, bandwidth.spread_mbps, bandwidth.peak_mbps]]) {
            prop_assert!(bounds.is_sorted(), "{bounds:?} {}", case.shown());
        }
    }
}
