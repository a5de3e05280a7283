//! Small random machines and modules. All choices come from a list of bytes, so that a failing case
//! shrinks towards few bytes, small bytes, and thus towards the plainest machine.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use std::collections::BTreeSet;

use proptest::prelude::{ProptestConfig, Strategy, any};
use proptest::test_runner::RngSeed;
use slotwright::machine::Machine;
use slotwright::module::{Generation, Label, MemoryModule, ModuleKind, Voltages};
use slotwright::platform::{
    ChannelDescription, ChannelGroup, ChannelMinimum, ControllerDescription, CountRow, DomainScheme, Domains,
    FillPriority, FillRow, FillSlot, Identical, Mode, PlatformDescription, PlatformOption, PositionOrder, RatePolicy,
    Redundancy, RelativeSize, SlotDescription, SocketDescription, UnlikeGrades,
};
use slotwright::population::{DeviceSort, Occupant, OtherDevice, Population};
use slotwright::processor::{
    InterleaveSet, InterleaveSets, MixLimit, MixProperty, ModulePattern, PermittedSet, ProcessorDescription,
    RankCounting, RankLimit, RateTable,
};
use slotwright::rule::{RuleSettings, STANDARD_RULES, SeveritySetting};
use slotwright::stated::{Basis, Demand, Scope, Stated};
use slotwright::unit::{Capacity, DataRate, Name, Voltage};

/// So many cases from a fixed seed, so that a run says the same twice. To scan for more, set
/// `PROPTEST_RNG_SEED` and `PROPTEST_CASES`.
pub fn config(cases: u32) -> ProptestConfig {
    let given = ProptestConfig::default();
    let set = |variable: &str| std::env::var_os(variable).is_some();
    ProptestConfig {
        cases: if set("PROPTEST_CASES") { given.cases } else { cases },
        rng_seed: if set("PROPTEST_RNG_SEED") { given.rng_seed } else { RngSeed::Fixed(20) },
        failure_persistence: None,
        ..given
    }
}

/// Bytes to make choices from.
pub fn bytes(most: usize) -> impl Strategy<Value = Vec<u8>> {
    proptest::collection::vec(any::<u8>(), most / 2..=most)
}

/// Makes choices from bytes; the plainest ones when they run out.
#[derive(Debug)]
pub struct Source<'a> {
    bytes: &'a [u8],
}

impl<'a> Source<'a> {
    pub fn new(bytes: &'a [u8]) -> Self {
        Self { bytes }
    }

    /// A number below `end`.
    pub fn below(&mut self, end: usize) -> usize {
        match self.bytes.split_first() {
            Some((&byte, rest)) => {
                self.bytes = rest;
                usize::from(byte) % end
            }
            None => 0,
        }
    }

    /// True once in `n`.
    pub fn once_in(&mut self, n: usize) -> bool {
        self.below(n) == n - 1
    }

    pub fn pick<T: Clone>(&mut self, among: &[T]) -> T {
        among[self.below(among.len())].clone()
    }

    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in 1..items.len() {
            let j = i - self.below(i + 1);
            items.swap(i, j);
        }
    }
}

pub fn name(text: &str) -> Name {
    text.parse().unwrap()
}

pub fn module(label: &str) -> MemoryModule {
    label.parse::<Label>().unwrap().to_module()
}

/// The sorts of module to draw from, plainest first.
pub fn labels(generation: Generation) -> &'static [&'static str] {
    match generation {
        Generation::Ddr3 => &[
            "16GB 2Rx4 PC3L-12800R-11-13-E2",
            "8GB 1Rx4 PC3L-12800R-11-13-E2",
            "8GB 2Rx4 PC3-10600R-09-11-E2",
            "16GB 2Rx4 PC3-14900R-13-13-E2",
            "16GB 4Rx4 PC3L-10600R-09-11-E2",
            "8GB 2Rx8 PC3L-12800R-11-13-E2",
            "4GB 1Rx4 PC3-12800R-11-13-E2",
            "32GB 4Rx4 PC3L-12800L-11-13-E2",
        ],
        Generation::Ddr5 => &[
            "32GB 1Rx4 PC5-4800B-RC0-1010-XT",
            "16GB 1Rx8 PC5-4800B-RD0-1010-XT",
            "64GB 2Rx4 PC5-4400B-RA0-1010-XT",
            "32GB 2Rx8 PC5-5600B-RB0-1010-XT",
            "24GB 1Rx8 PC5-4800B-RD0-1010-XT",
            "64GB 2S2Rx8 PC5-4400B-RB0-1010-XT",
            "16GB 1Rx8 PC5-5600B-RD0-1010-XT",
            "64GB 4Rx8 PC5-4400B-RA0-1010-XT",
        ],
        _ => &[
            "16GB 2Rx4 PC4-2400T-RA1-11",
            "8GB 1Rx4 PC4-2400T-RA1-11",
            "32GB 2Rx4 PC4-2133P-RA1-11",
            "16GB 1Rx4 PC4-2666V-RA1-11",
            "16GB 2Rx8 PC4-2133P-RA1-11",
            "32GB 4Rx4 PC4-2133P-RA1-11",
            "8GB 1Rx8 PC4-2400T-RA1-11",
            "32GB 4Rx4 PC4-2400T-LA1-11",
        ],
    }
}

