//! How many nodes arrangements take. What makes a search slower, and changes no answer, shows here and nowhere else.

use std::fmt::Write as _;

use expect_test::expect;

use crate::assess::Planner;
use crate::fill::job::Job;
use crate::fill::{ArrangeRequest, Arrangement};
use crate::finding::Severity;
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::{
    Identical, Mode, Platform, PlatformDescription, RankPair, RanksMeet, Redundancy, SameRankCount, Settings,
};
use crate::population::Population;
use crate::processor::{InterleaveSet, InterleaveSets, MixLimit, MixProperty, PermittedSet, ProcessorDescription};
use crate::reference;
use crate::rule::{Detail, Rule, RuleBook};
use crate::search::Budget;
use crate::stated::{Basis, Scope, Stated};
use crate::testing::{board, board_of, machine, mirrored, module, name, population, processor};

const LABELS: [&str; 5] = [
    "8GB 1Rx8 PC4-2400T-RD1-11",
    "16GB 1Rx4 PC4-2400T-RC1-11",
    "16GB 2Rx4 PC4-2133P-RA0-10",
    "32GB 2Rx4 PC4-2400T-RB2-11",
    "32GB 4Rx4 PC4-2400T-RB2-11",
];

/// Modules by label and number.
fn pieces(counts: &[usize]) -> Vec<(MemoryModule, usize)> {
    LABELS.iter().zip(counts).filter(|(_, count)| **count > 0).map(|(label, &count)| (module(label), count)).collect()
}

fn line(
    text: &mut String,
    what: &str,
    (machine, rules): (&Machine, &RuleBook),
    pieces: Vec<(MemoryModule, usize)>,
    around: Population,
) {
    let planner = Planner::new(machine, rules);
    let request =
        pieces.into_iter().fold(ArrangeRequest::new(), |request, (module, count)| request.piece(module, count));
    let request = request.around(around);
    let mut budget = Budget::new(ArrangeRequest::NODES, None);
    let answer = Job::new(&planner, &request).unwrap().answer(&planner, &mut budget).unwrap();
    let (nodes, work) = budget.used();
    let end = match answer {
        Arrangement::Best(_) => "best",
        Arrangement::Illegal(_) => "illegal",
        Arrangement::Stopped { .. } => "stopped",
    };
    writeln!(text, "{what}: {end}, {nodes} nodes, {work} steps of work").unwrap();
}

fn reference_machine(name: &str, processor: &str) -> Machine {
    with_processors(reference::by_name(name).unwrap(), processor)
}

fn with_processors(platform: Platform, processor: &str) -> Machine {
    let sockets: Vec<String> = platform.socket_ids().map(|id| platform.socket(id).label.to_string()).collect();
    let machine = Machine::builder(platform);
    sockets.iter().fold(machine, |machine, socket| machine.processor_named(socket, processor)).build().unwrap()
}

/// One processor that interleaves pairs and fours, with a rank of each channel standing by.
fn sparing() -> Machine {
    let mode = Mode::new(name("sparing"), Redundancy::RankSparing { spare_ranks: 1 }, Basis::BoardManual);
    let default_settings = Settings { mode: Some(name("sparing")), ..Settings::default() };
    let permitted = [2, 4].map(|ways| PermittedSet::of(InterleaveSet::Ways(ways))).to_vec();
    let sets = InterleaveSets { channels: ["A", "B", "C", "D"].map(name).to_vec(), permitted };
    let processor = ProcessorDescription { interleave: Some(Stated::new(sets, Basis::DataSheet)), ..processor() };
    machine(PlatformDescription { modes: vec![mode], default_settings, ..board_of(1, 4, 2) }, processor)
}

/// No module in the last channel of a processor: a rule that no hint tells of.
fn one_channel_stays_empty() -> RuleBook {
    let rule =
        Rule::socket("own-last-channel-empty", "the last channel is kept empty", Severity::Error, |load, report| {
            if load.channels().last().is_some_and(|channel| !channel.is_empty()) {
                report.violation(|| Detail::at(crate::finding::Place::socket(load.machine().platform(), load.id())));
            }
        });
    RuleBook::standard().with(rule.unwrap()).unwrap()
}

