//! The best legal placing of given modules: exact, by sets of reachable count vectors.
//!
//! Slots are decided in fill order, each time for the best content from which the rest can still be
//! placed. Whether it can is asked of sets of count vectors: which numbers of each class a processor's
//! channels can take between them. Rules that such sets cannot express are asked of the complete
//! candidate, and the search goes back where they refuse.

use std::cmp::Ordering;
use std::rc::Rc;

use crate::fill::grid::fillable;
use crate::fill::rows::{Row, RowGroup};
use crate::fill::split::{Shares, Target};
use crate::fill::{Grid, NO_RATE};
use crate::finding::FactValue;
use crate::platform::UnlikeGrades;
use crate::population::ModuleSite;
use crate::rule::MixOf;
use crate::search::{Budget, Space, Spent, StateSet};
use crate::stated::Scope;
use crate::unit::DataRate;

/// What is to be placed.
#[derive(Debug, Clone, Default)]
pub(crate) struct Demand {
    /// Classes and how many of each, pinned ones included.
    pub(crate) counts: Vec<(usize, usize)>,
    /// Slots whose content is settled: a class, or nothing.
    pub(crate) pinned: Vec<(usize, Option<usize>)>,
    /// The class and group of the present module in each usable slot, where some of that group are used;
    /// empty where what is present is no matter.
    pub(crate) present: Vec<Option<Present>>,
    /// How many present modules of each group are used. Those that do not stay in their slots move.
    pub(crate) used: Vec<usize>,
    /// Whether a move costs money, so that fewer moves come before a higher rate.
    pub(crate) moves_first: bool,
    /// The lowest step that will do; any, or no rate at all, where absent.
    pub(crate) least_level: Option<i32>,
}

/// A present module as a placing sees it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Present {
    pub(crate) class: usize,
    /// Present modules of one group stand in for each other: of some groups not all are used.
    pub(crate) group: usize,
}

impl Demand {
    fn present_at(&self, slot: usize) -> Option<Present> {
        self.present.get(slot).copied().flatten()
    }

    /// How many modules of a group could stay.
    fn slots_of(&self, group: usize) -> usize {
        self.present.iter().flatten().filter(|present| present.group == group).count()
    }

    /// How many present modules that are used do not stay, given how many of each group could.
    pub(crate) fn moves(&self, stays: impl Iterator<Item = usize>) -> usize {
        self.used.iter().zip(stays).map(|(used, stay)| used.saturating_sub(stay)).sum()
    }
}

/// A placing, with what decides between placings of the same modules.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Placed {
    /// A class or nothing for each usable slot.
    pub(crate) at: Vec<Option<usize>>,
    pub(crate) rate: Option<DataRate>,
    pub(crate) target: Target,
    /// Priority of what sits in each slot: lower comes first.
    pub(crate) ranks: Vec<usize>,
    moves_first: bool,
    /// Whether it breaks the platform's printed rows.
    pub(crate) outside_rows: bool,
}

impl Placed {
    fn outside(self) -> Self {
        Self { outside_rows: true, ..self }
    }

    /// Better first: the documented order, as far as placing decides.
    pub(crate) fn order(&self, other: &Self) -> Ordering {
        let moves = |placed: &Self| if self.moves_first { placed.target.moves } else { 0 };
        moves(self)
            .cmp(&moves(other))
            .then_with(|| other.rate.cmp(&self.rate))
            .then_with(|| self.target.rank(self.moves_first).cmp(&other.target.rank(self.moves_first)))
            .then_with(|| self.ranks.cmp(&other.ranks))
    }
}

/// A load of one channel in terms of the demand's classes.
struct Load {
    /// For each usable slot: 0 for nothing, or a local class and 1.
    digits: Vec<usize>,
    step: usize,
    level: i32,
    key: Option<usize>,
}

/// What raising a state by a load does.
struct Step {
    digits: Vec<usize>,
    offset: usize,
    room: StateSet,
}

