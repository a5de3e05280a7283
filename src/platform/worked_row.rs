use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::module::MemoryModule;
use crate::stated::{Basis, Source};
use crate::unit::{Capacity, DataRate, Name};

/// A line of the board's manual that its description must reproduce.
///
/// Only what the line states is checked: [`worked::check`](crate::worked::check) arranges the modules
/// and compares slots, rate and capacity, or looks for the finding that refuses them; where a row that is refused names the slots of all its
/// modules, just there.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
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

impl WorkedRow {
    /// A line for processors in sockets, that says nothing of modules yet.
    #[must_use]
    pub fn new(name: Name, processors: impl IntoIterator<Item = (Name, Name)>, basis: Basis) -> Self {
        Self {
            name,
            processors: processors.into_iter().collect(),
            options: Vec::new(),
            mode: None,
            modules: Vec::new(),
            rate_mts: None,
            capacity_mib: None,
            usable_mib: None,
            refused_by: None,
            basis,
            source: None,
        }
    }

    setters! {
        each options(options: Name);
        some mode(mode: Name);
        each modules(modules: WorkedModules);
        some rate(rate_mts: DataRate);
        some capacity(capacity_mib: Capacity);
        some usable(usable_mib: Capacity);
        some refused_by(refused_by: Name);
        some source(source: Source);
    }
}

/// Equal modules of a worked row.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct WorkedModules {
    /// The module.
    pub module: MemoryModule,
    /// How many of them.
    pub count: u16,
    /// The slots in which the row puts them, in any order; not stated where empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub slots: Vec<Name>,
}

impl WorkedModules {
    /// So many equal modules in these slots.
    #[must_use]
    pub fn new(module: MemoryModule, count: u16, slots: impl IntoIterator<Item = Name>) -> Self {
        Self { module, count, slots: slots.into_iter().collect() }
    }
}
