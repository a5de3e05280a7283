//! Over which channels, how fast at best, and how much of it can be used.

use slotwright::figure::Figures;
use slotwright::finding::Place;
use slotwright::machine::Machine;
use slotwright::module::{Generation, ModuleKind};
use slotwright::platform::{ChannelGroup, Identical, Mode, Redundancy, Settings};
use slotwright::population::{Layout, Population};
use slotwright::processor::{InterleaveSet, InterleaveSets, ModulePattern, PermittedSet, ProcessorDescription};
use slotwright::stated::{Basis, Stated};
use slotwright::unit::DataRate;
use slotwright::{Planner, RuleBook};

use crate::published::{board, module, name, names, processor, table};

const MODULE: &str = "32GB 2Rx4 PC4-2400T-RB2-11";

pub(super) fn ddr4() -> ProcessorDescription {
    processor(Generation::Ddr4, &[ModuleKind::Registered], DataRate::DDR4_2400)
}

/// Sockets of so many channels of so many slots, filled position by position, the processors by turns. Slot 2C1
/// is the first one of the third channel of socket 2.
pub(super) fn machine(shape: [usize; 3], processor: ProcessorDescription, mode: Option<Mode>) -> Machine {
    let slot = |s: usize, c: usize, p: usize| format!("{}{}{}", s + 1, &"ABCDEFGHIJKL"[c..=c], p + 1);
    let [sockets, channels, slots] = shape;
    let channel = |s, c| (0..slots).map(|p| slot(s, c, p)).collect::<Vec<_>>().join(",");
    let socket = |s| (0..channels).map(|c| channel(s, c)).collect::<Vec<_>>().join(" ");
    let texts: Vec<String> = (0..sockets).map(socket).collect();
    let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
    let turns = (0..slots).flat_map(|p| (0..channels).flat_map(move |c| (0..sockets).map(move |s| slot(s, c, p))));
    let mut board = board(processor.generation, &texts, &turns.collect::<Vec<_>>().join(" "));
    let settings = Settings::default().mode(mode.as_ref().map(|mode| mode.name.clone()));
    board.modes = mode.into_iter().collect();
    let (builder, processor) = (Machine::builder(board.build().unwrap()), processor.build().unwrap());
    let fitted = (1..=sockets).fold(builder, |machine, s| machine.processor(&s.to_string(), processor.clone()));
    fitted.settings(settings).build().unwrap()
}

pub(super) fn put(population: Population, label: &str, slots: &str) -> Population {
    names(slots).into_iter().fold(population, |population, slot| population.with(slot, module(label)))
}

pub(super) fn figures(machine: &Machine, population: &Population) -> Figures {
    Figures::of(&Layout::new(machine, population).unwrap())
}

/// So many modules, in fill order.
fn filled(machine: &Machine, label: &str, count: usize) -> Figures {
    let rules = RuleBook::standard();
    let order = Planner::new(machine, &rules).fill_order(count).unwrap().slots;
    figures(machine, &order.into_iter().map(|slot| (slot, slotwright::Occupant::module(module(label)))).collect())
}

/// The regions of each domain with memory: "ABCD 128" is 128 GiB over four channels.
fn regions(figures: &Figures) -> Vec<String> {
    let letter = |place: &Place| match place {
        Place::Channel { channel, .. } => "ABCDEFGHIJKL".chars().nth(channel.as_str().parse::<usize>().unwrap() - 1),
        _ => None,
    };
    let domains = figures.interleave.domains.iter().filter(|domain| !domain.regions.is_empty());
    let text = domains.map(|domain| {
        let regions = domain.regions.iter().map(|region| {
            assert_eq!(region.ways as usize, region.channels.len());
            let channels: String = region.channels.iter().filter_map(letter).collect();
            format!("{channels} {}", region.capacity_mib.whole_gib().unwrap())
        });
        regions.collect::<Vec<_>>().join(", ")
    });
    text.collect()
}

// F. Denneman, Memory Deep Dive (2015)
#[test]
fn uneven_channels_make_a_wide_region_and_a_narrow_one() {
    let one = machine([1, 4, 3], ddr4(), None);
    let population = put(Population::new(), MODULE, "1A1 1B1 1C1 1D1 1A2 1B2");
    assert_eq!(regions(&figures(&one, &population)), ["ABCD 128, AB 64"]);
    // the same document: twelve modules on two processors
    let two = filled(&machine([2, 4, 3], ddr4(), None), MODULE, 12);
    assert_eq!(regions(&two), ["ABCD 128, AB 64"; 2]);
}

