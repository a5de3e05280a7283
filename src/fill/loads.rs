//! The loads of each channel in terms of a demand, and the space of count vectors they add up in.

use std::rc::Rc;

use crate::fill::{Demand, LoadFacts, Present, SlotModel};
use crate::search::{Budget, SearchSize, Space, StateSet, StopReason};
use crate::stated::Scope;
use crate::unit::exact::gcd;

/// A load of one channel in terms of the demand's classes.
pub(crate) struct Load {
    /// For each usable slot: 0 for nothing, or a local class and 1.
    pub(crate) digits: Vec<usize>,
    pub(crate) step: usize,
    pub(crate) level: i32,
    pub(crate) key: Option<usize>,
    /// What it holds less spare ranks, in MiB.
    pub(crate) usable: u64,
    pub(crate) mate: Option<usize>,
}

/// What raising a state by a load does.
pub(crate) struct Step {
    digits: Vec<usize>,
    pub(crate) offset: usize,
    pub(crate) room: StateSet,
}

/// The loads that a demand's numbers have room for.
///
/// A state counts the modules of each local class, how many of each group of present modules stay, the
/// empty slots that are lost, and how much is spared.
pub(crate) struct Loads {
    /// Local classes, best first.
    pub(crate) kinds: Vec<usize>,
    pub(crate) counts: Vec<usize>,
    pub(crate) space: Space,
    /// Number of count vectors: the states in which nothing stays and nothing is lost.
    pub(crate) vectors: usize,
    /// Capacity by count vector, in MiB.
    pub(crate) capacities: Vec<u64>,
    pub(crate) steps: Vec<Step>,
    /// By channel; shared by channels that carry the same loads.
    pub(crate) channels: Vec<Rc<Vec<Load>>>,
    /// The groups of present modules.
    pub(crate) groups: usize,
    max_lost: usize,
    /// What one step of the last digit spares, in MiB; 0 where the mode spares nothing.
    spare_unit: u64,
}

impl Loads {
    /// The loads of a demand, or `None` where it cannot be met whatever is where.
    pub(crate) fn new(
        grid: &SlotModel<'_>,
        errors: &SlotModel<'_>,
        demand: &Demand,
        budget: &mut Budget,
    ) -> Result<Option<Self>, StopReason> {
        /// A bit for each, and one for nothing, make a mask.
        const MOST_KINDS: usize = 62;
        let kinds = demand.kinds_by_priority(grid);
        let module = |class: usize| grid.classes.get(class).copied();
        // more than can be counted find no room
        let total = kinds.iter().try_fold(0usize, |total, &(_, count)| total.checked_add(count));
        let Some(total) = total.filter(|&total| total <= grid.slots.len()) else { return Ok(None) };
        let machine_count = |count: usize| {
            grid.in_force.counts.iter().filter(|bound| bound.within == Scope::Machine).all(|bound| bound.allows(count))
        };
        if !machine_count(total) || !grid.mixes_allow(&kinds) || !grid.allows_numbers(&kinds) {
            return Ok(None);
        }
        if kinds.len() > MOST_KINDS {
            let (found, limit) = (size(kinds.len()), size(MOST_KINDS));
            return Err(StopReason::TooLarge { what: SearchSize::SortsOfModule, found, limit });
        }
        let (kinds, counts): (Vec<_>, Vec<_>) = kinds.into_iter().unzip();
        let (mut loses_alike, mut max_lost) = (true, 0);
        // where any placing will do, how many slots it loses is no matter
        if !demand.any_will_do || demand.most_lost.is_some() {
            for channel in 0..errors.channels.len() {
                let legal = errors.legal_loads(channel, &kinds, budget)?;
                loses_alike &= legal.loses_alike;
                max_lost += legal.loads.iter().map(|load| load.lost).max().unwrap_or(0);
            }
        }
        let max_lost = if loses_alike { 0 } else { max_lost };
        let (spare_unit, max_spares) = spares(grid, &kinds, budget)?;
        let groups = (0..demand.used.len()).map(|group| demand.slots_of(group));
        let digits: Vec<usize> = counts.iter().copied().chain(groups).chain([max_lost, max_spares]).collect();
        let space = Space::new(digits)?;
        // the steps of a load are sets over all states
        budget.work(size(space.size()))?;
        let sizes: Vec<u64> = kinds.iter().filter_map(|&class| Some(module(class)?.capacity().mib())).collect();
        let mut capacities: Vec<u64> = vec![0];
        for (&size, &count) in sizes.iter().zip(&counts) {
            let with = |many: usize| size.saturating_mul(u64::try_from(many).unwrap_or(u64::MAX));
            capacities = (0..=count)
                .flat_map(|many| capacities.iter().map(move |&rest| rest.saturating_add(with(many))))
                .collect();
        }
        let mut loads = Self {
            kinds,
            counts,
            space,
            vectors: capacities.len(),
            capacities,
            steps: Vec::new(),
            channels: Vec::new(),
            groups: demand.used.len(),
            max_lost,
            spare_unit,
        };
        loads.gather(grid, errors, demand, budget)?;
        Ok(Some(loads))
    }

