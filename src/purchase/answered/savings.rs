use core::fmt;

use serde::{Deserialize, Serialize};

use crate::finding::Finding;
use crate::purchase::Plan;
use crate::purchase::answered::plan_text::together;
use crate::search::StopReason;
use crate::stated::Schema;
use crate::unit::{Cost, Name};

/// What accepting warnings would save.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Savings {
    /// The version of the document's form.
    pub schema: Schema,
    /// The best plan without warnings; absent where there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub without: Option<Plan>,
    /// What can be saved: the most first.
    pub accepting: Vec<Saving>,
    /// Why some search ended before it was through, if one did: more may be saved then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StopReason>,
}

/// What accepting some warnings saves.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Saving {
    /// The codes of the rules whose warnings are accepted.
    pub warnings: Vec<Name>,
    /// How much cheaper the best plan is then; absent where there is none without.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub saves: Option<Cost>,
    /// That plan.
    pub plan: Plan,
}

impl fmt::Display for Saving {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let said = |code: &Name| {
            let finding = self.plan.assessment.findings.iter().find(|finding| finding.code == *code);
            finding.map_or_else(|| code.to_string(), Finding::in_short)
        };
        let said: Vec<_> = self.warnings.iter().map(said).collect();
        write!(f, "Accepting that {}", said.join(", and that "))?;
        let machines = self.plan.machines;
        let cost = together(machines, self.plan.cost.total);
        match self.saves {
            Some(saves) => write!(f, " saves {}: {cost}.", together(machines, saves)),
            None => write!(f, " makes it possible, for {cost}."),
        }
    }
}
