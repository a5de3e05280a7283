use serde::{Deserialize, Serialize};

/// What a test came to, in the caller's word.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum TestOutcome {
    /// It found nothing.
    Passed,
    /// It found something: credits are not due.
    Failed,
    /// Nobody says which.
    #[default]
    NotSaid,
}
