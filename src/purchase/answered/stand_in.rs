use serde::{Deserialize, Serialize};

use crate::finding::Finding;
use crate::module::MemoryModule;
use crate::purchase::ModuleSource;
use crate::stated::Schema;
use crate::unit::{Capacity, Price};

/// A module that may stand in for another.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct StandIn {
    /// The version of the document's form.
    pub schema: Schema,
    /// Where it comes from.
    pub source: ModuleSource,
    /// The module.
    pub module: MemoryModule,
    /// What getting one costs: the cheapest order from which one can be kept, with what sending back the rest and the
    /// supplier's charge come to; of a shelf item its value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost: Option<Price>,
    /// What is usable in the machine then.
    pub usable_mib: Capacity,
    /// Findings that are not there now and that the request does not refuse, such as the note that a rate is paid for
    /// and not used.
    pub new_findings: Vec<Finding>,
}
