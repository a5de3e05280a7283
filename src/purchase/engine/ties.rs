//! Ties of cost: where many numbers of modules cost the same, what plans can be like says which of them are looked at.

use std::cmp::Reverse;

use crate::fill::{ClassId, Level, step_under};
use crate::purchase::engine::choose::Node;
use crate::purchase::engine::completions::Completions;
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::hope::Aim;
use crate::purchase::engine::ideal::{Ideal, LikeChannels};
use crate::purchase::engine::loose::LooseFrame;
use crate::purchase::engine::search::Search;
use crate::search::{Budget, StopReason};
use crate::unit::Capacity;
use crate::unit::exact::gcd;

impl LooseFrame {
    /// A start from where no more than so many modules are chosen.
    fn with_modules(&self, start: Node, most: usize) -> Node {
        let takes = self.curves.iter().map(|sort| sort.takes).max().unwrap_or(1);
        Node { slots: start.slots.min(most.saturating_mul(takes)), ..start }
    }

    /// How many capacities plans of one cost may have at most for ties to be settled.
    const MOST_TOTALS: u64 = 8;

    /// The capacities that plans may have which cost no more than `most`; `None` where there are many.
    fn totals(&self, start: &Node, most: Amount, budget: &mut Budget<'_>) -> Result<Option<Vec<Capacity>>, StopReason> {
        let unit = self.curves.iter().fold(0, |unit, sort| gcd(unit, sort.capacity.mib()));
        let Some(first) = self.at_least.mib().checked_next_multiple_of(unit) else { return Ok(None) };
        let total = |step: u64| Capacity::from_mib(first.saturating_add(unit.saturating_mul(step)));
        let costs = Completions::new(&self.curves, start.slots, total(Self::MOST_TOTALS), budget)?;
        let can_be_had = |&total: &Capacity| {
            self.at_most.is_none_or(|most| total <= most)
                && costs.least(0, start.slots, total).is_some_and(|cost| start.cost + cost <= most)
        };
        let all: Vec<Capacity> = (0..=Self::MOST_TOTALS).map(total).take_while(can_be_had).collect();
        Ok(Some(all).filter(|all| !all.is_empty() && all.len() <= usize::try_from(Self::MOST_TOTALS).unwrap_or(0)))
    }

    /// The best that plans can be like which cost no more than `most`, by capacity: of those capacities that can be had at all.
    /// `None` where that is not known.
    fn ideals(
        &self,
        start: &Node,
        (channels, most): (&LikeChannels, Amount),
        budget: &mut Budget<'_>,
    ) -> Result<Option<Vec<Ideal>>, StopReason> {
        let sizes: Vec<Capacity> = self.curves.iter().map(|sort| sort.capacity).collect();
        let Some(totals) = self.totals(start, most, budget)? else { return Ok(None) };
        let can_be_had = totals.into_iter().filter(|&total| channels.may_hold(&sizes, total));
        Ok(can_be_had.map(|total| Ideal::of(channels, &sizes, total)).collect())
    }
}

impl Search<'_, '_> {
    /// How many numbers are looked at for a plan that is as good as its capacity allows.
    const AIMED_TRIES: u64 = 4_096;

    /// Chooses numbers as long as so many were not looked at; whether that was all of them.
    pub(crate) fn try_out(
        &mut self,
        tries: u64,
        frame: &LooseFrame,
        start: Node,
        budget: &mut Budget<'_>,
    ) -> Result<bool, StopReason> {
        self.tries_left = Some(tries);
        let chosen = self.choose(frame, start, &mut Vec::new(), budget);
        let left = self.tries_left.take();
        chosen.map(|()| left != Some(0))
    }

    /// Counts a try; whether no further one is to be made.
    pub(crate) fn try_out_ends(&mut self) -> bool {
        if self.is_aim_met() {
            return true;
        }
        match &mut self.tries_left {
            None => false,
            Some(left) => {
                let ends = *left == 0;
                *left = left.saturating_sub(1);
                ends
            }
        }
    }

