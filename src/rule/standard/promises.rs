//! Whether the rules keep what their rows promise, on machines that state every limit on unlike modules.

use std::cell::OnceCell;
use std::collections::{BTreeMap, BTreeSet};

use proptest::collection::vec;
use proptest::option::weighted;
use proptest::prelude::*;
use proptest::sample::{select, subsequence};

use crate::figure::RunningRate;
use crate::finding::{FactValue, Finding, Severity, Verdict};
use crate::machine::Machine;
use crate::module::{Ecc, MemoryModule, MemoryModuleBuilder, ModuleKind, Voltages};
use crate::platform::{
    ChannelGroup, CountRow, DomainScheme, Domains, FillRow, Identical, Mode, PairBan, PlatformDescription, RatePolicy,
    Redundancy, RelativeSize, Settings, SocketId, UnlikeGrades, UnlikeVoltages,
};
use crate::population::{ChannelLoad, Content, Layout, ModuleSite, SocketLoad};
use crate::processor::{
    InterleaveSet, InterleaveSets, MixLimit, MixProperty, ModulePattern, PermittedSet, ProcessorDescription, RateTable,
};
use crate::rule::{
    ApartCheck, Form, LoadCheck, Mix, MixOf, Report, Rule, RuleBook, RuleSettings, Says, SeveritySetting, Sink,
};
use crate::stated::{Basis, Demand, Scope, Stated};
use crate::testing::{self, board_of, lacking, module, name, plain, processor};
use crate::unit::{Capacity, DataRate, Power, Voltage};

/// Modules that differ in every fact that a rule looks at, some of them with gaps.
fn modules() -> Vec<MemoryModule> {
    let volts = |volts: &[Voltage]| Voltages::new(volts.iter().copied()).unwrap();
    let build =
        |change: &dyn Fn(MemoryModuleBuilder) -> MemoryModuleBuilder| change(plain().to_builder()).build().unwrap();
    vec![
        plain(),
        module("16GB 1Rx4 PC4-2133P-RC1-10"),
        module("8GB 2Rx8 PC4-2400T-RE2-11"),
        module("64GB 2S2Rx4 PC4-2400T-RB2-11"),
        module("128GB 2S4Rx4 PC4-2666V-RB2-11"),
        module("32GB 4DRx4 PC4-2400T-LD0-11"),
        build(&|facts| facts.class(name("one")).maker(name("first"))),
        build(&|facts| facts.class(name("two")).maker(name("second"))),
        build(&|facts| facts.voltages(volts(&[Voltage::V1_1]))),
        build(&|facts| facts.voltages(volts(&[Voltage::V1_1, Voltage::V1_2]))),
        build(&|facts| facts.ecc(Ecc::None)),
        lacking(&plain(), &["width", "die_density_mbit"]),
        lacking(&plain(), &["package_ranks", "stack", "ecc"]),
        lacking(&plain(), &["grade_mts"]),
        lacking(&plain(), &["voltages_mv"]),
    ]
}

const PROPERTIES: [MixProperty; 12] = [
    MixProperty::Kind,
    MixProperty::Stacked,
    MixProperty::StackHeight,
    MixProperty::Ecc,
    MixProperty::Width,
    MixProperty::Capacity,
    MixProperty::PackageRanks,
    MixProperty::DieDensity,
    MixProperty::DieDensityUnlessOneWidth,
    MixProperty::Class,
    MixProperty::ClassOrNone,
    MixProperty::Maker,
];

