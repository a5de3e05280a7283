//! Chooses numbers of modules, class by class, under a bound on what the rest costs at least.

use std::cmp::Reverse;
use std::ops::RangeInclusive;

use crate::fill::ClassId;
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::search::Search;
use crate::search::{Budget, StopReason};
use crate::unit::Capacity;

/// How far a choice has come: a number is chosen for every class before this place in the frame.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Node {
    pub(crate) place: usize,
    /// What room is left, of which each module takes a slot at least; within the group of a shape, the slots that must be
    /// filled.
    pub(crate) slots: usize,
    /// The same by weights that were learnt; absent where nothing was, or more is chosen than there is room for.
    pub(crate) learnt: [Option<usize>; Self::MOST_LEARNT],
    pub(crate) capacity: Capacity,
    /// What the numbers so far cost at least, with everything that is not chosen in this frame.
    pub(crate) cost: Amount,
}

impl Node {
    /// How many weights that were learnt bound what may come at most.
    pub(crate) const MOST_LEARNT: usize = 6;
}

/// Which classes are chosen among, in which order, and what may come of it.
pub(crate) trait Frame {
    /// The class at a place; none beyond the last.
    fn class(&self, place: usize) -> Option<ClassId>;

    /// The node after so many modules of a node's class, which cost `own` at least, and what every plan that goes on from
    /// there costs at least; `None` where none can.
    fn after(&self, node: &Node, count: usize, own: Amount) -> Option<(Amount, Node)>;

    /// How many modules plans have at least and at most that go on from a node where so many are chosen.
    fn modules(&self, node: &Node, chosen: usize) -> RangeInclusive<usize>;

    /// Whether the numbers at the end of the frame are worth being considered.
    fn suits(&self, node: &Node) -> bool;
}

impl Search<'_, '_> {
    /// Goes through all numbers of a frame, what must cost least first, and considers each that could be best.
    pub(crate) fn choose(
        &mut self,
        frame: &dyn Frame,
        node: Node,
        chosen: &mut Vec<(ClassId, usize)>,
        budget: &mut Budget<'_>,
    ) -> Result<(), StopReason> {
        budget.spend()?;
        if self.is_done() || self.try_out_ends() {
            return Ok(());
        }
        let Some(class) = frame.class(node.place) else {
            return if frame.suits(&node) { self.consider(chosen, budget) } else { Ok(()) };
        };
        let Some(entry) = self.classes().all.get(class) else { return Ok(()) };
        let most = entry.most().min(node.slots);
        let ways = (0..=most).filter_map(|count| {
            let (bound, next) = frame.after(&node, count, entry.least_cost(count)?)?;
            Some((bound, Reverse(count), next))
        });
        // the one that must cost least first, for it bounds the rest
        let mut ways: Vec<_> = ways.filter(|&(bound, ..)| !self.is_beaten(bound)).collect();
        ways.sort_unstable_by_key(|&(bound, count, _)| (bound, count));
        for (bound, Reverse(count), next) in ways {
            if self.is_beaten(bound) {
                break;
            }
            if node.place == 0 {
                self.note_rest(bound);
            }
            if count > 0 {
                chosen.push((class, count));
            }
            let modules = frame.modules(&next, chosen.iter().map(|&(_, count)| count).sum());
            let kept = *modules.end();
            let may_stand = |chosen| self.model().mixes_allow(chosen) && !self.is_crowded(chosen);
            if self.may_improve(bound, chosen, modules, kept) && (count == 0 || may_stand(chosen)) {
                self.choose(frame, next, chosen, budget)?;
            }
            if count > 0 {
                chosen.pop();
            }
        }
        Ok(())
    }

    /// Notes that whatever was not looked at yet costs so much at least; what comes later in the order of the search may
    /// cost less than that.
    fn note_rest(&mut self, bound: Amount) {
        // among some of the classes alone
        if self.aim.is_some() {
            return;
        }
        let bound = self.later_costs.map_or(bound, |later| later.min(bound));
        self.rest_costs = Some(self.rest_costs.map_or(bound, |known| known.max(bound)));
    }
}