    /// The loads of each channel that the counts have room for.
    fn gather(
        &mut self,
        grid: &SlotModel<'_>,
        errors: &SlotModel<'_>,
        demand: &Demand,
        budget: &mut Budget,
    ) -> Result<(), StopReason> {
        type Sort = (usize, Vec<Option<Present>>);
        let mut known: Vec<(Sort, Rc<Vec<Load>>)> = Vec::new();
        for (channel, entry) in grid.channels.iter().enumerate() {
            let present = entry.slots.iter().map(|&slot| demand.present_at(slot)).collect();
            let sort = (entry.shape, present);
            if let Some((_, loads)) = known.iter().find(|(other, _)| *other == sort) {
                self.channels.push(Rc::clone(loads));
                continue;
            }
            let legal = grid.legal_loads(channel, &self.kinds, budget)?;
            let free = errors.legal_loads(channel, &self.kinds, budget)?;
            let mut loads = Vec::new();
            // a channel without slots holds nothing, evenly or not
            let even = demand.even.filter(|_| !grid.machine.platform().channel(entry.id).slots.is_empty());
            for load in &legal.loads {
                let digits: Vec<usize> = load.code.iter().map(|&digit| self.local(digit)).collect();
                let lost = match self.max_lost {
                    0 => 0,
                    _ => free.loads.iter().find(|other| other.code == load.code).map_or(0, |other| other.lost),
                };
                let LoadFacts { level, key, usable, mate } = *load.facts;
                let held = self.held(grid, &digits);
                if even.is_some_and(|even| even != held) {
                    continue;
                }
                let spares = held.saturating_sub(usable).checked_div(self.spare_unit).unwrap_or(0);
                let spares = usize::try_from(spares).unwrap_or(usize::MAX);
                if let Some(step) = self.step_for(&sort.1, &digits, (lost, spares)) {
                    loads.push(Load { digits, step, level, key, usable, mate });
                }
            }
            let loads = Rc::new(loads);
            known.push((sort, Rc::clone(&loads)));
            self.channels.push(loads);
        }
        Ok(())
    }

    fn local(&self, digit: u16) -> usize {
        let class = usize::from(digit).checked_sub(1);
        class.and_then(|class| self.kinds.iter().position(|&kind| kind == class)).map_or(0, |local| local + 1)
    }

    /// What a load of local classes holds, in MiB.
    fn held(&self, grid: &SlotModel<'_>, digits: &[usize]) -> u64 {
        let module = |digit: &usize| grid.classes.get(*self.kinds.get(digit.checked_sub(1)?)?);
        digits.iter().filter_map(module).fold(0, |sum, module| sum.saturating_add(module.capacity().mib()))
    }

