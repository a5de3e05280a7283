use core::fmt;

use serde::{Deserialize, Serialize};

use crate::finding::Finding;
use crate::module::MemoryModule;
use crate::population::Population;
use crate::search::StopReason;
use crate::stated::Schema;
use crate::unit::{Capacity, Name, counted};

/// The answer to "how can this population meet the machine's redundancy mode".
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ModeAnswer {
    /// The version of the document's form.
    pub schema: Schema,
    /// The mode.
    pub mode: Name,
    /// The fewest handlings with what is there, and all of it used: 0 handlings where it meets the mode as it is, absent where
    /// moving alone cannot meet it. Faulty modules go.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moving: Option<ModeChange>,
    /// The fewest further modules of the sorts present, and with these the fewest handlings; asked only where moving does
    /// not do.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adding: Option<ModeChange>,
    /// The fewest handlings where nothing is added and modules may be pulled; asked only where moving does not do.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pulling: Option<ModeChange>,
    /// Why a search ended before it was through, if one did: what is absent may exist then, and what is there need not be
    /// the least.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StopReason>,
}

impl ModeAnswer {
    /// The change that costs no module, or else the one that adds the fewest, or else the one that pulls some.
    #[must_use]
    pub fn change(&self) -> Option<&ModeChange> {
        self.moving.as_ref().or(self.adding.as_ref()).or(self.pulling.as_ref())
    }

    /// Whether the population meets the mode as it is.
    #[must_use]
    pub fn is_met(&self) -> bool {
        self.moving.as_ref().is_some_and(|change| change.handlings == 0)
    }
}

/// The least change that makes a population meet its machine's redundancy mode and the rules in force, in one way.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
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
    /// The warnings that it carries then.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub warnings: Vec<Finding>,
}

/// A line for each way.
impl fmt::Display for ModeAnswer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { schema: _, mode, moving, adding, pulling, stopped } = self;
        match moving {
            Some(change) if change.handlings == 0 => write!(f, "{mode}: met as it is, {} usable", change.usable_mib)?,
            Some(change) => write!(f, "{mode}: by moving: {change}")?,
            None => {
                write!(f, "{mode}: not met by moving what is there")?;
                let ways = [("by adding", adding), ("by pulling", pulling)];
                for (way, change) in ways {
                    match change {
                        Some(change) => write!(f, "\n{way}: {change}")?,
                        None if stopped.is_none() => write!(f, "\n{way}: not met either")?,
                        None => {}
                    }
                }
            }
        }
        stopped.map_or(Ok(()), |reason| write!(f, "\nNot proved: a search {reason}."))
    }
}

impl fmt::Display for ModeChange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { handlings, moves, added, pulled, population, usable_mib, warnings } = self;
        let telling = population.telling();
        write!(f, "{}, {usable_mib} usable", counted(*handlings, "handling"))?;
        moves.iter().try_for_each(|(from, to)| write!(f, "; move {from} to {to}"))?;
        added.iter().try_for_each(|(slot, module)| write!(f, "; add {} in {slot}", telling.text(module)))?;
        pulled.iter().try_for_each(|slot| write!(f, "; pull {slot}"))?;
        warnings.iter().try_for_each(|finding| write!(f, "\n  {finding}"))
    }
}
