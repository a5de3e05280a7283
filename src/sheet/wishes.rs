//! What was asked, in words.

use core::fmt::Display;

use crate::purchase::{PlanRequest, Present};
use crate::unit::counted;

fn listed<T: Display>(all: impl IntoIterator<Item = T>) -> String {
    all.into_iter().map(|one| one.to_string()).collect::<Vec<_>>().join(", ")
}

/// Every wish of a request. A field that is not named here does not compile: what was asked is on the page.
pub(super) fn wishes(request: &PlanRequest) -> Vec<String> {
    let PlanRequest {
        schema: _,
        usable_at_least_mib,
        usable_at_most_mib,
        rate_at_least_mts,
        bandwidth_at_least_mbps,
        free_slots_at_least,
        kinds,
        one_part_number,
        conditions,
        lead_time_at_most_days,
        spares,
        spares_per_part,
        budget,
        worth_paying,
        known_facts_only,
        accept_unknown,
        refuse_from,
        machines,
        labour_per_handling,
        present,
        offers,
        shelf,
        supplier_charges,
        nodes: _,
        savings_nodes: _,
    } = request;
    let mut wishes = Vec::new();
    wishes.extend(usable_at_least_mib.map(|capacity| format!("at least {capacity} usable")));
    wishes.extend(usable_at_most_mib.map(|capacity| format!("at most {capacity} usable")));
    wishes.extend(rate_at_least_mts.map(|rate| format!("at least {rate}")));
    wishes.extend(bandwidth_at_least_mbps.map(|bandwidth| format!("at least {bandwidth}")));
    wishes.extend(free_slots_at_least.map(|slots| format!("at least {slots} slots left free")));
    wishes.extend(kinds.as_ref().map(|kinds| format!("only {}", listed(kinds))));
    wishes.extend(one_part_number.map(|scope| format!("one part only in each {scope}")));
    wishes.extend(conditions.as_ref().map(|all| format!("only {}", listed(all))));
    wishes.extend(lead_time_at_most_days.map(|days| format!("within {days} days")));
    let each = if *spares_per_part { "part" } else { "sort of module" };
    wishes.extend((*spares > 0).then(|| format!("{spares} spares of each {each}")));
    wishes.extend(budget.map(|budget| format!("at most {budget}")));
    wishes.extend(worth_paying.map(|worth| format!("up to {worth} more than the least for a better plan")));
    wishes.extend(known_facts_only.then(|| "modules of known facts only".to_owned()));
    wishes.extend((!accept_unknown.is_empty()).then(|| format!("may be unknown: {}", listed(accept_unknown))));
    wishes.push(format!("no {refuse_from} from the rules"));
    wishes.extend(
        (*machines > 1).then(|| format!("{machines} machines alike; money and quantities are for all of them")),
    );
    wishes.extend(labour_per_handling.map(|each| format!("{each} for each handling")));
    wishes
        .extend(supplier_charges.iter().map(|(supplier, charge)| format!("{supplier} charges {charge} for an order")));
    let Present { population: _, pinned, credits, keep_empty } = present;
    wishes.extend((!pinned.is_empty()).then(|| format!("what is in {} stays", listed(pinned))));
    wishes.extend((!keep_empty.is_empty()).then(|| format!("{} stay empty", listed(keep_empty))));
    wishes.extend((!credits.is_empty()).then(|| {
        let credits = credits.iter().map(|(slot, credit)| format!("{slot} {credit}"));
        format!("credits for what is pulled: {}", listed(credits))
    }));
    let (offered, shelved) = (counted(offers.len(), "offer"), counted(shelf.len(), "sort"));
    wishes.push(format!("looked at: {offered}, {shelved} on the shelf"));
    wishes
}
