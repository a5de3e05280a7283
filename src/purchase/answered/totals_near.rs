use serde::{Deserialize, Serialize};

use crate::purchase::Plan;
use crate::search::StopReason;
use crate::stated::Schema;
use crate::unit::Capacity;

/// The even totals around a wish: those at which every channel with slots of every processor holds the same.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct TotalsNear {
    /// The version of the document's form.
    pub schema: Schema,
    /// The wish: usable memory in each machine.
    pub wish_mib: Capacity,
    /// The best plan for the largest even total below it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub below: Option<Plan>,
    /// The best even plan for just the wish.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub just: Option<Plan>,
    /// The best plan for the smallest even total above it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub above: Option<Plan>,
    /// Why some search ended before it was through, if one did: a nearer total may exist then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StopReason>,
}
