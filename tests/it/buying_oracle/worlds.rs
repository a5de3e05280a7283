//! Small random machines and requests for the verbs that buy: more of what makes plans tie and turn.

use std::collections::BTreeMap;

use slotwright::finding::Severity;
use slotwright::machine::Machine;
use slotwright::module::MemoryModule;
use slotwright::population::{Occupant, Population};
use slotwright::purchase::PlanRequest;
use slotwright::unit::{DataRate, Power};

use crate::boards::{self, Source};
use crate::judge;
use crate::purchase_oracle::{self, euros};

/// A machine; of two processors one is sometimes slower or allows less.
pub fn machine(source: &mut Source<'_>, most_slots: usize) -> Machine {
    let machine = boards::machine(source, most_slots);
    if !source.once_in(4) {
        return machine;
    }
    let Some((socket, other)) = machine.processors().last() else { return machine };
    let mut other = other.description().clone();
    other.name = boards::name("other");
    if source.once_in(2) {
        let rates = [DataRate::DDR4_1866, DataRate::DDR4_1600, DataRate::DDR3_1066];
        other.max_rate_mts.value = source.pick(&rates);
    } else {
        other.rank_limits.clear();
        other.rate_table = None;
    }
    let Ok(other) = other.build() else { return machine };
    let socket = machine.platform().socket(socket).label.clone();
    let mut description = machine.description().clone();
    description = description.processor(socket.as_str(), other);
    description.build().unwrap_or(machine)
}

/// Every module of a request, given another one.
pub fn with_modules(mut request: PlanRequest, mut other: impl FnMut(&MemoryModule) -> MemoryModule) -> PlanRequest {
    for offer in &mut request.offers {
        offer.module = other(&offer.module);
    }
    for item in &mut request.shelf {
        item.module = other(&item.module);
    }
    let fitted = request.present.population.iter().map(|(slot, occupant)| match occupant {
        Occupant::Module(fitted) => (slot.clone(), Occupant::module(other(&fitted.module))),
        device => (slot.clone(), device.clone()),
    });
    let population: Population = fitted.collect();
    request.present.population = population;
    request
}

/// A request; often with prices that tie, sometimes with modules of known power.
pub fn request(source: &mut Source<'_>, machine: &Machine, most_sorts: usize) -> PlanRequest {
    let mut request = purchase_oracle::request(source, machine, most_sorts);
    if source.once_in(3) {
        let price = euros(4 * source.below(4));
        for offer in &mut request.offers {
            offer.unit_price = price;
            offer.breaks.clear();
            offer.surplus_value = offer.surplus_value.filter(|value| value.amount_minor() <= price.amount_minor());
        }
    }
    request
}

/// Says of some modules what they draw; of two that are alike, sometimes unlike things.
fn with_power(source: &mut Source<'_>, request: PlanRequest) -> PlanRequest {
    let mut known: BTreeMap<MemoryModule, Option<Power>> = BTreeMap::new();
    let power = |source: &mut Source<'_>| match source.below(4) {
        0 => None,
        draw => Some(Power::from_mw(1_500 + 1_000 * draw as u32)),
    };
    with_modules(request, |module| {
        let usual = *known.entry(module.clone()).or_insert_with(|| power(source));
        match if source.once_in(4) { power(source) } else { usual } {
            Some(power) => module.to_builder().power(power).build().unwrap(),
            None => module.clone(),
        }
    })
}

/// The request without parts that work alike, where they matter.
// Where warnings are refused, or one part, spares per part or several machines are asked for, which of such parts goes where
// follows their facts: more than brute force reckons with.
pub fn without_confusing_doubles(request: PlanRequest) -> PlanRequest {
    let is_plain = request.one_part_number.is_none() && !request.spares_per_part && request.machines == 1;
    let is_clear = request.refuse_from == Severity::Error && is_plain;
    if is_clear { request } else { without_doubles(request) }
}

/// The request without parts that work alike.
pub fn without_doubles(request: PlanRequest) -> PlanRequest {
    let mut known: BTreeMap<MemoryModule, MemoryModule> = BTreeMap::new();
    with_modules(request, |module| known.entry(module.without_identity()).or_insert_with(|| module.clone()).clone())
}

/// A machine and a request.
pub fn world(source: &mut Source<'_>, most_slots: usize, most_sorts: usize) -> (Machine, PlanRequest) {
    let machine = machine(source, most_slots);
    let request = without_confusing_doubles(request(source, &machine, most_sorts));
    let request = judge::with_evidence(&machine, request);
    (machine, request)
}

/// The same, with modules of known power.
pub fn world_of_power(source: &mut Source<'_>, most_slots: usize, most_sorts: usize) -> (Machine, PlanRequest) {
    let machine = machine(source, most_slots);
    let request = request(source, &machine, most_sorts);
    let request = without_confusing_doubles(with_power(source, request));
    let request = judge::with_evidence(&machine, request);
    (machine, request)
}
