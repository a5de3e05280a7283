//! What is odd about a platform, and yet may be so.

use core::fmt;
use std::collections::BTreeMap;

use crate::platform::{PlatformDescription, SlotAddress};
use crate::processor::{RateCell, RateTableProblem};
use crate::stated::FieldPath;
use crate::unit::{DataRate, Name};

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
    /// A rate that is none of the generation's: a slip of the pen?
    NotAStandardRate {
        /// Where it stands.
        place: FieldPath,
        /// The rate.
        rate: DataRate,
    },
    /// A row for more modules than any channel has slots.
    MoreThanSlots {
        /// Where it stands.
        place: FieldPath,
        /// The modules a channel.
        modules: u8,
        /// The most slots of a channel.
        slots: usize,
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
            Self::NotAStandardRate { place, rate } => {
                write!(f, "{place}: {} MT/s is no rate of the generation's standard; a misprint?", rate.name_mts())
            }
            Self::MoreThanSlots { place, modules, slots } => {
                write!(f, "{place}: speaks of {modules} modules a channel, and no channel has more than {slots} slots")
            }
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
        .chain(rates(description))
        .chain(addresses(description))
        .collect()
}

/// Rates and numbers of modules that are likely misprints.
fn rates(description: &PlatformDescription) -> Vec<PlatformWarning> {
    let standard = description.generation.rates();
    let controllers = description.sockets.iter().flat_map(|socket| &socket.controllers);
    let slots =
        controllers.flat_map(|controller| &controller.channels).map(|channel| channel.slots.len()).max().unwrap_or(0);
    let mut warnings = Vec::new();
    let mut look = |place: FieldPath, rate: DataRate| {
        if !standard.contains(&rate) {
            warnings.push(PlatformWarning::NotAStandardRate { place, rate });
        }
    };
    if let Some(grade) = &description.highest_grade_mts {
        look(FieldPath::of("highest_grade_mts"), grade.value);
    }
    for processor in &description.processors {
        look(
            FieldPath::of("processors").named(processor.name()).field("max_rate_mts"),
            processor.description().max_rate_mts.value,
        );
    }
    let own = description.rate_table.iter().map(|table| (FieldPath::of("rate_table"), table));
    let processors = description.processors.iter().filter_map(|processor| {
        let place = FieldPath::of("processors").named(processor.name()).field("rate_table");
        Some((place, processor.description().rate_table.as_ref()?))
    });
    for (place, table) in own.chain(processors) {
        for (index, row) in table.rows.iter().enumerate() {
            let place = place.clone().field("rows").index(index);
            if usize::from(row.modules_in_channel) > slots && slots > 0 {
                let modules = row.modules_in_channel;
                warnings.push(PlatformWarning::MoreThanSlots { place: place.clone(), modules, slots });
            }
            let RateCell::RateMts(rate) = row.cell else { continue };
            if !standard.contains(&rate) {
                warnings.push(PlatformWarning::NotAStandardRate { place, rate });
            }
        }
    }
    warnings
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
    use crate::processor::RateTable;
    use crate::stated::Basis;
    use crate::testing::{board, name, processor, slots_mut};
    use crate::unit::DataRate;

    #[test]
    fn rates_that_may_be_misprints() {
        let mut described = processor();
        described.max_rate_mts.value = DataRate::from_mts(2_300).unwrap();
        let table = RateTable::new(Basis::BoardManual).line("RDIMM: 3200 2140 1866 1600").unwrap();
        described.rate_table = Some(table);
        let mut board = board();
        board.processors = vec![described.build().unwrap()];
        let warnings: Vec<String> = board.build().unwrap().warnings().iter().map(ToString::to_string).collect();
        assert_eq!(
            warnings,
            [
                "processors[proc].max_rate_mts: 2300 MT/s is no rate of the generation's standard; a misprint?",
                "processors[proc].rate_table.rows[1]: 2140 MT/s is no rate of the generation's standard; a misprint?",
                "processors[proc].rate_table.rows[3]: speaks of 4 modules a channel, and no channel has more than 3 slots",
            ]
        );
    }

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
