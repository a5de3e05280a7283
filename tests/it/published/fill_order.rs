//! Which slots, in which order.

use std::collections::BTreeSet;

use slotwright::module::{Generation, ModuleKind};
use slotwright::platform::{ChannelGroup, CountRow, FillRow, Identical, Mode, Redundancy};
use slotwright::processor::ModulePattern;
use slotwright::stated::{Basis, Demand};
use slotwright::unit::DataRate;
use slotwright::{FillOrder, Planner, RuleBook};

use crate::published::{
    board, fills_in_order, machine, module, name, names, processor, proven, refused, row, table, with_gib, with_rate,
};

const DDR4: &str = "16GB 2Rx4 PC4-2133P-RA0-10";
const DDR5: &str = "64GB 2Rx4 PC5-4800B-RA0-1010-XT";

/// Which of the platform's rows an order follows.
fn indices(order: &FillOrder) -> Vec<Option<usize>> {
    order.rows.iter().map(|row| row.index).collect()
}

/// The rows of a table that names, for each number of modules, the first slots of an order for two processors.
/// Without them, an arrangement would rather fill one processor evenly than two unevenly.
fn printed_rows(order: &str) -> Vec<FillRow> {
    let order = names(order);
    let row = |count: usize| FillRow::new(order[..count].to_vec(), Demand::Advised, Basis::BoardManual).processors(2);
    (1..=order.len()).map(row).collect()
}

// Lenovo x3650 M5 guide p. 168
#[test]
fn four_channels_of_three_outermost_first() {
    const SOURCE: &str = "Lenovo x3650 M5 guide p. 168";
    let both = "1 13 4 16 9 21 12 24 2 14 5 17 8 20 11 23 3 15 6 18 7 19 10 22";
    let one = "1 4 9 12 2 5 8 11 3 6 7 10";
    let sockets = ["1,2,3 4,5,6 9,8,7 12,11,10", "13,14,15 16,17,18 21,20,19 24,23,22"];
    let mut platform = board(Generation::Ddr4, &sockets, both);
    let described = processor(Generation::Ddr4, &[ModuleKind::Registered], DataRate::DDR4_2133);
    platform.processors = vec![described.build().unwrap()];
    platform.worked_rows = vec![
        row("1", &[(DDR4, 4, "1 4 9 12")], SOURCE),
        row("1", &[(DDR4, 7, "1 4 9 12 2 5 8")], SOURCE),
        with_gib(row("1 2", &[(DDR4, 8, "1 13 4 16 9 21 12 24")], SOURCE), 128),
        with_gib(row("1 2", &[(DDR4, 24, both)], SOURCE), 384),
    ];
    platform.fill_rows = printed_rows(both);
    let platform = proven(platform);
    fills_in_order(&machine(&platform, "1"), &module(DDR4), one);
    fills_in_order(&machine(&platform, "1 2"), &module(DDR4), both);
}

// Lenovo x3650 M5 guide p. 168: pairs of a mirror with one processor, 64 GB of which 32 are usable
#[test]
fn mirrored_pairs_outermost_first() {
    let order = "1 4 9 12 2 5 8 11 3 6 7 10";
    let mut platform = board(Generation::Ddr4, &["1,2,3 4,5,6 9,8,7 12,11,10"], order);
    let described = processor(Generation::Ddr4, &[ModuleKind::Registered], DataRate::DDR4_2133);
    platform.processors = vec![described.build().unwrap()];
    let group = |channels: &str| ChannelGroup::new(name("1"), names(channels));
    platform.modes = vec![
        Mode::new(name("mirrored"), Redundancy::Mirrored, Basis::BoardManual)
            .groups([group("1 2"), group("3 4")])
            .identical(Identical::Facts),
    ];
    platform.default_settings.mode = Some(name("mirrored"));
    let machine = machine(&platform.build().unwrap(), "1");
    let (rules, order) = (RuleBook::standard(), names(order));
    let planner = Planner::new(&machine, &rules);
    for pairs in 1..=6 {
        let arrangement = planner.arrange([(module(DDR4), 2 * pairs)]).unwrap();
        let legal = arrangement.best().unwrap();
        let found: BTreeSet<_> = legal.population.modules().map(|(slot, _)| slot.clone()).collect();
        assert_eq!(found, order[..2 * pairs].iter().cloned().collect(), "{pairs} pairs");
        let usable = legal.assessment.figures.usable.total_mib;
        assert_eq!(usable.whole_gib(), Some(16 * pairs as u64));
        assert!(planner.arrange([(module(DDR4), 2 * pairs - 1)]).unwrap().best().is_err());
    }
}

