//! What the rules on unlike things share: which modules take part, and where the bounds come from.

use crate::machine::Machine;
use crate::platform::RatePolicy;
use crate::population::ModuleSite;
use crate::processor::{MixLimit, MixProperty};
use crate::rule::standard::site;
use crate::rule::{KeyResult, MixBound, MixBounds, MixOf};
use crate::stated::{Demand, Scope, Stated};

/// A key of the modules that could work in their slots; of the others it is not worth saying that they differ.
pub(super) fn of_modules(key: impl Fn(&ModuleSite<'_>) -> KeyResult + Send + Sync + 'static) -> MixOf {
    MixOf::Modules(Box::new(move |site| if site::judged_by(site).is_some() { key(site) } else { Ok(None) }))
}

/// The bounds that board and processors state for a property; `default` where none does.
pub(super) fn of(property: MixProperty, default: Option<MixBound>) -> MixBounds {
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
    let own = machine.platform().description().mix_limits.iter();
    let processors = machine.processors().flat_map(|(_, processor)| &processor.description().mix_limits);
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
    match machine.platform().description().rate_policy {
        RatePolicy::PerMachine => Scope::Machine,
        RatePolicy::PerSocket => Scope::Socket,
    }
}
