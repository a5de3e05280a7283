use std::collections::BTreeSet;

use crate::population::Population;
use crate::purchase::PlanRequest;
use crate::unit::Name;

/// What is to meet the machine's redundancy mode.
///
/// ```
/// use slotwright::population::Population;
/// use slotwright::purchase::ModeRequest;
///
/// // nothing may be put into A3
/// let request = ModeRequest::new(Population::new()).keep_empty("A3".parse()?);
/// # let _ = request;
/// # Ok::<(), slotwright::unit::NameError>(())
/// ```
#[derive(Debug, Clone)]
pub struct ModeRequest {
    pub(crate) population: Population,
    pub(crate) keep_empty: BTreeSet<Name>,
    pub(crate) nodes: u64,
}

impl ModeRequest {
    /// What is fitted.
    #[must_use]
    pub fn new(population: Population) -> Self {
        Self { population, keep_empty: BTreeSet::new(), nodes: PlanRequest::NODES }
    }

    /// Keeps a slot empty; a module in it moves or is pulled.
    #[must_use]
    pub fn keep_empty(mut self, slot: Name) -> Self {
        self.keep_empty.insert(slot);
        self
    }

    /// Lets each of the searches visit so many nodes.
    #[must_use]
    pub fn nodes(mut self, nodes: u64) -> Self {
        self.nodes = nodes;
        self
    }
}