/// 2 sockets of 2 channels of 3 slots, with every policy stated.
fn machine(within: Scope, at_most: u8, basis: Basis, rate_policy: RatePolicy) -> Machine {
    let class = |text: &str| ModulePattern { class: Some(name(text)), ..ModulePattern::default() };
    let stacked = ModulePattern { stack_height: Some(2), ..ModulePattern::default() };
    let ban = |first, second| Stated::new(PairBan { first, second, within }, basis);
    let rates = RateTable::new(basis).by_load(
        &ModulePattern::kind(ModuleKind::Registered).ranks(2),
        &[Some(DataRate::DDR4_2400), Some(DataRate::DDR4_2133), None],
    );
    let board = PlatformDescription {
        mix_limits: PROPERTIES.map(|property| Stated::new(MixLimit { property, within, at_most }, basis)).to_vec(),
        pair_bans: vec![ban(class("one"), class("two")), ban(stacked.clone(), stacked)],
        highest_grade_mts: Some(Stated::new(DataRate::DDR4_2400, basis)),
        unlike_grades: Some(Stated::new(UnlikeGrades::Refused, basis)),
        unlike_voltages: Some(Stated::new(UnlikeVoltages::Refused, basis)),
        capacity_cap_mib: Some(Stated::new(Capacity::from_gib(256), basis)),
        accepted_processors: Some(Stated::new(vec![name("other")], basis)),
        neighbouring_sizes: Some(Stated::new(within, basis)),
        even_counts: Some(Stated::new(Demand::Required, basis)),
        controllers_alike: Some(Stated::new(Demand::Required, basis)),
        count_rows: vec![CountRow::per_socket([1, 2, 4, 6], Demand::Required, basis)],
        fill_rows: vec![FillRow::new(["1A1", "1B1"].map(name), Demand::Required, basis)],
        blanks: Some(Stated::new(Demand::Advised, basis)),
        rate_policy,
        ..board_of(2, 2, 3)
    };
    let voltages_mv = Voltages::new([Voltage::V1_1, Voltage::V1_2]).unwrap();
    let voltages_mv = Stated::new(voltages_mv, Basis::DataSheet);
    testing::machine(board, ProcessorDescription { voltages_mv, rate_table: Some(rates), ..processor() })
}

fn machines() -> impl Strategy<Value = Machine> {
    let scopes = select(vec![Scope::Channel, Scope::Socket, Scope::Machine]);
    let bases = select(vec![Basis::BoardManual, Basis::MakersList]);
    let policies = select(vec![RatePolicy::PerMachine, RatePolicy::PerSocket]);
    (scopes, 1_u8..3, bases, policies)
        .prop_map(|(within, at_most, basis, rate_policy)| machine(within, at_most, basis, rate_policy))
}

/// For each of the 12 slots a module of the list, or none; half of the time of one or two sorts only, so that
/// channels are alike now and then.
fn fillings() -> impl Strategy<Value = Vec<Option<usize>>> {
    let any = 0..modules().len();
    let many = vec(weighted(0.5, any.clone()), 12);
    let few = vec(any, 1..3).prop_flat_map(|sorts| vec(weighted(0.4, select(sorts)), 12));
    prop_oneof![many, few]
}

fn lay<'a>(machine: &'a Machine, modules: &'a [MemoryModule], filling: &[Option<usize>]) -> Layout<'a> {
    let mut layout = Layout::empty(machine);
    for (slot, content) in machine.platform().slot_ids().zip(filling) {
        if let Some(module) = content.and_then(|index| modules.get(index)) {
            layout.set(slot, Content::Module(module));
        }
    }
    layout
}

/// What one rule says of a layout, where what is unknown is an error or is not.
fn said_by(rule: &Rule, layout: &Layout<'_>, unknown_is_error: bool) -> Vec<Finding> {
    alone(rule, unknown_is_error).check(layout)
}

/// The book of one rule.
fn alone(rule: &Rule, unknown_is_error: bool) -> RuleBook {
    let settings = RuleSettings { unknown_is_error, ..RuleSettings::default() };
    RuleBook::empty().with(rule.clone()).unwrap().with_settings(&settings).unwrap()
}

fn heaviest(findings: &[Finding]) -> Option<Severity> {
    findings.iter().map(|finding| finding.severity).max()
}

