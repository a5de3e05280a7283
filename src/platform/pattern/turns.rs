//! The order in which the slots of a board are filled.

use serde::{Deserialize, Serialize};

use crate::unit::Name;

/// The order in which the slots are filled, with every processor present.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
#[non_exhaustive]
pub enum Turns {
    /// One position of all channels after the other, in the order in which positions are filled.
    ByPosition {
        /// The channels of a processor in their order, by their labels at the first socket; as listed where absent.
        #[serde(default, skip_serializing_if = "Vec::is_empty", with = "crate::platform::pattern::lists::one")]
        #[cfg_attr(feature = "schemars", schemars(with = "crate::platform::pattern::lists::NameListForm"))]
        channels: Vec<Name>,
        /// How processors take their turns.
        #[serde(default)]
        processors: ProcessorTurns,
    },
    /// All slots of the board, one after the other.
    Listed(
        #[serde(with = "crate::platform::pattern::lists::one")]
        #[cfg_attr(feature = "schemars", schemars(with = "crate::platform::pattern::lists::NameListForm"))]
        Vec<Name>,
    ),
    /// As rows of a manual tell: which slots so many modules fill, in the order in which each row names them. Where the slots of
    /// each row are among those of every longer one, they give the turns; where not, the turns stay unknown, and the rows are
    /// [fill rows](crate::platform::PlatformDescription::fill_rows), advised. The longest row must name all slots.
    Printed {
        /// The rows.
        #[serde(with = "crate::platform::pattern::lists::many")]
        #[cfg_attr(feature = "schemars", schemars(with = "Vec<crate::platform::pattern::lists::NameListForm>"))]
        rows: Vec<Vec<Name>>,
        /// Where the rows speak of the slots of the first socket alone and other processors are filled alike: how they take
        /// their turns.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        processors: Option<ProcessorTurns>,
    },
}

impl Turns {
    /// One position of all channels after the other, channels as listed, processors in turn.
    #[must_use]
    pub fn by_position() -> Self {
        Self::ByPosition { channels: Vec::new(), processors: ProcessorTurns::Alternating }
    }

    /// One position of all channels after the other: the channels of a processor in this order, processors in turn.
    #[must_use]
    pub fn by_position_over(channels: impl IntoIterator<Item = Name>) -> Self {
        Self::ByPosition { channels: channels.into_iter().collect(), processors: ProcessorTurns::Alternating }
    }
}

/// How processors take their turns.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum ProcessorTurns {
    /// One module at each processor, then the next at each.
    #[default]
    Alternating,
    /// All slots of one processor before any of the next.
    OneAfterOther,
}
