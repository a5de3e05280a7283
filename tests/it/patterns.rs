//! Which modules the lines of tables speak of, and which line counts.

use slotwright::assess::Planner;
use slotwright::machine::Machine;
use slotwright::module::{MemoryModule, ModuleKind};
use slotwright::platform::{
    ChannelBan, FillRow, FillSlot, ModuleLimit, PairBan, PlatformDescription, PlatformProblem, SharedLoadCap,
};
use slotwright::processor::{
    CountedRanks, MixRow, ModulePattern, ProcessorDescription, ProcessorProblem, RateCell, RateLookup, RateTable,
    RateTableProblem,
};
use slotwright::purchase::{Offer, PlanRequest};
use slotwright::rule::RuleBook;
use slotwright::stated::{Basis, Demand, Scope, Stated};
use slotwright::unit::{Capacity, DataRate, Voltage};

use crate::boards::{module, name};
use crate::found::{description, machine, processor};
use crate::purchase_oracle::euros;

const FAST: Option<DataRate> = Some(DataRate::DDR4_2400);
const SLOW: Option<DataRate> = Some(DataRate::DDR4_1866);

fn any() -> ModulePattern {
    ModulePattern::default()
}

fn gib(gib: u32) -> Capacity {
    Capacity::from_gib(gib)
}

fn plain() -> MemoryModule {
    module("32GB 2Rx4 PC4-2400T-RB2-11")
}

fn part(text: &str) -> MemoryModule {
    plain().to_builder().part_number(name(text)).build().unwrap()
}

/// A processor with a table of rates for one module a channel.
fn with_rates(rows: &[(ModulePattern, Option<DataRate>)]) -> ProcessorDescription {
    let table = RateTable::new(Basis::DataSheet);
    let table = rows.iter().fold(table, |table, (pattern, rate)| table.by_load(pattern, &[*rate]));
    processor().rate_table(table)
}

#[test]
fn the_narrowest_row_counts() {
    let up_to = any().capacity_at_most(gib(64));
    let rows = [
        (any(), Some(DataRate::DDR4_2400)),
        (up_to.clone(), Some(DataRate::DDR4_2133)),
        (up_to.capacity_at_least(gib(32)), Some(DataRate::DDR4_1866)),
        (any().capacity(gib(64)), Some(DataRate::DDR4_1600)),
    ];
    // in whatever order they stand
    for turned in 0..rows.len() {
        let mut rows = rows.clone();
        rows.rotate_left(turned);
        let table = with_rates(&rows).build().unwrap().description().rate_table.clone().unwrap();
        for (label, rate) in [
            ("128GB 4Rx4 PC4-2400T-RB2-11", DataRate::DDR4_2400),
            ("16GB 2Rx8 PC4-2400T-RE2-11", DataRate::DDR4_2133),
            ("32GB 2Rx4 PC4-2400T-RB2-11", DataRate::DDR4_1866),
            ("64GB 2Rx4 PC4-2400T-RB2-11", DataRate::DDR4_1600),
        ] {
            let RateLookup::Row(row) = table.row(&module(label), 1, (1, None)) else { panic!("{label}") };
            assert_eq!(row.cell, RateCell::RateMts(rate), "{label}");
        }
    }
}

#[test]
fn an_unknown_fact_leaves_the_narrower_row_open() {
    let rows = [(any(), FAST), (any().part_number(name("P-1")), SLOW)];
    let table = with_rates(&rows).build().unwrap().description().rate_table.clone().unwrap();
    assert_eq!(table.row(&plain(), 1, (1, None)), RateLookup::Unknown(slotwright::processor::MissingFact::PartNumber));
    assert_eq!(table.row(&part("P-2"), 1, (1, None)), RateLookup::Row(&table.rows[0]));
    assert_eq!(table.row(&part("P-1"), 1, (1, None)), RateLookup::Row(&table.rows[1]));
}