    fn is_aim_met(&self) -> bool {
        let (Some(aim), Some(best)) = (&self.aim, &self.best) else { return false };
        let key = &best.key;
        let Some(rate) = key.rate.0 else { return false };
        let modules = best.at.values().iter().flatten().count();
        let is_ideal = |ideal: &Ideal| {
            let most = ideal.bandwidth(rate);
            key.spread == ideal.spread && key.bandwidth.0 == (most, most) && modules == ideal.modules
        };
        let level = step_under(self.model().machine, Some(rate));
        key.cost == aim.cost
            && !key.outside_rows
            && key.bare == 0
            && level == aim.level
            && aim.ideals.iter().any(is_ideal)
    }

    /// The levels that classes can run at, the highest first, and how many modules all channels have room for at each.
    fn rooms_of(
        &self,
        classes: &[ClassId],
        budget: &mut Budget<'_>,
    ) -> Result<Vec<(Level, Vec<ClassId>, usize)>, StopReason> {
        let model = self.model();
        let steps = (0..model.machine.rate_steps().len()).map(Level::step).filter(|&level| level <= model.top_level);
        let level_of = |class: &ClassId| self.levels.get(*class).copied().unwrap_or(Level::NO_RATE);
        let mut rooms = Vec::new();
        for level in steps.chain([Level::NO_RATE]).filter(|level| self.floor().is_none_or(|floor| *level >= floor)) {
            let fast: Vec<ClassId> = classes.iter().copied().filter(|class| level_of(class) >= level).collect();
            let room = self.model().room(&fast, level, budget)?.all;
            rooms.push((level, fast, room));
        }
        rooms.sort_unstable_by_key(|&(level, ..)| Reverse(level));
        Ok(rooms)
    }

    /// Looks for a plan of the least cost that is as good as its capacity allows, at the highest rate that may be. Where there
    /// is one, no other is better but for fewer parts, the fill order and what is taken: returns what such numbers are chosen
    /// from, and where that starts.
    pub(crate) fn settle_ties(
        &mut self,
        frame: &LooseFrame,
        start: Node,
        budget: &mut Budget<'_>,
    ) -> Result<Option<(LooseFrame, Node)>, StopReason> {
        let Some(cost) = frame.bound(&start) else { return Ok(None) };
        let floor = self.floor().unwrap_or(Level::NO_RATE);
        let Some(channels) = LikeChannels::of(self.model(), &frame.classes, floor, budget)? else { return Ok(None) };
        let rooms = self.rooms_of(&frame.classes, budget)?;
        self.rooms = rooms.iter().map(|&(level, _, room)| (level, room)).collect();
        for (level, fast, _) in rooms {
            let Some((part, from)) = self.frame(fast, level, budget)? else { continue };
            if part.bound(&from) != Some(cost) {
                continue;
            }
            let Some(at_level) = LikeChannels::of(self.model(), &part.classes, level, budget)? else { break };
            let Some(ideals) = part.ideals(&from, (&at_level, cost), budget)? else { break };
            let Some(modules) = ideals.iter().map(|ideal| ideal.modules).max() else { continue };
            self.aim = Some(Aim { cost, level, ideals });
            let tried = self.try_out(Self::AIMED_TRIES, &part, part.with_modules(from, modules), budget);
            let is_met = self.is_aim_met();
            let aim = self.aim.take();
            tried?;
            if !is_met {
                break;
            }
            self.ideals = aim.map(|aim| (aim.cost, aim.ideals));
            self.rooms = vec![(level, usize::MAX)];
            // what has more modules has more handlings
            let most = self.best.as_ref().map(|best| best.key.handlings).filter(|_| self.classes().present() == 0);
            let from = most.map_or(from, |most| part.with_modules(from, most));
            return Ok(Some((part, from)));
        }
        if let Some(best) = self.best.as_ref().map(|best| best.key.cost) {
            self.ideals = frame.ideals(&start, (&channels, best), budget)?.map(|ideals| (best, ideals));
        }
        Ok(None)
    }
}
