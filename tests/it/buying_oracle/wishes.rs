//! The requirements of a request, one by one.

use slotwright::machine::Machine;
use slotwright::module::ModuleKind;
use slotwright::purchase::{Condition, PlanRequest, Requirement};
use slotwright::stated::Scope;
use slotwright::unit::{Capacity, DataRate};

use crate::boards::Source;
use crate::purchase_oracle::euros;

pub const KINDS: [ModuleKind; 3] = [ModuleKind::Registered, ModuleKind::LoadReduced, ModuleKind::Unbuffered];
pub const CONDITIONS: [Condition; 3] = [Condition::New, Condition::Tested, Condition::Pulled];

/// What a request requires.
pub fn requirements(request: &PlanRequest) -> Vec<Requirement> {
    let mut all = Vec::new();
    all.extend(request.usable_at_least_mib.map(Requirement::UsableAtLeastMib));
    all.extend(request.usable_at_most_mib.map(Requirement::UsableAtMostMib));
    all.extend(request.rate_at_least_mts.map(Requirement::RateAtLeastMts));
    all.extend(request.bandwidth_at_least_mbps.map(Requirement::BandwidthAtLeastMbps));
    all.extend(request.free_slots_at_least.map(Requirement::FreeSlotsAtLeast));
    all.extend(request.budget.map(Requirement::Budget));
    all.extend(request.kinds.clone().map(Requirement::Kinds));
    all.extend(request.one_part_number.map(Requirement::OnePartNumber));
    all.extend(request.known_facts_only.then_some(Requirement::KnownFactsOnly));
    all.extend(request.conditions.clone().map(Requirement::Conditions));
    all.extend(request.lead_time_at_most_days.map(Requirement::LeadTimeAtMostDays));
    let spares = if request.spares_per_part { Requirement::SparesPerPart } else { Requirement::Spares };
    all.extend((request.spares > 0).then(|| spares(request.spares)));
    all
}

/// The request with one requirement more, or with another value for it.
pub fn with(mut request: PlanRequest, requirement: &Requirement) -> PlanRequest {
    match requirement.clone() {
        Requirement::UsableAtLeastMib(least) => request.usable_at_least_mib = Some(least),
        Requirement::UsableAtMostMib(most) => request.usable_at_most_mib = Some(most),
        Requirement::RateAtLeastMts(least) => request.rate_at_least_mts = Some(least),
        Requirement::BandwidthAtLeastMbps(least) => request.bandwidth_at_least_mbps = Some(least),
        Requirement::FreeSlotsAtLeast(least) => request.free_slots_at_least = Some(least),
        Requirement::Budget(most) => request.budget = Some(most),
        Requirement::Kinds(kinds) => request.kinds = Some(kinds),
        Requirement::OnePartNumber(scope) => request.one_part_number = Some(scope),
        Requirement::KnownFactsOnly => request.known_facts_only = true,
        Requirement::Conditions(conditions) => request.conditions = Some(conditions),
        Requirement::LeadTimeAtMostDays(most) => request.lead_time_at_most_days = Some(most),
        Requirement::Spares(spares) => (request.spares, request.spares_per_part) = (spares, false),
        Requirement::SparesPerPart(spares) => (request.spares, request.spares_per_part) = (spares, spares > 0),
        other => panic!("{other:?}"),
    }
    request
}

/// The request with these requirements and no others.
pub fn held_to<'r>(request: &PlanRequest, requirements: impl IntoIterator<Item = &'r Requirement>) -> PlanRequest {
    let bare = {
        let mut changed = request.clone();
        changed.usable_at_least_mib = None;
        changed.usable_at_most_mib = None;
        changed.rate_at_least_mts = None;
        changed.bandwidth_at_least_mbps = None;
        changed.free_slots_at_least = None;
        changed.budget = None;
        changed.kinds = None;
        changed.one_part_number = None;
        changed.known_facts_only = false;
        changed.conditions = None;
        changed.lead_time_at_most_days = None;
        changed.spares = 0;
        changed.spares_per_part = false;
        changed
    };
    requirements.into_iter().fold(bare, with)
}

/// A request that asks for more.
pub fn harder(source: &mut Source<'_>, machine: &Machine, mut request: PlanRequest) -> PlanRequest {
    for _ in 0..source.below(3) + 1 {
        request = match source.below(12) {
            0 => request.usable_at_least(Capacity::from_gib(source.pick(&[64, 128, 96]))),
            1 => request.usable_at_most(Capacity::from_gib(source.pick(&[4, 8, 16, 24]))),
            2 => match machine.rate_steps() {
                [] => request,
                steps => request.rate_at_least(*steps.iter().max().unwrap()),
            },
            3 => request.bandwidth_at_least(DataRate::DDR4_2400.peak_bandwidth().times(source.pick(&[3, 4, 5]), 1)),
            4 => request.free_slots_at_least(source.below(3) + 2),
            5 => request.budget(euros(source.below(12))),
            6 => request.kinds([source.pick(&KINDS)]),
            7 => request.one_part_number(source.pick(&[Scope::Machine, Scope::Socket, Scope::Channel])),
            8 => request.known_facts_only(true),
            9 => request.conditions([source.pick(&CONDITIONS)]),
            10 => request.lead_time_at_most(source.below(3) as u32),
            _ => request.spares(2 + source.below(4) as u32),
        };
    }
    request
}