/// A module of a generation, with or without part number, rarely with facts missing.
pub fn any_module(source: &mut Source<'_>, generation: Generation) -> MemoryModule {
    let plain = module(source.pick(labels(generation)));
    match source.below(12) {
        7 | 8 => plain.to_builder().part_number(name("part-a")).build().unwrap(),
        9 => plain.to_builder().part_number(name("part-b")).build().unwrap(),
        10 => plain.to_builder().maker(name("maker")).build().unwrap(),
        11 if source.once_in(2) => MemoryModule::builder(generation, plain.kind(), plain.capacity())
            .form_factor(plain.form_factor())
            .voltages(plain.voltages().cloned())
            .grade(plain.grade())
            .build()
            .unwrap(),
        _ => plain,
    }
}

/// Different modules.
pub fn sorts(source: &mut Source<'_>, generation: Generation, most: usize) -> Vec<MemoryModule> {
    let count = source.below(most) + 1;
    let mut sorts: Vec<MemoryModule> = Vec::new();
    for _ in 0..count {
        let module = any_module(source, generation);
        if !sorts.contains(&module) {
            sorts.push(module);
        }
    }
    sorts
}

/// What something rests on: any basis, mostly one that makes errors.
fn basis(source: &mut Source<'_>) -> Basis {
    source.pick(&[
        Basis::BoardManual,
        Basis::DataSheet,
        Basis::Measured,
        Basis::BoardManual,
        Basis::MakersList,
        Basis::Assumed,
    ])
}

fn demand(source: &mut Source<'_>) -> Option<Stated<Demand>> {
    match source.below(8) {
        5 | 6 => Some(Stated::new(Demand::Advised, basis(source))),
        7 => Some(Stated::new(Demand::Required, basis(source))),
        _ => None,
    }
}

/// Settings of the rules: some of them raised, lowered or off. Rows stay as they are, since what breaks them decides
/// between layouts.
pub fn settings(source: &mut Source<'_>) -> RuleSettings {
    let mut settings = RuleSettings::default().unknown_is_error(source.once_in(8));
    for _ in 0..source.pick(&[1, 0, 2, 4]) {
        let code = STANDARD_RULES[source.below(STANDARD_RULES.len())].code;
        let severities =
            [SeveritySetting::Note, SeveritySetting::Warning, SeveritySetting::Error, SeveritySetting::Off];
        let severity = source.pick(&severities);
        if code != "fill-row" {
            settings.severities.insert(name(code), severity);
        }
    }
    settings
}

fn rates(generation: Generation) -> &'static [DataRate] {
    match generation {
        Generation::Ddr3 => {
            &[DataRate::DDR3_1600, DataRate::DDR3_1333, DataRate::DDR3_1066, DataRate::DDR3_800, DataRate::DDR3_1866]
        }
        Generation::Ddr5 => {
            &[DataRate::DDR5_4800, DataRate::DDR5_4400, DataRate::DDR5_4000, DataRate::DDR5_3600, DataRate::DDR5_5600]
        }
        _ => &[DataRate::DDR4_2400, DataRate::DDR4_2133, DataRate::DDR4_1866, DataRate::DDR4_1600, DataRate::DDR4_2666],
    }
}