/// Which printed rows a candidate must follow.
#[derive(Clone, Copy, PartialEq)]
enum RowsInForce {
    All,
    Required,
    None,
}

struct Placing<'g, 'a> {
    grid: &'g Grid<'a>,
    demand: &'g Demand,
    /// Local classes, best first.
    kinds: Vec<usize>,
    counts: Vec<usize>,
    capacities: Vec<u64>,
    space: Space,
    vectors: usize,
    max_lost: usize,
    steps: Vec<Step>,
    loads: Vec<Rc<Vec<Load>>>,
    /// States that the bounds on a processor's number of modules allow.
    countable: StateSet,
    weights: Vec<u64>,
    rows: RowsInForce,
    /// What each slot may hold before any row or decision.
    open: Vec<u64>,
    masks: Vec<u64>,
    level: i32,
    /// Whether partial candidates are held against rules too: once a complete one was refused.
    careful: bool,
}

/// The best placing of a demand; `None` where there is none.
pub(crate) fn place(
    grid: &Grid<'_>,
    errors: &Grid<'_>,
    demand: &Demand,
    budget: &mut Budget,
) -> Result<Option<Placed>, Spent> {
    match Placing::new(grid, errors, demand, budget)? {
        Some(mut placing) => placing.choose(budget),
        None => Ok(None),
    }
}

impl<'g, 'a> Placing<'g, 'a> {
    fn new(
        grid: &'g Grid<'a>,
        errors: &Grid<'_>,
        demand: &'g Demand,
        budget: &mut Budget,
    ) -> Result<Option<Self>, Spent> {
        let mut kinds: Vec<(usize, usize)> = demand.counts.iter().copied().filter(|&(_, count)| count > 0).collect();
        let module = |class: usize| grid.classes.get(class).copied();
        let priority = grid.machine.platform().fill_priority;
        kinds.sort_by(|a, b| match (module(a.0), module(b.0)) {
            (Some(a), Some(b)) => priority.compare(a, b).then_with(|| a.cmp(b)),
            _ => Ordering::Equal,
        });
        let total: usize = kinds.iter().map(|&(_, count)| count).sum();
        let machine_count = |count: usize| {
            grid.active.counts.iter().filter(|bound| bound.within == Scope::Machine).all(|bound| bound.allows(count))
        };
        if total > grid.slots.len() || kinds.len() > 62 || !machine_count(total) || !grid.mixes_allow(&kinds) {
            return Ok(None);
        }
        let (kinds, counts): (Vec<_>, Vec<_>) = kinds.into_iter().unzip();
        let mut loses_alike = true;
        for channel in 0..errors.channels.len() {
            loses_alike &= errors.legal_loads(channel, &kinds, budget)?.loses_alike;
        }
        let max_lost = if loses_alike { 0 } else { grid.slots.len() };
        let groups = (0..demand.used.len()).map(|group| demand.slots_of(group));
        let digits: Vec<usize> = counts.iter().copied().chain(groups).chain([max_lost]).collect();
        let Some(space) = Space::new(digits) else { return Err(Spent) };
        let vectors: usize = counts.iter().map(|count| count + 1).product();
        let sizes: Vec<u64> = kinds.iter().filter_map(|&class| Some(module(class)?.capacity().mib())).collect();
        let size = |vector: usize| {
            let parts = sizes.iter().enumerate().map(|(class, &size)| {
                u64::try_from(space.digit(vector, class)).unwrap_or(u64::MAX).saturating_mul(size)
            });
            parts.fold(0u64, u64::saturating_add)
        };
        let capacities = (0..vectors).map(size).collect();
        let mut placing = Self {
            grid,
            demand,
            kinds,
            counts,
            capacities,
            vectors,
            max_lost,
            steps: Vec::new(),
            loads: Vec::new(),
            countable: StateSet::empty(space.size()),
            space,
            weights: grid.sockets.iter().map(|socket| socket.weight).collect(),
            rows: RowsInForce::None,
            open: Vec::new(),
            masks: Vec::new(),
            level: NO_RATE,
            careful: false,
        };
        placing.countable = placing.countable_states(&|_| true);
        placing.mask_slots();
        placing.gather_loads(errors, budget)?;
        Ok(Some(placing))
    }

