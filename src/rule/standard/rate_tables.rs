//! What the rules on rate tables share.

use crate::figure::{Load, TableOwner};
use crate::finding::{FactName, FactValue, Place};
use crate::machine::Machine;
use crate::processor::{RateCell, RateTable};
use crate::rule::Detail;
use crate::stated::{Basis, Source};

/// What a table of a machine rests on.
pub(super) fn grounds<'a>(machine: &'a Machine, owner: &TableOwner) -> Option<(Basis, Option<&'a Source>)> {
    let table = match owner {
        TableOwner::Board => machine.platform().description().rate_table.as_ref(),
        TableOwner::Other(_) => None,
        TableOwner::Processor { processor } => {
            let mut tables = machine.processors().filter(|(_, fitted)| *fitted.name() == *processor);
            tables.find_map(|(_, fitted)| fitted.description().rate_table.as_ref())
        }
    }?;
    Some((table.basis, table.source.as_ref()))
}

/// What the rows of the tables of a machine say.
pub(super) fn cells(machine: &Machine) -> impl Iterator<Item = RateCell> + '_ {
    let own = machine.processors().filter_map(|(_, processor)| processor.description().rate_table.as_ref());
    machine.platform().description().rate_table.iter().chain(own).flat_map(RateTable::cells)
}

/// A finding about a load that a table speaks of, or does not.
pub(super) fn about(owner: &TableOwner, load: &Load, places: &[Place]) -> Detail {
    Detail::at_all(places.iter().cloned())
        .fact(FactName::Found, FactValue::text(&load.to_string()))
        .fact(FactName::AskedBy, FactValue::text(&owner.to_string()))
}
