use serde::{Deserialize, Serialize};

use crate::unit::Name;

/// What is known of one module as a thing, beside the facts that it shares with its like.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Individual {
    /// Serial number or stock number.
    pub id: Name,
    /// New, used and tested, pulled: the owner's own word.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub condition: Option<Name>,
    /// Where its test is recorded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test_record: Option<Name>,
}
