use core::fmt;

use serde::{Deserialize, Serialize};

/// What state an offered module is in, as sellers say it (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Condition {
    /// Never used.
    New,
    /// Used, and tested since.
    Tested,
    /// Taken out of a machine that ran; not tested since.
    Pulled,
}

impl fmt::Display for Condition {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::New => "new",
            Self::Tested => "tested",
            Self::Pulled => "pulled",
        })
    }
}
