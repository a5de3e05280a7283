//! Input at the edge of what can be reckoned.
#![allow(clippy::unwrap_used)]

use slotwright::fill::{ArrangeError, ArrangeRequest, Arrangement};
use slotwright::module::{Generation, ModuleKind};
use slotwright::population::Population;
use slotwright::purchase::RequestProblem;
use slotwright::{
    Capacity, DataRate, Label, Machine, MemoryModule, Offer, Outcome, PlanRequest, Planner, Price, RuleBook, reference,
};

use crate::boards::name;

fn machine() -> Machine {
    let builder = Machine::builder(reference::ddr4_2s_4ch_3spc());
    builder.processor_named("1", "later").processor_named("2", "later").build().unwrap()
}

fn module() -> MemoryModule {
    "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>().unwrap().to_module()
}

fn offer(id: &str, minor: u64, stock: u32) -> Offer {
    Offer::new(name(id), module(), Price::new(minor, "EUR".parse().unwrap()), stock)
}

#[test]
fn numbers_as_large_as_they_get() {
    let (machine, rules) = (machine(), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let other = "16GB 2Rx4 PC4-2400T-RA0-11".parse::<Label>().unwrap().to_module();
    let pieces = [(module(), usize::MAX), (other, usize::MAX)];
    let Arrangement::Illegal(illegal) = planner.arrange(pieces).unwrap() else { panic!("nothing holds so many") };
    assert_eq!(illegal.left_over, usize::MAX);
    let request = PlanRequest::new().offer(offer("a", 1, u32::MAX)).free_slots_at_least(usize::MAX);
    assert!(matches!(planner.plan(&request).unwrap(), Outcome::Infeasible(_)));
    let request = PlanRequest::new().offer(offer("a", 1, u32::MAX)).usable_at_least(Capacity::from_mib(u64::MAX));
    assert!(matches!(planner.plan(&request).unwrap(), Outcome::Infeasible(_)));
}

#[test]
fn money_beyond_reckoning_is_refused() {
    let (machine, rules) = (machine(), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let asked = PlanRequest::new().usable_at_least(Capacity::from_gib(128));
    let mut large = offer("dear", PlanRequest::MAX_AMOUNT_MINOR, u32::MAX);
    // single units are bought by the slot, packs as they come
    assert!(planner.plan(&asked.clone().offer(large.clone())).unwrap().optimal().is_some());
    large.pack = 20_000_000;
    let error = planner.plan(&asked.offer(large)).unwrap_err();
    assert!(matches!(error.problems.as_slice(), [RequestProblem::SumTooLarge { .. }]), "{error}");
    assert!(error.to_string().contains("offers[dear]"), "{error}");
}

#[test]
fn what_a_plan_prints_adds_up() {
    let (machine, rules) = (machine(), RuleBook::standard());
    let euro = |minor| Price::new(minor, "EUR".parse().unwrap());
    let asked = PlanRequest::new().usable_at_least(Capacity::from_gib(256)).labour_per_handling(euro(150));
    let outcome = Planner::new(&machine, &rules).plan(&asked.offer(offer("a", 3_000, 20))).unwrap();
    let text = outcome.to_string();
    assert!(text.contains("8 handlings\nCost: bought 240.00 EUR; labour 12.00 EUR; total 252.00 EUR\n"), "{text}");
}

#[test]
fn a_module_of_unknown_facts_fits_as_far_as_is_known() {
    let (machine, rules) = (machine(), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let bare = MemoryModule::builder(Generation::Ddr4, ModuleKind::Registered, Capacity::from_gib(32)).build().unwrap();
    let accepted = planner.accepts(&bare);
    assert!(accepted.unjudged.iter().any(|finding| finding.code == "die-density"), "{accepted}");
    assert!(accepted.to_string().contains("fits every live slot, as far as is known; at most"), "{accepted}");
    assert!(planner.accepts(&module()).unjudged.is_empty());
}

#[test]
fn a_slot_cannot_be_both_empty_and_occupied() {
    let (machine, rules) = (machine(), RuleBook::standard());
    let around = Population::new().with(name("A1"), module());
    let request = ArrangeRequest::new().piece(module(), 1).around(around).keep_empty([name("A1")]);
    let error = Planner::new(&machine, &rules).arrange_with(&request).unwrap_err();
    assert_eq!(error, ArrangeError::Occupied { slot: name("A1") });
}

#[test]
fn a_pin_that_stands_in_the_way_is_named() {
    let (machine, rules) = (machine(), RuleBook::standard());
    let slow = "16GB 2Rx4 PC4-2133P-RA0-10".parse::<Label>().unwrap().to_module();
    let mut request = PlanRequest::new()
        .usable_at_least(Capacity::from_gib(256))
        .rate_at_least(DataRate::DDR4_2400)
        .offer(offer("a", 3_000, 20))
        .present(Population::new().with(name("A1"), slow));
    request.present.pinned.insert(name("A1"));
    let said = |request: &PlanRequest| Planner::new(&machine, &rules).plan(request).unwrap().to_string();
    let text = said(&request);
    assert!(text.ends_with("\nWhere pinned modules may move or go it can be done, for 240.00 EUR."), "{text}");
    request.present.pinned.clear();
    assert!(!said(&request).contains("Not to be had"));
    // twelve machines of eight modules each need more than there are
    let many = said(&request.machines(12));
    assert!(many.ends_with("\nIt can be done for one machine, for 240.00 EUR."), "{many}");
}
