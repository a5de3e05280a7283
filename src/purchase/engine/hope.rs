//! What can be hoped for of numbers of modules: how the best plan with them would compare with the best so far.

use std::cmp::{Ordering, Reverse};
use std::ops::RangeInclusive;

use crate::fill::{ClassId, Level, step_under};
use crate::platform::RatePolicy;
use crate::purchase::engine::classes::Class;
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::ideal::Ideal;
use crate::purchase::engine::joint::Sourcing;
use crate::purchase::engine::key::{PlanKey, Priority};
use crate::purchase::engine::search::Search;
use crate::unit::{Bandwidth, Capacity, DataRate};

/// Plans of one cost and rate that are as good as their capacity allows.
pub(crate) struct Aim {
    pub(crate) cost: Amount,
    pub(crate) level: Level,
    pub(crate) ideals: Vec<Ideal>,
}

/// What can be hoped for of candidates.
struct Hope<'h> {
    least: Amount,
    level: Level,
    parts: usize,
    modules: &'h RangeInclusive<usize>,
    /// How many of them may be present ones.
    kept: usize,
}

impl<'a> Search<'_, 'a> {
    /// How many different parts these classes are at least: one for each sort of facts, and more where what
    /// is present makes it more.
    pub(crate) fn parts_at_least(&self, counts: &[(ClassId, usize)]) -> usize {
        let class = |&(class, _): &(ClassId, usize)| self.classes().all.get(class);
        let twin = |count: &(ClassId, usize)| class(count).map(|entry| entry.twin);
        let part = |count: &(ClassId, usize)| class(count).and_then(Class::only_part);
        // a class counts if it is the first of its part; one whose part is open, if its sort has no other class
        let counted = |(index, count): &(usize, &(ClassId, usize))| {
            let before = || counts.iter().take(*index);
            match part(count) {
                Some(known) => before().all(|other| part(other) != Some(known)),
                None => {
                    counts.iter().all(|other| twin(other) != twin(count) || part(other).is_none())
                        && before().all(|other| twin(other) != twin(count))
                }
            }
        };
        counts.iter().enumerate().filter(counted).count()
    }

    /// Whether a candidate of this least cost, with these classes and perhaps more, and so many modules in
    /// all, at most `kept` of them present ones, can come before the best one so far.
    pub(crate) fn may_improve(
        &self,
        least: Amount,
        counts: &[(ClassId, usize)],
        modules: RangeInclusive<usize>,
        kept: usize,
    ) -> bool {
        let most = || self.most_bandwidth(self.hoped_rate(self.level_of(counts, *modules.start())), *modules.end());
        if self.needs.bandwidth.is_some_and(|least| most() < least) {
            return false;
        }
        self.aim.as_ref().is_none_or(|aim| self.may_meet(aim, counts, &modules))
            && self.hope(least, counts, &modules, kept).is_le()
    }

    /// The best that plans can be like which cost as little as a plan, where that is known.
    fn ideals_at(&self, key: &PlanKey) -> Option<&Vec<Ideal>> {
        self.ideals
            .as_ref()
            .filter(|(cost, _)| key.cost <= *cost && !self.needs.quality_first)
            .map(|(_, ideals)| ideals)
    }

    /// How such a candidate would compare with the best one so far if it were as good as it can be, before what sits where.
    pub(crate) fn hope(
        &self,
        least: Amount,
        counts: &[(ClassId, usize)],
        modules: &RangeInclusive<usize>,
        kept: usize,
    ) -> Ordering {
        let Some(best) = &self.best else { return Ordering::Less };
        if least < best.key.cost && !self.needs.quality_first {
            return Ordering::Less;
        }
        let level = self.level_of(counts, *modules.start());
        let hope = Hope { least, level, parts: self.parts_at_least(counts), modules, kept };
        match self.ideals_at(&best.key) {
            None => self.compared(&best.key, &hope, None),
            Some(ideals) => {
                let sizes = self.sizes(counts);
                let with = |ideal| self.compared(&best.key, &hope, Some((ideal, &sizes)));
                ideals.iter().map(with).min().unwrap_or(Ordering::Greater)
            }
        }
    }

    /// The highest level that modules of these classes, and so many of them, can run at together.
    pub(crate) fn level_of(&self, counts: &[(ClassId, usize)], fewest: usize) -> Level {
        let levels = counts.iter().filter_map(|&(class, _)| self.levels.get(class));
        let with_room = self.rooms.iter().find(|&&(_, room)| room >= fewest).map(|(level, _)| level);
        levels.chain(with_room).min().copied().unwrap_or(Level::UNBOUNDED)
    }

    pub(crate) fn sizes(&self, counts: &[(ClassId, usize)]) -> Vec<(Capacity, usize)> {
        let size = |&(class, count): &(ClassId, usize)| Some((self.classes().all.get(class)?.module.capacity(), count));
        counts.iter().filter_map(size).collect()
    }

    /// Whether a candidate with these classes and perhaps more can be what is aimed at.
    fn may_meet(&self, aim: &Aim, counts: &[(ClassId, usize)], modules: &RangeInclusive<usize>) -> bool {
        let sizes = self.sizes(counts);
        aim.ideals.iter().any(|ideal| modules.contains(&ideal.modules) && ideal.may_come_of(&sizes))
    }

    /// How the best plan that can be hoped for compares with one: each of its steps at its best, and what follows a step only
    /// as good as that step allows.
    fn compared(&self, key: &PlanKey, hope: &Hope<'_>, ideal: Option<(&Ideal, &[(Capacity, usize)])>) -> Ordering {
        let (fewest, most) = (*hope.modules.start(), *hope.modules.end());
        let best_level = key.rate.0.map_or(Level::NO_RATE, |rate| step_under(self.model().machine, Some(rate)));
        let rate = self.hoped_rate(hope.level);
        let spread = ideal.map_or(0, |(ideal, _)| ideal.spread);
        let mut bandwidth = self.most_bandwidth(rate, most);
        if let Some((ideal, _)) = ideal {
            bandwidth = rate.map_or(Bandwidth::ZERO, |rate| ideal.bandwidth(rate)).min(bandwidth);
        }
        let bare = self.model().sockets.len().saturating_sub(most);
        let touched = self.handlings(fewest, most, hope.kept) > self.classes().faulty();
        let quality = (false, bare, Reverse(hope.level), spread, Reverse((bandwidth, bandwidth)));
        let theirs = (key.outside_rows, key.bare, Reverse(best_level), key.spread, key.bandwidth);
        let first = (self.first(hope.least, touched), quality).cmp(&(key.first, theirs));
        if first.is_ne() {
            return first;
        }
        // to be so fast it takes so many modules
        let channels = if rate.is_some() { self.most_channels.min(most) } else { 0 };
        let fewest = fewest.max(ideal.map_or(channels, |(ideal, _)| ideal.modules));
        if fewest > most || ideal.is_some_and(|(ideal, sizes)| !ideal.may_come_of(sizes)) {
            return Ordering::Greater;
        }
        let handlings = self.handlings(fewest, most, hope.kept);
        let touched = handlings > self.classes().faulty();
        let free = self.model().slots.len().saturating_sub(fewest);
        let ours = (hope.least, touched, (handlings, hope.parts, Reverse(free)));
        ours.cmp(&(key.cost, key.touched, (key.handlings, key.parts, key.free)))
    }

    /// The fewest handlings of a plan of so many modules, at most `kept` of them present ones.
    pub(crate) fn handlings(&self, fewest: usize, most: usize, kept: usize) -> usize {
        let present = self.classes().present();
        let most_kept = kept.min(present);
        // each further one that stays is neither put in nor pulled
        let modules = most_kept.clamp(fewest, most.max(fewest));
        let kept = most_kept.min(modules);
        modules - kept + present - kept
    }

    /// Whether modules of these classes come after those of the best plan wherever they sit: in fill order, then in what is
    /// taken.
    pub(crate) fn fills_later(&self, counts: &[(ClassId, usize)], sourcing: &Sourcing<'a>) -> bool {
        let Some(best) = &self.best else { return false };
        let each = |&(class, count): &(ClassId, usize)| {
            std::iter::repeat_n(self.priorities.get(class).copied().unwrap_or(Priority::Empty), count)
        };
        let mut priorities: Vec<Priority> = counts.iter().flat_map(each).collect();
        priorities.sort_unstable();
        priorities.resize(self.model().slots.len().max(priorities.len()), Priority::Empty);
        let key = &best.key;
        (&priorities, sourcing.units(), &sourcing.list()) > (&key.priorities, key.taken, &key.list)
    }

    /// The rate that is hoped for at a level. With a rate for each processor, the others may run faster than the slowest.
    pub(crate) fn hoped_rate(&self, level: Level) -> Option<DataRate> {
        let machine = self.model().machine;
        let level = match machine.platform().description().rate_policy {
            RatePolicy::PerMachine => level,
            RatePolicy::PerSocket => self.model().top_level,
        };
        let steps = machine.rate_steps();
        level.index().and_then(|step| steps.get(step).or(steps.last())).copied()
    }

    /// The most bandwidth that so many modules can have at a rate: each in a channel of its own.
    pub(crate) fn most_bandwidth(&self, rate: Option<DataRate>, modules: usize) -> Bandwidth {
        let channels = modules.min(self.most_channels);
        // a machine has a few dozen channels
        let channels = u64::try_from(channels).unwrap_or(u64::MAX);
        rate.map_or(Bandwidth::ZERO, |rate| rate.peak_bandwidth().times(channels, 1))
    }

    /// What comes before quality, for a plan of this cost.
    pub(crate) fn first(&self, cost: Amount, touched: bool) -> (Amount, bool) {
        if self.needs.quality_first { (0, false) } else { (cost, touched) }
    }
}
