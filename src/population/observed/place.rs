use core::fmt;

use serde::{Deserialize, Serialize};

use crate::platform::SlotAddress;
use crate::population::SeenModule;
use crate::unit::{DataRate, Name, Voltage};

/// One place for a module, as one report tells of it. Texts and numbers are as reported: which slot is meant is worked out
/// with a board (`Observed::on`).
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SeenPlace {
    /// By what the report itself tells it from others: a handle, the address of a resource, a line. Unique in its report.
    pub id: Name,
    /// The text that is to say where it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub locator: Option<Name>,
    /// The text that is to say in which bank it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bank: Option<Name>,
    /// The text that is to be printed at the slot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub service_label: Option<Name>,
    /// Its numbers, of the scheme that the report counts by.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<SlotAddress>,
    /// The processor to which the report ties it, as that report calls it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub processor: Option<Name>,
    /// What is there and whether it works.
    pub state: PlaceState,
    /// What is known of the module.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub module: Option<SeenModule>,
    /// The rate at which it runs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub running_rate_mts: Option<DataRate>,
    /// The voltage at which it runs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub running_voltage_mv: Option<Voltage>,
}

impl SeenPlace {
    /// A place of which no more is known than what is there.
    #[must_use]
    pub fn new(id: Name, state: PlaceState) -> Self {
        Self {
            id,
            locator: None,
            bank: None,
            service_label: None,
            address: None,
            processor: None,
            state,
            module: None,
            running_rate_mts: None,
            running_voltage_mv: None,
        }
    }

    setters! {
        some locator(locator: Name);
        some bank(bank: Name);
        some service_label(service_label: Name);
        some address(address: SlotAddress);
        some processor(processor: Name);
        some module(module: SeenModule);
        some running_rate(running_rate_mts: DataRate);
        some running_voltage(running_voltage_mv: Voltage);
    }

    /// The texts that may name the slot, the likeliest first.
    pub fn texts(&self) -> impl Iterator<Item = &Name> {
        self.service_label.iter().chain(&self.locator).chain(&self.bank)
    }
}

/// What is in a place and whether it works, as a report tells it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum PlaceState {
    /// Nothing that could be used.
    Absent,
    /// A module that the machine uses.
    InUse,
    /// A module that is there and that the machine does not use.
    NotInUse,
    /// A module that has failed.
    Failed,
    /// The report does not tell.
    Unknown,
}

impl PlaceState {
    /// Whether a module is there.
    #[must_use]
    pub const fn is_filled(self) -> bool {
        matches!(self, Self::InUse | Self::NotInUse | Self::Failed)
    }
}

impl fmt::Display for PlaceState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Absent => "listed as empty",
            Self::InUse => "in use",
            Self::NotInUse => "there and not in use",
            Self::Failed => "failed",
            Self::Unknown => "not told",
        })
    }
}