    /// States whose number of modules a processor may have, and that `also` lets pass.
    fn countable_states(&self, also: &dyn Fn(usize) -> bool) -> StateSet {
        let mut states = StateSet::empty(self.space.size());
        let bounds = || self.grid.active.counts.iter().filter(|bound| bound.within == Scope::Socket);
        for state in 0..self.space.size() {
            let count: usize = (0..self.kinds.len()).map(|class| self.space.digit(state, class)).sum();
            if bounds().all(|bound| bound.allows(count)) && also(count) {
                states.insert(state);
            }
        }
        states
    }

    /// Which contents each slot may have: bit 0 for nothing, then a bit for each local class.
    fn mask_slots(&mut self) {
        let mut known: Vec<((usize, usize), u64)> = Vec::new();
        for slot in 0..self.grid.slots.len() {
            let channel = self.grid.slots.get(slot).and_then(|slot| self.grid.channels.get(slot.channel));
            let sort = channel.map(|channel| {
                (channel.shape, channel.slots.iter().position(|&other| other == slot).unwrap_or(usize::MAX))
            });
            let settled = sort.and_then(|sort| known.iter().find(|(known, _)| *known == sort)).map(|&(_, mask)| mask);
            let mask = settled.unwrap_or_else(|| {
                let admitted = self.kinds.iter().enumerate().filter(|&(_, &class)| self.grid.admits(slot, class));
                admitted.fold(1, |mask, (local, _)| mask | 2 << local)
            });
            known.extend(sort.filter(|_| settled.is_none()).map(|sort| (sort, mask)));
            self.open.push(mask);
        }
        for &(slot, class) in &self.demand.pinned {
            let bit = match class {
                None => 1,
                Some(class) => self.kinds.iter().position(|&kind| kind == class).map_or(0, |local| 2 << local),
            };
            if let Some(mask) = self.open.get_mut(slot) {
                *mask &= bit;
            }
        }
    }

    /// The loads of each channel that the counts have room for.
    fn gather_loads(&mut self, errors: &Grid<'_>, budget: &mut Budget) -> Result<(), Spent> {
        type Sort = (usize, Vec<Option<Present>>);
        let mut known: Vec<(Sort, Rc<Vec<Load>>)> = Vec::new();
        for (channel, entry) in self.grid.channels.iter().enumerate() {
            let present = entry.slots.iter().map(|&slot| self.demand.present_at(slot)).collect();
            let sort = (entry.shape, present);
            if let Some((_, loads)) = known.iter().find(|(other, _)| *other == sort) {
                self.loads.push(Rc::clone(loads));
                continue;
            }
            let legal = self.grid.legal_loads(channel, &self.kinds, budget)?;
            let free = errors.legal_loads(channel, &self.kinds, budget)?;
            let mut loads = Vec::new();
            for load in &legal.loads {
                let digits: Vec<usize> = load.code.iter().map(|&digit| self.local(digit)).collect();
                let lost = match self.max_lost {
                    0 => 0,
                    _ => free.loads.iter().find(|other| other.code == load.code).map_or(0, |other| other.lost),
                };
                if let Some(step) = self.step_for(&sort.1, &digits, lost) {
                    loads.push(Load { digits, step, level: load.facts.level, key: load.facts.key });
                }
            }
            let loads = Rc::new(loads);
            known.push((sort, Rc::clone(&loads)));
            self.loads.push(loads);
        }
        Ok(())
    }

    fn local(&self, digit: u16) -> usize {
        let class = usize::from(digit).checked_sub(1);
        class.and_then(|class| self.kinds.iter().position(|&kind| kind == class)).map_or(0, |local| local + 1)
    }