proptest! {
    // a book does not ask such rules at all
    #[test]
    fn idle_rules_have_nothing_to_say(machine in machines(), filling in fillings(), strict in any::<bool>()) {
        let modules = modules();
        let layout = lay(&machine, &modules, &filling);
        let standard = RuleBook::standard();
        let idle: Vec<&Rule> = standard.rules().filter(|rule| rule.is_idle(&machine)).collect();
        prop_assert_eq!(idle.len(), 7);
        for rule in idle {
            let speaks = rule.probe(Severity::Note, &alone(rule, strict), |report| rule.form().check(&layout, report));
            prop_assert!(!speaks, "{}", rule.code());
        }
    }

    #[test]
    fn law_hereditary_rules_stay_broken(
        machine in machines(),
        filling in fillings(),
        slot in 0_usize..12,
        more in 0..modules().len(),
        strict in any::<bool>(),
    ) {
        let modules = modules();
        let before = lay(&machine, &modules, &filling);
        let mut after = before.clone();
        let slot = machine.platform().slot_ids().nth(slot).unwrap();
        if before.get(slot) == Content::Empty {
            after.set(slot, Content::Module(&modules[more]));
        }
        for rule in RuleBook::standard().rules().filter(|rule| rule.is_hereditary()) {
            let [once, later] = [&before, &after].map(|layout| heaviest(&said_by(rule, layout, strict)));
            prop_assert!(later >= once, "{}: {once:?}, then {later:?}", rule.code());
        }
    }

    #[test]
    fn law_placement_free_rules_look_at_no_place(
        machine in machines(),
        (filling, moved) in fillings().prop_flat_map(|filling| (Just(filling.clone()), Just(filling).prop_shuffle())),
    ) {
        let modules = modules();
        let (before, after) = (lay(&machine, &modules, &filling), lay(&machine, &modules, &moved));
        for rule in RuleBook::standard().rules().filter(|rule| rule.is_placement_free()) {
            prop_assert_eq!(said_by(rule, &before, true), said_by(rule, &after, true));
        }
    }

    #[test]
    fn law_rules_are_blind_to_identity_unless_they_say_so(machine in machines(), filling in fillings()) {
        let modules = modules();
        let renamed: Vec<_> = (0..).zip(&modules).map(|(index, module)| {
            let facts = module.to_builder().maker(name(&format!("maker {index}"))).power(Power::from_mw(index));
            facts.part_number(name(&format!("part {index}"))).build().unwrap()
        }).collect();
        let (one, other) = (lay(&machine, &modules, &filling), lay(&machine, &renamed, &filling));
        for rule in RuleBook::standard().rules().filter(|rule| !rule.reads_identity()) {
            prop_assert_eq!(said_by(rule, &one, true), said_by(rule, &other, true));
        }
    }

    // where the slowest of a look is there, the others run no faster than it
    #[test]
    fn law_rules_are_blind_to_grades_unless_they_say_so(
        machine in machines(), filling in fillings(), faster in vec(any::<bool>(), 12),
    ) {
        prop_assume!(machine.platform().description().rate_policy == RatePolicy::PerMachine);
        let quick = |module: MemoryModule| match module.is_described() {
            true => module.to_builder().grade(DataRate::DDR4_3200).build().unwrap(),
            false => module,
        };
        let all: Vec<MemoryModule> = modules().into_iter().chain(modules().into_iter().map(quick)).collect();
        let mut seen = BTreeSet::new();
        let mixed: Vec<Option<usize>> = filling.iter().zip(faster).map(|(content, faster)| {
            content.map(|index| if !seen.insert(index) && faster { index + modules().len() } else { index })
        }).collect();
        let (one, other) = (lay(&machine, &all, &filling), lay(&machine, &all, &mixed));
        // of two parts of which the same is not known it cannot be said that they are alike
        let lacks_key = |rule: &Rule| match rule.form() {
            Form::Mix(Mix { of: MixOf::Modules(key), .. }) => {
                let mut slots = machine.platform().slot_ids().zip(&mixed);
                slots.any(|(slot, content)| {
                    let module = content.and_then(|index| all.get(index));
                    module.is_some_and(|module| key(&ModuleSite { machine: &machine, slot, module }).is_err())
                })
            }
            _ => false,
        };
        let blind = |rule: &&Rule| {
            !rule.reads_grades() && !matches!(rule.form(), Form::Module(_)) && !lacks_key(rule)
        };
        for rule in RuleBook::standard().rules().filter(blind) {
            let said = |layout| {
                let findings = said_by(rule, layout, true);
                let mut said: Vec<_> =
                    findings.into_iter().map(|finding| (finding.severity, finding.verdict, finding.places)).collect();
                said.sort();
                said
            };
            prop_assert_eq!(said(&one), said(&other), "{}", rule.code());
        }
    }

    #[test]
    fn law_a_probe_answers_as_the_check(machine in machines(), filling in fillings(), strict in any::<bool>()) {
        let modules = modules();
        let layout = lay(&machine, &modules, &filling);
        for rule in RuleBook::standard().rules() {
            let found = heaviest(&said_by(rule, &layout, strict));
            for threshold in [Severity::Note, Severity::Warning, Severity::Error] {
                let hit = rule.probe(threshold, &alone(rule, strict), |report| rule.form().check(&layout, report));
                prop_assert_eq!(hit, found >= Some(threshold), "{}", rule.code());
            }
        }
    }

    // the channels of each processor swapped, and the processors swapped; printed rows name their slots
    #[test]
    fn law_like_channels_are_judged_alike(machine in machines(), filling in fillings()) {
        let modules = modules();
        let swapped: Vec<_> = [9, 10, 11, 6, 7, 8, 3, 4, 5, 0, 1, 2].iter().map(|&slot| filling[slot]).collect();
        let (one, other) = (lay(&machine, &modules, &filling), lay(&machine, &modules, &swapped));
        for rule in RuleBook::standard().rules().filter(|rule| *rule.code() != *"fill-row") {
            let weights = |layout| {
                let findings = said_by(rule, layout, true);
                let mut weights: Vec<_> = findings.iter().map(|finding| (finding.severity, finding.verdict)).collect();
                weights.sort();
                weights
            };
            prop_assert_eq!(weights(&one), weights(&other), "{}", rule.code());
        }
    }
}

