//! What hands must know of a board.

use serde::{Deserialize, Serialize};

use crate::processor::ModulePattern;
use crate::unit::Name;

/// What hands must know of a board, as its maker's manual says it. What is absent is not spoken of; the manual, local rules and qualified
/// people decide in any case.
///
/// ```
/// use slotwright::Name;
/// use slotwright::platform::{Hands, Latches, MappedOut};
///
/// let hands = Hands::new()
///     .wait_before_lid(30)
///     .first_start(600)
///     .first_start_says([Name::new("memory configuration changed")?])
///     .lifted_out([Name::new("air duct")?])
///     .latches(Latches::Two)
///     .mapped_out(MappedOut::Channel);
/// assert_eq!(hands.first_start_s, Some(600));
/// # Ok::<(), slotwright::unit::NameError>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
#[non_exhaustive]
pub struct Hands {
    /// How long to wait after the cords are out before the lid comes off, in seconds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wait_before_lid_s: Option<u32>,
    /// How long the first start after a change may take, in seconds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_start_s: Option<u32>,
    /// What the first start may say, though nothing is wrong.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub first_start_says: Vec<Name>,
    /// Firmware that some modules or processors need.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub firmware: Vec<FirmwareNeed>,
    /// What must be lifted out to reach the slots, in order.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub lifted_out: Vec<Name>,
    /// How many latches a slot has.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub latches: Option<Latches>,
    /// What the firmware takes out of use when a module fails.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mapped_out: Option<MappedOut>,
}

impl Hands {
    /// Nothing that hands must know.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    setters! {
        some wait_before_lid(wait_before_lid_s: u32);
        some first_start(first_start_s: u32);
        each first_start_says(first_start_says: Name);
        each firmware(firmware: FirmwareNeed);
        each lifted_out(lifted_out: Name);
        some latches(latches: Latches);
        some mapped_out(mapped_out: MappedOut);
    }
}

/// Firmware that must be there before some modules or a processor are fitted.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct FirmwareNeed {
    /// What needs it.
    pub needed_by: NeededBy,
    /// The first version that will do, as the maker writes it.
    pub version: Name,
}

impl FirmwareNeed {
    /// These need this version.
    #[must_use]
    pub fn new(needed_by: NeededBy, version: Name) -> Self {
        Self { needed_by, version }
    }
}

/// What needs a version of the firmware.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum NeededBy {
    /// These modules.
    Modules(ModulePattern),
    /// The processor of this name.
    Processor(Name),
}

/// How many latches a slot has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Latches {
    /// One, at one end.
    One,
    /// Two, one at each end.
    Two,
}

/// What the firmware takes out of use when a module fails.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum MappedOut {
    /// The module alone.
    Module,
    /// All of its channel.
    Channel,
    /// All memory of the machine or its processor: it does not start.
    All,
}