#[test]
fn the_narrowest_row_of_a_mix_counts() {
    let mix = |modules: [ModulePattern; 2], rate| MixRow::new(modules.to_vec(), RateCell::RateMts(rate));
    let wide = [any().capacity_at_least(gib(32)), any().capacity_at_least(gib(16))];
    let narrow = [any().capacity(gib(16)), any().capacity_at_least(gib(32))];
    let mixes = vec![mix(wide.clone(), DataRate::DDR4_2400), mix(narrow, DataRate::DDR4_1866)];
    let table = RateTable::new(Basis::DataSheet).mixes(mixes);
    assert_eq!(table.problems(), []);
    let [small, large] = ["16GB 2Rx8 PC4-2400T-RE2-11", "64GB 2Rx4 PC4-2400T-RB2-11"].map(module);
    let row = |modules: &[&MemoryModule]| match table.mix_row(modules, (2, None)) {
        RateLookup::Row(row) => row.cell,
        other => panic!("{other:?}"),
    };
    assert_eq!(row(&[&large, &small]), RateCell::RateMts(DataRate::DDR4_1866));
    assert_eq!(row(&[&large, &large]), RateCell::RateMts(DataRate::DDR4_2400));
    // the same the other way round is as specific
    let twice = {
        let mut changed = table;
        changed.mixes =
            vec![mix(wide.clone(), DataRate::DDR4_2400), mix([wide[1].clone(), wide[0].clone()], DataRate::DDR4_1866)];
        changed
    };
    assert_eq!(twice.problems(), [RateTableProblem::AmbiguousMix { first: 0, second: 1 }]);
}

#[test]
fn rows_of_which_neither_is_more_specific_are_refused() {
    let range = |least, most| any().capacity_at_least(gib(least)).capacity_at_most(gib(most));
    let problems = |one: &ModulePattern, other: &ModulePattern| {
        with_rates(&[(one.clone(), FAST), (other.clone(), SLOW)]).build().map_err(|error| error.problems)
    };
    for (one, other, unclear) in [
        (range(8, 32), range(16, 64), true),
        (range(8, 32), range(16, 32), false),
        (range(8, 16), range(32, 64), false),
        (range(8, 16), any().capacity(gib(16)), false),
        (range(8, 16), any().package_ranks_at_least(2), true),
        (any().voltage(Voltage::V1_2), any().ecc(slotwright::module::Ecc::Ecc), true),
        (any().class(name("one")), any().without_class(), false),
        (any().maker(name("one")), any().part_number(name("P-1")), true),
    ] {
        let load = format!("{one}, 1 a channel");
        let expected = ProcessorProblem::RateTable(RateTableProblem::Ambiguous { first: 0, second: 1, load });
        let found = problems(&one, &other).map(|_| ()).map_err(|mut problems| problems.remove(0));
        assert_eq!(found, if unclear { Err(expected) } else { Ok(()) }, "{one} and {other}");
    }
}

#[test]
fn counted_ranks_follow_the_narrowest_line() {
    let line = |module, ranks| CountedRanks::new(module, ranks);
    let lines = [line(any().capacity_at_least(gib(32)), 3), line(any().capacity(gib(32)), 1), line(any(), 2)];
    for (label, ranks) in
        [("32GB 2Rx4 PC4-2400T-RB2-11", 1), ("64GB 4Rx4 PC4-2400T-RB2-11", 3), ("16GB 2Rx8 PC4-2400T-RE2-11", 2)]
    {
        assert_eq!(CountedRanks::of(&lines, &module(label), 1), Ok(ranks), "{label}");
    }
}

/// Every place of a board where a pattern can stand, with one that nothing can match.
fn boards_of_nothing() -> Vec<(PlatformDescription, &'static str)> {
    let none = || any().capacity(Capacity::ZERO);
    let plain = || description(1, 1, 2);
    let limit = ModuleLimit::new(none()).at_most_per_channel(1);
    let cap = SharedLoadCap::new(none(), Scope::Socket, 1);
    let ban = |first, second| vec![Stated::assumed(PairBan::new(first, second, Scope::Socket))];
    let slot = FillSlot::new(name("1A1")).module(none());
    let row = FillRow::new([], Demand::Advised, Basis::Assumed).slots([slot]);
    let table = RateTable::new(Basis::BoardManual).by_load(&any(), &[FAST]).by_load(&none(), &[None, SLOW]);
    vec![
        (plain().module_limits([Stated::assumed(limit)]), "module_limits[0].module"),
        (plain().shared_load_caps([Stated::assumed(cap)]), "shared_load_caps[0].module"),
        (plain().pair_bans(ban(none(), any())), "pair_bans[0].first"),
        (plain().pair_bans(ban(any(), none())), "pair_bans[0].second"),
        (plain().channel_bans([Stated::assumed(ChannelBan::new([any(), none()]))]), "channel_bans[0].modules[1]"),
        (plain().listed_modules(Stated::assumed(vec![any(), none()])), "listed_modules[1]"),
        (plain().fill_rows([row]), "fill_rows[0].slots[0].module"),
        (plain().rate_table(table), "rate_table.rows[1].module"),
    ]
}

