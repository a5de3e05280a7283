//! How many nodes plans take. What makes a search slower, and changes no answer, shows here and nowhere else.

use std::fmt::Write as _;

use expect_test::expect;

use crate::assess::Planner;
use crate::finding::{FactValue, Severity};
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::purchase::engine::goal::Goal;
use crate::purchase::engine::needs::Needs;
use crate::purchase::engine::{Engine, RequestRules};
use crate::purchase::{Offer, PlanRequest, Present, QuantityBreak};
use crate::rule::{CountBound, CountSet, MixBound, Rule, RuleBook};
use crate::search::Budget;
use crate::stated::Scope;
use crate::testing::{board, board_of, machine, module, name, population, processor};
use crate::unit::{Capacity, DataRate, Price};

const LABELS: [&str; 8] = [
    "8GB 1Rx8 PC4-2400T-RD1-11",
    "8GB 2Rx8 PC4-2133P-RE0-10",
    "16GB 1Rx4 PC4-2400T-RC1-11",
    "16GB 2Rx4 PC4-2133P-RA0-10",
    "16GB 2Rx8 PC4-2400T-RE1-11",
    "32GB 2Rx4 PC4-2400T-RB2-11",
    "32GB 4Rx4 PC4-2400T-RB2-11",
    "64GB 4Rx4 PC4-2400T-LD1-11",
];

fn price(minor: u64) -> Price {
    Price::new(minor, "EUR".parse().unwrap())
}

/// Offers of every sort, whose prices are no multiples of their sizes, each of so many; a part number each.
fn offers(stock: u32) -> impl Iterator<Item = Offer> {
    (0..16_u32).map(move |index| {
        let label = LABELS[usize::try_from(index).unwrap() % LABELS.len()];
        let sort = module(label);
        let part = sort.to_builder().part_number(name(&format!("part {}", index % 11))).build().unwrap();
        let gib = sort.capacity().mib() / 1024;
        let unit = gib * 110 + 170 + u64::from(index * 37 % 61);
        Offer::new(name(&format!("offer {index:02}")), part, price(unit), stock + index % 3)
    })
}

fn plain() -> PlanRequest {
    PlanRequest::new().offers(offers(3))
}

fn used(text: &mut String, what: &str, machine: &Machine, goal: Goal, request: &PlanRequest) {
    used_under(text, what, (machine, &RuleBook::standard()), goal, request);
}

/// How a search stands that is stopped after so many nodes.
fn stopped(text: &mut String, nodes: u64, machine: &Machine, request: &PlanRequest) {
    let rules = RuleBook::standard();
    let part_rules = RequestRules::of(&rules, request);
    let engine = Engine::new(Planner::new(machine, &rules), request, &part_rules);
    let answer = engine.solve(&Needs::of(request), Goal::Best, &mut Budget::new(nodes, None));
    let best = answer.found.map(|found| found.key.cost);
    writeln!(text, "{nodes} nodes: best {best:?}, at least {}, {:?}", answer.at_least, answer.stopped).unwrap();
}