const BASES: [Basis; 5] = [Basis::BoardManual, Basis::MakersList, Basis::DataSheet, Basis::Measured, Basis::Assumed];

/// What hints speak of, on two processors of three channels "A" to "C" of two slots.
#[derive(Debug, Clone)]
struct Hinted {
    mode: Option<(Redundancy, Identical, Basis)>,
    /// Channels A and B of each processor are a domain, and channel C is another.
    scheme: Option<bool>,
    /// Only pairs of A and B and, where said, all three channels are permitted.
    sets: Option<bool>,
    board_table: Option<Basis>,
    processor_table: Option<Basis>,
    rate_policy: RatePolicy,
    rows: Vec<FillRow>,
}

/// One module a channel runs everywhere; two of two ranks do not at the lower voltage, and load-reduced ones nowhere.
fn table(basis: Basis) -> RateTable {
    let registered = ModulePattern::kind(ModuleKind::Registered);
    let reduced = ModulePattern::kind(ModuleKind::LoadReduced);
    let (fast, slow) = (Some(DataRate::DDR4_2400), Some(DataRate::DDR4_2133));
    let table = RateTable::new(basis).by_load(&registered, &[fast, slow]).by_load(&reduced, &[slow, None]);
    table.by_load_at(Voltage::V1_1, &registered.ranks(2), &[slow, None])
}

fn build(hinted: &Hinted) -> Machine {
    let mut board = board_of(2, 3, 2);
    let group = |socket: &str, channels: &[&str]| ChannelGroup {
        socket: name(socket),
        channels: channels.iter().map(|channel| name(channel)).collect(),
    };
    let both = |channels: &[&str]| ["1", "2"].map(|socket| group(socket, channels));
    if let Some((redundancy, identical, basis)) = hinted.mode {
        let joins = matches!(redundancy, Redundancy::Mirrored | Redundancy::Paired);
        let groups = if joins { both(&["A", "B"]).to_vec() } else { Vec::new() };
        board.modes = vec![Mode { groups, identical, ..Mode::new(name("mode"), redundancy, basis) }];
    }
    if let Some(needs_memory_in_each) = hinted.scheme {
        let groups = both(&["A", "B"]).into_iter().chain(both(&["C"])).collect();
        board.domain_schemes = vec![DomainScheme {
            name: name("scheme"),
            domains: Domains::Groups { groups, needs_memory_in_each },
            counts: None,
            falls_back_to: None,
            basis: Basis::BoardManual,
            source: None,
        }];
    }
    board.default_settings = Settings {
        mode: hinted.mode.map(|_| name("mode")),
        domain_scheme: hinted.scheme.map(|_| name("scheme")),
        ..Settings::default()
    };
    board.rate_table = hinted.board_table.map(table);
    board.rate_policy = hinted.rate_policy;
    board.fill_rows = hinted.rows.clone();
    let voltages_mv = Stated::new(Voltages::new([Voltage::V1_1, Voltage::V1_2]).unwrap(), Basis::DataSheet);
    let rate_table = hinted.processor_table.map(table);
    let interleave = hinted.sets.map(|all| {
        let pair = PermittedSet::of(InterleaveSet::Channels(["A", "B"].map(name).to_vec()));
        let three = all.then(|| PermittedSet::of(InterleaveSet::Ways(3)));
        let channels = ["A", "B", "C"].map(name).to_vec();
        Stated::new(InterleaveSets { channels, permitted: three.into_iter().chain([pair]).collect() }, Basis::DataSheet)
    });
    testing::machine(board, ProcessorDescription { voltages_mv, rate_table, interleave, ..processor() })
}