#[test]
fn a_pattern_of_nothing_is_told_with_its_place() {
    for (board, at) in boards_of_nothing() {
        let problems = board.build().unwrap_err().problems;
        let PlatformProblem::Pattern { place, problem } = &problems[0] else { panic!("{problems:?}") };
        assert_eq!((place.to_string().as_str(), problem.to_string().as_str()), (at, "no module has a capacity of 0"));
    }
    let line = CountedRanks::new(any().voltage(Voltage::V1_5), 1);
    let mix = MixRow::new([any(), any().package_ranks(9)], RateCell::NotAllowed);
    let table = RateTable::new(Basis::DataSheet).mixes([mix]);
    let own = processor().rate_table(table).counted_ranks([line]);
    let error = own.build().unwrap_err();
    assert_eq!(
        error.to_string(),
        "processor processor: rate_table.mixes[0].modules[1]: 9 package ranks; a module has 1 to 8; \
         counted_ranks[0].module: DDR4 modules do not run at 1.5 V"
    );
}

/// Parts "P-1", which runs at the lower rate, and "P-2".
fn by_part() -> Machine {
    machine(description(1, 2, 1), with_rates(&[(any(), FAST), (any().part_number(name("P-1")), SLOW)]))
}

#[test]
fn parts_that_a_row_tells_apart_are_not_merged() {
    let (machine, rules) = (by_part(), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let rate = |pieces: &[(&str, usize)]| {
        let pieces = pieces.iter().map(|&(text, count)| (part(text), count));
        planner.arrange(pieces).unwrap().best().unwrap().running_rate()
    };
    assert_eq!(rate(&[("P-2", 2)]), FAST);
    assert_eq!(rate(&[("P-1", 1), ("P-2", 1)]), SLOW);
    let offers =
        [("P-1", 1_000), ("P-2", 2_000)].map(|(text, minor)| Offer::new(name(text), part(text), euros(minor), 9));
    let request = PlanRequest::new().usable_at_least(gib(64)).offers(offers);
    let bought = |request: &PlanRequest| {
        let outcome = planner.plan(request).unwrap();
        let plan = outcome.optimal().unwrap();
        (plan.cost.total.amount_minor(), plan.assessment.figures.running_rate.rate())
    };
    assert_eq!(bought(&request), (2_000, SLOW));
    assert_eq!(bought(&request.rate_at_least(DataRate::DDR4_2400)), (4_000, FAST));
}

#[test]
fn limits_on_makers_tell_modules_apart() {
    let limit = ModuleLimit::new(any().maker(name("one"))).barred_positions([0]);
    let board = description(1, 1, 1).module_limits([Stated::new(limit, Basis::BoardManual)]);
    let (machine, rules) = (machine(board, processor()), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let by = |maker: &str| plain().to_builder().maker(name(maker)).build().unwrap();
    let offers =
        [("one", 1_000), ("two", 2_000)].map(|(maker, minor)| Offer::new(name(maker), by(maker), euros(minor), 9));
    let outcome = planner.plan(&PlanRequest::new().usable_at_least(gib(32)).offers(offers)).unwrap();
    assert_eq!(outcome.optimal().unwrap().cost.total.amount_minor(), 2_000);
}

#[test]
fn the_best_rate_is_that_of_any_module_that_rows_tell_apart() {
    let best = |rows: &[(ModulePattern, Option<DataRate>)]| {
        let machine = machine(description(1, 2, 1), with_rates(rows));
        machine.best_rate(machine.platform().socket_named("1").unwrap())
    };
    // a part of its own, a maker, check bits, a voltage, a size: what is named is faster than the rest
    for named in [
        any().part_number(name("P-1")),
        any().maker(name("one")),
        any().ecc(slotwright::module::Ecc::Ecc),
        any().voltage(Voltage::V1_2),
        any().capacity_at_least(gib(32)).capacity_at_most(gib(48)),
        any().package_ranks_at_least(4),
        any().without_class(),
        any().class(name("own")),
    ] {
        assert_eq!(best(&[(any(), SLOW), (named.clone(), FAST)]), FAST, "{named}");
    }
    // and what is not named
    for named in
        [any().part_number(name("P-1")), any().maker(name("one")), any().class(name("own")), any().without_class()]
    {
        assert_eq!(best(&[(any(), FAST), (named.clone(), SLOW)]), FAST, "{named}");
    }
}

#[test]
fn ceilings_are_of_modules_that_no_row_names() {
    let (machine, rules) = (by_part(), RuleBook::standard());
    let ceiling = Planner::new(&machine, &rules).ceiling();
    assert!(ceiling.rows.iter().any(|row| row.kind == ModuleKind::Registered && Some(row.rate_mts) == FAST));
}