/// A processor of eight channels that permits the sets of one family.
pub(super) fn of_certain_sets() -> ProcessorDescription {
    let list = |letters: &str| InterleaveSet::Channels(letters.chars().map(|c| name(&c.to_string())).collect());
    let mut permitted = vec![PermittedSet::of(InterleaveSet::Ways(8)), PermittedSet::of(list("ACDEGH")).if_equal()];
    permitted.extend(["ABCD", "EFGH", "CDGH", "AB", "CD", "EF", "GH"].map(|letters| PermittedSet::of(list(letters))));
    let channels = names("A B C D E F G H");
    let mut described = ddr4();
    described.interleave = Some(Stated::new(InterleaveSets::new(channels, permitted), Basis::BoardManual));
    described
}

// Thomas-Krenn wiki, memory performance of 7002/7003: 8; 6 of A C D E G H, equal; 4 of ABCD, EFGH or CDGH; pairs AB,
// CD, EF, GH; nothing else. Which sets the others split into is derived.
#[test]
fn eight_channels_of_which_certain_sets_are_interleaved() {
    let described = of_certain_sets();
    let machine = machine([1, 8, 2], described, None);
    let found = |once: &str, twice: &str| {
        let slots = |letters: &str, p: u8| letters.chars().map(|c| format!("1{c}{p} ")).collect::<String>();
        let population = put(put(Population::new(), MODULE, &slots(once, 1)), MODULE, &slots(twice, 2));
        regions(&figures(&machine, &population)).concat()
    };
    for whole in ["ABCDEFGH", "ACDEGH", "ABCD", "EFGH", "CDGH", "AB", "CD", "EF", "GH"] {
        assert_eq!(found(whole, ""), format!("{whole} {}", 32 * whole.len()));
    }
    for (split, expected) in [
        ("ABCDEFG", "ABCD 128, EF 64, G 32"),
        ("ABCDEF", "ABCD 128, EF 64"),
        ("ACDGH", "CDGH 128, A 32"),
        ("ABEF", "AB 64, EF 64"),
        ("ABC", "AB 64, C 32"),
        ("ACEG", "A 32, C 32, E 32, G 32"),
    ] {
        assert_eq!(found(split, ""), expected);
    }
    assert_eq!(found("ABCDEFGH", "AB"), "ABCDEFGH 256, AB 64");
    assert_eq!(found("ABCDEFGH", "ACDEGH"), "ABCDEFGH 256, ACDEGH 192");
    // not equal, so not 6
    assert_eq!(found("ACDEGH", "A"), "CDGH 128, A 64, E 32");
}

// derived: channels x rate x 8 bytes
#[test]
fn peaks_of_all_channels() {
    for (channels, rate, peak) in [
        (8, DataRate::DDR5_4800, "307.2 GB/s"),
        (8, DataRate::DDR5_4400, "281.6 GB/s"),
        (12, DataRate::DDR5_4800, "460.8 GB/s"),
    ] {
        let described = processor(Generation::Ddr5, &[ModuleKind::Registered], rate);
        let machine = machine([1, channels, 1], described, None);
        let bandwidth = filled(&machine, "32GB 1Rx4 PC5-4800B-RC0-1010-XT", channels).bandwidth;
        assert_eq!(bandwidth.peak_mbps.to_string(), peak);
        assert_eq!([bandwidth.swept_mbps, bandwidth.spread_mbps], [bandwidth.peak_mbps; 2]);
    }
}

// derived: 1866 is 7/9 of 2400, a loss of 22 %; a published loss of 28 % is a misprint
#[test]
fn the_same_population_at_1866_moves_seven_ninths_of_what_it_moves_at_2400() {
    let mut described = ddr4();
    let registered = ModulePattern::kind(ModuleKind::Registered);
    described.rate_table = Some(table(Generation::Ddr4, &[(registered, &[2400, 1866])]));
    let bandwidth = filled(&machine([1, 4, 2], described, None), MODULE, 8).bandwidth;
    let faster = filled(&machine([1, 4, 2], ddr4(), None), MODULE, 8).bandwidth;
    let against = bandwidth.spread_mbps.share_of(faster.spread_mbps);
    for share in [bandwidth.relative_swept, bandwidth.relative_spread, against] {
        assert_eq!(share.unwrap().to_string(), "77.7 %");
    }
}