/// A filling of the twelve slots, and the slots' labels by their places in it.
fn labels() -> Vec<String> {
    let mut board = board_of(2, 3, 2);
    testing::slots_mut(&mut board).map(|slot| slot.label.to_string()).collect()
}

/// Rows of any slots, and sometimes of the slots that are filled.
fn rows(filling: Vec<Option<usize>>) -> impl Strategy<Value = Vec<FillRow>> {
    let filled: Vec<String> =
        labels().into_iter().zip(&filling).filter(|(_, content)| content.is_some()).map(|(label, _)| label).collect();
    let of = |filled: &[String], socket: &str| -> Vec<String> {
        filled.iter().filter(|label| label.starts_with(socket)).cloned().collect()
    };
    let own = [of(&filled, "1"), of(&filled, "2"), of(&filled, "")];
    let counts: Vec<usize> = own.iter().map(Vec::len).collect();
    let slots = (select(own.to_vec()), 0_usize..3, subsequence(labels(), 12)).prop_flat_map(move |(own, sort, all)| {
        // as many others of one processor, or of both
        let scope = ["1", "2", ""][sort];
        let among = of(&all, scope);
        let count = counts[sort].min(among.len());
        prop_oneof![Just(own), subsequence(among, count)]
    });
    let row = (slots, select(vec![Demand::Required, Demand::Advised]), select(BASES.to_vec()), any::<[bool; 2]>());
    let row = row.prop_map(|(slots, demand, basis, [of_two_ranks, marks])| {
        let mut row = FillRow::new(slots.iter().map(|label| name(label)), demand, basis);
        if of_two_ranks {
            row.slots.iter_mut().for_each(|slot| slot.module = Some(ModulePattern::default().ranks(2)));
        }
        if let ([first, .., last], true) = (row.slots.as_mut_slice(), marks) {
            (first.size, last.size) = (Some(RelativeSize::Larger), Some(RelativeSize::Smaller));
        }
        row
    });
    vec(row, 0..4).prop_map(|rows| {
        let mut seen = BTreeSet::new();
        rows.into_iter()
            .filter(|row| {
                let slots: BTreeSet<_> = row.slots.iter().map(|slot| slot.slot.clone()).collect();
                !row.slots.is_empty() && seen.insert(slots)
            })
            .collect()
    })
}

fn hinted() -> impl Strategy<Value = (Hinted, Vec<Option<usize>>)> {
    let basis = || select(BASES.to_vec());
    let redundancy = select(vec![
        Redundancy::Mirrored,
        Redundancy::Paired,
        Redundancy::RankSparing { spare_ranks: 1 },
        Redundancy::DeviceCorrection,
    ]);
    let identical = select(vec![Identical::Organization, Identical::Capacity, Identical::Facts, Identical::Nothing]);
    let mode = proptest::option::of((redundancy, identical, basis()));
    let policies = select(vec![RatePolicy::PerMachine, RatePolicy::PerSocket]);
    let (scheme, sets) = (proptest::option::of(any::<bool>()), proptest::option::of(any::<bool>()));
    let tables = (proptest::option::of(basis()), proptest::option::of(basis()));
    // half of the time channels A and B of each processor hold the same
    let filling = (fillings(), any::<bool>()).prop_map(|(mut filling, alike)| {
        if alike {
            filling.copy_within(0..2, 2);
            filling.copy_within(6..8, 8);
        }
        filling
    });
    (mode, scheme, sets, tables, policies, filling.prop_flat_map(|filling| (rows(filling.clone()), Just(filling))))
        .prop_map(|(mode, scheme, sets, (board_table, processor_table), rate_policy, (rows, filling))| {
            // halves of a mirror are always the same in something
            let mode = mode.map(|(redundancy, identical, basis)| match redundancy {
                Redundancy::Mirrored if identical == Identical::Nothing => (redundancy, Identical::Capacity, basis),
                _ => (redundancy, identical, basis),
            });
            // most rows are of the mode that is set
            let set = mode.map(|_| name("mode"));
            let of_mode = |(index, row): (usize, FillRow)| FillRow { mode: set.clone().filter(|_| index < 2), ..row };
            let rows = rows.into_iter().enumerate().map(of_mode).collect();
            let hinted = Hinted { mode, scheme, sets, board_table, processor_table, rate_policy, rows };
            (hinted, filling)
        })
}

