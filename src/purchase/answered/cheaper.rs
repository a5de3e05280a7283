use core::fmt;

use serde::{Deserialize, Serialize};

use crate::figure::MemoryBandwidth;
use crate::finding::Finding;
use crate::purchase::Plan;
use crate::unit::{Capacity, Cost, DataRate, Name};

/// What accepting warnings would save beside a plan that has none, and what it would do to rate and bandwidth. The plan
/// itself is what [`Planner::savings`](crate::assess::Planner::savings) gives.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Cheaper {
    /// The warnings that would be accepted: the first of each rule.
    pub warnings: Vec<Finding>,
    /// How much cheaper it would be, all machines together.
    pub saves: Cost,
    /// What it would cost, all machines together.
    pub total: Cost,
    /// What could be used in each machine.
    pub usable_mib: Capacity,
    /// The running rate; absent where processors differ, or there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_mts: Option<DataRate>,
    /// The bandwidth of each machine, an estimate.
    pub bandwidth: MemoryBandwidth,
}

impl Cheaper {
    /// A plan that costs so much less than another one.
    pub(crate) fn of(plan: &Plan, saves: Cost, codes: &[Name]) -> Self {
        let findings = &plan.assessment.findings;
        let first = |code: &Name| findings.iter().find(|finding| finding.code == *code).cloned();
        Self {
            warnings: codes.iter().filter_map(first).collect(),
            saves,
            total: plan.cost.total,
            usable_mib: plan.assessment.figures.usable.total_mib,
            rate_mts: plan.running_rate(),
            bandwidth: plan.assessment.figures.bandwidth.clone(),
        }
    }
}

impl fmt::Display for Cheaper {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { warnings, saves, total, usable_mib, rate_mts, bandwidth } = self;
        let said: Vec<String> = warnings.iter().map(Finding::in_short).collect();
        write!(f, "Accepting that {} saves {saves}: {total} for {usable_mib}", said.join(", and that "))?;
        rate_mts.map_or(Ok(()), |rate| write!(f, " at {rate}"))?;
        write!(f, "; bandwidth, estimated: {bandwidth}")
    }
}
