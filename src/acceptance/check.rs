use serde::{Deserialize, Serialize};

use crate::acceptance::{
    Causes, CheckNote, Condition, MachineCheck, ModeCheck, RateCheck, SlotCheck, SlotVerdict, TimeCheck, TotalCheck,
};
use crate::stated::Schema;
use crate::unit::Name;

/// Whether a machine reports what was planned, and why not.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct AcceptanceCheck {
    /// The version of the document's form.
    pub schema: Schema,
    /// The name of the board's description.
    pub platform: Name,
    /// What it comes to.
    pub verdict: AcceptanceVerdict,
    /// What is said with it before anything else.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<CheckNote>,
    /// Whether the report is of the machine.
    pub machine: MachineCheck,
    /// Whether it is later than the work.
    pub time: TimeCheck,
    /// The slots that are planned to be filled, or seen to be, in the board's order. None where the verdict is withheld.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub slots: Vec<SlotCheck>,
    /// The totals that the report states.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub totals: Vec<TotalCheck>,
    /// The running rate of the machine, or of each processor with memory.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rates: Vec<RateCheck>,
    /// The redundancy mode.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mode: Option<ModeCheck>,
    /// Processors that are planned and that the report says are not there.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub missing_processors: Vec<Name>,
    /// What the report does not tell: the verdict stands on that.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub conditions: Vec<Condition>,
    /// Why it is not as planned; nothing where it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub causes: Option<Causes>,
}

/// What an acceptance comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum AcceptanceVerdict {
    /// As planned, as far as the report tells.
    AsPlanned,
    /// Not as planned.
    NotAsPlanned,
    /// The report tells nothing of what was planned, or not enough of what was to change.
    Open,
    /// The report is of another machine, or older than the work: it says nothing of the work.
    Withheld,
}

/// Something that is said, denied or not said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Told {
    /// It is so.
    Yes,
    /// It is not.
    No,
    /// Nothing says.
    NotSaid,
}

impl AcceptanceCheck {
    /// How many slots are as planned, of those that were to be filled and those that are reported to be.
    pub(crate) fn counted(&self) -> String {
        let sound = self.slots.iter().filter(|slot| matches!(slot.verdict, SlotVerdict::AsPlanned(_))).count();
        let more = self.slots.iter().filter(|slot| slot.planned.is_none()).count();
        let of = match more {
            0 => String::new(),
            _ => format!(" ({} to be filled, and {more} more that is not reported as empty)", self.slots.len() - more),
        };
        format!("{sound} of {} as planned{of}", self.slots.len())
    }

    /// Whether the machine reports what was planned, as far as the report tells.
    #[must_use]
    pub fn is_accepted(&self) -> bool {
        self.verdict == AcceptanceVerdict::AsPlanned
    }
}