#[test]
fn arrangements_take_so_many_nodes() {
    let standard = RuleBook::standard();
    let even = standard.clone().with_severity("channels-alike", Severity::Error).unwrap();
    let mut text = String::new();
    let plain = machine(board(), processor());
    let three = machine(board_of(3, 2, 2), processor());
    let one = machine(board_of(1, 3, 2), processor());
    let nothing = Population::default;
    line(&mut text, "one sort", (&plain, &standard), pieces(&[0, 12]), nothing());
    line(&mut text, "four sorts", (&plain, &standard), pieces(&[5, 4, 3, 6]), nothing());
    line(&mut text, "four ranks", (&plain, &standard), pieces(&[0, 5, 0, 3, 6]), nothing());
    line(&mut text, "too many ranks", (&plain, &standard), pieces(&[0, 0, 0, 0, 20]), nothing());
    line(&mut text, "three processors", (&three, &standard), pieces(&[2, 3, 0, 2]), nothing());
    line(&mut text, "three processors, one sort", (&three, &standard), pieces(&[7]), nothing());
    line(&mut text, "mirrored", (&mirrored(Identical::Organization), &standard), pieces(&[0, 4, 0, 8]), nothing());
    line(&mut text, "mirrored, odd", (&mirrored(Identical::Organization), &standard), pieces(&[0, 3, 0, 5]), nothing());
    line(&mut text, "a rule without a hint", (&one, &one_channel_stays_empty()), pieces(&[0, 1, 0, 2]), nothing());
    let (small, large) = (module(LABELS[0]), module(LABELS[3]));
    let around = population(&[("1A1", &small), ("1B1", &large), ("2C3", &small)]);
    line(&mut text, "around what stays", (&plain, &standard), pieces(&[2, 2, 0, 4]), around);
    let eight = reference_machine("ddr4-2s-8ch-2spc", "plain");
    line(&mut text, "interleave sets", (&eight, &standard), pieces(&[0, 12]), nothing());
    line(&mut text, "spared ranks, interleave sets", (&sparing(), &standard), pieces(&[0, 0, 2, 3]), nothing());
    line(&mut text, "channels alike", (&plain, &even), pieces(&[0, 8, 0, 8]), nothing());
    expect![[r#"
        one sort: best, 21 nodes, 15253 steps of work
        four sorts: best, 1097 nodes, 2503345 steps of work
        four ranks: best, 321 nodes, 611847 steps of work
        too many ranks: illegal, 34 nodes, 21339 steps of work
        three processors: best, 279 nodes, 82764 steps of work
        three processors, one sort: best, 20 nodes, 13002 steps of work
        mirrored: best, 101 nodes, 53991 steps of work
        mirrored, odd: illegal, 96 nodes, 53042 steps of work
        a rule without a hint: best, 69 nodes, 60120 steps of work
        around what stays: best, 388 nodes, 279064 steps of work
        interleave sets: best, 220 nodes, 7012814 steps of work
        spared ranks, interleave sets: best, 138 nodes, 712660 steps of work
        channels alike: best, 91 nodes, 58301 steps of work
    "#]]
    .assert_eq(&text);
}

/// A reference platform with one processor in each socket, and with what a policy says of ranks.
fn of_like_ranks(board: &str, processor: &str, policy: &Policy) -> Machine {
    let mut platform = PlatformDescription::from(reference::by_name(board).unwrap());
    match policy {
        Policy::Same(except) => {
            let same = SameRankCount { except: except.iter().copied().collect() };
            platform.same_rank_count = Some(Stated::new(same, Basis::BoardManual));
        }
        Policy::Mix(limit) => platform.mix_limits.push(Stated::new(limit.clone(), Basis::BoardManual)),
    }
    with_processors(platform.build().unwrap(), processor)
}

/// What a board says of modules of unlike ranks.
enum Policy {
    Same(Option<RankPair>),
    Mix(MixLimit),
}

#[test]
fn arrangements_of_unlike_ranks_take_so_many_nodes() {
    let rules = RuleBook::standard();
    let mut text = String::new();
    let pair = RankPair { first: 1, second: 2, when: RanksMeet::WhenFull };
    let limit = MixLimit { property: MixProperty::PackageRanks, within: Scope::Socket, at_most: 1 };
    let policies = [
        ("same", Policy::Same(None)),
        ("same unless full", Policy::Same(Some(pair))),
        ("one in a mix", Policy::Mix(limit)),
    ];
    for (board, processor) in [("ddr4-2s-4ch-3spc", "later"), ("ddr4-2s-8ch-2spc", "plain")] {
        for (what, policy) in &policies {
            let machine = of_like_ranks(board, processor, policy);
            for counts in [[0, 12, 0, 12, 0], [0, 11, 0, 13, 0], [0, 8, 0, 8, 8]] {
                let what = format!("{board}, {what}, {counts:?}");
                line(&mut text, &what, (&machine, &rules), pieces(&counts), Population::default());
            }
        }
    }
    expect![[r#"
        ddr4-2s-4ch-3spc, same, [0, 12, 0, 12, 0]: best, 365 nodes, 171295 steps of work
        ddr4-2s-4ch-3spc, same, [0, 11, 0, 13, 0]: illegal, 95 nodes, 56814 steps of work
        ddr4-2s-4ch-3spc, same, [0, 8, 0, 8, 8]: illegal, 20667 nodes, 14601910 steps of work
        ddr4-2s-4ch-3spc, same unless full, [0, 12, 0, 12, 0]: best, 97 nodes, 55091 steps of work
        ddr4-2s-4ch-3spc, same unless full, [0, 11, 0, 13, 0]: best, 103 nodes, 58054 steps of work
        ddr4-2s-4ch-3spc, same unless full, [0, 8, 0, 8, 8]: illegal, 20667 nodes, 14640376 steps of work
        ddr4-2s-4ch-3spc, one in a mix, [0, 12, 0, 12, 0]: best, 365 nodes, 171295 steps of work
        ddr4-2s-4ch-3spc, one in a mix, [0, 11, 0, 13, 0]: illegal, 95 nodes, 56814 steps of work
        ddr4-2s-4ch-3spc, one in a mix, [0, 8, 0, 8, 8]: illegal, 20667 nodes, 14601910 steps of work
        ddr4-2s-8ch-2spc, same, [0, 12, 0, 12, 0]: best, 935 nodes, 14118589 steps of work
        ddr4-2s-8ch-2spc, same, [0, 11, 0, 13, 0]: best, 1102 nodes, 14193544 steps of work
        ddr4-2s-8ch-2spc, same, [0, 8, 0, 8, 8]: illegal, 2212 nodes, 15638682 steps of work
        ddr4-2s-8ch-2spc, same unless full, [0, 12, 0, 12, 0]: best, 1166 nodes, 20951043 steps of work
        ddr4-2s-8ch-2spc, same unless full, [0, 11, 0, 13, 0]: best, 1128 nodes, 20933554 steps of work
        ddr4-2s-8ch-2spc, same unless full, [0, 8, 0, 8, 8]: illegal, 243 nodes, 20668420 steps of work
        ddr4-2s-8ch-2spc, one in a mix, [0, 12, 0, 12, 0]: best, 935 nodes, 14118589 steps of work
        ddr4-2s-8ch-2spc, one in a mix, [0, 11, 0, 13, 0]: best, 1102 nodes, 14193544 steps of work
        ddr4-2s-8ch-2spc, one in a mix, [0, 8, 0, 8, 8]: illegal, 2212 nodes, 15638682 steps of work
    "#]]
    .assert_eq(&text);
}

/// Two voltages, of which the lower is slower: 17 modules of two sizes put a third into some channel, where no voltage runs as fast
/// as the higher one does elsewhere. The last ones are driven at the higher voltage, for the lower one bars two quad-rank modules a
/// channel.
#[test]
fn arrangements_at_two_voltages_take_so_many_nodes() {
    let rules = RuleBook::standard();
    let mut text = String::new();
    let machine = reference_machine("ddr3-2s-4ch-3spc", "later");
    let sorts = ["8GB 2Rx4 PC3L-12800R-11-11-A0", "16GB 2Rx4 PC3L-12800R-11-11-A0", "32GB 4Rx4 PC3L-10600R-09-11-F0"];
    for counts in [[1, 16, 0], [9, 8, 0], [12, 5, 0], [12, 12, 0], [4, 5, 0], [0, 4, 5], [3, 0, 8], [0, 0, 9]] {
        let pieces = sorts.iter().zip(counts).map(|(label, count)| (module(label), count));
        let pieces = pieces.filter(|(_, count)| *count > 0).collect();
        line(&mut text, &format!("{counts:?}"), (&machine, &rules), pieces, Population::default());
    }
    expect![[r#"
        [1, 16, 0]: best, 105 nodes, 53748 steps of work
        [9, 8, 0]: best, 107 nodes, 58346 steps of work
        [12, 5, 0]: best, 304 nodes, 136655 steps of work
        [12, 12, 0]: best, 103 nodes, 58151 steps of work
        [4, 5, 0]: best, 261 nodes, 107980 steps of work
        [0, 4, 5]: best, 271 nodes, 136186 steps of work
        [3, 0, 8]: best, 106 nodes, 68334 steps of work
        [0, 0, 9]: best, 24 nodes, 14537 steps of work
    "#]]
    .assert_eq(&text);
}