    /// What the modules of a state hold less spare ranks, in MiB.
    pub(crate) fn usable(&self, state: usize) -> u64 {
        let held = self.capacities.get(state % self.vectors).copied().unwrap_or(0);
        if self.spare_unit == 0 {
            return held;
        }
        let spares = self.space.digit(state, self.kinds.len() + self.groups + 1);
        held.saturating_sub(self.spare_unit.saturating_mul(u64::try_from(spares).unwrap_or(u64::MAX)))
    }

    /// The step of a load: the numbers of each class, how many of each group stay, lost slots and spares.
    fn step_for(
        &mut self,
        present: &[Option<Present>],
        digits: &[usize],
        (lost, spares): (usize, usize),
    ) -> Option<usize> {
        let classes = self.kinds.len();
        let mut sums = vec![0; classes + self.groups];
        for (present, &digit) in present.iter().zip(digits) {
            let Some(local) = digit.checked_sub(1) else { continue };
            *sums.get_mut(local)? += 1;
            let class = self.kinds.get(local);
            if let Some(stays) = present.filter(|present| Some(&present.class) == class) {
                *sums.get_mut(classes + stays.group)? += 1;
            }
        }
        sums.extend([lost.min(self.max_lost), spares]);
        if let Some(known) = self.steps.iter().position(|step| step.digits == sums) {
            return Some(known);
        }
        let offset = self.space.number(&sums)?;
        self.steps.push(Step { room: self.space.below(&sums), digits: sums, offset });
        Some(self.steps.len() - 1)
    }

    /// The states whose numbers by class `allows` lets pass.
    pub(crate) fn states_that(&self, allows: impl Fn(&[usize]) -> bool) -> StateSet {
        let mut states = StateSet::empty(self.space.size());
        for vector in 0..self.vectors {
            let digits: Vec<usize> = (0..self.kinds.len()).map(|kind| self.space.digit(vector, kind)).collect();
            if allows(&digits) {
                (vector..self.space.size()).step_by(self.vectors).for_each(|state| states.insert(state));
            }
        }
        states
    }

    /// The states whose number of modules `allows` lets pass.
    pub(crate) fn states_where(&self, allows: impl Fn(usize) -> bool) -> StateSet {
        let mut counts = vec![0usize];
        for &count in &self.counts {
            counts = (0..=count).flat_map(|many| counts.iter().map(move |&rest| rest + many)).collect();
        }
        let allowed: Vec<bool> = (0..=self.counts.iter().sum()).map(allows).collect();
        let mut states = StateSet::empty(self.space.size());
        for (vector, &count) in counts.iter().enumerate() {
            if allowed.get(count) == Some(&true) {
                (vector..self.space.size()).step_by(self.vectors).for_each(|state| states.insert(state));
            }
        }
        states
    }
}

/// A size as a stop tells it; more than that would be is no size of anything.
fn size(size: usize) -> u64 {
    u64::try_from(size).unwrap_or(u64::MAX)
}

/// The common part of what the loads of channels spare, in MiB, and how many of these all channels spare at
/// most.
fn spares(grid: &SlotModel<'_>, kinds: &[usize], budget: &mut Budget) -> Result<(u64, usize), StopReason> {
    let (mut unit, mut most) = (0, 0_u64);
    if !grid.spares_ranks() {
        return Ok((0, 0));
    }
    for channel in 0..grid.channels.len() {
        let legal = grid.legal_loads(channel, kinds, budget)?;
        let spared = |code: &[u16], usable: u64| {
            let module = |digit: &u16| grid.classes.get(usize::from(*digit).checked_sub(1)?);
            let held = code.iter().filter_map(module).fold(0_u64, |sum, m| sum.saturating_add(m.capacity().mib()));
            held.saturating_sub(usable)
        };
        let all = || legal.loads.iter().map(|load| spared(&load.code, load.facts.usable));
        unit = all().fold(unit, gcd);
        most = most.saturating_add(all().max().unwrap_or(0));
    }
    Ok((unit, usize::try_from(most.checked_div(unit).unwrap_or(0)).unwrap_or(usize::MAX)))
}
