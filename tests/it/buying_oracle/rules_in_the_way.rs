//! What the rules have against the modules at hand where nothing meets a request.

use expect_test::expect;
use proptest::prelude::*;
use slotwright::assess::Planner;
use slotwright::finding::{Place, Severity};
use slotwright::machine::Machine;
use slotwright::module::ModuleKind;
use slotwright::platform::{CountRow, PlatformDescription};
use slotwright::population::Population;
use slotwright::processor::{ModulePattern, ProcessorDescription, RateTable};
use slotwright::purchase::{Offer, Outcome, PlanRequest, StopReason, WhyNot};
use slotwright::rule::{CountBound, CountSet, Detail, Rule, RuleBook, RuleSettings, SeveritySetting};
use slotwright::stated::{Basis, Demand, Scope};
use slotwright::unit::{Capacity, DataRate, Name};

use super::wishes::{harder, held_to};
use super::worlds;
use crate::boards::{self, Source, bytes, module, name};
use crate::found;
use crate::purchase_oracle::{case, euros};

const PLAIN: &str = "16GB 2Rx4 PC4-2400T-RA1-11";
const REDUCED: &str = "64GB 4Rx4 PC4-2400T-LD0-11";

fn machine(change: impl Fn(&mut PlatformDescription, &mut ProcessorDescription)) -> Machine {
    let (mut board, mut processor) = (found::description(2, 2, 2), found::processor());
    change(&mut board, &mut processor);
    found::machine(board, processor)
}

fn request(label: &str, count: u32) -> PlanRequest {
    PlanRequest::new().offer(Offer::new(name("o1"), module(label), euros(10), count))
}

fn why(machine: &Machine, rules: &RuleBook, request: &PlanRequest) -> WhyNot {
    match Planner::new(machine, rules).plan(request).unwrap() {
        Outcome::Infeasible(why) => why,
        other => panic!("{other}"),
    }
}

fn codes(why: &WhyNot) -> Vec<&str> {
    why.rules.iter().flat_map(|rules| &rules.codes).map(Name::as_str).collect()
}

/// A rule of the house that forbids whatever is fitted.
fn own_ban() -> Rule {
    Rule::population("own-ban", "this machine is to be scrapped", Severity::Error, |layout, report| {
        if layout.modules().next().is_some() {
            report.violation(|| Detail::at(Place::Machine));
        }
    })
    .unwrap()
}

/// At most so many modules in the machine.
fn own_total(most: usize) -> Rule {
    let bound = CountBound::new(Scope::Machine, CountSet::AtMost(most));
    Rule::count("own-total", "more modules than our spares cover", Severity::Error, bound).unwrap()
}