fn rate_table(source: &mut Source<'_>, generation: Generation) -> RateTable {
    let cell = |source: &mut Source<'_>| {
        if source.once_in(8) { None } else { Some(source.pick(rates(generation))) }
    };
    // printed tables mostly fall with load, but must be enterable as printed
    let falling = !source.once_in(3);
    let row = |source: &mut Source<'_>, loads: usize| -> Vec<Option<DataRate>> {
        let mut cells: Vec<_> = (0..loads).map(|_| cell(source)).collect();
        if falling {
            cells.sort_unstable();
            cells.reverse();
        }
        cells
    };
    let mut table = RateTable::new(basis(source));
    let registered = ModulePattern::kind(ModuleKind::Registered);
    let patterns = match source.below(3) {
        0 => vec![registered, ModulePattern::kind(ModuleKind::LoadReduced)],
        1 => vec![registered.clone(), registered.clone().ranks(1), registered.ranks(4)],
        _ => vec![ModulePattern::default(), registered.ranks(2)],
    };
    for pattern in &patterns {
        // a missing cell is a missing row
        let loads = 3 - usize::from(source.once_in(4));
        let cells = row(source, loads);
        if generation == Generation::Ddr3 && source.once_in(3) {
            table = table.by_load_at(Voltage::V1_35, pattern, &cells);
            let cells = row(source, loads);
            table = table.by_load_at(Voltage::V1_5, pattern, &cells);
        } else {
            table = table.by_load(pattern, &cells);
        }
    }
    table
}

fn rank_limit(source: &mut Source<'_>) -> Stated<RankLimit> {
    let counting = source.pick(&[RankCounting::Package, RankCounting::Stacked, RankCounting::Counted]);
    let at_most = source.pick(&[8, 4, 3, 2, 6]);
    let exempt = if source.once_in(4) { vec![ModuleKind::LoadReduced] } else { Vec::new() };
    Stated::new(RankLimit::new(counting, at_most).exempt(exempt), basis(source))
}

fn mix_limit(source: &mut Source<'_>) -> Stated<MixLimit> {
    let property = source.pick(&[
        MixProperty::Capacity,
        MixProperty::PackageRanks,
        MixProperty::Width,
        MixProperty::Kind,
        MixProperty::Maker,
        MixProperty::DieDensity,
    ]);
    let within = source.pick(&[Scope::Channel, Scope::Socket, Scope::Machine]);
    Stated::new(MixLimit::new(property, within, 1), basis(source))
}

/// The slots of each channel of each socket.
type Shape = Vec<Vec<usize>>;

fn shape(source: &mut Source<'_>, most_slots: usize) -> Shape {
    let sockets = source.below(2) + 1;
    let mut left = most_slots;
    let mut shape = Vec::new();
    for _ in 0..sockets {
        let channels = source.below(3) + 1;
        let even = source.pick(&[2, 1, 2, 1, 3]);
        let uneven = source.once_in(4);
        let mut socket = Vec::new();
        for _ in 0..channels {
            let wanted = if uneven { source.pick(&[1, 2, 0]) } else { even };
            let slots = wanted.min(left);
            left -= slots;
            if slots > 0 || uneven {
                socket.push(slots);
            }
        }
        if socket.is_empty() {
            socket.push(0);
        }
        shape.push(socket);
    }
    if left == most_slots {
        shape[0][0] = 1;
    }
    shape
}

fn board(source: &mut Source<'_>, generation: Generation, shape: &Shape) -> PlatformDescription {
    let mut slots: Vec<(usize, usize, usize)> = Vec::new();
    for (s, socket) in shape.iter().enumerate() {
        for (c, &count) in socket.iter().enumerate() {
            slots.extend((0..count).map(|p| (p, c, s)));
        }
    }
    slots.sort_unstable();
    if source.once_in(5) {
        source.shuffle(&mut slots);
    }
    let turn_of = |p, c, s| slots.iter().position(|&slot| slot == (p, c, s)).unwrap();
    let letters = if source.once_in(3) { ["C", "B", "A"] } else { ["A", "B", "C"] };
    let sockets = shape
        .iter()
        .enumerate()
        .map(|(s, socket)| {
            SocketDescription::new(
                name(&(s + 1).to_string()),
                [ControllerDescription::new(
                    name("0"),
                    socket.iter().enumerate().map(|(c, &count)| {
                        ChannelDescription::new(
                            name(letters[c]),
                            (0..count).map(|p| {
                                let label = name(&format!("{}{}{}", s + 1, letters[c], p + 1));
                                let turn = u16::try_from(turn_of(p, c, s)).unwrap();
                                SlotDescription::new(label, u8::try_from(p).unwrap(), turn)
                            }),
                        )
                    }),
                )],
            )
        })
        .collect();
    PlatformDescription::new(name("board"), generation, sockets)
}

