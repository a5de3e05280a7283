use serde::{Deserialize, Serialize};

use crate::platform::{KeyFacing, Latches};
use crate::population::Fitted;
use crate::purchase::ModuleSource;
use crate::unit::Name;

/// One thing that hands do at one slot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Step {
    /// The slot's label.
    pub slot: Name,
    /// A colour or another mark by which a hand finds it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub marking: Option<Name>,
    /// What is done there.
    pub action: Action,
    /// Which way the slot's key faces.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub key_facing: Option<KeyFacing>,
    /// Whether it faces the other way than that of the slot filled before; at the first one, than on most of the board.
    #[serde(default, skip_serializing_if = "is_false")]
    pub key_turns: bool,
    /// How many latches the slot has.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub latches: Option<Latches>,
    /// The slots of other devices in its channel: they hold data.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub data_beside: Vec<Name>,
}

// serde hands over a reference
#[allow(clippy::trivially_copy_pass_by_ref)]
const fn is_false(value: &bool) -> bool {
    !*value
}

impl Step {
    /// Whether it is a handling: one module taken out or put in. Blanks are none.
    #[must_use]
    pub const fn is_handling(&self) -> bool {
        matches!(self.action, Action::TakeOut { .. } | Action::PutIn { .. })
    }
}

/// What is done at a slot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum Action {
    /// A module is taken out.
    TakeOut {
        /// The module.
        module: Fitted,
        /// Where it is put down.
        to: PutDown,
    },
    /// A module is put in.
    PutIn {
        /// The module.
        module: Fitted,
        /// Where it lies.
        from: PutDown,
    },
    /// A blank is taken out.
    TakeOutBlank,
    /// A blank is put in.
    PutInBlank,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

/// Where a module lies that is in no slot.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum PutDown {
    /// In the bag of the slot in which it was before the work: with that slot's label.
    Bag {
        /// The slot's label.
        slot: Name,
    },
    /// Among what was brought.
    Supply {
        /// The offer or the shelf item; not said where absent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        source: Option<ModuleSource>,
    },
    /// Among what was found bad.
    Bad,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}
