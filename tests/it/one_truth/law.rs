//! What the searches answer, held against the rule book's word on every population.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use proptest::prelude::ProptestConfig;
use proptest::test_runner::{TestCaseError, TestRunner};
use slotwright::fill::{ArrangeRequest, Arrangement};
use slotwright::finding::Severity;
use slotwright::platform::Redundancy;
use slotwright::population::Population;
use slotwright::purchase::{Outcome, PlanRequest};
use slotwright::unit::{Capacity, Name};

use crate::boards::{self, bytes, config};
use crate::judge;
use crate::one_truth::asked::{Asked, Difference, Looked, NODES, World};
use crate::one_truth::case::Case;
use crate::one_truth::reduce;

const SEVERITIES: [Severity; 3] = [Severity::Note, Severity::Warning, Severity::Error];

pub type Law = fn(&World<'_>) -> Result<(), Difference>;

/// Holds a law on a case.
pub fn check(case: &Case, law: Law) -> Result<(), Difference> {
    law(&World::of(case)?)
}

/// So many items spread evenly over a list.
pub fn spread<T>(items: Vec<T>, most: usize) -> Vec<T> {
    let step = items.len().div_ceil(most).max(1);
    items.into_iter().step_by(step).collect()
}

/// Arranging finds a legal population where there is one, and says that there is none where there is none.
pub fn arranging(world: &World<'_>) -> Result<(), Difference> {
    let World { asked, sorts, all } = world;
    let mut by_counts: BTreeMap<&[usize], Vec<&Looked>> = BTreeMap::new();
    for looked in all {
        by_counts.entry(&looked.counts).or_default().push(looked);
    }
    for (counts, looked) in spread(by_counts.into_iter().collect(), 3) {
        let kept = asked.case.request.present.keep_empty.iter().cloned();
        let mut request = ArrangeRequest::new().around(asked.fixed()).keep_empty(kept).nodes(NODES);
        for (sort, &count) in sorts.iter().zip(counts) {
            request = request.piece(sort.module.clone(), count);
        }
        let arranged = asked.planner().arrange_with(&request);
        let arranged = arranged.map_err(|error| Difference::new("arrange", error.to_string()))?;
        let legal: Vec<&Looked> = looked.into_iter().filter(|looked| asked.has_no_error(looked)).collect();
        let pieces = || sorts.iter().zip(counts).map(|(sort, count)| format!("{count} x {}", sort.module));
        let pieces = || pieces().collect::<Vec<_>>().join(", ");
        match (arranged, legal.first()) {
            (Arrangement::Best(best), _) if legal.iter().any(|looked| looked.population == best.population) => {}
            (Arrangement::Illegal(_), None) => {}
            (Arrangement::Best(best), _) => {
                let text = format!("arranging {}: not legal, but found\n{}", pieces(), best.assessment);
                return Err(Difference::new("arranged without leave", text));
            }
            (Arrangement::Illegal(illegal), Some(looked)) => {
                let without = &illegal.legal_without;
                let text = format!("arranging {}: {}\nis legal, but refused by {without:?}", pieces(), looked.shown());
                return Err(Difference::new("arrangement refused", text));
            }
            (Arrangement::Stopped { .. }, _) => return Err(Difference::new("arranging stopped", pieces())),
        }
    }
    Ok(())
}

/// Planning finds the cheapest population that nothing refuses, and the largest.
pub fn planning(world: &World<'_>) -> Result<(), Difference> {
    let World { asked, all, .. } = world;
    let request = &asked.case.request;
    planned(world, request)?;
    for refuse_from in SEVERITIES {
        // the most that can be used, and a little more
        let clean = all.iter().filter(|looked| looked.passes(asked, &request.present.population, refuse_from));
        if let Some(most) = clean.map(Looked::usable).max() {
            let largest = {
                let mut changed = request.clone();
                changed.usable_at_most_mib = None;
                changed.rate_at_least_mts = None;
                changed
            };
            let largest = largest.refuse_from(refuse_from);
            planned(world, &largest.clone().usable_at_least(most))?;
            if refuse_from == request.refuse_from {
                planned(world, &largest.usable_at_least(Capacity::from_mib(most.mib() + 1)))?;
            }
        }
    }
    Ok(())
}

/// Whether a population has what a request asks for.
fn meets(request: &PlanRequest, looked: &Looked) -> bool {
    let usable = looked.usable();
    request.usable_at_least_mib.is_none_or(|least| usable >= least)
        && request.usable_at_most_mib.is_none_or(|most| usable <= most)
        && request.rate_at_least_mts.is_none_or(|least| looked.assessment.figures.running_rate.rate() >= Some(least))
}

fn planned(world: &World<'_>, request: &PlanRequest) -> Result<(), Difference> {
    let World { asked, sorts, all } = world;
    let refuse_from = request.refuse_from;
    let cost = |looked: &Looked| -> i64 {
        let counts = sorts.iter().zip(&looked.counts);
        counts.map(|(sort, &count)| sort.price * count.saturating_sub(sort.loose) as i64).sum()
    };
    let present = &request.present.population;
    let allowed = all.iter().filter(|looked| meets(request, looked) && looked.passes(asked, present, refuse_from));
    let least = allowed.min_by_key(|looked| cost(looked));
    let text = |found: String| {
        let best = least.map_or("nothing".to_owned(), |looked| format!("cost {}: {}", cost(looked), looked.shown()));
        let asked = serde_json::to_string(&request.usable_at_least_mib).unwrap();
        format!("at least {asked}, refusing from {refuse_from} on: found {found}\nwhere the book leaves {best}")
    };
    match asked.plan(request)? {
        Outcome::Optimal(plan) => {
            let again = asked.look(plan.population.clone(), Vec::new())?;
            if !again.passes(asked, present, refuse_from) || !meets(request, &again) {
                return Err(Difference::new("planned without leave", text(again.shown())));
            }
            let total = plan.cost.total.amount_minor();
            if least.is_none_or(|looked| cost(looked) != total) {
                let found = format!("cost {total}: {}", again.shown());
                return Err(Difference::new(format!("dearer from {refuse_from}"), text(found)));
            }
            Ok(())
        }
        Outcome::Infeasible(why) if least.is_some() => {
            let sort = format!("plan refused from {refuse_from}");
            Err(Difference::new(sort, text(format!("nothing, clash {:?}", why.clash))))
        }
        Outcome::Infeasible(_) => Ok(()),
        Outcome::Stopped { reason, .. } => Err(Difference::new("planning stopped", text(format!("{reason:?}")))),
    }
}

/// A request that leaves one population is met where the book lets that population be.
pub fn pinning(world: &World<'_>) -> Result<(), Difference> {
    let World { asked, all, .. } = world;
    // one population for each set of findings
    let mut unlike: BTreeMap<BTreeSet<(Severity, &Name)>, &Looked> = BTreeMap::new();
    for looked in all {
        unlike.entry(looked.codes()).or_insert(looked);
    }
    for looked in spread(unlike.into_values().collect(), 4) {
        for refuse_from in SEVERITIES {
            // the nearest severities on both sides
            let gap = looked.worst().map_or(0, |worst| worst as usize + 1).abs_diff(refuse_from as usize);
            if gap <= 1 {
                pinned(asked, looked, refuse_from)?;
            }
        }
    }
    Ok(())
}

/// Pins all of a population and asks for nothing.
fn pinned(asked: &Asked<'_>, looked: &Looked, refuse_from: Severity) -> Result<(), Difference> {
    let mut request = PlanRequest::new().savings_nodes(0).present(looked.population.clone()).refuse_from(refuse_from);
    request.present.pinned = looked.population.modules().map(|(slot, _)| slot.clone()).collect();
    let assessment = judge::assess(&asked.planner(), &looked.population, &looked.population);
    let looked = &Looked { population: looked.population.clone(), counts: looked.counts.clone(), assessment };
    let shown = || format!("pinned, refusing from {refuse_from} on: {}", looked.shown());
    match (asked.plan(&request)?, looked.passes(asked, &looked.population, refuse_from)) {
        (Outcome::Optimal(plan), true) if plan.population == looked.population => Ok(()),
        (Outcome::Infeasible(_), false) => Ok(()),
        (Outcome::Optimal(plan), true) => {
            Err(Difference::new("not what is pinned", format!("{}\nbut planned\n{}", shown(), plan.assessment)))
        }
        (Outcome::Optimal(_), false) => Err(Difference::new(format!("pins let through from {refuse_from}"), shown())),
        (Outcome::Infeasible(why), true) => {
            let text = format!("{}\nrefused, clash {:?}, against the pins {:?}", shown(), why.clash, why.pinned);
            Err(Difference::new(format!("pins refused from {refuse_from}"), text))
        }
        (Outcome::Stopped { reason, .. }, _) => {
            Err(Difference::new("pins stopped", format!("{}\n{reason:?}", shown())))
        }
    }
}

/// As many of a module are accepted as a legal population holds.
pub fn accepting(world: &World<'_>) -> Result<(), Difference> {
    let World { asked, sorts, .. } = world;
    let Some(sort) = sorts.first() else { return Ok(()) };
    let live = boards::live(&asked.machine);
    let known: BTreeMap<&Population, &Looked> = world.all.iter().map(|looked| (&looked.population, looked)).collect();
    let mut populations = vec![Population::new()];
    for slot in &live {
        let with = |population: &Population| population.clone().with(slot.clone(), sort.module.clone());
        populations.extend(populations.iter().map(with).collect::<Vec<_>>());
    }
    let others: Vec<Population> = populations.iter().filter(|other| !known.contains_key(other)).cloned().collect();
    let others: Result<Vec<Looked>, Difference> =
        others.into_iter().map(|other| asked.look(other, Vec::new())).collect();
    let others = others?;
    let all = populations.iter().filter_map(|population| known.get(population).copied()).chain(&others);
    let mut legal: Vec<&Looked> = all.filter(|looked| asked.has_no_error(looked)).collect();
    let count = |looked: &&Looked| looked.population.modules().count();
    let mode = asked.machine.settings().mode.clone();
    let mode =
        mode.and_then(|mode| asked.machine.platform().description().modes.iter().find(|known| known.name == mode));
    let spares = mode.is_some_and(|mode| matches!(mode.redundancy, Redundancy::RankSparing { .. }));
    let most = if spares {
        // the fewest of which most is usable, where there are any
        legal.retain(|looked| looked.population.modules().next().is_some());
        let most = legal.iter().map(|looked| looked.usable()).max();
        legal.into_iter().filter(|looked| Some(looked.usable()) == most).min_by_key(count)
    } else {
        legal.into_iter().max_by_key(count)
    };
    let accepted = asked.planner().accepts(&sort.module);
    let wanted = most.map_or(0, |looked| count(&looked));
    if accepted.at_most == wanted {
        return Ok(());
    }
    let shown = most.map_or("nothing".to_owned(), Looked::shown);
    let text = format!("{} x {} accepted; {wanted} are legal: {shown}", accepted.at_most, sort.module);
    Err(Difference::new(if accepted.at_most < wanted { "accepts fewer" } else { "accepts more" }, text))
}

/// As many bytes as a case needs, and some more.
pub const BYTES: usize = 600;

/// The laws.
pub const LAWS: [Law; 4] = [arranging, planning, pinning, accepting];

/// On how many cases they are held in a plain run.
pub const CASES: u32 = 100;

/// What each law has against its first case that fails, made small.
static HELD: LazyLock<[Option<String>; 4]> = LazyLock::new(|| {
    let held: RefCell<[Option<String>; 4]> = RefCell::default();
    let hold = |bytes: Vec<u8>| {
        let case = Case::draw(&bytes);
        let world = World::of(&case).map_err(|difference| TestCaseError::fail(difference.text))?;
        for (law, failed) in LAWS.iter().zip(held.borrow_mut().iter_mut()).filter(|(_, failed)| failed.is_none()) {
            *failed = law(&world).err().map(|difference| reduce::told(&case, *law, &difference));
        }
        Ok(())
    };
    let config = ProptestConfig { max_shrink_iters: 0, ..config(CASES) };
    TestRunner::new(config).run(&bytes(BYTES), hold).unwrap();
    held.into_inner()
});

fn hold(law: usize) {
    if let Some(failed) = &HELD[law] {
        panic!("{failed}");
    }
}

#[test]
fn law_what_the_search_refuses_the_rule_book_refuses_arranging() {
    hold(0);
}

#[test]
fn law_what_the_search_refuses_the_rule_book_refuses_planning() {
    hold(1);
}

#[test]
fn law_what_the_search_refuses_the_rule_book_refuses_pinned() {
    hold(2);
}

#[test]
fn law_what_the_search_refuses_the_rule_book_refuses_accepting() {
    hold(3);
}