#[test]
fn modules_of_a_kind_that_no_processor_takes() {
    let machine = machine(|_, processor| {
        processor.kinds.value.remove(&ModuleKind::LoadReduced);
    });
    let mut request = request(REDUCED, 4).offer(Offer::new(name("o2"), module(REDUCED), euros(12), 2));
    request.present.population = Population::new().with(name("1A1"), module(REDUCED));
    let why = why(&machine, &RuleBook::standard(), &request.usable_at_least(Capacity::from_gib(64)));
    assert_eq!(why.refused.len(), 3);
    assert!(why.refused.iter().all(|refused| refused.findings[0].code == "kind-accepted"));
    assert!(why.rules.is_none() && why.rules_stopped.is_none());
    expect![[r#"
        No legal population can be made of these modules, whatever is asked for.
        slot 1A1, offer o1, offer o2 (64GB 4Rx4 DDR4-2400 load-reduced) do not fit: the processor does not take modules of this kind."#]].assert_eq(&why.to_string());
}

#[test]
fn a_rule_of_the_callers_that_forbids_everything() {
    let rules = RuleBook::standard().with(own_ban()).unwrap();
    let machine = machine(|_, _| ());
    let request = request(PLAIN, 8).usable_at_least(Capacity::from_gib(64));
    let why = why(&machine, &rules, &request);
    assert_eq!(codes(&why), ["own-ban"]);
    expect![[r#"
        No legal population can be made of these modules, whatever is asked for.
        The rules stand in the way: without the rule own-ban it can be done.
            error own-ban: this machine is to be scrapped (the machine)"#]]
    .assert_eq(&why.to_string());
    // without any requirement too
    let nothing_asked = {
        let mut changed = request;
        changed.usable_at_least_mib = None;
        changed
    };
    assert_eq!(codes(&self::why(&machine, &rules, &nothing_asked)), ["own-ban"]);
}

#[test]
fn a_rate_table_that_bars_every_load() {
    let machine = machine(|_, processor| {
        let table =
            RateTable::new(Basis::DataSheet).by_load(&ModulePattern::kind(ModuleKind::Registered), &[None, None]);
        processor.rate_table = Some(table);
    });
    let why = why(&machine, &RuleBook::standard(), &request(PLAIN, 8).usable_at_least(Capacity::from_gib(64)));
    assert_eq!(codes(&why), ["rate-not-allowed"]);
    expect![[r#"
        No legal population can be made of these modules, whatever is asked for.
        The rules stand in the way: without the rule rate-not-allowed it can be done.
            error rate-not-allowed: a rate table bars this load (slots 1A1, 1B1, 2A1, 2B1; found registered 2-rank modules, 1 a channel; asked by the table of processor processor); take a module of another sort [data sheet]"#]].assert_eq(&why.to_string());
}

#[test]
fn a_printed_count_that_cannot_be_met() {
    let machine = machine(|board, _| {
        board.count_rows = vec![CountRow::per_socket([3], Demand::Required, Basis::BoardManual)];
    });
    let why = why(&machine, &RuleBook::standard(), &request(PLAIN, 2));
    assert_eq!(codes(&why), ["listed-counts"]);
    expect![[r#"
        No legal population can be made of these modules, whatever is asked for.
        The rules stand in the way: without the rule listed-counts it can be done.
            error listed-counts: the number of modules is not a listed one (processor 1; found 1; allowed 3); add modules [board manual]"#]].assert_eq(&why.to_string());
}

#[test]
fn a_rule_and_a_requirement() {
    let rules = RuleBook::standard().with(own_total(4)).unwrap();
    let machine = machine(|_, _| ());
    let asked = request(PLAIN, 8).usable_at_least(Capacity::from_gib(128));
    let found = why(&machine, &rules, &asked);
    assert_eq!(codes(&found), ["own-total"]);
    assert_eq!(found.rules.as_ref().unwrap().met, found.clash);
    expect![[r#"
        Not to be had: at least 128 GB.
        All else standing, at most 64 GB can be had, for 0.40 EUR.
        The rules stand in the way: without the rule own-total it can be done.
            error own-total: more modules than our spares cover (the machine; found 8; at most 4); take a module out [assumed]"#]].assert_eq(&found.to_string());
    // what else is asked cannot be had then either
    let found = why(&machine, &rules, &asked.clone().budget(euros(30)));
    assert_eq!((codes(&found), found.rules.as_ref().unwrap().met.len()), (vec!["own-total"], 1));
    assert!(found.to_string().contains("that can be had, but not all that is asked"), "{found}");
    // no rule makes modules faster
    let found = why(&machine, &rules, &request(PLAIN, 8).rate_at_least(DataRate::DDR4_2666));
    assert!(found.rules.is_none() && found.rules_stopped.is_none(), "{found}");
}

#[test]
fn a_search_that_is_used_up_says_so() {
    let rules = RuleBook::standard().with(own_ban()).unwrap();
    let (machine, mut stopped) = (machine(|_, _| ()), 0);
    for nodes in (20..600).step_by(20) {
        let asked = request(PLAIN, 8).usable_at_least(Capacity::from_gib(64)).nodes(nodes);
        let Outcome::Infeasible(why) = Planner::new(&machine, &rules).plan(&asked).unwrap() else { continue };
        assert!(why.rules.is_some() || why.rules_stopped.is_some() || why.stopped.is_some(), "{nodes}: {why}");
        if why.rules_stopped.is_some() {
            stopped += 1;
            assert!(matches!(why.rules_stopped, Some(StopReason::NodesUsedUp { .. })) && why.rules.is_none());
            assert!(why.to_string().contains("Whether rules stand in the way, and which, is not known"), "{why}");
        }
    }
    assert!(stopped > 0);
}

/// Without the rules that are named there is a plan, and with any of them there is none.
fn has_true_rules(machine: &Machine, rules: &RuleBook, request: &PlanRequest) -> Result<(), TestCaseError> {
    let Outcome::Infeasible(why) = Planner::new(machine, rules).plan(request).unwrap() else { return Ok(()) };
    let Some(named) = &why.rules else { return Ok(()) };
    let is_possible = |codes: &[Name]| {
        let mut off = RuleSettings::default();
        off.severities.extend(codes.iter().map(|code| (code.clone(), SeveritySetting::Off)));
        let fewer = rules.clone().with_settings(&off).unwrap();
        let mut relaxed = held_to(request, named.met.iter());
        relaxed.usable_at_least_mib = relaxed.usable_at_least_mib.max(Some(Capacity::from_mib(1)));
        !matches!(Planner::new(machine, &fewer).plan(&relaxed).unwrap(), Outcome::Infeasible(_))
    };
    let text = || format!("{why}\n{}", case(machine, request));
    prop_assert!(!named.codes.is_empty() && is_possible(&named.codes), "not without {:?}\n{}", named.codes, text());
    for code in &named.codes {
        let fewer: Vec<_> = named.codes.iter().filter(|other| *other != code).cloned().collect();
        prop_assert!(!is_possible(&fewer), "{code} need not go\n{}", text());
        prop_assert!(named.findings.iter().any(|finding| finding.code == *code), "{code} says nothing\n{}", text());
    }
    Ok(())
}

proptest! {
    #![proptest_config(boards::config(100))]

    #[test]
    fn law_without_the_rules_that_are_named_there_is_a_plan(bytes in bytes(260)) {
        let mut source = Source::new(&bytes);
        let rules = RuleBook::standard().with_settings(&boards::settings(&mut source)).unwrap();
        let rules = match source.below(3) {
            0 => rules,
            1 => rules.with(own_ban()).unwrap(),
            _ => rules.with(own_total(source.below(3) + 1)).unwrap(),
        };
        let (machine, request) = worlds::world(&mut source, 4, 2);
        let request = worlds::without_confusing_doubles(harder(&mut source, &machine, request));
        has_true_rules(&machine, &rules, &request)?;
    }
}
