use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::module::MemoryModule;
use crate::stated::{Basis, Source};
use crate::unit::{Capacity, DataRate, Name};

/// A line of the board's manual that its description must reproduce.
///
/// Only what the line states is checked: [`worked::check`](crate::worked::check) arranges the modules
/// and compares slots, rate and capacity, or looks for the finding that refuses them.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct WorkedRow {
    /// What the row is called in reports.
    pub name: Name,
    /// The processor in each socket, by the names of the platform's processors.
    pub processors: BTreeMap<Name, Name>,
    /// The options fitted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub options: Vec<Name>,
    /// The mode; independent where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mode: Option<Name>,
    /// The modules.
    pub modules: Vec<WorkedModules>,
    /// The rate that the row states.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_mts: Option<DataRate>,
    /// The capacity that the row states.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capacity_mib: Option<Capacity>,
    /// The usable capacity that the row states.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub usable_mib: Option<Capacity>,
    /// The code of the rule that refuses these modules, for a row that says they do not work.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub refused_by: Option<Name>,
    /// What the row rests on.
    pub basis: Basis,
    /// The text that it was copied from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
}

/// Equal modules of a worked row.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct WorkedModules {
    /// The module.
    pub module: MemoryModule,
    /// How many of them.
    pub count: u16,
    /// The slots in which the row puts them, in any order; not stated where empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub slots: Vec<Name>,
}