// Lenovo x3650 M4 BD guide p. 58
#[test]
fn four_channels_of_two_in_no_obvious_order() {
    const SOURCE: &str = "Lenovo x3650 M4 BD guide p. 58";
    const DDR3: &str = "8GB 2Rx4 PC3-12800R-11-12-E1";
    let both = "8 16 6 14 1 9 3 11 7 15 5 13 2 10 4 12";
    let one = "8 6 1 3 7 5 2 4";
    let mut platform = board(Generation::Ddr3, &["8,7 6,5 1,2 3,4", "16,15 14,13 9,10 11,12"], both);
    let described = processor(Generation::Ddr3, &[ModuleKind::Registered], DataRate::DDR3_1600);
    platform.processors = vec![described.build().unwrap()];
    platform.worked_rows = vec![
        row("1", &[(DDR3, 2, "8 6")], SOURCE),
        row("1", &[(DDR3, 5, "8 6 1 3 7")], SOURCE),
        row("1 2", &[(DDR3, 6, "8 16 6 14 1 9")], SOURCE),
        with_gib(row("1 2", &[(DDR3, 16, both)], SOURCE), 128),
    ];
    platform.fill_rows = printed_rows(both);
    let platform = proven(platform);
    fills_in_order(&machine(&platform, "1"), &module(DDR3), one);
    fills_in_order(&machine(&platform, "1 2"), &module(DDR3), both);
}

