//! The lemmas that the method rests on, each by itself.

use itertools::Itertools;
use proptest::prelude::*;

use crate::assess::Planner;
use crate::fill::{ClassId, Level};
use crate::finding::{FactValue, Severity};
use crate::machine::Machine;
use crate::module::ModuleKind;
use crate::platform::{ChannelGroup, DomainScheme, Domains, RatePolicy};
use crate::population::Occupant;
use crate::processor::{InterleaveSet, InterleaveSets, ModulePattern, PermittedSet, ProcessorDescription, RateTable};
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::crowding::Crowding;
use crate::purchase::engine::goal::Goal;
use crate::purchase::engine::needs::{Bounds, Needs};
use crate::purchase::engine::search::Search;
use crate::purchase::engine::stock::Standing;
use crate::purchase::engine::{Engine, RequestRules};
use crate::purchase::{Offer, PlanRequest, Present};
use crate::rule::{MixBound, Rule, RuleBook};
use crate::search::Budget;
use crate::stated::{Basis, Scope, Stated};
use crate::testing::{board_of, machine, module, name, population, processor};
use crate::unit::{Capacity, DataRate, Name, Price};

const SORTS: [&str; 4] = [
    "8GB 1Rx8 PC4-2400T-RD1-11",
    "16GB 1Rx4 PC4-2400T-RC1-11",
    "16GB 2Rx4 PC4-2133P-RA0-10",
    "32GB 2Rx4 PC4-2400T-RB2-11",
];
const SUPPLIERS: u64 = 3;

fn price(minor: u64) -> Price {
    Price::new(minor, "EUR".parse().unwrap())
}

/// What an offer is drawn from: its sort, price, stock, pack, supplier and surplus value.
type Drawn = (usize, u64, u32, u32, u64, u64);

fn request(drawn: &[Drawn], charges: &[u64], gib: u32, threshold: Severity) -> PlanRequest {
    let at = |number: u64| name(&format!("supplier {number}"));
    let mut request = PlanRequest::new().usable_at_least(Capacity::from_gib(gib)).refuse_from(threshold);
    for (id, &(sort, unit, stock, pack, supplier, worth)) in drawn.iter().enumerate() {
        let offer = Offer::new(name(&format!("offer {id}")), module(SORTS[sort]), price(unit), stock).pack(pack);
        let offer = offer.surplus_value(price(worth.min(unit)));
        request = request.offer(if supplier < SUPPLIERS { offer.supplier(at(supplier)) } else { offer });
    }
    let one = module(SORTS[1]);
    request = request
        .present(Present::new(population(&[("1A1", &one)])).credits([(name("1A1"), price(7))]))
        .labour_per_handling(price(2));
    (0..)
        .zip(charges)
        .fold(request, |request, (number, &charge)| request.supplier_charges([(at(number), price(charge))]))
}

fn requests() -> impl Strategy<Value = PlanRequest> {
    let one = (0..SORTS.len(), 1u64..30, 1u32..5, 1u32..4, 0..=SUPPLIERS, 0u64..30);
    let charges = proptest::collection::vec(0u64..40, usize::try_from(SUPPLIERS).unwrap());
    let thresholds = prop_oneof![Just(Severity::Error), Just(Severity::Warning)];
    (proptest::collection::vec(one, 1..5), charges, prop_oneof![Just(16u32), Just(32), Just(48), Just(64)], thresholds)
        .prop_map(|(drawn, charges, gib, threshold)| request(&drawn, &charges, gib, threshold))
}

fn small() -> Machine {
    machine(board_of(1, 2, 2), processor())
}

/// Every choice of numbers that the slots hold.
fn numbers(search: &Search<'_, '_>) -> Vec<Vec<(ClassId, usize)>> {
    let classes = search.classes().all.iter().map(|(id, class)| (0..=class.most()).map(move |count| (id, count)));
    let some = |counts: Vec<(ClassId, usize)>| counts.into_iter().filter(|&(_, count)| count > 0).collect::<Vec<_>>();
    let all = classes.multi_cartesian_product().map(some);
    let slots = search.model().slots.len();
    all.filter(|counts| counts.iter().map(|&(_, count)| count).sum::<usize>() <= slots).collect()
}