    /// The step of a load: the numbers of each class, how many of each group stay, lost slots.
    fn step_for(&mut self, present: &[Option<Present>], digits: &[usize], lost: usize) -> Option<usize> {
        let classes = self.kinds.len();
        let mut sums = vec![0; classes + self.demand.used.len()];
        for (present, &digit) in present.iter().zip(digits) {
            let Some(local) = digit.checked_sub(1) else { continue };
            *sums.get_mut(local)? += 1;
            let class = self.kinds.get(local);
            if let Some(stays) = present.filter(|present| Some(&present.class) == class) {
                *sums.get_mut(classes + stays.group)? += 1;
            }
        }
        sums.push(lost.min(self.max_lost));
        if let Some(known) = self.steps.iter().position(|step| step.digits == sums) {
            return Some(known);
        }
        let offset = self.space.number(&sums)?;
        self.steps.push(Step { room: self.space.below(&sums), digits: sums, offset });
        Some(self.steps.len() - 1)
    }

    /// The best placing: inside all printed rows where there is one. Outside them, it follows at least those
    /// that must be followed.
    fn choose(&mut self, budget: &mut Budget) -> Result<Option<Placed>, Spent> {
        if self.grid.rows.groups.is_empty() || self.grid.active.rules.get("fill-row").is_none() {
            return self.best(RowsInForce::None, budget);
        }
        let otherwise = if self.grid.active.has("fill-row") { RowsInForce::Required } else { RowsInForce::None };
        let Some(inside) = self.best(RowsInForce::All, budget)? else {
            return Ok(self.best(otherwise, budget)?.map(Placed::outside));
        };
        if !self.demand.moves_first || inside.target.moves == 0 {
            return Ok(Some(inside));
        }
        // moves cost money, and cost comes before printed rows
        let outside = self.best(otherwise, budget)?.filter(|outside| outside.target.moves < inside.target.moves);
        Ok(Some(outside.map_or(inside, Placed::outside)))
    }

    /// The best placing under some rows.
    fn best(&mut self, rows: RowsInForce, budget: &mut Budget) -> Result<Option<Placed>, Spent> {
        self.rows = rows;
        let mut best: Option<Placed> = None;
        for masks in self.machine_rows() {
            self.masks = masks;
            if let Some(placed) = self.best_in_order(budget)? {
                if best.as_ref().is_none_or(|best| placed.order(best) == Ordering::Less) {
                    best = Some(placed);
                }
            }
        }
        Ok(best)
    }

    /// Whether so many modules of a group's processors must follow one of its rows.
    fn is_listed(&self, group: &RowGroup, count: usize) -> bool {
        match self.rows {
            RowsInForce::All => group.counts.contains(&count),
            RowsInForce::Required => group.required.contains(&count),
            RowsInForce::None => false,
        }
    }

    /// The masks under each row that speaks of all processors at once.
    fn machine_rows(&self) -> Vec<Vec<u64>> {
        let total: usize = self.counts.iter().sum();
        let all = self.grid.sockets.len();
        let group = self.grid.rows.groups.iter().find(|group| all > 1 && group.sockets.len() == all);
        let Some(group) = group.filter(|group| self.is_listed(group, total)) else { return vec![self.open.clone()] };
        let rows = group.rows.iter().filter(|row| row.slots.len() == total);
        rows.map(|row| self.row_masks(row, &self.open, |_| true)).collect()
    }

    /// The masks with a row imposed on the slots that `concerns` picks.
    fn row_masks(&self, row: &Row, masks: &[u64], concerns: impl Fn(usize) -> bool) -> Vec<u64> {
        let fits = |pattern: &crate::processor::ModulePattern| {
            let matching = self.kinds.iter().enumerate().filter(|&(_, &class)| {
                self.grid.classes.get(class).is_some_and(|module| pattern.matches(module) != Ok(false))
            });
            matching.fold(0, |mask, (local, _)| mask | 2 << local)
        };
        let imposed = |slot: usize| match row.slots.iter().find(|(known, _)| *known == slot) {
            Some((_, Some(pattern))) => fits(pattern),
            Some((_, None)) => u64::MAX ^ 1,
            None => 1,
        };
        masks.iter().enumerate().map(|(slot, &mask)| if concerns(slot) { mask & imposed(slot) } else { mask }).collect()
    }

