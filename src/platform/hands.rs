//! What hands must know of a board.

use core::fmt;

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
/// let first = hands.to_string().lines().next().map(str::to_owned);
/// assert_eq!(first.as_deref(), Some("Once the cords are out, wait 30 seconds before the lid comes off."));
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

/// A sentence a line.
impl fmt::Display for Hands {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut lines: Vec<String> = Vec::new();
        let seconds = |count: u32| match (count / 60, count % 60) {
            (0, count) => format!("{count} seconds"),
            (1, 0) => "1 minute".to_owned(),
            (minutes, 0) => format!("{minutes} minutes"),
            (minutes, rest) => format!("{minutes} minutes and {rest} seconds"),
        };
        let list = |names: &[Name]| names.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
        for need in &self.firmware {
            let needed_by = match &need.needed_by {
                NeededBy::Modules(modules) => modules.to_string(),
                NeededBy::Processor(name) => format!("processor {name}"),
            };
            lines.push(format!("Firmware {} or later is needed for {needed_by}.", need.version));
        }
        if let Some(wait) = self.wait_before_lid_s {
            lines.push(format!("Once the cords are out, wait {} before the lid comes off.", seconds(wait)));
        }
        if !self.lifted_out.is_empty() {
            lines.push(format!("To be lifted out, in this order: {}.", list(&self.lifted_out)));
        }
        match self.latches {
            None => {}
            Some(Latches::One) => lines.push("A slot has one latch.".to_owned()),
            Some(Latches::Two) => lines.push("A slot has two latches.".to_owned()),
        }
        if let Some(start) = self.first_start_s {
            lines.push(format!("The first start after a change may take {}.", seconds(start)));
        }
        if !self.first_start_says.is_empty() {
            lines.push(format!("It may say, though nothing is wrong: {}.", list(&self.first_start_says)));
        }
        if let Some(mapped) = self.mapped_out {
            let what = match mapped {
                MappedOut::Module => "it",
                MappedOut::Channel => "its channel",
                MappedOut::All => "all memory",
            };
            lines.push(format!("When a module fails, the firmware takes {what} out of use."));
        }
        f.write_str(&lines.join("\n"))
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
