//! Which needs of firmware an order meets.

use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::{FirmwareNeed, NeededBy};

/// The needs that concern what comes in, or a processor that is there. One that cannot be judged for want of a fact concerns it.
pub(crate) fn needs<'a>(machine: &'a Machine, comes: &[&MemoryModule]) -> Vec<&'a FirmwareNeed> {
    let hands = machine.platform().description().hands.as_ref();
    let concerns = |need: &&FirmwareNeed| match &need.needed_by {
        NeededBy::Modules(pattern) => comes.iter().any(|module| pattern.matches(module).unwrap_or(true)),
        NeededBy::Processor(name) => machine.processors().any(|(_, processor)| processor.name() == name),
    };
    hands.into_iter().flat_map(|hands| &hands.value.firmware).filter(concerns).collect()
}