fn fill_rows(source: &mut Source<'_>, board: &PlatformDescription) -> Vec<FillRow> {
    let mut rows = Vec::new();
    for _ in 0..source.below(3) + 1 {
        let one_socket = source.once_in(2);
        let socket = source.below(board.sockets.len());
        let mut labels: Vec<Name> = (0..board.sockets.len())
            .filter(|&s| !one_socket || s == socket)
            .flat_map(|s| labels_of(&board.sockets[s]))
            .collect();
        if labels.is_empty() {
            continue;
        }
        source.shuffle(&mut labels);
        labels.truncate(source.below(labels.len()) + 1);
        let demand = source.pick(&[Demand::Advised, Demand::Required]);
        let mut row = FillRow::new(Vec::new(), demand, basis(source));
        for slot in labels {
            let pattern = if source.once_in(6) { Some(ModulePattern::default().package_ranks(2)) } else { None };
            row.slots.push(FillSlot::new(slot).module(pattern));
        }
        if source.once_in(3) {
            mark_sizes(source, &mut row);
        }
        if source.once_in(4) {
            row.processors = Some(source.pick(&[1, 2]));
        }
        rows.push(row);
    }
    rows
}

/// Marks slots of a row as those of the larger and of the smaller size, where it has two; some take either.
fn mark_sizes(source: &mut Source<'_>, row: &mut FillRow) {
    let [first, second, rest @ ..] = row.slots.as_mut_slice() else { return };
    (first.size, second.size) = (Some(RelativeSize::Larger), Some(RelativeSize::Smaller));
    for slot in rest {
        slot.size = source.pick(&[Some(RelativeSize::Larger), Some(RelativeSize::Smaller), None]);
    }
}

fn labels_of(socket: &SocketDescription) -> Vec<Name> {
    let channels = socket.controllers.iter().flat_map(|controller| &controller.channels);
    channels.flat_map(|channel| &channel.slots).map(|slot| slot.label.clone()).collect()
}

fn policies(source: &mut Source<'_>, board: &mut PlatformDescription, generation: Generation) {
    board.channels_alike = demand(source);
    board.sockets_alike = demand(source);
    board.even_counts = demand(source).filter(|_| source.once_in(2));
    board.memory_per_processor = demand(source);
    board.priority_along_channel = demand(source);
    board.fill_priority = source.pick(&[FillPriority::RanksFirst, FillPriority::CapacityFirst]);
    if source.once_in(4) {
        board.rate_policy = RatePolicy::PerSocket;
    }
    if source.once_in(4) {
        let order = source.pick(&[PositionOrder::Any, PositionOrder::Sequence(vec![1, 0])]);
        board.position_order = Some(Stated::new(order, basis(source)));
    }
    if source.once_in(4) {
        board.rank_limits.push(rank_limit(source));
    }
    for _ in 0..source.below(5).saturating_sub(2) {
        board.mix_limits.push(mix_limit(source));
    }
    if source.once_in(5) {
        let policy = source.pick(&[
            UnlikeGrades::NotValidated,
            UnlikeGrades::Refused,
            UnlikeGrades::LowerToMts(rates(generation)[2]),
        ]);
        board.unlike_grades = Some(Stated::new(policy, basis(source)));
    }
    if source.once_in(5) {
        let counts = source.pick(&[vec![1, 2], vec![2, 4], vec![2]]);
        let demand = source.pick(&[Demand::Advised, Demand::Required]);
        let mut row = CountRow::per_socket(counts, demand, basis(source));
        row.within = source.pick(&[Scope::Socket, Scope::Machine, Scope::Channel]);
        board.count_rows.push(row);
    }
    if source.once_in(4) {
        board.rate_table = Some(rate_table(source, generation));
    }
    if source.once_in(8) {
        board.capacity_cap_mib = Some(Stated::new(Capacity::from_gib(32), basis(source)));
    }
}

