//! Where the bounds of a mix rule come from: the board's limits and the processors'.

use crate::machine::Machine;
use crate::platform::RatePolicy;
use crate::processor::{MixLimit, MixProperty};
use crate::rule::MixBound;
use crate::stated::{Demand, Scope, Stated};

/// The bounds that board and processors state for a property; `default` where none does.
pub(super) fn of(
    property: MixProperty,
    default: Option<MixBound>,
) -> Box<dyn Fn(&Machine) -> Vec<MixBound> + Send + Sync> {
    Box::new(move |machine| {
        let mut bounds = stated(machine, property);
        if bounds.is_empty() {
            bounds.extend(default.clone());
        }
        bounds
    })
}

/// The bounds that board and processors state for a property, each once.
pub(super) fn stated(machine: &Machine, property: MixProperty) -> Vec<MixBound> {
    let mut bounds: Vec<MixBound> = Vec::new();
    let own = machine.platform().mix_limits.iter();
    let processors = machine.processors().flat_map(|(_, processor)| &processor.mix_limits);
    for limit in own.chain(processors).filter(|limit| limit.value.property == property) {
        let bound = bound(limit);
        if !bounds.contains(&bound) {
            bounds.push(bound);
        }
    }
    bounds
}

fn bound(limit: &Stated<MixLimit>) -> MixBound {
    MixBound {
        within: limit.value.within,
        at_most: usize::from(limit.value.at_most),
        demand: Demand::Required,
        basis: limit.basis,
        source: limit.source.clone(),
    }
}

/// One value within a scope, as a policy demands.
pub(super) fn one(within: Scope, policy: &Stated<Demand>) -> MixBound {
    MixBound { within, at_most: 1, demand: policy.value, basis: policy.basis, source: policy.source.clone() }
}

/// The scope over which modules share one rate and one voltage.
pub(super) fn rate_scope(machine: &Machine) -> Scope {
    match machine.platform().rate_policy {
        RatePolicy::PerMachine => Scope::Machine,
        RatePolicy::PerSocket => Scope::Socket,
    }
}
