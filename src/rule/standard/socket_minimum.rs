use crate::rule::{CountBound, CountSet, Form};
use crate::stated::{Demand, Scope, Stated};

/// Each processor needs a module of its own: it should have one, or must where the board says so.
pub(super) fn form() -> Form {
    Form::Count(Box::new(|machine| {
        let stated = machine.platform().memory_per_processor.clone().unwrap_or(Stated::assumed(Demand::Advised));
        let bound = CountBound::new(Scope::Socket, CountSet::AtLeast(1));
        vec![CountBound { demand: stated.value, basis: stated.basis, source: stated.source, ..bound }]
    }))
}
