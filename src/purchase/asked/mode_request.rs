use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::population::Population;
use crate::purchase::PlanRequest;
use crate::stated::Schema;
use crate::unit::Name;

/// What is to meet the machine's redundancy mode.
///
/// ```
/// use slotwright::population::Population;
/// use slotwright::purchase::ModeRequest;
///
/// // nothing may be put into A3
/// let request = ModeRequest::new(Population::new()).keep_empty(["A3".parse()?]);
/// # let _ = request;
/// # Ok::<(), slotwright::unit::NameError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ModeRequest {
    /// The version of the document's form.
    #[serde(default)]
    pub schema: Schema,
    /// What is fitted.
    pub population: Population,
    /// Slots that stay empty.
    #[serde(default)]
    pub keep_empty: BTreeSet<Name>,
    /// How many nodes each of the searches may visit.
    #[serde(default = "ModeRequest::default_nodes")]
    pub nodes: u64,
}

impl ModeRequest {
    /// How many nodes each of the searches may visit unless the request says otherwise.
    pub const NODES: u64 = PlanRequest::NODES;

    const fn default_nodes() -> u64 {
        Self::NODES
    }

    /// What is fitted.
    #[must_use]
    pub fn new(population: Population) -> Self {
        Self { schema: Schema, population, keep_empty: BTreeSet::new(), nodes: Self::NODES }
    }

    setters! {
        each keep_empty(keep_empty: Name);
        value nodes(nodes: u64);
    }
}
