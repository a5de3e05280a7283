use core::fmt;

use serde::{Deserialize, Serialize};

use crate::purchase::{Plan, WhyNot};
use crate::search::StopReason;
use crate::stated::Schema;
use crate::unit::Cost;

/// A purchase now and another one later.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Stages {
    /// The version of the document's form.
    pub schema: Schema,
    /// The cheapest sequence, or the cheapest one that was found; absent where none was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub best: Option<Sequence>,
    /// The best plan for now, planned as if there were no later, and the best one that follows it; absent where one
    /// of the two does not exist, or is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub alone: Option<Sequence>,
    /// Why there is no sequence: of the request for now where nothing meets that, or else of the later one, asked as if
    /// all that could be had at either time were bought at once. Absent where there may be one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<Box<WhyNot>>,
    /// What any sequence costs at least, where the search stopped.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost_at_least: Option<Cost>,
    /// Why the search stopped, if it did: the best is not proved then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StopReason>,
}

/// A plan for now and the best one for later that follows it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Sequence {
    /// The plan for now.
    pub now: Plan,
    /// The plan for later, from the machine and the shelf as the plan for now leaves them.
    pub later: Plan,
    /// What both cost together.
    pub cost: Cost,
}

impl fmt::Display for Sequence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { now, later, cost } = self;
        write!(f, "{} now and {} later, {cost} together", now.cost.total, later.cost.total)
    }
}