/// What a channel's memory comes to, less what is spared.
fn held(load: &ChannelLoad<'_>) -> u64 {
    crate::figure::usable::unspared(load, load.machine().mode_description())
}

/// Whether a processor's memory is more than one region somewhere: worked out from what the hint says.
fn breaks_regions(layout: &Layout<'_>, hinted: &Hinted) -> bool {
    let label = |load: &ChannelLoad<'_>| load.channel().label.to_string();
    layout.sockets().any(|load| {
        let held: BTreeMap<String, u64> = load.channels().map(|load| (label(&load), held(&load))).collect();
        let pair = |domain: &[&str]| domain.iter().any(|channel| held[*channel] > 0);
        let divided = hinted.scheme.is_some_and(|needs| !needs || (pair(&["A", "B"]) && pair(&["C"])));
        let domains: &[&[&str]] = if divided { &[&["A", "B"], &["C"]] } else { &[&["A", "B", "C"]] };
        domains.iter().any(|domain| {
            let filled: Vec<_> = domain.iter().filter(|channel| held[**channel] > 0).copied().collect();
            let amounts: BTreeSet<u64> = filled.iter().map(|channel| held[*channel]).collect();
            let permitted = match (hinted.sets, filled.as_slice()) {
                (None, _) | (_, [] | [_] | ["A", "B"]) => true,
                (Some(all), [_, _, _]) => all,
                _ => false,
            };
            amounts.len() > 1 || !permitted
        })
    })
}

/// Whether a processor with memory has none in a domain of the scheme.
fn lacks_a_domain(layout: &Layout<'_>, hinted: &Hinted) -> bool {
    let of = |load: &SocketLoad<'_>, labels: &str| -> u64 {
        load.channels().filter(|load| labels.contains(load.channel().label.as_str())).map(|load| held(&load)).sum()
    };
    hinted.scheme.is_some()
        && layout.sockets().any(|load| of(&load, "ABC") > 0 && (of(&load, "AB") == 0 || of(&load, "C") == 0))
}

/// Whether a processor holds two modules that it may not hold both of.
fn has_two_apart(layout: &Layout<'_>, bars: &ApartCheck) -> bool {
    layout.sockets().any(|load| {
        let is_full = crate::rule::standard::same_rank_count::is_full(&load);
        let modules: Vec<_> = load.modules().filter(ModuleSite::is_live).map(|site| site.module).collect();
        modules.iter().any(|one| modules.iter().any(|other| bars(one, other, is_full)))
    })
}

/// The weight of what a check says of the loads of a layout, each at the voltage at which it runs.
fn weight_of_loads(rule: &Rule, layout: &Layout<'_>, check: &LoadCheck) -> Option<Severity> {
    let rate = RunningRate::of(layout);
    let (mut sink, cell, book) = (Sink::Collect(Vec::new()), OnceCell::new(), RuleBook::standard());
    for load in layout.sockets() {
        let label = &layout.machine().platform().socket(load.id()).label;
        let Some(domain) = rate.domains.iter().find(|domain| domain.sockets.contains(label)) else { continue };
        for load in load.channels() {
            check(&load, domain.voltage.voltage_mv, &mut Report::new(rule, &book, &mut sink, &cell));
        }
    }
    match sink {
        Sink::Collect(findings) => heaviest(&findings),
        Sink::Probe(..) => None,
    }
}