/// Permitted sets of at most three channels "A" to "C".
fn interleave_sets(source: &mut Source<'_>) -> InterleaveSets {
    let channels = ["A", "B", "C"].map(name);
    let mut permitted = Vec::new();
    for _ in 0..source.below(3) {
        let set = match source.below(5) {
            0 => InterleaveSet::Ways(3),
            1 => InterleaveSet::Ways(2),
            2 => InterleaveSet::Channels(channels[..2].to_vec()),
            3 => InterleaveSet::Channels(channels[1..].to_vec()),
            _ => InterleaveSet::Channels(vec![channels[0].clone(), channels[2].clone()]),
        };
        permitted.push(PermittedSet::of(set).equal(source.once_in(4)));
    }
    InterleaveSets::new(channels.to_vec(), permitted)
}

/// A redundancy mode, over the first two or three channels of each socket that has them where it joins channels.
fn mode(source: &mut Source<'_>, board: &PlatformDescription) -> Mode {
    let redundancy = match source.below(8) {
        0 | 1 => Redundancy::RankSparing { spare_ranks: 1 },
        2 => Redundancy::RankSparing { spare_ranks: 2 },
        3 => Redundancy::Mirrored,
        4 => Redundancy::Paired,
        5 => Redundancy::PartlyMirrored { mirrored_per_mille: 250 },
        6 => Redundancy::Own { usable_per_mille: 900 },
        _ => Redundancy::DeviceCorrection,
    };
    let mut mode = Mode::new(name("mode"), redundancy, basis(source));
    let joins = matches!(redundancy, Redundancy::Mirrored | Redundancy::Paired);
    if joins || source.once_in(4) {
        let size = if source.once_in(3) { 3 } else { 2 };
        let group = |socket: &SocketDescription| {
            let channels = socket.controllers.iter().flat_map(|controller| &controller.channels);
            let channels: Vec<Name> = channels.take(size).map(|channel| channel.label.clone()).collect();
            (channels.len() == size).then(|| ChannelGroup::new(socket.label.clone(), channels))
        };
        mode.groups = board.sockets.iter().filter_map(group).collect();
        mode.identical =
            source.pick(&[Identical::Organization, Identical::Capacity, Identical::Facts, Identical::Part]);
        if redundancy != Redundancy::Mirrored && source.once_in(4) {
            mode.identical = Identical::Nothing;
        }
        if joins && mode.groups.is_empty() {
            mode.redundancy = Redundancy::None;
        }
    }
    if source.once_in(8) {
        let labels: Vec<Name> = board.sockets.iter().flat_map(labels_of).collect();
        mode.masks = vec![source.pick(&labels)];
    }
    if source.once_in(8) {
        mode.counted_ranks_at_least = Some(source.pick(&[2, 3]));
    }
    if source.once_in(5) {
        mode.modules_at_least = Some(2);
    }
    if source.once_in(5) {
        mode.widths = Some(BTreeSet::from([slotwright::module::DeviceWidth::X4]));
    }
    if source.once_in(5) {
        mode.rate_cap_mts = Some(rates(board.generation)[2]);
    }
    if source.once_in(5) {
        let two_small = ModulePattern::default().package_ranks_at_most(source.pick(&[1, 2]));
        let one_large = ModulePattern::default().package_ranks_at_least(4);
        mode.any_of = [(two_small, 2), (one_large, 1)]
            .map(|(module, modules_at_least)| ChannelMinimum::new(module, modules_at_least))
            .to_vec();
    }
    mode
}

/// The first channel of each socket is a domain, and the others are another.
fn domain_scheme(source: &mut Source<'_>, board: &PlatformDescription) -> DomainScheme {
    let mut groups = Vec::new();
    for socket in &board.sockets {
        let channels = socket.controllers.iter().flat_map(|controller| &controller.channels);
        let labels: Vec<Name> = channels.map(|channel| channel.label.clone()).collect();
        for part in [&labels[..1], &labels[1..]].into_iter().filter(|part| !part.is_empty()) {
            groups.push(ChannelGroup::new(socket.label.clone(), part.to_vec()));
        }
    }
    let domains = match source.below(4) {
        0 => Domains::AllProcessors,
        _ => Domains::Groups { groups, needs_memory_in_each: source.once_in(2) },
    };
    let counts = source.once_in(3).then(|| vec![1 + source.below(2) as u16, 3 + source.below(2) as u16]);
    DomainScheme::new(name("scheme"), domains, basis(source)).counts(counts)
}