    /// Tries levels and targets in the documented order until one can be placed.
    fn best_in_order(&mut self, budget: &mut Budget) -> Result<Option<Placed>, Spent> {
        let least = self.demand.least_level;
        let mut levels: Vec<i32> =
            self.loads.iter().flat_map(|loads| loads.iter()).map(|load| load.level.min(self.grid.top_level)).collect();
        levels.push(NO_RATE);
        if self.level_is_hopeful() {
            levels.extend(0..=self.grid.top_level);
        }
        levels.retain(|&level| least.is_none_or(|least| level >= least));
        levels.extend(least);
        levels.sort_unstable();
        levels.dedup();
        levels.reverse();
        if !self.demand.moves_first || self.demand.used.is_empty() {
            for level in levels {
                self.level = level;
                for target in self.targets(budget)? {
                    if let Some(placed) = self.decide(target, budget)? {
                        return Ok(Some(placed));
                    }
                }
            }
            return Ok(None);
        }
        let mut all: Vec<(usize, i32, Target)> = Vec::new();
        for level in levels {
            self.level = level;
            all.extend(self.targets(budget)?.into_iter().map(|target| (target.moves, -level, target)));
        }
        all.sort_by_key(|&(moves, level, target)| (moves, level, target.rank(true)));
        for (_, level, target) in all {
            self.level = -level;
            if let Some(placed) = self.decide(target, budget)? {
                return Ok(Some(placed));
            }
        }
        Ok(None)
    }

    /// Whether the rate of a candidate may lie below the level of each of its loads: loads are judged at the
    /// voltage that suits each best, and a policy may lower the rate of mixed grades.
    fn level_is_hopeful(&self) -> bool {
        let voltages = |&class: &usize| {
            let module = self.grid.classes.get(class);
            module.and_then(|module| module.voltages()).is_some_and(|voltages| voltages.iter().nth(1).is_some())
        };
        let policy = self.grid.machine.platform().unlike_grades.as_ref().map(|policy| policy.value);
        self.kinds.iter().any(voltages) || matches!(policy, Some(UnlikeGrades::LowerToMts(_)))
    }

