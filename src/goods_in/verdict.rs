use serde::{Deserialize, Serialize};

use crate::population::{Medium, ModuleFact};
use crate::unit::Name;

/// What became of a piece.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum PieceVerdict {
    /// All that a line states was read, and is so. The piece counts for the line.
    Right {
        /// The line.
        line: Name,
    },
    /// Nothing contradicts a line, but something is not known: facts that were read nowhere, or the piece is held back,
    /// or another one has its serial number.
    NotKnown {
        /// The line; of lines that have no place left, one for which the fewest facts are open.
        line: Name,
        /// The facts of the line that no source states.
        unread: Vec<ModuleFact>,
        /// Whether a place in the line is kept for it. If not, no line that it may be for has a place left; it may be
        /// something else all the same.
        has_place: bool,
    },
    /// It contradicts every line.
    Wrong {
        /// The line that it is closest to: of those that still lack pieces, the one that it differs from in the fewest
        /// facts.
        line: Name,
        /// Where it differs; never empty.
        facts: Vec<FactDiffers>,
    },
    /// It would be right, but each line that it would be right or not known for has as many pieces as it orders.
    Surplus {
        /// The first of the lines that it would be right for.
        line: Name,
    },
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

impl PieceVerdict {
    /// Whether the piece counts for a line.
    #[must_use]
    pub const fn is_right(&self) -> bool {
        matches!(self, Self::Right { .. })
    }

    /// The line that it is about.
    #[must_use]
    pub const fn line(&self) -> Option<&Name> {
        match self {
            Self::Right { line } | Self::NotKnown { line, .. } | Self::Wrong { line, .. } | Self::Surplus { line } => {
                Some(line)
            }
            Self::Other(_) => None,
        }
    }
}

/// A fact in which a piece is not what a line states.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct FactDiffers {
    /// The fact.
    pub fact: ModuleFact,
    /// What the line states.
    pub ordered: Name,
    /// What the piece is.
    pub found: Name,
    /// Which source says so.
    pub medium: Medium,
}
