//! Helpers that keep the reference platforms short.

use std::collections::BTreeSet;

use crate::module::{Ecc, Generation, Label, ModuleKind};
use crate::platform::{
    AddressPattern, BoardPattern, ChannelEnd, ChannelGroup, ChannelLabels, ControllerDescription, DomainScheme,
    Domains, FillRow, Identical, KeyFacing, KeyFacings, LabelPattern, LabelPiece, Mode, ModuleLimit,
    PlatformDescription, Redundancy, SharedLoadCap, SlotDescription, SlotsPerChannel, SocketDescription, Turns,
    WorkedModules, WorkedRow,
};
use crate::processor::{
    MixLimit, MixProperty, ModulePattern, ProcessorDescription, RankCounting, RankLimit, RateTable,
};
use crate::stated::{Basis, Demand, Scope, Stated};
use crate::unit::{Capacity, DataRate, Density, Name};

/// The marking of the slots of each position.
const MARKINGS: [&str; 3] = ["light", "mid", "dark"];

/// A board whose sockets and controllers are alike.
///
/// Channels go by letters, on from one socket to the next; slots by the letter of their channel and a
/// number from 1 at the far end. Turns take one position across all channels of all sockets before the
/// next, and alternate between the sockets.
pub(super) struct Regular {
    pub(super) sockets: u8,
    /// In each socket.
    pub(super) controllers: u8,
    /// In each socket.
    pub(super) channels: u8,
    pub(super) slots: SlotsPerChannel,
    /// The channels of a socket in the order in which they are filled, by their labels at the first one; in order where empty.
    pub(super) order: &'static str,
}

impl Regular {
    pub(super) fn describe(self, name: &str, generation: Generation) -> PlatformDescription {
        let numbers =
            |from: u8, count: u8| (from..from.saturating_add(count)).map(|number| Name::lossy(&number.to_string()));
        let turns = Turns::by_position_over(self.order.split_whitespace().map(Name::lossy));
        let facings = (0..self.sockets).map(|socket| if socket == 0 { KeyFacing::Usual } else { KeyFacing::Turned });
        let label = LabelPattern::new([LabelPiece::Channel, LabelPiece::Number { width: 1 }]).into();
        let addresses = AddressPattern::new(Name::lossy("event log"))
            .socket_from(0)
            .controller_from(0)
            .channel_from(0)
            .slot_from(0);
        let pattern = BoardPattern::new(
            numbers(1, self.sockets),
            ChannelLabels::LettersRunningOn(self.channels),
            self.slots,
            label,
        )
        .controllers(numbers(0, self.controllers))
        .number_one(Stated::assumed(ChannelEnd::Far))
        .turns(Stated::assumed(turns))
        .markings(MARKINGS.map(Name::lossy))
        .key_facing(KeyFacings::BySocket(facings.collect()))
        .addresses([addresses]);
        PlatformDescription::patterned(Name::lossy(name), generation, pattern)
    }
}

/// Advised rows for so many modules on a board with both processors: the first slots by turn.
pub(super) fn rows_by_turn(board: &PlatformDescription, counts: &[usize]) -> Vec<FillRow> {
    let (board, _) = board.clone().expand();
    let channels = board.sockets.iter().flat_map(|socket| &socket.controllers).flat_map(|c| &c.channels);
    let mut slots: Vec<&SlotDescription> = channels.flat_map(|channel| &channel.slots).collect();
    slots.sort_by_key(|slot| slot.turn);
    let row = |&count: &usize| {
        let labels = slots.iter().take(count).map(|slot| slot.label.clone());
        FillRow { processors: Some(2), ..FillRow::new(labels, Demand::Advised, Basis::Assumed) }
    };
    counts.iter().map(row).collect()
}

