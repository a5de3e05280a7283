use serde::{Deserialize, Serialize};

use crate::purchase::Plan;
use crate::search::StopReason;
use crate::stated::Schema;

/// The best plans with different purchases.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Plans {
    /// The version of the document's form.
    pub schema: Schema,
    /// The plans, the best first; fewer than were asked for where there are no more.
    pub plans: Vec<Plan>,
    /// Why the search stopped, if it did: the plans are the best ones all the same, but there may be more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StopReason>,
}
