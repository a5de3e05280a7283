//! A caller's rules in a search.
#![allow(clippy::unwrap_used)]

use slotwright::finding::FactValue;
use slotwright::rule::{MixBound, Rule};
use slotwright::stated::Scope;
use slotwright::{Capacity, Label, Machine, Offer, PlanRequest, Planner, Price, RuleBook, Severity, reference};

use crate::boards::name;

fn machine() -> Machine {
    let builder = Machine::builder(reference::ddr4_2s_4ch_3spc());
    builder.processor_named("1", "later").processor_named("2", "later").build().unwrap()
}

/// Two sorts, of which only both together give what is asked for.
fn request() -> PlanRequest {
    let offer = |id: &str, label: &str, minor: u64, stock: u32| {
        let module = label.parse::<Label>().unwrap().to_module();
        Offer::new(name(id), module, Price::new(minor, "EUR".parse().unwrap()), stock)
    };
    PlanRequest::new()
        .usable_at_least(Capacity::from_gib(256))
        .offer(offer("a", "32GB 2Rx4 PC4-2400T-RB2-11", 3_000, 5))
        .offer(offer("b", "16GB 2Rx4 PC4-2400T-RA0-11", 1_400, 9))
}

/// As many modules in each populated channel of a processor, whatever they are.
fn as_many(code: &str) -> Rule {
    let key = |load: &slotwright::population::ChannelLoad<'_>| Ok(Some(FactValue::count(load.len())));
    Rule::channel_mix(code, "channels of unlike numbers", Severity::Error, MixBound::new(Scope::Socket, 1), key)
        .unwrap()
}

#[test]
fn a_rule_in_the_place_of_a_standard_one_is_the_callers() {
    let machine = machine();
    let bare = RuleBook::standard().without("channels-alike").unwrap().without("sockets-alike").unwrap();
    let total = |rules: &RuleBook| {
        let outcome = Planner::new(&machine, rules).plan(&request()).unwrap();
        outcome.optimal().map(|plan| plan.cost.total).unwrap_or_else(|| panic!("{outcome}"))
    };
    let own = total(&bare.clone().with(as_many("own-alike")).unwrap());
    assert_eq!(total(&bare.clone().with(as_many("channels-alike")).unwrap()), own);
    // beside the standard rule on processors, too
    let with_sockets = RuleBook::standard().without("channels-alike").unwrap();
    let replaced = total(&with_sockets.clone().with(as_many("channels-alike")).unwrap());
    assert_eq!(total(&with_sockets.with(as_many("own-alike")).unwrap()), replaced);
}

#[test]
fn a_mix_of_the_callers_is_held_in_every_slot() {
    let machine = machine();
    // one capacity in the first processor's channels and another in the rest: a key that knows its slot
    let key = |site: &slotwright::population::ModuleSite<'_>| {
        Ok(Some(FactValue::count(usize::from(site.slot != site.machine.platform().slot_named("A1").unwrap()))))
    };
    let rule = Rule::mix("own-mix", "unlike slots", Severity::Error, MixBound::new(Scope::Machine, 1), key).unwrap();
    let rules = RuleBook::standard().with(rule).unwrap();
    let outcome = Planner::new(&machine, &rules).plan(&request()).unwrap();
    // whatever is planned, the rules let it pass
    assert!(outcome.optimal().is_none_or(|plan| plan.assessment.is_legal()), "{outcome}");
}
