//! How much, at which rate.

use slotwright::module::{Generation, ModuleKind};
use slotwright::processor::{ModulePattern, RankCounting, RankLimit};
use slotwright::stated::{Basis, Stated};
use slotwright::unit::{Capacity, DataRate};
use slotwright::{Planner, RuleBook};

use crate::published::{board, machine, module, processor, proven, refused, row, table, with_gib, with_rate};

/// Channels of a socket, slots lettered by channel and numbered from the far end; the sources print no
/// numbers that matter here.
fn channels(letters: std::ops::RangeInclusive<char>, slots: u8) -> (String, Vec<String>) {
    let slot = |letter: char, number: u8| format!("{letter}{number}");
    let of = |letter| (1..=slots).map(|number| slot(letter, number)).collect::<Vec<_>>().join(",");
    let channels: Vec<_> = letters.clone().map(of).collect();
    let order =
        (1..=slots).map(|number| letters.clone().map(|letter| slot(letter, number)).collect::<Vec<_>>().join(" "));
    (channels.join(" "), order.collect())
}

/// Two sockets, position by position.
fn two_sockets(
    first: std::ops::RangeInclusive<char>,
    second: std::ops::RangeInclusive<char>,
    slots: u8,
) -> ([String; 2], String) {
    let ((one, order_one), (two, order_two)) = (channels(first, slots), channels(second, slots));
    let rounds: Vec<_> = order_one.iter().zip(&order_two).map(|(one, two)| format!("{one} {two}")).collect();
    ([one, two], rounds.join(" "))
}

// xFusion 1288H V7 white paper p. 25
#[test]
fn thirty_two_slots_of_ddr5() {
    const SOURCE: &str = "xFusion 1288H V7 white paper p. 25";
    let (sockets, order) = two_sockets('A'..='H', 'I'..='P', 2);
    let mut platform = board(Generation::Ddr5, &[&sockets[0], &sockets[1]], &order);
    let mut described = processor(Generation::Ddr5, &[ModuleKind::Registered], DataRate::DDR5_4800);
    let registered = ModulePattern::kind(ModuleKind::Registered);
    described.rate_table = Some(table(Generation::Ddr5, &[(registered, &[4800, 4400])]));
    platform.processors = vec![described.build().unwrap()];
    for (gib, label) in [
        (16, "16GB 1Rx8 PC5-4800B-RD0-1010-XT"),
        (32, "32GB 1Rx4 PC5-4800B-RC0-1010-XT"),
        (64, "64GB 2Rx4 PC5-4800B-RA0-1010-XT"),
        (128, "128GB 2S2Rx4 PC5-4800B-RA0-1010-XT"),
        (256, "256GB 2S4Rx4 PC5-4800B-RA0-1010-XT"),
    ] {
        let rows = [
            with_rate(with_gib(row("1 2", &[(label, 32, "")], SOURCE), 32 * gib), DataRate::DDR5_4400),
            with_rate(row("1 2", &[(label, 16, "")], SOURCE), DataRate::DDR5_4800),
        ];
        platform.worked_rows.extend(rows);
    }
    let stated: Vec<_> = platform.worked_rows.iter().filter_map(|row| row.capacity_mib?.whole_gib()).collect();
    assert_eq!(stated, [512, 1024, 2048, 4096, 8192]);
    proven(platform);
}

// Denneman, Memory Deep Dive 4 (2015)
#[test]
fn quad_rank_registered_stops_at_two_a_channel() {
    const SOURCE: &str = "Denneman, Memory Deep Dive 4";
    let quad = "32GB 4Rx4 PC3L-8500R-07-12-F0";
    let (socket, order) = channels('A'..='D', 3);
    let mut platform = board(Generation::Ddr3, &[&socket], &order.join(" "));
    let mut described = processor(Generation::Ddr3, &[ModuleKind::Registered], DataRate::DDR3_1600);
    let ranks = RankLimit::new(RankCounting::Package, 8);
    described.rank_limits = vec![Stated::new(ranks, Basis::DataSheet)];
    platform.processors = vec![described.build().unwrap()];
    platform.worked_rows = vec![
        with_gib(row("1", &[(quad, 8, "A1 B1 C1 D1 A2 B2 C2 D2")], SOURCE), 256),
        refused(row("1", &[(quad, 9, "")], SOURCE), "channel-ranks"),
    ];
    let platform = proven(platform);
    let (machine, rules) = (machine(&platform, "1"), RuleBook::standard());
    let accepted = Planner::new(&machine, &rules).accepts(&module(quad));
    assert_eq!((accepted.fits.len(), accepted.at_most, accepted.capacity_mib), (12, 8, Capacity::from_gib(256)));
}

// Denneman, NUMA Deep Dive 4 (2016)
#[test]
fn a_third_module_a_channel_costs_rate() {
    const SOURCE: &str = "Denneman, NUMA Deep Dive 4";
    let label = "16GB 2Rx4 PC4-2400T-RA1-11";
    let (sockets, order) = two_sockets('A'..='D', 'E'..='H', 3);
    let mut platform = board(Generation::Ddr4, &[&sockets[0], &sockets[1]], &order);
    let mut described = processor(Generation::Ddr4, &[ModuleKind::Registered], DataRate::DDR4_2400);
    let registered = ModulePattern::kind(ModuleKind::Registered);
    described.rate_table = Some(table(Generation::Ddr4, &[(registered, &[2400, 2400, 1866])]));
    platform.processors = vec![described.build().unwrap()];
    platform.worked_rows = vec![
        with_rate(with_gib(row("1 2", &[(label, 24, "")], SOURCE), 384), DataRate::DDR4_1866),
        with_rate(with_gib(row("1 2", &[(label, 16, "")], SOURCE), 256), DataRate::DDR4_2400),
    ];
    proven(platform);
}

// Server Board S2600CW technical product specification 2.4, table 4
#[test]
fn load_reduced_modules_keep_their_rate_at_two_a_channel() {
    const SOURCE: &str = "S2600CW TPS 2.4 table 4";
    let (dual, reduced) = ("32GB 2Rx4 PC4-2400T-RB2-11", "64GB 4DRx4 PC4-2400T-LD1-11");
    let (sockets, order) = two_sockets('A'..='D', 'E'..='H', 2);
    let mut platform = board(Generation::Ddr4, &[&sockets[0], &sockets[1]], &order);
    let kinds = [ModuleKind::Registered, ModuleKind::LoadReduced];
    let mut described = processor(Generation::Ddr4, &kinds, DataRate::DDR4_2400);
    let [registered, load_reduced] = kinds.map(ModulePattern::kind);
    let rows = [(registered.ranks(2), &[2400, 2133][..]), (load_reduced.ranks(4), &[2400, 2400])];
    described.rate_table = Some(table(Generation::Ddr4, &rows));
    platform.processors = vec![described.build().unwrap()];
    platform.worked_rows = vec![
        with_rate(row("1 2", &[(dual, 8, "")], SOURCE), DataRate::DDR4_2400),
        with_rate(row("1 2", &[(dual, 16, "")], SOURCE), DataRate::DDR4_2133),
        with_rate(row("1 2", &[(reduced, 8, "")], SOURCE), DataRate::DDR4_2400),
        with_rate(row("1 2", &[(reduced, 16, "")], SOURCE), DataRate::DDR4_2400),
    ];
    proven(platform);
}