/// The weight of the rows that are broken: for each set of processors and number of modules that of the heaviest.
fn weight_of_rows(rule: &Rule, layout: &Layout<'_>, rows: &[FillRow]) -> Option<Severity> {
    let platform = layout.machine().platform();
    let mut groups: BTreeMap<BTreeSet<SocketId>, Vec<&FillRow>> = BTreeMap::new();
    let processors = layout.machine().processors().count();
    for row in rows.iter().filter(|row| row.is_for(layout.machine().mode(), processors)) {
        let slot = |label: &str| platform.slot(platform.slot_named(label).unwrap()).socket;
        groups.entry(row.slots.iter().map(|fill| slot(fill.slot.as_str())).collect()).or_default().push(row);
    }
    let weight = |(sockets, mut rows): (BTreeSet<SocketId>, Vec<&FillRow>)| {
        let own = layout.sockets().filter(|load| sockets.contains(&load.id()));
        let held: Vec<Capacity> = own
            .flat_map(|load| load.modules())
            .filter(ModuleSite::is_live)
            .map(|site| site.module.capacity())
            .collect();
        let sizes: BTreeSet<Capacity> = held.iter().copied().collect();
        let is_plain = |row: &FillRow| row.slots.iter().all(|slot| slot.size.is_none());
        rows.retain(|row| row.slots.len() == held.len() && (sizes.len() == 2 || is_plain(row)));
        let may_be_kept = |row: &&FillRow| {
            row.slots.iter().all(|fill| {
                let module = layout.get(platform.slot_named(fill.slot.as_str()).unwrap()).module();
                let pattern = |module| fill.module.as_ref().is_none_or(|pattern| pattern.matches(module) != Ok(false));
                let size = |module: &MemoryModule| match fill.size {
                    None => true,
                    Some(RelativeSize::Larger) => Some(&module.capacity()) == sizes.last(),
                    Some(RelativeSize::Smaller) => Some(&module.capacity()) == sizes.first(),
                };
                module.is_some_and(|module| pattern(module) && size(module))
            })
        };
        let weights = rows.iter().map(|row| rule.weight(row.basis, row.demand));
        weights.max().filter(|_| !rows.iter().any(may_be_kept))
    };
    groups.into_iter().filter_map(weight).max()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1_000))]

    // a search refuses on the strength of hints what it never shows to the rule
    #[test]
    fn law_declared_hint_and_check_agree(
        (hinted, filling) in hinted(),
        set in proptest::option::of(select(vec![SeveritySetting::Note, SeveritySetting::Warning, SeveritySetting::Error])),
    ) {
        let (machine, modules) = (build(&hinted), modules());
        let layout = lay(&machine, &modules, &filling);
        let mut settings = RuleSettings::default();
        let standard = RuleBook::standard();
        let codes = standard.rules().map(|rule| rule.code().clone());
        settings.severities.extend(codes.zip(std::iter::repeat(set)).filter_map(|(code, set)| Some((code, set?))));
        let book = RuleBook::standard().with_settings(&settings).unwrap();
        let mut hints = 0;
        for rule in book.rules().filter(|rule| !rule.is_idle(&machine)) {
            let mut said = said_by(rule, &layout, false);
            said.retain(|finding| finding.verdict == Verdict::Violated);
            for hint in rule.hints(&machine) {
                hints += 1;
                let declared = hint.grounds.map_or(rule.severity(), |(basis, demand)| rule.weight(basis, demand));
                let barred = match &hint.says {
                    Says::OneRegion => breaks_regions(&layout, &hinted).then_some(declared),
                    Says::MemoryInEachDomain => lacks_a_domain(&layout, &hinted).then_some(declared),
                    Says::LikeGroups { groups, key } => {
                        let key = |id| layout.channels().find(|load| load.id() == id).map(|load| key(&load));
                        let keys = |group: &Vec<_>| group.iter().map(|&id| key(id)).collect::<BTreeSet<Option<FactValue>>>();
                        groups.iter().any(|group| keys(group).len() > 1).then_some(declared)
                    }
                    Says::Barred(check) => weight_of_loads(rule, &layout, check),
                    Says::Apart(bars) => has_two_apart(&layout, bars).then_some(declared),
                    Says::Rows(rows) => weight_of_rows(rule, &layout, rows),
                    // what could sit where is held against whole books by the law on one truth
                    Says::SpreadFirst | Says::OddChannels => continue,
                };
                // a full processor, or a printed row, makes it a note
                let printed = machine.printed().iter().any(|printed| printed.is_followed(&layout));
                let full = || layout.sockets().any(|load| crate::rule::standard::uneven_interleave::is_full(&load));
                if heaviest(&said) == Some(Severity::Note) && barred == Some(Severity::Warning) && (printed || full()) {
                    continue;
                }
                prop_assert_eq!(heaviest(&said), barred, "{}: {:?}", rule.code(), hint);
            }
        }
        prop_assert!(hints >= 2);
    }
}