fn processor(source: &mut Source<'_>, generation: Generation) -> ProcessorDescription {
    let mut kinds = vec![ModuleKind::Registered];
    if source.once_in(2) {
        kinds.push(ModuleKind::LoadReduced);
    }
    let max = rates(generation)[source.pick(&[0, 0, 1, 4])];
    let mut processor = ProcessorDescription::new(name("proc"), generation, kinds, max, basis(source));
    if generation == Generation::Ddr3 {
        let voltages = [Voltage::V1_35, Voltage::V1_5];
        processor.voltages_mv = Stated::new(Voltages::new(voltages).unwrap(), basis(source));
    }
    if source.once_in(2) {
        processor.rate_table = Some(rate_table(source, generation));
    }
    if source.once_in(3) {
        processor.rank_limits.push(rank_limit(source));
    }
    if source.once_in(6) {
        processor.mix_limits.push(mix_limit(source));
    }
    if source.once_in(4) {
        processor.interleave = Some(Stated::new(interleave_sets(source), basis(source)));
    }
    if source.once_in(8) {
        processor.rates_mts = Some(BTreeSet::from([max, rates(generation)[3]]));
    }
    processor
}

/// A machine with at most so many slots; a plain one is as likely as a strange one.
pub fn machine(source: &mut Source<'_>, most_slots: usize) -> Machine {
    let generation = source.pick(&[Generation::Ddr4, Generation::Ddr4, Generation::Ddr3, Generation::Ddr5]);
    let shape = shape(source, most_slots);
    let mut board = board(source, generation, &shape);
    if source.once_in(3) {
        board.fill_rows = fill_rows(source, &board);
    }
    if !source.once_in(3) {
        policies(source, &mut board, generation);
    }
    let labels: Vec<Name> = board.sockets.iter().flat_map(labels_of).collect();
    let mut fitted = Vec::new();
    if source.once_in(5) && labels.len() > 1 {
        let masks = vec![source.pick(&labels)];
        let basis = basis(source);
        let rate_cap_mts = if source.once_in(3) { Some(rates(generation)[1]) } else { None };
        let capacity_cap_mib = None;
        board.options.push(
            PlatformOption::new(name("option"), basis)
                .masks(masks)
                .rate_cap(rate_cap_mts)
                .capacity_cap(capacity_cap_mib),
        );
        fitted.push("option");
    }
    let sockets: Vec<_> = board.sockets.iter().map(|socket| socket.label.clone()).collect();
    let processor = processor(source, generation).build().unwrap();
    let absent = if sockets.len() > 1 && source.once_in(4) { Some(source.below(2)) } else { None };
    if source.once_in(4) {
        board.modes = vec![mode(source, &board)];
        board.default_settings.mode = Some(name("mode"));
    }
    if source.once_in(8) {
        board.domain_schemes = vec![domain_scheme(source, &board)];
        board.default_settings.domain_scheme = Some(name("scheme"));
    }
    let mut machine = Machine::builder(board.build().unwrap());
    for (index, socket) in sockets.iter().enumerate() {
        if Some(index) != absent {
            machine = machine.processor(socket.as_str(), processor.clone());
        }
    }
    for option in fitted {
        machine = machine.option(option);
    }
    for slot in labels {
        if source.once_in(20) {
            machine = machine.closed_slot(slot, name("damaged"));
        }
    }
    machine.build().unwrap()
}

/// Of DDR3 modules that mostly run at two voltages, and at a third at times.
pub fn sorts_by_voltage(source: &mut Source<'_>) -> Vec<MemoryModule> {
    let labels = [
        "16GB 2Rx4 PC3L-12800R-11-13-E2",
        "8GB 2Rx4 PC3L-14900R-11-13-E2",
        "8GB 1Rx4 PC3L-12800R-11-13-E2",
        "16GB 4Rx4 PC3L-12800R-09-11-E2",
        "8GB 2Rx4 PC3-14900R-13-13-E2",
    ];
    let all = Voltages::new([Voltage::V1_25, Voltage::V1_35, Voltage::V1_5]).unwrap();
    let three = source.once_in(3);
    let mut sorts: Vec<MemoryModule> = Vec::new();
    for _ in 0..1 + source.below(3) {
        let plain = module(source.pick(&labels));
        let module = if three { plain.to_builder().voltages(all.clone()).build().unwrap() } else { plain };
        if !sorts.contains(&module) {
            sorts.push(module);
        }
    }
    sorts
}

