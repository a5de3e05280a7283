use serde::{Deserialize, Serialize};

use crate::unit::Name;

/// What is known of one module as a thing, beside the facts that it shares with its like.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
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

impl Individual {
    /// Of which only the id is known.
    #[must_use]
    pub fn new(id: Name) -> Self {
        Self { id, condition: None, test_record: None }
    }

    setters! {
        some condition(condition: Name);
        some test_record(test_record: Name);
    }
}
