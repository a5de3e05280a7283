use core::fmt;

use serde::{Deserialize, Serialize};

use crate::module::MemoryModule;
use crate::population::Population;
use crate::purchase::answered::plan_text::counted;
use crate::search::StopReason;
use crate::unit::{Capacity, Name};

/// The answer to "how can this population meet the mode".
// A caller holds one of these; the size of the best case is no matter.
#[allow(clippy::large_enum_variant)]
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
pub enum ModeOutcome {
    /// The least change.
    Change(ModeChange),
    /// No change meets it.
    Nothing,
    /// The search ended before it was through.
    Stopped {
        /// Why.
        reason: StopReason,
        /// A change that meets the mode, where one was found: need not be the least.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        best: Option<Box<ModeChange>>,
    },
}

impl ModeOutcome {
    /// The least change, where it is known.
    #[must_use]
    pub fn change(&self) -> Option<&ModeChange> {
        match self {
            Self::Change(change) => Some(change),
            Self::Nothing | Self::Stopped { .. } => None,
        }
    }
}

impl fmt::Display for ModeOutcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Change(change) => change.fmt(f),
            Self::Nothing => f.write_str("no change of what is there, or more of it, meets the mode"),
            Self::Stopped { reason, best } => {
                write!(f, "the search for the least change {reason}")?;
                best.iter().try_for_each(|best| write!(f, "; with this it would do: {best}"))
            }
        }
    }
}

impl fmt::Display for ModeChange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { handlings, moves, added, pulled, population, usable_mib } = self;
        let telling = population.telling();
        write!(f, "{}, {usable_mib} usable", counted(*handlings, "handling"))?;
        moves.iter().try_for_each(|(from, to)| write!(f, "; move {from} to {to}"))?;
        added.iter().try_for_each(|(slot, module)| write!(f, "; add {} in {slot}", telling.text(module)))?;
        pulled.iter().try_for_each(|slot| write!(f, "; pull {slot}"))
    }
}

/// The least change that makes a population meet its machine's redundancy mode and the rules in force.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct ModeChange {
    /// Modules taken out or put in; a move is two. None where the population meets the mode as it is.
    pub handlings: usize,
    /// The modules that change their slots: from, to.
    pub moves: Vec<(Name, Name)>,
    /// The modules that are added, by slot.
    pub added: Vec<(Name, MemoryModule)>,
    /// The slots whose modules are taken out.
    pub pulled: Vec<Name>,
    /// What sits in each slot then.
    pub population: Population,
    /// What can be used then.
    pub usable_mib: Capacity,
}
