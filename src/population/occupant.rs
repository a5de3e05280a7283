use core::fmt;

use serde::{Deserialize, Serialize};

use crate::module::{Individual, MemoryModule};
use crate::unit::{Capacity, Name};

/// What sits in a slot that is not empty.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Occupant {
    /// A memory module.
    Module(Fitted),
    /// A device that is no plain memory.
    OtherDevice(OtherDevice),
    /// A blank that guides the air.
    Blank,
}

/// A module in a slot.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fitted {
    /// Its facts.
    #[serde(rename = "facts")]
    pub module: MemoryModule,
    /// Which one it is, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub individual: Option<Individual>,
}

/// A device in a memory slot that is no plain memory. It occupies its slot and may hold data; it never
/// counts for rate, interleave or volatile capacity. Planning with such devices is not offered: they
/// stay where they are.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OtherDevice {
    /// What sort it is.
    pub sort: DeviceSort,
    /// What it holds.
    pub capacity_mib: Capacity,
    /// What it is called.
    pub text: Name,
    /// Whether the owner allows it to be taken out. It holds data all the same.
    #[serde(default)]
    pub may_be_removed: bool,
}

/// The sorts of other device.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DeviceSort {
    /// Keeps its content without power.
    Persistent,
    /// Memory backed by storage.
    Hybrid,
    /// Extends memory over another link.
    Expander,
}

impl Occupant {
    /// A module of which no more is known than its facts.
    #[must_use]
    pub fn module(module: MemoryModule) -> Self {
        Self::Module(Fitted { module, individual: None })
    }
}

impl fmt::Display for Occupant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Module(fitted) => fitted.module.fmt(f),
            Self::OtherDevice(device) => write!(f, "{} ({})", device.text, device.capacity_mib),
            Self::Blank => f.write_str("blank"),
        }
    }
}
