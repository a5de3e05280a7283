//! What may stand in for a module that is present.

use std::collections::BTreeSet;

use proptest::prelude::*;
use slotwright::assess::{Assessment, Planner};
use slotwright::finding::Finding;
use slotwright::machine::Machine;
use slotwright::module::MemoryModule;
use slotwright::population::Occupant;
use slotwright::purchase::{ModuleSource, Offer, PlanRequest, StandIn};
use slotwright::rule::RuleBook;
use slotwright::unit::{Capacity, DataRate, Name, Price};

use super::worlds;
use crate::boards::{self, Source, bytes};
use crate::purchase_oracle::{case, euros, facts_known, is_allowed, order};

/// The rate at which each processor's memory runs.
fn rates(assessment: &Assessment) -> BTreeSet<(Name, Option<DataRate>)> {
    let domains = assessment.figures.running_rate.domains.iter();
    domains.flat_map(|domain| domain.sockets.iter().map(|socket| (socket.clone(), domain.rate_mts))).collect()
}

/// What a stand-in says: source, module, cost, usable memory, new findings.
type Facts = (ModuleSource, MemoryModule, Option<Price>, Capacity, Vec<Finding>);

fn facts(stand_in: StandIn) -> Facts {
    let StandIn { source, module, cost, usable_mib, new_findings, .. } = stand_in;
    (source, module, cost, usable_mib, new_findings)
}

/// The stand-in, if it is one.
fn stand_in(
    planner: &Planner<'_>,
    request: &PlanRequest,
    slot: &Name,
    (source, module, cost): (ModuleSource, &MemoryModule, Option<Price>),
) -> Option<Facts> {
    if request.kinds.as_ref().is_some_and(|kinds| !kinds.contains(&module.kind()))
        || request.known_facts_only && !facts_known(module)
    {
        return None;
    }
    let before = planner.assess(&request.present.population).unwrap();
    let mut population = request.present.population.clone();
    population.put(slot.clone(), Occupant::module(module.clone()));
    let after = planner.assess(&population).unwrap();
    let new: Vec<_> = after.findings.iter().filter(|finding| !before.findings.contains(finding)).cloned().collect();
    let least = request.rate_at_least_mts;
    let runs = match request.present.population.get(slot.as_str()) {
        Some(Occupant::Module(_)) => rates(&before) == rates(&after),
        // of an empty slot nobody knows at which rate its module ran
        _ => least.is_none_or(|least| rates(&after).iter().all(|(_, rate)| *rate >= Some(least))),
    };
    if new.iter().any(|finding| finding.severity >= request.refuse_from) || !runs {
        return None;
    }
    let usable_mib = after.figures.usable.total_mib;
    Some((source, module.clone(), cost, usable_mib, new))
}

/// Holds the stand-ins of every module against the population with each in its place.
pub fn compare(machine: &Machine, request: &PlanRequest) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let mut shelf: Vec<_> = request.shelf.iter().collect();
    shelf.retain(|item| item.stock > 0 && is_allowed(request, item.condition, None));
    shelf.sort_by_key(|item| (item.unit_value.map_or(0, Price::amount_minor), &item.id));
    let mut offers: Vec<_> = request.offers.iter().collect();
    offers.retain(|offer| {
        let sold = (1..=offer.stock).any(|kept| order(offer, kept).is_some());
        sold && is_allowed(request, offer.condition, Some(offer.lead_time_days))
    });
    let cost = |offer: &Offer| {
        let least = (1..=offer.stock).filter_map(|kept| order(offer, kept)).min().unwrap();
        let charge = offer.supplier.as_ref().and_then(|name| request.supplier_charges.get(name));
        euros(usize::try_from(least).unwrap() + charge.map_or(0, |charge| charge.amount_minor() as usize))
    };
    offers.sort_by_key(|offer| (cost(offer).amount_minor(), &offer.id));
    let is_device =
        |slot: &Name| matches!(request.present.population.get(slot.as_str()), Some(Occupant::OtherDevice(_)));
    for slot in &boards::live(machine) {
        if is_device(slot) {
            continue;
        }
        let items =
            shelf.iter().map(|item| (ModuleSource::Shelf { id: item.id.clone() }, &item.module, item.unit_value));
        let bought =
            offers.iter().map(|offer| (ModuleSource::Offer { id: offer.id.clone() }, &offer.module, Some(cost(offer))));
        let wanted: Vec<_> = items.chain(bought).filter_map(|item| stand_in(&planner, request, slot, item)).collect();
        let found: Vec<Facts> = planner.stand_ins(request, slot.as_str()).unwrap().into_iter().map(facts).collect();
        prop_assert_eq!(found, wanted, "{}\n{}", slot, case(machine, request));
    }
    Ok(())
}

proptest! {
    #![proptest_config(boards::config(400))]

    #[test]
    fn stand_ins_are_what_assessing_with_them_finds(bytes in bytes(200)) {
        let (machine, request) = worlds::world(&mut Source::new(&bytes), 6, 3);
        compare(&machine, &request)?;
    }
}