    fn shares(&self) -> Shares<'_> {
        Shares {
            space: &self.space,
            classes: self.kinds.len(),
            vectors: self.vectors,
            capacities: &self.capacities,
            weights: &self.weights,
            demand: self.demand,
            lost_digit: self.kinds.len() + self.demand.used.len(),
        }
    }

    /// The targets that can be met at the level, best first.
    fn targets(&self, budget: &mut Budget) -> Result<Vec<Target>, Spent> {
        let sets: Vec<_> = (0..self.grid.sockets.len()).map(|socket| self.reach(socket, &self.masks)).collect();
        let mut targets: Vec<Target> = Vec::new();
        if sets.iter().any(StateSet::is_empty) {
            return Ok(targets);
        }
        let mut spent = Ok(());
        self.shares().targets(&sets, &mut |target| {
            spent = budget.spend();
            if !targets.contains(&target) {
                targets.push(target);
            }
            spent.is_ok()
        });
        spent?;
        targets.sort_by_key(|target| target.rank(self.demand.moves_first));
        Ok(targets)
    }

    /// What one processor can take, given what is decided.
    fn reach(&self, socket: usize, masks: &[u64]) -> StateSet {
        let group = self.grid.rows.groups.iter().find(|group| group.sockets == [socket]);
        let Some(group) = group.filter(|_| self.rows != RowsInForce::None) else {
            let mut set = self.reach_under(socket, masks);
            set.keep(&self.countable);
            return set;
        };
        let mut set = self.reach_under(socket, masks);
        set.keep(&self.countable_states(&|count| !self.is_listed(group, count)));
        let of_socket = |slot: usize| self.grid.slots.get(slot).is_some_and(|slot| slot.socket == socket);
        for row in group.rows.iter().filter(|row| self.is_listed(group, row.slots.len())) {
            let mut under = self.reach_under(socket, &self.row_masks(row, masks, of_socket));
            under.keep(&self.countable);
            set.add(&under);
        }
        set
    }

    fn reach_under(&self, socket: usize, masks: &[u64]) -> StateSet {
        if !self.grid.channels_are_alike() {
            return self.reach_with_key(socket, masks, None);
        }
        let channels = || self.grid.sockets.get(socket).into_iter().flat_map(|socket| &socket.channels);
        let mut keys: Vec<usize> = channels()
            .filter_map(|&channel| self.loads.get(channel))
            .flat_map(|loads| loads.iter())
            .filter_map(|load| load.key)
            .collect();
        keys.sort_unstable();
        keys.dedup();
        if keys.is_empty() {
            return self.reach_with_key(socket, masks, None);
        }
        let mut all = StateSet::empty(self.space.size());
        for key in keys {
            all.add(&self.reach_with_key(socket, masks, Some(key)));
        }
        all
    }

    fn reach_with_key(&self, socket: usize, masks: &[u64], key: Option<usize>) -> StateSet {
        let mut set = StateSet::empty(self.space.size());
        set.insert(0);
        let Some(socket) = self.grid.sockets.get(socket) else { return set };
        let mut seen: Vec<usize> = Vec::new();
        for &channel in &socket.channels {
            let slots = self.grid.channels.get(channel).map_or(&[][..], |channel| &channel.slots);
            let mut next = StateSet::empty(self.space.size());
            seen.clear();
            for load in self.loads.get(channel).into_iter().flat_map(|loads| loads.iter()) {
                let fits = load.level >= self.level
                    && (key.is_none() || load.key.is_none() || load.key == key)
                    && !seen.contains(&load.step)
                    && slots
                        .iter()
                        .zip(&load.digits)
                        .all(|(&slot, digit)| masks.get(slot).is_some_and(|mask| mask >> digit & 1 == 1));
                if let (true, Some(step)) = (fits, self.steps.get(load.step)) {
                    seen.push(load.step);
                    next.add_raised(&set, &step.room, step.offset);
                }
            }
            set = next;
        }
        set
    }

    /// Decides slot by slot, in fill order, under a target.
    fn decide(&mut self, target: Target, budget: &mut Budget) -> Result<Option<Placed>, Spent> {
        let before = self.masks.clone();
        let mut sets: Vec<_> = (0..self.grid.sockets.len()).map(|socket| self.reach(socket, &self.masks)).collect();
        let placed =
            if self.shares().feasible(&sets, target) { self.descend(0, &mut sets, target, budget)? } else { None };
        self.masks = before;
        Ok(placed)
    }

    fn descend(
        &mut self,
        slot: usize,
        sets: &mut Vec<StateSet>,
        target: Target,
        budget: &mut Budget,
    ) -> Result<Option<Placed>, Spent> {
        let (Some(&mask), Some(grid_slot)) = (self.masks.get(slot), self.grid.slots.get(slot)) else {
            return Ok(self.complete(target));
        };
        budget.spend()?;
        let socket = grid_slot.socket;
        let options = (0..self.kinds.len()).map(|local| local + 1).chain([0]).filter(|digit| mask >> digit & 1 == 1);
        for digit in options {
            self.set_mask(slot, 1 << digit);
            let known = if mask.is_power_of_two() {
                None
            } else {
                let set = self.reach(socket, &self.masks);
                sets.get_mut(socket).map(|place| std::mem::replace(place, set))
            };
            let feasible = known.is_none() || self.shares().feasible(sets, target);
            if feasible && !(self.careful && digit > 0 && self.is_lost(slot)) {
                if let Some(placed) = self.descend(slot + 1, sets, target, budget)? {
                    return Ok(Some(placed));
                }
            }
            if let (Some(known), Some(place)) = (known, sets.get_mut(socket)) {
                *place = known;
            }
        }
        self.set_mask(slot, mask);
        Ok(None)
    }

    fn set_mask(&mut self, slot: usize, mask: u64) {
        if let Some(place) = self.masks.get_mut(slot) {
            *place = mask;
        }
    }

    /// What the decided slots up to `last` hold.
    fn contents(&self, last: usize) -> Vec<Option<usize>> {
        let decided = |mask: u64| {
            let local = usize::try_from(mask.trailing_zeros()).unwrap_or(0).checked_sub(1)?;
            self.kinds.get(local).copied()
        };
        self.masks.iter().enumerate().map(|(slot, &mask)| if slot <= last { decided(mask) } else { None }).collect()
    }

    fn is_lost(&self, slot: usize) -> bool {
        self.grid.active.is_lost(&self.grid.layout(&self.contents(slot)))
    }

    fn complete(&mut self, target: Target) -> Option<Placed> {
        let at = self.contents(usize::MAX);
        let layout = self.grid.layout(&at);
        let rate = crate::figure::RunningRate::of(&layout).rate();
        let level = rate.map_or(NO_RATE, |rate| crate::fill::grid::step_under(self.grid.machine, Some(rate)));
        if level < self.level || !self.grid.active.allows(&layout) {
            self.careful = true;
            return None;
        }
        let rank = |class: Option<usize>| {
            class.and_then(|class| self.kinds.iter().position(|&kind| kind == class)).unwrap_or(usize::MAX)
        };
        let ranks = at.iter().map(|&class| rank(class)).collect();
        Some(Placed { at, rate, target, ranks, moves_first: self.demand.moves_first, outside_rows: false })
    }
}