fn held(search: &Search<'_, '_>, counts: &[(ClassId, usize)]) -> Capacity {
    let each = |&(class, count): &(ClassId, usize)| {
        super::classes::times(search.classes().all.get(class).unwrap().module.capacity(), count)
    };
    counts.iter().map(each).sum()
}

/// A processor whose rates fall with what a channel holds: further with more ranks.
fn biting() -> ProcessorDescription {
    let rates = [DataRate::DDR4_2400, DataRate::DDR4_2133, DataRate::DDR4_1600].map(Some);
    let registered = |ranks| ModulePattern::kind(ModuleKind::Registered).ranks(ranks);
    let table = RateTable::new(Basis::DataSheet)
        .by_load(&registered(1), &[rates[0], rates[0], rates[1]])
        .by_load(&registered(2), &rates);
    ProcessorDescription { rate_table: Some(table), ..processor() }
}

/// How a processor interleaves its channels.
#[derive(Debug, Clone, Copy)]
enum Interleave {
    Any,
    /// All, or the first two.
    Sets,
    /// Two domains.
    Halves,
}

/// Offers at prices by size, at times somewhat beside that, so that many numbers cost the same; and at times what is present.
fn ties() -> impl Strategy<Value = (Machine, PlanRequest)> {
    let one = (0..SORTS.len(), 0u64..3, 1u32..9);
    let boards = prop_oneof![Just((2, 2, 2)), Just((1, 4, 2)), Just((2, 3, 1)), Just((1, 2, 3))];
    let beside = prop_oneof![3 => Just(0u64), 1 => 1u64..3];
    let more = (
        beside,
        0usize..5,
        any::<bool>(),
        any::<bool>(),
        prop_oneof![2 => Just(None), 1 => Just(Some(DataRate::DDR4_2133))],
        prop_oneof![2 => Just(Interleave::Any), 1 => Just(Interleave::Sets), 1 => Just(Interleave::Halves)],
        prop::bool::weighted(0.2),
    );
    (proptest::collection::vec(one, 1..6), boards, 1u32..33, more).prop_map(
        |(
            drawn,
            (sockets, channels, slots),
            eighths,
            (beside, present, bites, is_uneven, rate, interleave, is_per_socket),
        )| {
            let mut board = board_of(sockets, channels, slots);
            let controllers = board.sockets.iter_mut().flat_map(|socket| &mut socket.controllers);
            for channel in controllers.filter(|_| is_uneven).filter_map(|controller| controller.channels.last_mut()) {
                channel.slots.truncate(1);
            }
            let request = PlanRequest::new().usable_at_least(Capacity::from_gib(8 * eighths));
            let mut request = request.refuse_from(Severity::Error);
            for (id, (sort, group, stock)) in drawn.into_iter().enumerate() {
                let sold = module(SORTS[sort]);
                let unit = sold.capacity().mib() / 1024 * 10 + beside * group;
                request = request.offer(Offer::new(name(&format!("offer {id}")), sold, price(unit), stock));
            }
            if let Some(sort) = SORTS.get(present) {
                let one = module(sort);
                request = request.present(Present::new(population(&[("1A1", &one), ("1B1", &one)])));
            }
            request.rate_at_least_mts = rate;
            let mut described = if bites { biting() } else { processor() };
            let letters = |from: usize, to: usize| (from..to).map(|at| name(&"ABCD"[at..=at])).collect::<Vec<Name>>();
            match interleave {
                Interleave::Sets => {
                    let pair = PermittedSet::of(InterleaveSet::Channels(letters(0, 2)));
                    let all = PermittedSet::of(InterleaveSet::Channels(letters(0, channels)));
                    described.interleave =
                        Some(Stated::assumed(InterleaveSets::new(letters(0, channels), [all, pair])));
                }
                Interleave::Halves => {
                    let half =
                        |socket: usize, from, to| ChannelGroup::new(name(&(socket + 1).to_string()), letters(from, to));
                    let middle = channels / 2;
                    let groups =
                        (0..sockets).flat_map(|at| [half(at, 0, middle), half(at, middle, channels)]).collect();
                    let domains = Domains::Groups { groups, needs_memory_in_each: false };
                    board.domain_schemes = vec![DomainScheme::new(name("halves"), domains, Basis::Assumed)];
                    board.default_settings.domain_scheme = Some(name("halves"));
                }
                Interleave::Any => {}
            }
            if is_per_socket {
                board.rate_policy = RatePolicy::PerSocket;
            }
            (machine(board, described), request)
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Where ties are settled at once by what plans can be like, the best of all numbers is found.
    #[test]
    fn law_ties_are_settled_as_by_enumeration((machine, request) in ties()) {
        let rules = RuleBook::standard();
        let part_rules = RequestRules::of(&rules, &request);
        let engine = Engine::new(Planner::new(&machine, &rules), &request, &part_rules);
        let needs = Needs::of(&request);
        let mut budget = Budget::new(10_000_000, None);
        let context = engine.context(&needs.terms, &mut budget).unwrap();
        let mut search = Search::new(&context, needs.clone(), Goal::Best);
        search.first_tries = 0;
        search.run(&mut budget).unwrap();
        let bounds = Bounds::new(&context.model, &needs);
        let most = search.best.as_ref().map(|best| best.key.cost);
        let mut best = None;
        for counts in numbers(&search) {
            let cost = context.classes.least_cost(&counts).unwrap();
            if held(&search, &counts) < bounds.at_least || most.is_some_and(|most| cost > most) {
                continue;
            }
            let found = engine.solve_with(&needs, Goal::Best, &counts, &mut budget).proved().unwrap();
            let key = found.map(|found| found.key);
            best = match (best, key) {
                (Some(best), Some(key)) => Some(std::cmp::min::<super::key::PlanKey>(best, key)),
                (best, key) => best.or(key),
            };
        }
        prop_assert_eq!(search.best.map(|best| best.key), best);
    }

    /// What is learnt of numbers that cannot be placed, and what is known of how many sorts there may be, forbids none that can.
    #[test]
    fn law_no_lesson_forbids_what_can_be_placed(
        (machine, request) in ties(), refuses in any::<bool>(), is_apart in any::<bool>(), first in 0usize..50,
    ) {
        let request = request.refuse_from(if refuses { Severity::Warning } else { Severity::Error });
        let one_rank = Rule::mix(
            "own-ranks",
            "a processor has modules of one number of ranks",
            Severity::Error,
            MixBound::new(Scope::Socket, 1),
            |site| Ok(site.module.package_ranks().map(|ranks| FactValue::count(usize::from(ranks)))),
        );
        let rules = RuleBook::standard();
        let rules = if is_apart { rules.with(one_rank.unwrap()).unwrap() } else { rules };
        let part_rules = RequestRules::of(&rules, &request);
        let engine = Engine::new(Planner::new(&machine, &rules), &request, &part_rules);
        let needs = Needs::of(&request);
        let mut budget = Budget::new(10_000_000, None);
        let context = engine.context(&needs.terms, &mut budget).unwrap();
        let mut search = Search::new(&context, Needs { usable_at_least: Capacity::ZERO, ..needs.clone() }, Goal::Best);
        let classes: Vec<ClassId> = search.classes().all.ids().filter(|&class| search.allowed(class)).collect();
        search.crowding = Some(Crowding::new(search.model(), &classes, search.floor().unwrap_or(Level::NO_RATE)));
        let (even, odd): (Vec<_>, Vec<_>) = numbers(&search)
            .into_iter()
            .filter(|counts| !counts.is_empty())
            .partition(|counts| counts.iter().all(|(_, count)| count % machine.processors().count() == 0));
        let some = |all: Vec<Vec<(ClassId, usize)>>| {
            let step = 1 + all.len() / 100;
            all.into_iter().skip(first % step).step_by(step).collect::<Vec<_>>()
        };
        let mut placed = Vec::new();
        for counts in [some(odd), some(even)].concat() {
            let needs = Needs { usable_at_least: Capacity::ZERO, ..needs.clone() };
            match engine.solve_with(&needs, Goal::Any, &counts, &mut budget).any().unwrap() {
                Some(_) => placed.push(counts),
                None => search.learn_from(&counts, &mut budget).unwrap(),
            }
        }
        for counts in placed {
            prop_assert!(!search.is_crowded(&counts), "{:?}", counts);
        }
    }

    /// What numbers cost at least is no more than what they cost; what any plan costs at least is no more than that; and the
    /// best of all numbers is what the chooser ends with.
    #[test]
    fn law_bounds_never_exceed_costs_and_choosing_is_enumeration(request in requests()) {
        let (machine, rules) = (small(), RuleBook::standard());
        let planner = Planner::new(&machine, &rules);
        let part_rules = RequestRules::of(&rules, &request);
        let engine = Engine::new(planner, &request, &part_rules);
        let needs = Needs::of(&request);
        let mut budget = Budget::new(1_000_000, None);
        let context = engine.context(&needs.terms, &mut budget).unwrap();
        let search = Search::new(&context, needs.clone(), Goal::Best);
        let bound = search.least_of_all();
        let bounds = Bounds::new(&context.model, &needs);
        let mut best: Option<Amount> = None;
        for counts in numbers(&search) {
            if held(&search, &counts) < bounds.at_least {
                continue;
            }
            let answer = engine.solve_with(&needs, Goal::Best, &counts, &mut budget);
            prop_assert!(answer.stopped.is_none());
            let Some(found) = answer.found else { continue };
            let cost = found.key.cost;
            prop_assert_eq!(found.cost.total(), cost);
            prop_assert!(context.classes.least_cost(&counts).unwrap() <= cost, "{:?}", counts);
            prop_assert!(bound <= cost, "{:?}: {} above {}", counts, bound, cost);
            best = Some(best.map_or(cost, |best| best.min(cost)));
        }
        let chosen = engine.solve(&needs, Goal::Best, &mut budget).proved().unwrap();
        prop_assert_eq!(chosen.map(|found| found.key.cost), best);
    }

    /// Whatever is settled of some suppliers, no plan that agrees with it comes before the one that is found then; and the
    /// best of all sets of suppliers is what the tree ends with.
    #[test]
    fn law_settling_suppliers_is_trying_every_set(request in requests()) {
        let (machine, rules) = (small(), RuleBook::standard());
        let planner = Planner::new(&machine, &rules);
        let part_rules = RequestRules::of(&rules, &request);
        let engine = Engine::new(planner, &request, &part_rules);
        let needs = Needs::of(&request);
        let mut budget = Budget::new(1_000_000, None);
        let context = engine.context(&needs.terms, &mut budget).unwrap();
        let mut found = |standings: &[Standing]| {
            let mut search = Search::new(&context, needs.clone(), Goal::Best);
            search.at_node(&standings.iter().copied().collect(), None, &mut budget).unwrap();
            search.best.map(|found| found.key)
        };
        let all = vec![vec![Standing::Open, Standing::Paid, Standing::Barred]; context.classes.market.standings.len()];
        let all: Vec<Vec<Standing>> = all.into_iter().multi_cartesian_product().collect();
        let (partly, wholly): (Vec<_>, Vec<_>) =
            all.into_iter().map(|set| (found(&set), set)).partition(|(_, set)| set.contains(&Standing::Open));
        for (at_least, settled) in partly {
            let agrees = |set: &[Standing]| {
                set.iter().zip(&settled).all(|(own, settled)| own == settled || *settled == Standing::Open)
            };
            for (key, set) in wholly.iter().filter(|(key, set)| key.is_some() && agrees(set)) {
                prop_assert!(at_least.is_some() && at_least <= *key, "{:?} {:?}", settled, set);
            }
        }
        let ours = engine.solve(&needs, Goal::Best, &mut Budget::new(1_000_000, None)).proved().unwrap();
        prop_assert_eq!(ours.map(|found| found.key), wholly.into_iter().filter_map(|(key, _)| key).min());
    }

    /// What the search lets pass the rule book lets pass.
    #[test]
    fn law_a_plan_of_the_engine_passes_when_written(request in requests()) {
        let (machine, rules) = (small(), RuleBook::standard());
        let outcome = Planner::new(&machine, &rules).plan(&request).unwrap();
        if let Some(plan) = outcome.optimal() {
            let modules = plan.slots.iter().map(|slot| (slot.slot.clone(), Occupant::module(slot.module.clone())));
            let found = Planner::new(&machine, &rules).assess(&modules.collect()).unwrap().findings;
            prop_assert!(found.iter().all(|finding| finding.severity < request.refuse_from), "{:?}", found);
        }
    }
}
