//! What can be fitted to a machine or set on it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::stated::{Basis, Source};
use crate::unit::{Capacity, DataRate, Name, Voltage};

/// Something fitted that takes slots away or lowers a cap: a heat sink, a riser.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
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

impl PlatformOption {
    /// An option that changes nothing yet.
    #[must_use]
    pub fn new(name: Name, basis: Basis) -> Self {
        Self { name, masks: Vec::new(), rate_cap_mts: None, capacity_cap_mib: None, basis, source: None }
    }

    setters! {
        each masks(masks: Name);
        some rate_cap(rate_cap_mts: DataRate);
        some capacity_cap(capacity_cap_mib: Capacity);
        some source(source: Source);
    }
}

/// A setting that trades power against rate.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct PowerProfile {
    /// What it is called.
    pub name: Name,
    /// The highest rate under it.
    pub rate_cap_mts: DataRate,
    /// What it rests on.
    pub basis: Basis,
}

impl PowerProfile {
    /// A profile that caps the rate.
    #[must_use]
    pub fn new(name: Name, rate_cap: DataRate, basis: Basis) -> Self {
        Self { name, rate_cap_mts: rate_cap, basis }
    }
}

/// How a machine is set; the platform carries the defaults.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
#[non_exhaustive]
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
    /// Slots that must not be used, by label, each with the reason: damaged, kept empty. A closed slot is live for no
    /// question. It is still an empty position of its channel, and still wired. Those of a machine add to those of its
    /// platform.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub closed_slots: BTreeMap<Name, Name>,
}

impl Settings {
    setters! {
        some mode(mode: Name);
        some domain_scheme(domain_scheme: Name);
        some power_profile(power_profile: Name);
        some rate_cap(rate_cap_mts: DataRate);
        some voltage(voltage_mv: Voltage);
        each closed_slots(closed_slots: (Name, Name));
    }
}

impl Settings {
    /// Closes one slot, for a reason.
    ///
    /// ```
    /// use slotwright::machine::Machine;
    /// use slotwright::platform::Settings;
    /// use slotwright::reference;
    ///
    /// let settings = Settings::default().closed_slot("A1".parse()?, "bent contacts".parse()?);
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").settings(settings);
    /// assert_eq!(machine.build()?.live_slots().count(), 11);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn closed_slot(mut self, slot: Name, reason: Name) -> Self {
        self.closed_slots.insert(slot, reason);
        self
    }
}