impl Grid<'_> {
    /// Whether the bounds on unlike modules of the machine allow these classes together.
    pub(crate) fn mixes_allow(&self, kinds: &[(usize, usize)]) -> bool {
        self.active.mixes.iter().filter(|mix| mix.bound.within == Scope::Machine).all(|mix| {
            let MixOf::Modules(key) = mix.of else { return true };
            let mut seen: Vec<FactValue> = Vec::new();
            let Some(slot) = self.slots.first() else { return true };
            for &(class, _) in kinds {
                let site = |module| ModuleSite { machine: self.machine, slot: slot.id, module };
                let found = self.classes.get(class).and_then(|&module| key(&site(module)).ok().flatten());
                seen.extend(found.filter(|key| !seen.contains(key)));
            }
            seen.len() <= mix.bound.at_most
        })
    }
}

/// The empty usable slots of a placing that could still take a module of a class at hand without an
/// error on its channel, once the slots before it are filled.
pub(crate) fn free_slots(errors: &Grid<'_>, at: &[Option<usize>], budget: &mut Budget) -> Result<Vec<usize>, Spent> {
    let mut kinds: Vec<usize> = at.iter().copied().flatten().collect();
    kinds.sort_unstable();
    kinds.dedup();
    let mut free = Vec::new();
    for (channel, entry) in errors.channels.iter().enumerate() {
        let legal = errors.legal_loads(channel, &kinds, budget)?;
        let digit =
            |&slot: &usize| at.get(slot).copied().flatten().map_or(0, |class| u16::try_from(class + 1).unwrap_or(0));
        let code: Vec<u16> = entry.slots.iter().map(digit).collect();
        let open = entry.slots.iter().enumerate().filter(|&(place, _)| code.get(place) == Some(&0));
        let fills = |place: usize| fillable(&code, legal.loads.iter().map(|load| &load.code), place);
        free.extend(open.filter(|&(place, _)| fills(place)).map(|(_, &slot)| slot));
    }
    free.sort_unstable();
    Ok(free)
}