fn usable(machine: &Machine, population: &Population) -> [u64; 2] {
    let figures = figures(machine, population);
    [figures.installed.total_mib, figures.usable.total_mib].map(|capacity| capacity.whole_gib().unwrap())
}

fn full(machine: &Machine, label: &str) -> [u64; 2] {
    let slots: Vec<_> = machine.platform().slots().iter().map(|slot| slot.label().to_string()).collect();
    usable(machine, &put(Population::new(), label, &slots.join(" ")))
}

fn sparing(shape: [usize; 3], generation: Generation, spare_ranks: u32) -> Machine {
    let mode = Mode::new(name("sparing"), Redundancy::RankSparing { spare_ranks }, Basis::BoardManual);
    machine(shape, processor(generation, &[ModuleKind::Registered], generation.rates()[0]), Some(mode))
}

#[test]
fn spare_ranks_are_taken_off_each_channel() {
    // derived; several manuals print 48 for single-rank modules as well, a misprint
    let ddr3 = sparing([2, 4, 2], Generation::Ddr3, 1);
    assert_eq!(full(&ddr3, "4GB 2Rx8 PC3L-12800R-11-13-E2"), [64, 48]);
    assert_eq!(full(&ddr3, "4GB 1Rx4 PC3L-12800R-11-13-E2"), [64, 32]);
    // derived from SR860 V2 guide p. 166
    let mixed = put(put(Population::new(), MODULE, "1A1"), "16GB 2Rx8 PC4-2400T-RE1-11", "1A2");
    assert_eq!(usable(&sparing([1, 1, 2], Generation::Ddr4, 1), &mixed), [48, 32]);
    // common practice, no source
    for (spare_ranks, left) in [(1, 288), (2, 192)] {
        let machine = sparing([2, 6, 2], Generation::Ddr4, spare_ranks);
        assert_eq!(full(&machine, "16GB 2Rx8 PC4-2400T-RE1-11"), [384, left]);
    }
}

// common practice, no source
#[test]
fn half_of_a_mirror_is_usable() {
    let mut mode = Mode::new(name("mirror"), Redundancy::Mirrored, Basis::BoardManual);
    let pair = |socket: &str, channels: &str| ChannelGroup::new(name(socket), names(channels));
    mode.groups = vec![pair("1", "1 2"), pair("1", "3 4"), pair("2", "1 2"), pair("2", "3 4")];
    mode.identical = Identical::Capacity;
    assert_eq!(full(&machine([2, 4, 2], ddr4(), Some(mode)), "4GB 1Rx8 PC4-2400T-RA1-11"), [64, 32]);
}

fn groups_of(groups: &[(&str, &str)]) -> Vec<ChannelGroup> {
    groups.iter().map(|(socket, channels)| ChannelGroup::new(name(socket), names(channels))).collect()
}

// rules of the trade: on three channels lockstep uses two and the third stays empty; common practice, no source
#[test]
fn three_channels_paired_leave_the_third_empty() {
    let mut mode = Mode::new(name("paired"), Redundancy::Paired, Basis::BoardManual);
    mode.groups = groups_of(&[("1", "1 2"), ("2", "1 2")]);
    mode.identical = Identical::Organization;
    let machine = machine([2, 3, 2], ddr4(), Some(mode));
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let arranged = planner.arrange([(module(MODULE), 8)]).unwrap();
    let legal = arranged.best().unwrap();
    assert!(legal.population.modules().all(|(slot, _)| slot.as_str().as_bytes()[1] != b'C'));
    assert_eq!(legal.assessment.figures.usable.total_mib.whole_gib(), Some(256));
    assert!(planner.arrange([(module(MODULE), 9)]).unwrap().best().is_err());
}

// RX4770 M6 manual p. 240: 1A, 1B and 1C identical, 1D to 1F likewise, one half usable
#[test]
fn mirrors_over_three_channels() {
    let mut mode = Mode::new(name("mirror"), Redundancy::Mirrored, Basis::BoardManual);
    mode.groups = groups_of(&[("1", "1 2 3"), ("1", "4 5 6")]);
    mode.identical = Identical::Organization;
    let machine = machine([1, 6, 2], ddr4(), Some(mode));
    assert_eq!(full(&machine, MODULE), [384, 192]);
    let three = figures(&machine, &put(Population::new(), MODULE, "1A1 1B1 1C1"));
    assert_eq!(regions(&three), ["ABC 48"]);
    // half of what three channels move
    assert_eq!(three.bandwidth.spread_mbps, DataRate::DDR4_2400.peak_bandwidth().times(3, 2));
}