// Cisco X210c M8 installation guide, memory population guidelines
#[test]
fn eight_channels_of_two_in_listed_numbers() {
    const SOURCE: &str = "Cisco X210c M8 installation guide, memory population guidelines";
    let small = "16GB 1Rx8 PC5-4800B-RD0-1010-XT";
    let first = "A1 B1 C1 D1 E1 F1 G1 H1";
    let (twelve, second) = (format!("{first} A2 C2 E2 G2"), "A2 B2 C2 D2 E2 F2 G2 H2");
    let all = format!("{first} {second}");
    let order = "A1 E1 C1 G1 B1 F1 D1 H1 A2 E2 C2 G2 B2 F2 D2 H2";
    let mut platform = board(Generation::Ddr5, &["A1,A2 B1,B2 C1,C2 D1,D2 E1,E2 F1,F2 G1,G2 H1,H2"], order);
    let described = processor(Generation::Ddr5, &[ModuleKind::Registered], DataRate::DDR5_4800);
    platform.processors = vec![described.build().unwrap()];
    let fill = |slots: &str| FillRow::new(names(slots), Demand::Advised, Basis::BoardManual);
    platform.fill_rows = ["A1", "A1 C1 E1 G1", first, &twelve, &all].map(fill).to_vec();
    platform.count_rows = vec![CountRow::per_socket([1, 4, 8, 12, 16], Demand::Advised, Basis::BoardManual)];
    platform.worked_rows = vec![
        row("1", &[(DDR5, 1, "A1")], SOURCE),
        row("1", &[(DDR5, 4, "A1 C1 E1 G1")], SOURCE),
        row("1", &[(DDR5, 8, first)], SOURCE),
        row("1", &[(DDR5, 12, &twelve)], SOURCE),
        row("1", &[(DDR5, 16, &all)], SOURCE),
        row("1", &[(DDR5, 2, "A1 E1"), (small, 2, "C1 G1")], SOURCE),
        row("1", &[(DDR5, 8, first), (small, 4, "A2 C2 E2 G2")], SOURCE),
        row("1", &[(DDR5, 8, first), (small, 8, second)], SOURCE),
    ];
    let platform = proven(platform);
    let (machine, rules) = (machine(&platform, "1"), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    for (index, count) in [1, 4, 8, 12, 16].into_iter().enumerate() {
        assert_eq!(indices(&planner.fill_order(count).unwrap()), [Some(index)]);
    }
    // the other numbers are not advised, and said to be so
    let five = planner.arrange([(module(DDR5), 5)]).unwrap();
    let codes: Vec<_> = five.best().unwrap().assessment.findings.iter().map(|f| f.code.to_string()).collect();
    assert!(codes.contains(&"listed-counts".to_owned()), "{codes:?}");
}

// RadiSys ATCA-5400 specification p. 17
#[test]
fn three_uneven_channels() {
    const SOURCE: &str = "RadiSys ATCA-5400 specification p. 17";
    const DDR3: &str = "8GB 2Rx4 PC3-10600R-09-10-E1";
    let order = "C0 B0 A0 C1 B1 A1 B2 A2";
    let mut platform = board(Generation::Ddr3, &["A0,A1,A2 B0,B1,B2 C0,C1"], order);
    let mut described = processor(Generation::Ddr3, &[ModuleKind::Registered], DataRate::DDR3_1333);
    let registered = ModulePattern::kind(ModuleKind::Registered);
    described.rate_table = Some(table(Generation::Ddr3, &[(registered, &[1333, 1066, 800])]));
    platform.processors = vec![described.build().unwrap()];
    platform.worked_rows = vec![
        with_rate(row("1", &[(DDR3, 3, "C0 B0 A0")], SOURCE), DataRate::DDR3_1333),
        with_rate(row("1", &[(DDR3, 6, "C0 C1 B0 B1 A0 A1")], SOURCE), DataRate::DDR3_1066),
        with_rate(row("1", &[(DDR3, 8, "C0 C1 B0 B1 B2 A0 A1 A2")], SOURCE), DataRate::DDR3_800),
    ];
    let platform = proven(platform);
    fills_in_order(&machine(&platform, "1"), &module(DDR3), order);
}

// Lenovo SR655 V3 guide p. 40
#[test]
fn twelve_channels_of_one_by_printed_rows() {
    const SOURCE: &str = "Lenovo SR655 V3 guide p. 40";
    // channels A to L; turns by slot number, so that only the rows can be right
    let channels = "7 8 9 10 11 12 6 5 4 3 2 1";
    let mut platform = board(Generation::Ddr5, &[channels], "1 2 3 4 5 6 7 8 9 10 11 12");
    let described = processor(Generation::Ddr5, &[ModuleKind::Registered], DataRate::DDR5_4800);
    platform.processors = vec![described.build().unwrap()];
    let printed = [
        "7",
        "7 6",
        "9 7 6 4",
        "9 8 7 6 5 4",
        "11 9 8 7 6 5 4 2",
        "11 10 9 8 7 6 5 4 3 2",
        "12 11 10 9 8 7 6 5 4 3 2 1",
    ];
    let fill = |slots: &str| FillRow::new(names(slots), Demand::Required, Basis::BoardManual);
    platform.fill_rows = printed.map(fill).to_vec();
    platform.count_rows = vec![CountRow::per_socket([1, 2, 4, 6, 8, 10, 12], Demand::Required, Basis::BoardManual)];
    let worked = |slots: &str| row("1", &[(DDR5, u16::try_from(names(slots).len()).unwrap(), slots)], SOURCE);
    platform.worked_rows = printed.map(worked).to_vec();
    platform.worked_rows.push(refused(row("1", &[(DDR5, 5, "")], SOURCE), "listed-counts"));
    let platform = proven(platform);
    let (machine, rules) = (machine(&platform, "1"), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    for (index, slots) in printed.into_iter().enumerate() {
        let order = planner.fill_order(names(slots).len()).unwrap();
        let mut found: Vec<u16> = order.slots.iter().map(|slot| slot.as_str().parse().unwrap()).collect();
        found.reverse();
        let expected: Vec<u16> = slots.split(' ').map(|slot| slot.parse().unwrap()).collect();
        assert_eq!((found, indices(&order)), (expected, vec![Some(index)]));
    }
}
