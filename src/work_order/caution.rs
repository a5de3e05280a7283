use serde::{Deserialize, Serialize};

use crate::unit::Name;

/// What hands must mind. Each has one sentence.
///
/// ```
/// use slotwright::work_order::Caution;
///
/// assert!(Caution::HotParts.to_string().starts_with("Modules and heat sinks stay hot"));
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum Caution {
    /// The platform maker's manual, local rules and qualified people decide.
    WhoDecides,
    /// What is to be there carries errors.
    TargetHasErrors {
        /// The codes of the rules.
        codes: Vec<Name>,
    },
    /// An update of the firmware has no way back.
    FirmwareHasNoWayBack,
    /// Other devices hold data.
    DataOnDevices {
        /// Their slots.
        slots: Vec<Name>,
    },
    /// How slots lie on the board is not described.
    FindTheLabel,
    /// The machine is heavy.
    Lifting,
    /// Static electricity.
    Static,
    /// Hot parts.
    HotParts,
    /// How modules are held and moved.
    NoForce,
    /// The first start may take long, and may say something.
    FirstStart {
        /// How long it may take, in seconds, where the board's maker says it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        seconds: Option<u32>,
        /// What it may say, though nothing is wrong.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        says: Vec<Name>,
    },
    /// What a trial start proves, and what not.
    TrialProves,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}
