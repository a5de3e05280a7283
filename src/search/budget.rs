use core::fmt;
use std::ops::ControlFlow;

use crate::search::StopReason;

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
///
/// Nodes are not equally dear: beside them, work is counted, in steps of a few nanoseconds, so that the watch is asked
/// about as often whatever a node costs.
#[derive(Clone)]
pub(crate) struct Budget<'w> {
    nodes: u64,
    left: u64,
    watch: Option<Watch<'w>>,
    /// Steps of work until the watch is asked again.
    until_asked: u64,
    best: Option<i64>,
    stopped: Option<StopReason>,
    /// Steps of work so far.
    #[cfg(test)]
    worked: u64,
}

impl fmt::Debug for Budget<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Budget").field("left", &self.left).field("stopped", &self.stopped).finish_non_exhaustive()
    }
}

impl<'w> Budget<'w> {
    /// After so many steps of work the watch is asked: some hundred microseconds.
    const ASK_AFTER: u64 = 1 << 15;
    /// Steps of work that a node comes to, beside what is counted by itself.
    const NODE: u64 = 128;

    /// So many nodes, watched where there is a watch.
    pub(crate) const fn new(nodes: u64, watch: Option<Watch<'w>>) -> Self {
        Self {
            nodes,
            left: nodes,
            watch,
            until_asked: 0,
            best: None,
            stopped: None,
            #[cfg(test)]
            worked: 0,
        }
    }

    /// Takes one node.
    pub(crate) fn spend(&mut self) -> Result<(), StopReason> {
        self.spend_many(1)
    }

    /// Takes `nodes` at once.
    pub(crate) fn spend_many(&mut self, nodes: u64) -> Result<(), StopReason> {
        let Some(left) = self.left.checked_sub(nodes) else {
            return Err(*self.stopped.get_or_insert(StopReason::NodesUsedUp { nodes: self.nodes }));
        };
        self.left = left;
        self.work(nodes.saturating_mul(Self::NODE))
    }

    /// Counts work that is no node of its own.
    pub(crate) fn work(&mut self, steps: u64) -> Result<(), StopReason> {
        #[cfg(test)]
        {
            self.worked += steps;
        }
        match self.until_asked.checked_sub(steps) {
            Some(until_asked) if self.stopped.is_none() => {
                self.until_asked = until_asked;
                Ok(())
            }
            _ => self.ask(),
        }
    }

    fn ask(&mut self) -> Result<(), StopReason> {
        if let Some(stopped) = self.stopped {
            return Err(stopped);
        }
        self.until_asked = Self::ASK_AFTER;
        let Some(watch) = self.watch else { return Ok(()) };
        let progress = Progress { nodes: self.nodes - self.left, best_cost_minor: self.best };
        if watch(progress).is_break() {
            self.stopped = Some(StopReason::Cancelled);
            // nothing goes on from here
            self.left = 0;
            return Err(StopReason::Cancelled);
        }
        Ok(())
    }

    /// Whether somebody may stop the search.
    pub(crate) const fn is_watched(&self) -> bool {
        self.watch.is_some()
    }

    /// A budget of a part of what is left, for a side question; what it uses is not taken off this one.
    pub(crate) fn part(&self, nodes: u64) -> Self {
        let stopped = self.stopped.filter(|reason| *reason == StopReason::Cancelled);
        Self { stopped, ..Self::new(if stopped.is_some() { 0 } else { nodes }, self.watch) }
    }

    /// How many nodes were visited, and how many steps of work they came to with what is no node.
    #[cfg(test)]
    pub(crate) const fn used(&self) -> (u64, u64) {
        (self.nodes - self.left, self.worked)
    }

    /// Half of the nodes that are left, taken off this one.
    pub(crate) fn half(&mut self) -> Self {
        let half = self.left / 2;
        self.left -= half;
        self.part(half)
    }

    /// Notes what the best plan so far costs.
    pub(crate) fn note_best(&mut self, cost: i128) {
        self.best = i64::try_from(cost).ok();
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
        let mut budget = Budget::new(1_000_000, Some(&watch));
        let visited = (0..10_000).take_while(|_| budget.spend().is_ok()).count();
        assert!((3000..5000).contains(&visited), "{visited}");
        assert_eq!(asked.load(Ordering::Relaxed), 13);
        assert_eq!(budget.spend(), Err(StopReason::Cancelled));
        assert_eq!(budget.work(1), Err(StopReason::Cancelled));
        assert_eq!(budget.part(100).spend(), Err(StopReason::Cancelled));
    }

    #[test]
    fn dear_nodes_are_asked_about_sooner() {
        let asked = AtomicU64::new(0);
        let watch = |_: Progress| {
            asked.fetch_add(1, Ordering::Relaxed);
            ControlFlow::Continue(())
        };
        let mut budget = Budget::new(1_000_000, Some(&watch));
        (0..100).for_each(|_| budget.work(Budget::ASK_AFTER / 2 + 1).unwrap());
        assert!(asked.load(Ordering::Relaxed) >= 50);
    }

    #[test]
    fn a_budget_ends_without_a_watch() {
        let mut budget = Budget::new(3, None);
        assert_eq!((0..10).take_while(|_| budget.spend().is_ok()).count(), 3);
        assert_eq!(budget.spend(), Err(StopReason::NodesUsedUp { nodes: 3 }));
        // what did not fit is not taken
        let mut budget = Budget::new(3, None);
        assert!(budget.spend_many(4).is_err());
    }
}
