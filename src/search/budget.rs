/// How many nodes a search may still visit. Counted in nodes, never in time.
#[derive(Debug, Clone)]
pub(crate) struct Budget {
    left: u64,
}

/// The budget is used up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Spent;

impl Budget {
    pub(crate) const fn new(nodes: u64) -> Self {
        Self { left: nodes }
    }

    /// Takes one node.
    pub(crate) fn spend(&mut self) -> Result<(), Spent> {
        self.left = self.left.checked_sub(1).ok_or(Spent)?;
        Ok(())
    }

    /// Takes `nodes` at once.
    pub(crate) fn spend_many(&mut self, nodes: u64) -> Result<(), Spent> {
        self.left = self.left.checked_sub(nodes).ok_or(Spent)?;
        Ok(())
    }
}
