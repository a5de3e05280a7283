//! What can be fitted to a machine or set on it.

use serde::{Deserialize, Serialize};

use crate::stated::{Basis, Source};
use crate::unit::{Capacity, DataRate, Name, Voltage};

/// Something fitted that takes slots away or lowers a cap: a heat sink, a riser.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct PlatformOption {
    /// What it is called.
    pub name: Name,
    /// Slots that cannot be used with it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub masks: Vec<Name>,
    /// The highest rate with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_cap_mts: Option<DataRate>,
    /// The most memory for each processor with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capacity_cap_mib: Option<Capacity>,
    /// What it rests on.
    pub basis: Basis,
    /// The text that it was copied from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
}

/// A setting that trades power against rate.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct PowerProfile {
    /// What it is called.
    pub name: Name,
    /// The highest rate under it.
    pub rate_cap_mts: DataRate,
    /// What it rests on.
    pub basis: Basis,
}

/// How a machine is set; the platform carries the defaults.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct Settings {
    /// The redundancy mode; independent where absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mode: Option<Name>,
    /// The scheme of interleave domains; one domain for each processor where absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub domain_scheme: Option<Name>,
    /// The power profile; none where absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub power_profile: Option<Name>,
    /// A cap on the rate that someone has set.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate_cap_mts: Option<DataRate>,
    /// The voltage at which the memory is made to run; the lowest that suits where absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub voltage_mv: Option<Voltage>,
}