/// A DDR3 machine with up to three slots a channel, whose rates depend on the voltage and on how many modules share a channel:
/// mostly lower at a lower voltage, and barred there at times.
pub fn machine_by_voltage(source: &mut Source<'_>, most_slots: usize) -> Machine {
    let sockets = source.below(2) + 1;
    let mut left = most_slots;
    let mut shape: Shape = vec![Vec::new(); sockets];
    for _ in 0..1 + source.below(3) {
        for socket in &mut shape {
            let slots = source.pick(&[3, 3, 2, 1]).min(left);
            left -= slots;
            socket.extend((slots > 0).then_some(slots));
        }
    }
    shape.retain(|socket| !socket.is_empty());
    let mut board = board(source, Generation::Ddr3, &shape);
    if source.once_in(4) {
        board.rate_policy = RatePolicy::PerSocket;
    }
    if source.once_in(8) {
        let lower = UnlikeGrades::LowerToMts(DataRate::DDR3_1066);
        board.unlike_grades = Some(Stated::new(lower, basis(source)));
    }
    let mut table = RateTable::new(basis(source));
    let registered = ModulePattern::kind(ModuleKind::Registered);
    let (by_rank, three) = (source.once_in(2), source.once_in(2));
    let patterns = if by_rank { vec![registered.clone().ranks(4), registered] } else { vec![registered] };
    let steps =
        [DataRate::DDR3_1866, DataRate::DDR3_1600, DataRate::DDR3_1333, DataRate::DDR3_1066, DataRate::DDR3_800];
    for pattern in &patterns {
        for (slower, voltage) in [Voltage::V1_5, Voltage::V1_35, Voltage::V1_25].into_iter().enumerate() {
            let mut step = if source.once_in(6) { 0 } else { slower };
            let mut cells = Vec::new();
            for modules in 0..3 {
                step += usize::from(modules > 0) * source.below(3);
                let barred = source.once_in(if modules > 0 { 3 } else { 8 });
                cells.push(if barred { None } else { Some(steps[step.min(4)]) });
            }
            table = table.by_load_at(voltage, pattern, &cells);
        }
    }
    let mut processor =
        ProcessorDescription::new(name("proc"), Generation::Ddr3, [ModuleKind::Registered], steps[0], basis(source));
    let supplied =
        if three { &[Voltage::V1_25, Voltage::V1_35, Voltage::V1_5][..] } else { &[Voltage::V1_35, Voltage::V1_5] };
    processor.voltages_mv = Stated::new(Voltages::new(supplied.iter().copied()).unwrap(), basis(source));
    processor.rate_table = Some(table);
    if source.once_in(4) {
        processor.rank_limits.push(rank_limit(source));
    }
    let sockets: Vec<_> = board.sockets.iter().map(|socket| socket.label.clone()).collect();
    let processor = processor.build().unwrap();
    let machine = Machine::builder(board.build().unwrap());
    sockets
        .iter()
        .fold(machine, |machine, socket| machine.processor(socket.as_str(), processor.clone()))
        .build()
        .unwrap()
}

/// A device that is no plain memory.
pub fn other_device() -> Occupant {
    Occupant::OtherDevice(OtherDevice::new(DeviceSort::Persistent, Capacity::from_gib(128), name("persistent device")))
}

/// The labels of the slots that can be used, by turn.
pub fn live(machine: &Machine) -> Vec<Name> {
    let platform = machine.platform();
    let mut live: Vec<_> = machine.live_slots().map(|slot| platform.slot(slot)).collect();
    live.sort_by_key(|slot| slot.order());
    live.into_iter().map(|slot| slot.label().clone()).collect()
}

/// The same; of a machine without any, the labels of all slots.
pub fn live_or_any(machine: &Machine) -> Vec<Name> {
    let live = live(machine);
    if live.is_empty() { machine.platform().slots().iter().map(|slot| slot.label().clone()).collect() } else { live }
}

/// Some of the modules, and rarely another device, in some of the slots.
pub fn fitted(source: &mut Source<'_>, slots: &[Name], sorts: &[MemoryModule], one_in: usize) -> Population {
    let mut population = Population::new();
    for slot in slots {
        if source.once_in(one_in) {
            population = population.with(slot.clone(), source.pick(sorts));
        } else if source.once_in(24) {
            population.put(slot.clone(), other_device());
        }
    }
    population
}