/// For each controller, groups of its first `used` channels, so many in each.
pub(super) fn groups(board: &PlatformDescription, size: usize, used: usize) -> Vec<ChannelGroup> {
    let (board, _) = board.clone().expand();
    let controllers =
        board.sockets.iter().flat_map(|socket| socket.controllers.iter().map(move |c| (&socket.label, c)));
    let of = |(socket, controller): (&Name, &ControllerDescription)| -> Vec<ChannelGroup> {
        let labels: Vec<Name> = controller.channels.iter().take(used).map(|channel| channel.label.clone()).collect();
        let group = |labels: &[Name]| ChannelGroup { socket: socket.clone(), channels: labels.to_vec() };
        labels.chunks(size).map(group).collect()
    };
    controllers.flat_map(of).collect()
}

/// For each socket, groups of so many of its channels.
pub(super) fn domains(board: &PlatformDescription, size: usize) -> Domains {
    let (board, _) = board.clone().expand();
    let of = |socket: &SocketDescription| -> Vec<ChannelGroup> {
        let channels = socket.controllers.iter().flat_map(|controller| &controller.channels);
        let labels: Vec<Name> = channels.map(|channel| channel.label.clone()).collect();
        let group = |labels: &[Name]| ChannelGroup { socket: socket.label.clone(), channels: labels.to_vec() };
        labels.chunks(size).map(group).collect()
    };
    Domains::Groups { groups: board.sockets.iter().flat_map(of).collect(), needs_memory_in_each: true }
}

/// A scheme that falls back, assumed.
pub(super) fn scheme(name: &str, domains: Domains, falls_back_to: Option<&str>) -> DomainScheme {
    let (name, falls_back_to) = (Name::lossy(name), falls_back_to.map(Name::lossy));
    DomainScheme { name, domains, counts: None, falls_back_to, basis: Basis::Assumed, source: None }
}

/// A mode that asks for nothing yet, assumed.
pub(super) fn mode(name: &str, redundancy: Redundancy) -> Mode {
    Mode::new(Name::lossy(name), redundancy, Basis::Assumed)
}

/// The channels of each controller two by two, in lockstep ("paired") or mirrored; one spare rank a channel.
pub(super) fn modes_of_pairs(board: &PlatformDescription) -> Vec<Mode> {
    let paired = mode("paired", Redundancy::Paired);
    vec![
        joined(mode("mirrored", Redundancy::Mirrored), groups(board, 2, 4)),
        joined(paired, groups(board, 2, 4)),
        mode("spare-rank", Redundancy::RankSparing { spare_ranks: 1 }),
    ]
}

/// The mode over these groups of channels, of which each holds modules of the same organization.
pub(super) fn joined(mode: Mode, groups: Vec<ChannelGroup>) -> Mode {
    Mode { groups, identical: Identical::Organization, ..mode }
}

/// A registered quad-rank module sits before all others of its channel.
pub(super) fn quad_rank_first() -> ModuleLimit {
    ModuleLimit { module: quad_rank(), at_most_per_channel: None, barred_positions: Vec::new(), first_in_channel: true }
}

/// The limits on registered quad-rank modules where channels have three slots: at most two a channel, none in the third
/// slot, and before all others. Server Board S2600IP TPS 1.4 p. 31; TX300 S8 manual p. 469.
pub(super) fn quad_rank_limit() -> Stated<ModuleLimit> {
    Stated::assumed(ModuleLimit { at_most_per_channel: Some(2), barred_positions: vec![2], ..quad_rank_first() })
}

/// One of them bars three modules a channel at its processor. TX300 S8 manual p. 469.
pub(super) fn quad_rank_cap() -> Stated<SharedLoadCap> {
    Stated::assumed(SharedLoadCap { module: quad_rank(), within: Scope::Socket, modules_per_channel: 2 })
}

/// Registered modules of four ranks.
pub(super) fn quad_rank() -> ModulePattern {
    ModulePattern::kind(ModuleKind::Registered).ranks(4)
}

/// One value of the property within the scope.
pub(super) fn one_of(property: MixProperty, within: Scope) -> Stated<MixLimit> {
    Stated::assumed(MixLimit { property, within, at_most: 1 })
}

