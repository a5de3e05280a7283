//! What an acceptance compares, part by part.

use serde::{Deserialize, Serialize};

use crate::acceptance::Told;
use crate::figure::RateLimit;
use crate::population::{MachineIdentity, ModuleFact, PlaceState, ReportDate, SeenModule, TotalOf};
use crate::unit::{Capacity, DataRate, Name};

/// Whether a report is of the machine that was worked on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct MachineCheck {
    /// Whether it is.
    pub is_it: Told,
    /// The serial number expected.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial: Option<Name>,
    /// The product expected.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub product: Option<Name>,
    /// The serial number that a person read on the machine itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial_read: Option<Name>,
    /// What the report says.
    pub reported: MachineIdentity,
}

impl MachineCheck {
    /// The machine as it is known: as the report names it, and what that leaves out as it was planned or read on the machine.
    #[must_use]
    pub fn identity(&self) -> MachineIdentity {
        let mut known = self.reported.clone();
        known.product = known.product.or_else(|| self.product.clone());
        known.serial = known.serial.or_else(|| self.serial.clone()).or_else(|| self.serial_read.clone());
        known
    }
}

/// Whether a report is later than the work.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct TimeCheck {
    /// Whether it is.
    pub is_later: Told,
    /// When the report was made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reported: Option<ReportDate>,
    /// A serial number of a module that came in, where it is read: it proves that the report is later.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub came_in: Option<Name>,
    /// Whether every slot that was to change shows what was there before: the report is stale, or the work was not done.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub is_as_before: bool,
}

/// A slot, as planned and as reported.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SlotCheck {
    /// Its label.
    pub slot: Name,
    /// What it comes to.
    pub verdict: SlotVerdict,
    /// What was planned; nothing for a slot that was to be empty.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub planned: Option<SeenModule>,
    /// What is reported to be there and whether it works.
    pub state: PlaceState,
    /// Whether reports of the machine contradict each other about it, and none is trusted more.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub reports_disagree: bool,
    /// What is reported of the module.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reported: Option<SeenModule>,
    /// The rate at which it is reported to run.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub running_rate_mts: Option<DataRate>,
    /// The facts that are not as planned; none where what is there, or whether it works, differs.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub differs: Vec<ModuleFact>,
    /// Facts that the report does not tell of this slot, and that are taken from modules of the same part number.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub inferred: Vec<ModuleFact>,
    /// Facts that are not as planned and say nothing against the module: what reports often get wrong, another part number under the same serial
    /// number.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<ModuleFact>,
}

/// What the comparison of a slot comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum SlotVerdict {
    /// As planned: state and size agree, and nothing reliable contradicts.
    AsPlanned(Strength),
    /// Not as planned.
    Differs,
    /// Not told.
    Open,
    /// Something that only a newer version knows; never written by this one.
    Other,
}

/// How much of a module was seen to agree; the strongest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Strength {
    /// Its serial number.
    Serial,
    /// Its part number.
    PartNumber,
    /// Facts beside the size.
    Facts,
    /// Its size alone.
    Size,
    /// That the slot is as full or as empty as planned; no more is asked of it.
    State,
    /// Something that only a newer version knows; never written by this one.
    Other,
}

/// A total, as planned and as reported.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct TotalCheck {
    /// Who counts.
    pub of: TotalOf,
    /// What is reported, in MiB.
    pub reported_mib: Capacity,
    /// What can be used as planned.
    pub planned_mib: Capacity,
    /// What can be used by the slots as they are reported: a total that agrees with it needs no reason of its own.
    pub by_slots_mib: Capacity,
    /// How it stands to that.
    pub agrees: Told,
}

/// A running rate, as planned and as reported.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct RateCheck {
    /// The sockets whose memory it is.
    pub sockets: Vec<Name>,
    /// The rates that slots in use report, each once, lowest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub reported_mts: Vec<DataRate>,
    /// The rate as planned.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub planned_mts: Option<DataRate>,
    /// The rate by the slots as they are reported: one that agrees with it needs no reason of its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by_slots_mts: Option<DataRate>,
    /// How the reported rates stand to that.
    pub agrees: Told,
    /// The limits that give the rate by the slots.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub limits: Vec<RateLimit>,
}

/// The redundancy mode, as planned and as reported.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ModeCheck {
    /// As planned.
    pub planned: Name,
    /// As the report names it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reported: Option<Name>,
    /// Whether it is on: named, or shown by a total that no other mode gives.
    pub is_on: Told,
    /// Other modes of the board that would leave the same totals.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub may_be: Vec<Name>,
}

/// What a report does not tell, and the verdict takes for granted.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum Condition {
    /// That the report is of this machine.
    Machine,
    /// That it is later than the work.
    Time,
    /// What is in these slots.
    Slots {
        /// Their labels.
        slots: Vec<Name>,
    },
    /// Facts that are told of no slot in use.
    Facts {
        /// Which.
        facts: Vec<ModuleFact>,
    },
    /// Which of these modes is on: all leave the same totals.
    Mode {
        /// The planned one first.
        may_be: Vec<Name>,
    },
    /// Any total: none is stated.
    Total,
    /// At which rate memory runs.
    Rate,
    /// Places of the report that lie on no slot.
    Places {
        /// How the report names them.
        texts: Vec<Name>,
    },
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}
