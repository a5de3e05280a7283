//! Requests that make no sense, each with the error that says so, and what is worth a word.

use std::collections::BTreeSet;

use slotwright::assess::Planner;
use slotwright::fill::Arrangement;
use slotwright::finding::Severity;
use slotwright::machine::Machine;
use slotwright::module::MemoryModule;
use slotwright::population::Population;
use slotwright::purchase::{
    Axis, BreakEvenOutcome, HeldFast, Offer, Outcome, PlanNote, PlanRequest, Present, QuantityBreak, RequestError,
    RequestProblem, ShelfItem, StopReason,
};
use slotwright::reference;
use slotwright::rule::RuleBook;
use slotwright::stated::FieldPath;
use slotwright::unit::{Capacity, Price};

use crate::boards::{module, name};
use crate::purchase_oracle::euros;

fn machine() -> Machine {
    Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build().unwrap()
}

fn sold() -> MemoryModule {
    module("32GB 2Rx4 PC4-2400T-RB2-11")
}

fn offer() -> Offer {
    Offer::new(name("lot-7"), sold(), euros(40), 16)
}

fn request(offer: Offer) -> PlanRequest {
    PlanRequest::new().usable_at_least(Capacity::from_gib(128)).offer(offer)
}

/// What every verb that takes a request says of it.
fn problems(request: &PlanRequest) -> Vec<RequestProblem> {
    let (machine, rules) = (machine(), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let error = planner.plan(request).unwrap_err();
    let same = |other: Result<(), RequestError>| assert_eq!(other, Err(error.clone()));
    same(planner.plans(request, 3).map(drop));
    same(planner.frontier(request, [Axis::Cost]).map(drop));
    same(planner.savings(request).map(drop));
    same(planner.break_even(request, "lot-7").map(drop));
    same(planner.stages(request, &PlanRequest::new()).map(drop));
    error.problems
}

/// The one thing wrong with an offer, which its text names.
fn problem_of(offer: Offer) -> RequestProblem {
    let mut problems = problems(&request(offer));
    let problem = problems.pop().unwrap();
    assert!(problems.is_empty() && problem.to_string().contains("lot-7"), "{problems:?} {problem}");
    problem
}

fn steps<const N: usize>(steps: [(u32, usize); N]) -> Vec<QuantityBreak> {
    steps.map(|(from, price)| QuantityBreak::new(from, euros(price))).to_vec()
}

#[test]
fn packs_and_orders_of_none_are_refused() {
    assert_eq!(problem_of(offer().pack(0)), RequestProblem::EmptyPack { id: name("lot-7") });
    assert_eq!(problem_of(offer().minimum_quantity(0)), RequestProblem::EmptyOrder { id: name("lot-7") });
}

#[test]
fn breaks_out_of_order_are_refused() {
    let unordered = |from, before| RequestProblem::UnorderedBreaks { id: name("lot-7"), from, before };
    let cases = [
        (steps([(4, 30), (4, 20)]), unordered(4, 4)),
        (steps([(8, 20), (4, 30)]), unordered(4, 8)),
        (steps([(0, 30)]), unordered(0, 0)),
    ];
    for (breaks, problem) in cases {
        assert_eq!(
            problem_of({
                let mut changed = offer();
                changed.breaks = breaks;
                changed
            }),
            problem
        );
    }
}

#[test]
fn sets_of_nothing_are_refused() {
    // none clears a wish; nothing at all must be said by the field
    let mut none = request(offer()).kinds([]).conditions(None);
    assert_eq!((&none.kinds, &none.conditions), (&None, &None));
    (none.kinds, none.conditions) = (Some(BTreeSet::new()), Some(BTreeSet::new()));
    let nothing = |what| RequestProblem::NothingAllowed { what };
    assert_eq!(problems(&none), [nothing("kinds"), nothing("conditions")]);
}

#[test]
fn breaks_that_rise_are_refused() {
    let rising = |from, found, before| {
        let (found, before) = (euros(found), euros(before));
        RequestProblem::RisingBreak { id: name("lot-7"), from, found, before }
    };
    assert_eq!(
        problem_of({
            let mut changed = offer();
            changed.breaks = steps([(4, 41)]);
            changed
        }),
        rising(4, 41, 40)
    );
    assert_eq!(
        problem_of({
            let mut changed = offer();
            changed.breaks = steps([(4, 30), (8, 35)]);
            changed
        }),
        rising(8, 35, 30)
    );
}

#[test]
fn a_surplus_above_the_lowest_price_is_refused() {
    let surplus = {
        let mut changed = offer().surplus_value(euros(31));
        changed.breaks = steps([(4, 30)]);
        changed
    };
    let (value, price) = (euros(31), euros(30));
    assert_eq!(problem_of(surplus), RequestProblem::SurplusAbovePrice { id: name("lot-7"), value, price });
}

#[test]
fn all_problems_come_at_once() {
    let bad = {
        let mut changed = offer().pack(0).minimum_quantity(0);
        changed.breaks = steps([(4, 50)]);
        changed
    };
    assert_eq!(problems(&request(bad)).len(), 3);
}

#[test]
fn an_offer_that_is_not_there_has_no_break_even() {
    let (machine, rules) = (machine(), RuleBook::standard());
    let error = Planner::new(&machine, &rules).break_even(&request(offer()), "lot-8").unwrap_err();
    let unknown = RequestProblem::UnknownOffer { id: name("lot-8"), allowed: ["lot-7"].into_iter().collect() };
    assert_eq!(error.problems, [unknown]);
    let error = Planner::new(&machine, &rules).break_even(&request(offer()), "").unwrap_err();
    assert!(matches!(error.problems[..], [RequestProblem::UnknownOffer { .. }]), "{error}");
}

#[test]
fn a_later_request_says_nothing_of_what_is_present() {
    let (machine, rules) = (machine(), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let problems = |later: PlanRequest| planner.stages(&request(offer()), &later).unwrap_err().problems;
    let present = Population::new().with(name("A1"), sold());
    assert_eq!(problems(request(offer()).present(present)), [RequestProblem::LaterPresent]);
    let other = RequestProblem::OtherMachines { found: 2, expected: 1 };
    assert_eq!(problems(request(offer()).machines(2)), [other]);
    let dollars = {
        let mut changed = offer();
        changed.unit_price = Price::new(40, "USD".parse().unwrap());
        changed
    };
    assert!(matches!(problems(request(dollars))[..], [RequestProblem::TwoCurrencies { .. }]));
    let bad = problems(request(offer().pack(0)));
    assert_eq!(bad, [RequestProblem::EmptyPack { id: name("lot-7") }]);
}

#[test]
fn an_id_on_both_shelves_is_refused() {
    let (machine, rules) = (machine(), RuleBook::standard());
    let item = || [ShelfItem::new(name("box"), sold(), 1)];
    let (now, later) = (request(offer()).shelf(item()), request(offer()).shelf(item()));
    let error = Planner::new(&machine, &rules).stages(&now, &later).unwrap_err();
    let places = (FieldPath::of("shelf").index(0), FieldPath::of("later").field("shelf").index(0));
    let (first, second) = places;
    assert_eq!(error.problems, [RequestProblem::GivenTwice { what: "shelf item", id: name("box"), first, second }]);
}

#[test]
fn more_spares_than_can_be_planned_are_refused() {
    let found = PlanRequest::MAX_SPARES + 1;
    assert_eq!(problems(&request(offer()).spares(found)), [RequestProblem::Spares { found }]);
    assert_eq!(problems(&request(offer()).spares_per_part(true)), [RequestProblem::NoSparesPerPart]);
}

#[test]
fn sums_beyond_reckoning_are_refused() {
    let most = Price::new(PlanRequest::MAX_AMOUNT_MINOR, "EUR".parse().unwrap());
    assert!(matches!(
        problem_of({
            let mut changed = offer().return_cost(most).pack(u32::MAX);
            changed.unit_price = euros(40);
            changed.stock = u32::MAX;
            changed
        }),
        RequestProblem::SumTooLarge { .. }
    ));
    let dear = {
        let mut changed = offer().pack(u32::MAX);
        changed.unit_price = most;
        changed.stock = u32::MAX;
        changed
    };
    assert!(matches!(problem_of(dear), RequestProblem::SumTooLarge { place } if place.to_string() == "offers[lot-7]"));
    let larger = Price::new(PlanRequest::MAX_AMOUNT_MINOR + 1, "EUR".parse().unwrap());
    assert!(matches!(
        problem_of({
            let mut changed = offer();
            changed.unit_price = larger;
            changed
        }),
        RequestProblem::TooLarge { .. }
    ));
    assert!(matches!(problem_of(offer().return_cost(larger)), RequestProblem::TooLarge { .. }));
}

#[test]
fn spares_beyond_the_stock_are_an_answer() {
    let (machine, rules) = (machine(), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let outcome = planner.plan(&request(offer()).spares(100)).unwrap();
    let Outcome::Infeasible(why) = outcome else { panic!("{outcome:?}") };
    let best = why.reachable.iter().find_map(|reachable| match reachable.best() {
        Some(slotwright::purchase::Requirement::Spares(spares)) => Some(*spares),
        _ => None,
    });
    assert_eq!(best, Some(12)); // four of sixteen are fitted
}

#[test]
fn a_credit_above_the_price_is_noted() {
    let (machine, rules) = (machine(), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let cheap = {
        let mut changed = offer();
        changed.breaks = steps([(4, 30)]);
        changed
    };
    let with_credit = |credit| {
        let present = Population::new().with(name("A1"), sold());
        let request = request(cheap.clone()).present(Present::new(present).credits([(name("A1"), euros(credit))]));
        let outcome = planner.plan(&request).unwrap();
        let is_of_credit = |note: &&PlanNote| matches!(note, PlanNote::CreditAbovePrice { .. });
        outcome.optimal().unwrap().notes.iter().filter(is_of_credit).cloned().collect::<Vec<_>>()
    };
    assert_eq!(with_credit(30), []);
    let (slot, credit, offer, price) = (name("A1"), euros(31), name("lot-7"), euros(30));
    let noted = with_credit(31);
    let [PlanNote::CreditAbovePrice { slot: at, credit: worth, offer: lot, price: paid, .. }] = noted.as_slice() else {
        panic!("{noted:?}")
    };
    assert_eq!((at, worth, lot, paid), (&slot, &credit, &offer, &price));
}

#[test]
fn a_pinned_module_that_is_refused_is_named() {
    let (machine, rules) = (machine(), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let unbuffered = module("16GB 2Rx8 PC4-2400T-EE1-11");
    let present = Population::new().with(name("A1"), unbuffered);
    let request = request(offer()).present(Present::new(present).pinned([name("A1")]));
    let outcome = planner.plan(&request).unwrap();
    let Outcome::Infeasible(why) = outcome else { panic!("{outcome:?}") };
    assert!(why.clash.is_empty() && !why.pinned.is_empty(), "{why}");
    assert!(why.pinned.iter().all(|finding| finding.severity == Severity::Error), "{why}");
    assert!(why.pinned.iter().any(|finding| finding.places.iter().any(|place| place.to_string().contains("A1"))));
    assert_eq!(why.waivers.iter().map(|waiver| waiver.given_up).collect::<Vec<_>>(), [HeldFast::Pins]);
}

#[test]
fn every_verb_that_searches_can_be_cancelled() {
    let (machine, rules) = (machine(), RuleBook::standard());
    let watch = |_| std::ops::ControlFlow::Break(());
    let planner = Planner::new(&machine, &rules).watched(&watch);
    let request = request(offer());
    let outcome = planner.plan(&request).unwrap();
    assert!(matches!(outcome, Outcome::Stopped { reason: StopReason::Cancelled, .. }), "{outcome:?}");
    assert_eq!(planner.plans(&request, 3).unwrap().stopped, Some(StopReason::Cancelled));
    assert_eq!(planner.frontier(&request, [Axis::Cost]).unwrap().stopped, Some(StopReason::Cancelled));
    assert_eq!(planner.stages(&request, &request).unwrap().stopped, Some(StopReason::Cancelled));
    let reason = StopReason::Cancelled;
    let firm = planner.break_even(&request, "lot-7").unwrap();
    assert!(matches!(firm, BreakEvenOutcome::Stopped { reason: StopReason::Cancelled, .. }), "{firm:?}");
    assert_eq!(planner.savings(&request).unwrap().stopped, Some(reason));
    assert_eq!(planner.totals_near(&request, Capacity::from_gib(256)).unwrap().stopped, Some(reason));
    let module = request.offers[0].module.clone();
    let population = Population::new().with(name("A1"), module.clone());
    let met = planner.meet_mode(&population).unwrap();
    assert_eq!(met.stopped, Some(reason));
    assert_eq!(planner.even_out(&population).unwrap().stopped, Some(reason));
    assert_eq!(planner.accepts(&module).stopped, Some(reason));
    assert_eq!(planner.ceiling().stopped, Some(reason));
    let arranged = planner.arrange([(module, 4)]).unwrap();
    assert!(matches!(arranged, Arrangement::Stopped { reason: StopReason::Cancelled, .. }), "{arranged:?}");
}