/// These check bits alone.
pub(super) fn check_bits(ecc: &[Ecc]) -> Option<Stated<BTreeSet<Ecc>>> {
    Some(Stated::assumed(ecc.iter().copied().collect()))
}

/// A processor with everything assumed.
pub(super) fn processor(
    name: &str,
    generation: Generation,
    kinds: &[ModuleKind],
    max_rate: DataRate,
) -> ProcessorDescription {
    ProcessorDescription::new(Name::lossy(name), generation, kinds.iter().copied(), max_rate, Basis::Assumed)
}

/// Die densities in gigabits.
pub(super) fn densities(gbit: &[u32]) -> Option<Stated<BTreeSet<Density>>> {
    Some(Stated::assumed(gbit.iter().map(|&gbit| Density::from_gbit(gbit)).collect()))
}

/// At most so many ranks a channel, as the controller counts them.
pub(super) fn counted_ranks_at_most(at_most: u32) -> Vec<Stated<RankLimit>> {
    vec![Stated::assumed(RankLimit { counting: RankCounting::Counted, at_most, exempt: Vec::new() })]
}

/// Rates for one module a channel, two and so on; 0 is "not allowed".
pub(super) type Rates = (ModulePattern, &'static [u32]);

/// An assumed table of rates by load.
pub(super) fn rates(generation: Generation, rows: &[Rates]) -> RateTable {
    rows.iter()
        .fold(RateTable::new(Basis::Assumed), |table, (module, names)| table.by_load(module, &cells(generation, names)))
}

/// The generation's rates by their names; no rate has the name 0.
pub(super) fn cells(generation: Generation, names: &[u32]) -> Vec<Option<DataRate>> {
    let named = |&name: &u32| generation.rates().iter().copied().find(|rate| rate.name_mts() == name);
    names.iter().map(named).collect()
}

/// A worked row in the making; states nothing yet but that its modules work.
pub(super) struct Row(WorkedRow);

/// A row with these processors, by socket.
pub(super) fn worked(name: &str, processors: &[(&str, &str)]) -> Row {
    let named = |&(socket, processor): &(&str, &str)| (Name::lossy(socket), Name::lossy(processor));
    Row(WorkedRow {
        name: Name::lossy(name),
        processors: processors.iter().map(named).collect(),
        options: Vec::new(),
        mode: None,
        modules: Vec::new(),
        rate_mts: None,
        capacity_mib: None,
        usable_mib: None,
        refused_by: None,
        basis: Basis::Assumed,
        source: None,
    })
}

impl Row {
    /// Modules by their label, and the slots in which the row puts them, with blanks between; none for
    /// "not stated".
    ///
    /// A label that cannot be read adds nothing. A test sees to it that there is none.
    pub(super) fn modules(mut self, label: &str, count: u16, slots: &str) -> Self {
        let slots = slots.split_whitespace().map(Name::lossy).collect();
        let module = label.parse::<Label>().ok().map(|label| label.to_module());
        self.0.modules.extend(module.map(|module| WorkedModules { module, count, slots }));
        self
    }

    pub(super) fn rate(mut self, rate: DataRate) -> Self {
        self.0.rate_mts = Some(rate);
        self
    }

    pub(super) fn gib(mut self, gib: u32) -> Self {
        self.0.capacity_mib = Some(Capacity::from_gib(gib));
        self
    }

    pub(super) fn mode(mut self, mode: &str) -> Self {
        self.0.mode = Some(Name::lossy(mode));
        self
    }

    pub(super) fn usable(mut self, gib: u32) -> Self {
        self.0.usable_mib = Some(Capacity::from_gib(gib));
        self
    }

    pub(super) fn refused_by(mut self, code: &str) -> Self {
        self.0.refused_by = Some(Name::lossy(code));
        self
    }
}

/// The rows as a platform holds them.
pub(super) fn rows(rows: impl IntoIterator<Item = Row>) -> Vec<WorkedRow> {
    rows.into_iter().map(|row| row.0).collect()
}
