//! What is odd about a platform, and yet may be so.

use core::fmt;
use std::collections::BTreeMap;

use crate::platform::{PlatformDescription, SlotAddress};
use crate::processor::RateTableProblem;
use crate::unit::Name;

/// Something odd about a description that does not make it unusable.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum PlatformWarning {
    /// A rate table, the board's or a processor's, is odd.
    RateTable {
        /// The processor whose table it is; the board's own where absent.
        processor: Option<Name>,
        /// What is odd.
        problem: RateTableProblem,
    },
    /// Two slots have one address, so that a message of the machine cannot tell them apart.
    SameAddress {
        /// The scheme of the address.
        scheme: Name,
        /// One slot.
        first: Name,
        /// The other.
        second: Name,
    },
}

impl fmt::Display for PlatformWarning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::RateTable { processor: Some(processor), problem } => {
                write!(f, "rate table of processor {processor}: {problem}")
            }
            Self::RateTable { processor: None, problem } => write!(f, "rate table: {problem}"),
            Self::SameAddress { scheme, first, second } => {
                write!(f, "slots {first} and {second} have the same address for {scheme}")
            }
        }
    }
}

/// Everything that is merely odd.
pub(crate) fn warnings(description: &PlatformDescription) -> Vec<PlatformWarning> {
    let board = description.rate_table.iter().map(|table| (None, table));
    let processors = description
        .processors
        .iter()
        .filter_map(|processor| Some((Some(processor.name().clone()), processor.description().rate_table.as_ref()?)));
    board
        .chain(processors)
        .flat_map(|(processor, table)| {
            table
                .warnings()
                .into_iter()
                .map(move |problem| PlatformWarning::RateTable { processor: processor.clone(), problem })
        })
        .chain(addresses(description))
        .collect()
}

/// Every slot that has the address of an earlier one.
fn addresses(description: &PlatformDescription) -> Vec<PlatformWarning> {
    let mut seen: BTreeMap<&SlotAddress, &Name> = BTreeMap::new();
    let mut warnings = Vec::new();
    let controllers = description.sockets.iter().flat_map(|socket| &socket.controllers);
    for slot in controllers.flat_map(|controller| &controller.channels).flat_map(|channel| &channel.slots) {
        for address in &slot.addresses {
            if let Some(first) = seen.insert(address, &slot.label).filter(|first| **first != slot.label) {
                let (scheme, first) = (address.scheme.clone(), first.clone());
                warnings.push(PlatformWarning::SameAddress { scheme, first, second: slot.label.clone() });
            }
        }
    }
    warnings
}

#[cfg(test)]
mod tests {
    use crate::platform::SlotAddress;
    use crate::testing::{board, name, slots_mut};

    #[test]
    fn two_slots_with_one_address() {
        let mut board = board();
        let address = |slot| SlotAddress {
            scheme: name("event log"),
            socket: Some(0),
            controller: None,
            channel: Some(0),
            slot: Some(slot),
        };
        for (slot, number) in slots_mut(&mut board).zip([0, 1, 0]) {
            slot.addresses = vec![address(number)];
        }
        let warnings: Vec<String> = board.build().unwrap().warnings().iter().map(ToString::to_string).collect();
        assert_eq!(warnings, ["slots 1A1 and 1A3 have the same address for event log"]);
    }
}
