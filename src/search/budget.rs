use core::fmt;
use std::ops::ControlFlow;

/// How far a search has come. A verb may make several searches one after the other, each with its own best plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub struct Progress {
    /// How many nodes it has visited.
    pub nodes: u64,
    /// What the best plan so far costs, in minor units; absent where there is none yet, or nothing costs anything.
    pub best_cost_minor: Option<i64>,
}

/// Is told how far a search has come, and says whether to go on.
pub(crate) type Watch<'w> = &'w (dyn Fn(Progress) -> ControlFlow<()> + Sync);

/// How many nodes a search may still visit. Counted in nodes, never in time.
#[derive(Clone)]
pub(crate) struct Budget<'w> {
    nodes: u64,
    left: u64,
    watch: Option<Watch<'w>>,
    /// When that many nodes are left the watch is asked again.
    ask_at: u64,
    best: Option<i64>,
    cancelled: bool,
}

/// The budget is used up, or the search was cancelled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Spent;

impl fmt::Debug for Budget<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Budget").field("left", &self.left).field("cancelled", &self.cancelled).finish_non_exhaustive()
    }
}

impl<'w> Budget<'w> {
    /// After so many nodes the watch is asked.
    const STEP: u64 = 1024;

    pub(crate) const fn new(nodes: u64) -> Self {
        Self { nodes, left: nodes, watch: None, ask_at: 0, best: None, cancelled: false }
    }

    /// The same, watched.
    pub(crate) const fn watched(nodes: u64, watch: Option<Watch<'w>>) -> Self {
        let ask_at = if watch.is_some() { nodes } else { 0 };
        Self { nodes, left: nodes, watch, ask_at, best: None, cancelled: false }
    }

    /// Takes one node.
    pub(crate) fn spend(&mut self) -> Result<(), Spent> {
        self.spend_many(1)
    }

    /// Takes `nodes` at once.
    pub(crate) fn spend_many(&mut self, nodes: u64) -> Result<(), Spent> {
        self.left = self.left.checked_sub(nodes).ok_or(Spent)?;
        if self.left < self.ask_at { self.ask() } else { Ok(()) }
    }

    fn ask(&mut self) -> Result<(), Spent> {
        let Some(watch) = self.watch else { return Ok(()) };
        self.ask_at = self.left.saturating_sub(Self::STEP);
        let progress = Progress { nodes: self.nodes - self.left, best_cost_minor: self.best };
        self.cancelled |= watch(progress).is_break();
        if self.cancelled {
            // nothing goes on from here
            self.left = 0;
            return Err(Spent);
        }
        Ok(())
    }

    /// Notes what the best plan so far costs.
    pub(crate) fn note_best(&mut self, cost: i128) {
        self.best = i64::try_from(cost).ok();
    }

    /// Whether the watch cancelled the search.
    pub(crate) const fn is_cancelled(&self) -> bool {
        self.cancelled
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicU64, Ordering};

    use super::*;

    #[test]
    fn a_watch_is_asked_every_so_often_and_cancels() {
        let asked = AtomicU64::new(0);
        let watch = |progress: Progress| {
            asked.fetch_add(1, Ordering::Relaxed);
            if progress.nodes > 3000 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        };
        let mut budget = Budget::watched(1_000_000, Some(&watch));
        let visited = (0..10_000).take_while(|_| budget.spend().is_ok()).count();
        assert!((3000..5000).contains(&visited), "{visited}");
        assert_eq!(asked.load(Ordering::Relaxed), 4);
        assert!(budget.is_cancelled() && budget.spend().is_err());
    }

    #[test]
    fn a_budget_ends_without_a_watch() {
        let mut budget = Budget::new(3);
        assert_eq!((0..10).take_while(|_| budget.spend().is_ok()).count(), 3);
        assert!(!budget.is_cancelled());
    }
}