#[test]
fn stopped_searches_come_so_far() {
    let mut text = String::new();
    let machine = machine(board(), processor());
    let request = plain().usable_at_least(Capacity::from_gib(136));
    for nodes in [40, 150, 300] {
        stopped(&mut text, nodes, &machine, &request);
    }
    let loose = request.refuse_from(Severity::Error);
    for nodes in [40, 150, 300, 600, 1200, 2400] {
        stopped(&mut text, nodes, &machine, &loose);
    }
    expect![[r#"
        40 nodes: best Some(28900), at least 15818, Some(NodesUsedUp { nodes: 40 })
        150 nodes: best Some(28900), at least 15818, Some(NodesUsedUp { nodes: 150 })
        300 nodes: best Some(28900), at least 24168, Some(NodesUsedUp { nodes: 300 })
        40 nodes: best Some(17451), at least 15818, Some(NodesUsedUp { nodes: 40 })
        150 nodes: best Some(17451), at least 15818, Some(NodesUsedUp { nodes: 150 })
        300 nodes: best Some(15818), at least 15818, None
        600 nodes: best Some(15818), at least 15818, None
        1200 nodes: best Some(15818), at least 15818, None
        2400 nodes: best Some(15818), at least 15818, None
    "#]]
    .assert_eq(&text);
}

fn used_under(
    text: &mut String,
    what: &str,
    (machine, rules): (&Machine, &RuleBook),
    goal: Goal,
    request: &PlanRequest,
) {
    let part_rules = RequestRules::of(rules, request);
    request.check(machine).unwrap();
    let engine = Engine::new(Planner::new(machine, rules), request, &part_rules);
    let mut budget = Budget::new(10_000_000, None);
    let answer = engine.solve(&Needs::of(request), goal, &mut budget);
    assert!(answer.stopped.is_none());
    let (nodes, work) = budget.used();
    let cost = answer.found.map_or_else(|| "none".to_owned(), |found| format!("{}", found.key.cost));
    writeln!(text, "{what}: {cost}, {nodes} nodes, {work} steps of work").unwrap();
}

fn small(sort: usize) -> MemoryModule {
    module(LABELS[sort])
}

#[test]
fn plans_take_so_many_nodes() {
    let mut text = String::new();
    let (two, one) = (machine(board(), processor()), machine(board_of(1, 2, 2), processor()));
    let gib = |request: PlanRequest, gib: u32| request.usable_at_least(Capacity::from_gib(gib));
    let best = || Goal::Best;
    used(&mut text, "plain", &two, best(), &gib(plain(), 192));
    used(&mut text, "plain, more than there is", &two, best(), &gib(plain(), 2048));
    used(&mut text, "any", &two, Goal::Any, &gib(plain(), 192));
    used(&mut text, "warnings allowed", &one, best(), &gib(plain(), 56).refuse_from(Severity::Error));
    used(&mut text, "warnings allowed, two processors", &two, best(), &gib(plain(), 136).refuse_from(Severity::Error));
    let by_size = |offer: Offer| Offer { unit_price: price(offer.module.capacity().mib() / 1024 * 110), ..offer };
    let by_size = PlanRequest::new().offers(offers(12).map(by_size));
    used(&mut text, "prices by size", &two, best(), &gib(by_size.clone(), 384));
    let allowed = by_size.refuse_from(Severity::Error);
    used(&mut text, "prices by size, warnings allowed", &two, best(), &gib(allowed.clone(), 384));
    used(&mut text, "prices by size, warnings allowed, an odd total", &two, best(), &gib(allowed, 200));
    used(&mut text, "at most", &one, best(), &gib(plain(), 40).usable_at_most(Capacity::from_gib(48)));
    used(&mut text, "a rate", &two, best(), &gib(plain(), 160).rate_at_least(DataRate::DDR4_2400));
    used(&mut text, "free slots", &two, best(), &gib(plain(), 128).free_slots_at_least(16));
    used(&mut text, "one part number", &two, best(), &gib(plain(), 96).one_part_number(Scope::Socket));
    used(&mut text, "spares", &two, best(), &gib(PlanRequest::new().offers(offers(8)), 128).spares(1));
    used(&mut text, "a budget that is short", &two, best(), &gib(plain(), 192).budget(price(100)));
    let packed = |offer: Offer| {
        offer.pack(2).minimum_quantity(4).breaks([QuantityBreak::new(6, price(900))]).surplus_value(price(5))
    };
    let packs = PlanRequest::new().offers(offers(9).map(packed));
    used(&mut text, "packs and breaks", &one, best(), &gib(packs.clone(), 64).refuse_from(Severity::Error));
    let charging = |(index, offer): (usize, Offer)| offer.supplier(name(&format!("supplier {}", index % 3)));
    let charged = PlanRequest::new().offers(offers(3).enumerate().map(charging));
    let charged = (0..3).fold(charged, |request, index| {
        request.supplier_charges([(name(&format!("supplier {index}")), price(300 + 250 * index))])
    });
    used(&mut text, "suppliers that charge", &one, best(), &gib(charged.clone(), 48).refuse_from(Severity::Error));
    used(&mut text, "suppliers that charge, warnings refused", &two, best(), &gib(charged, 128));
    let (first, second) = (small(2), small(3));
    let present = population(&[("1A1", &first), ("1B1", &second), ("2A1", &first), ("2C2", &second)]);
    let present = Present::new(present).credits([(name("1B1"), price(900))]);
    let request = |present: Present| plain().present(present).labour_per_handling(price(150));
    used(&mut text, "present and labour", &two, best(), &gib(request(present.clone()), 128));
    used(&mut text, "present, pinned", &two, best(), &gib(request(present.pinned([name("1A1")])), 128));
    used(&mut text, "two machines", &one, best(), &gib(PlanRequest::new().offers(offers(6)), 48).machines(2));
    let bound = MixBound::new(Scope::Socket, 1);
    let ranks = Rule::channel_mix("own-ranks", "channels have as many ranks", Severity::Error, bound, |load| {
        Ok(Some(FactValue::count(load.modules().filter_map(|site| site.module.package_ranks()).map(usize::from).sum())))
    });
    let loose = RuleBook::standard().without("channels-alike").unwrap().with(ranks.unwrap()).unwrap();
    used_under(&mut text, "a caller's key of channels", (&one, &loose), best(), &gib(plain(), 56));
    let counts = Rule::count(
        "own-count",
        "a processor has four modules at most",
        Severity::Error,
        CountBound::new(Scope::Socket, CountSet::AtMost(4)),
    );
    let few = RuleBook::standard().with(counts.unwrap()).unwrap();
    used_under(&mut text, "a bound on a processor's modules", (&two, &few), best(), &gib(plain(), 160));
    expect![[r#"
        plain: 24168, 686 nodes, 935151 steps of work
        plain, more than there is: none, 165 nodes, 81352 steps of work
        any: 24168, 686 nodes, 935151 steps of work
        warnings allowed: 6676, 111 nodes, 125053 steps of work
        warnings allowed, two processors: 15818, 220 nodes, 195863 steps of work
        prices by size: 42240, 2014 nodes, 1147207 steps of work
        prices by size, warnings allowed: 42240, 1942 nodes, 1141370 steps of work
        prices by size, warnings allowed, an odd total: 22000, 6477 nodes, 5532196 steps of work
        at most: 5968, 112 nodes, 98928 steps of work
        a rate: 24168, 607 nodes, 924987 steps of work
        free slots: 14768, 395 nodes, 199718 steps of work
        one part number: 14432, 250 nodes, 109079 steps of work
        spares: 17406, 4932 nodes, 746833 steps of work
        a budget that is short: none, 165 nodes, 81352 steps of work
        packs and breaks: 5375, 43 nodes, 91136 steps of work
        suppliers that charge: 5976, 227 nodes, 227265 steps of work
        suppliers that charge, warnings refused: 14732, 929 nodes, 221915 steps of work
        present and labour: 11922, 370 nodes, 253642 steps of work
        present, pinned: 11922, 383 nodes, 267154 steps of work
        two machines: 11936, 108 nodes, 98392 steps of work
        a caller's key of channels: 6852, 9300 nodes, 5978135 steps of work
        a bound on a processor's modules: 28873, 990 nodes, 1457781 steps of work
    "#]]
    .assert_eq(&text);
}
