//! The search for the best plan: candidates are numbers of modules by class, cheapest first; each is
//! placed exactly and compared in the documented order.

use std::cmp::{Ordering, Reverse};
use std::collections::{BTreeSet, HashMap};

use crate::fill::{ClassId, Level, PlaceId, Placed, SlotModel, free_slots, place, step_under};
use crate::module::MemoryModule;
use crate::platform::RatePolicy;
use crate::purchase::PlanRequest;
use crate::purchase::engine::classes::{Class, Supply};
use crate::purchase::engine::context::{Bounds, Ground, Needs};
use crate::purchase::engine::sources::{Lines, list, taken};
use crate::purchase::engine::sourcing::Sourced;
use crate::purchase::engine::stock::Amount;
use crate::search::{Budget, Index, StopReason};
use crate::unit::{Bandwidth, Capacity, DataRate, Name};

/// What decides between plans, in the documented order; less is better.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct PlanKey {
    pub(crate) cost: Amount,
    pub(crate) outside_rows: bool,
    pub(crate) rate: Reverse<Option<DataRate>>,
    /// Spread, then swept.
    pub(crate) bandwidth: Reverse<(Bandwidth, Bandwidth)>,
    pub(crate) spread: u64,
    pub(crate) parts: usize,
    pub(crate) free: Reverse<usize>,
    pub(crate) handlings: usize,
    pub(crate) ranks: Vec<usize>,
    /// Units taken from offers and the shelf, fitted or not.
    pub(crate) taken: usize,
    pub(crate) list: Lines,
    pub(crate) pulled: usize,
}

/// A plan before it is written out.
#[derive(Debug, Clone)]
pub(crate) struct Found<'a> {
    pub(crate) key: PlanKey,
    pub(crate) placed: Placed,
    pub(crate) free: Vec<usize>,
    /// By class: how many present modules are used.
    pub(crate) used: Vec<usize>,
    /// By class: what the rest is taken from.
    pub(crate) sources: Vec<(usize, Sourced<'a>)>,
    pub(crate) charges: Vec<(Name, Amount)>,
}

/// Classes and how many modules of each, in one machine.
pub(crate) type Counts = Vec<(usize, usize)>;

/// One question asked of the search.
pub(crate) struct Solver<'s, 'a> {
    pub(crate) request: &'a PlanRequest,
    pub(crate) grid: &'s SlotModel<'a>,
    pub(crate) errors: &'s SlotModel<'a>,
    pub(crate) supply: &'s Supply<'a>,
    pub(crate) needs: Needs,
    pub(crate) bounds: Bounds,
    /// Whether the first plan found will do.
    pub(crate) any_will_do: bool,
    /// Purchase lines that plans may not have.
    pub(crate) excluded: Vec<Lines>,
    /// Numbers of modules by class with the least cost at which they can be placed: every candidate within the budget
    /// is gathered, and none is the best, where this is there.
    pub(crate) gathered: Option<HashMap<Counts, Amount>>,
    pub(crate) best: Option<Found<'a>>,
    /// Position of each class in the fill priority.
    priority: Vec<usize>,
    /// The highest step that each class's grade allows.
    levels: Vec<Level>,
    allowed: Vec<bool>,
    loads: HashMap<Vec<usize>, bool>,
}

impl<'s, 'a> Solver<'s, 'a> {
    pub(crate) fn new(ground: &'s Ground<'a>, request: &'a PlanRequest, needs: Needs) -> Self {
        let (grid, supply) = (&ground.grid, &ground.supply);
        let machine = grid.machine;
        let fill_priority = machine.platform().fill_priority;
        let mut order: Vec<usize> = (0..supply.classes.len()).collect();
        let module = |class: usize| supply.classes.get(class).map(|class| class.module);
        order.sort_by(|&a, &b| match (module(a), module(b)) {
            (Some(a), Some(b)) => fill_priority.compare(a, b).then_with(|| a.cmp(b)),
            _ => Ordering::Equal,
        });
        // modules that work alike come in the same place
        let works = |class: usize| module(class).map(MemoryModule::without_identity);
        let (mut priority, mut place, mut before) = (vec![0; order.len()], 0, None);
        for (index, class) in order.into_iter().enumerate() {
            let own = works(class);
            place = if own == before { place } else { index };
            before = own;
            priority.get_mut(class).into_iter().for_each(|entry| *entry = place);
        }
        let level =
            |module: &MemoryModule| module.grade().map_or(Level::NO_RATE, |grade| step_under(machine, Some(grade)));
        let levels = supply.classes.iter().map(|class| level(class.module).min(grid.top_level)).collect();
        let mut solver = Self {
            request,
            grid,
            errors: &ground.errors,
            supply,
            bounds: Bounds::new(machine, &needs),
            needs,
            any_will_do: false,
            excluded: Vec::new(),
            gathered: None,
            best: None,
            priority,
            levels,
            allowed: Vec::new(),
            loads: HashMap::new(),
        };
        solver.allowed = (0..supply.classes.len()).map(|class| solver.admits(class)).collect();
        solver
    }

    /// The step that the required rate asks for; `None` for no requirement.
    pub(crate) fn floor(&self) -> Option<Level> {
        self.needs.rate.map(|rate| {
            let steps = self.grid.machine.rate_steps();
            Level::step(steps.iter().filter(|&&step| step < rate).count())
        })
    }

    /// Whether a module of the class may be used at all.
    fn admits(&self, class: usize) -> bool {
        let Some(entry) = self.supply.classes.get(class) else { return false };
        let module = entry.module;
        let of_kind = self.needs.kinds.as_ref().is_none_or(|kinds| kinds.contains(&module.kind()));
        let known = !self.needs.known_facts || module.is_known();
        let fast = self.floor().is_none_or(|floor| self.levels.get(class).is_some_and(|&level| level >= floor));
        let shapes = || {
            let mut seen = Vec::new();
            self.grid.slots.ids().any(|slot| {
                let channel = self.grid.slots.get(slot).and_then(|slot| self.grid.channels.get(slot.channel));
                let Some(channel) = channel else { return false };
                let sort = (channel.shape, channel.slots.iter().position(|&other| other == slot).unwrap_or(0));
                if seen.contains(&sort) {
                    return false;
                }
                seen.push(sort);
                self.grid.admits(slot, ClassId::of(class))
            })
        };
        of_kind && known && fast && shapes()
    }

    /// Searches; afterwards `best` is the best plan, if there is one.
    pub(crate) fn run(&mut self, budget: &mut Budget) -> Result<(), StopReason> {
        if self.floor().is_some_and(|floor| floor > self.grid.top_level) {
            return Ok(());
        }
        let pinned_away =
            self.supply.classes.iter().zip(&self.allowed).any(|(class, allowed)| class.pinned() > 0 && !allowed);
        let stranded =
            self.supply.classes.iter().flat_map(|class| &class.present).any(|unit| unit.pinned && unit.place.is_none());
        if pinned_away || stranded {
            return Ok(());
        }
        if self.is_alike() { self.alike(budget) } else { self.loose(budget) }
    }

    pub(crate) fn is_done(&self) -> bool {
        self.any_will_do && self.best.is_some()
    }

    pub(crate) fn allowed(&self, class: usize) -> bool {
        self.allowed.get(class).copied().unwrap_or(false)
    }

    /// What cannot be beaten any more: the cost of the best plan so far.
    pub(crate) fn is_beaten(&self, cost: Amount) -> bool {
        self.best.as_ref().is_some_and(|best| cost > best.key.cost)
            || self.needs.budget.is_some_and(|budget| cost > budget)
    }

    /// Whether the capacity is what is asked for.
    pub(crate) fn suits(&self, capacity: Capacity) -> bool {
        capacity >= self.bounds.at_least && self.bounds.at_most.is_none_or(|most| capacity <= most)
    }

    /// Whether some order of these classes is a legal load of some channel.
    pub(crate) fn is_possible(&mut self, classes: &[usize]) -> bool {
        if let Some(&known) = self.loads.get(classes) {
            return known;
        }
        let mut shapes = BTreeSet::new();
        let floor = self.floor().unwrap_or(Level::NO_RATE);
        let mut possible = false;
        for (channel, entry) in self.grid.channels.iter() {
            if possible || !shapes.insert(entry.shape) || entry.slots.len() < classes.len() {
                continue;
            }
            possible = codes(classes, entry.slots.len())
                .iter()
                .any(|code| self.grid.load(channel, code).is_some_and(|facts| facts.level >= floor));
        }
        self.loads.insert(classes.to_vec(), possible);
        possible
    }

    /// Considers so many modules of each class, in each machine.
    pub(crate) fn consider(&mut self, counts: &[(usize, usize)], budget: &mut Budget) -> Result<(), StopReason> {
        budget.spend()?;
        if !self.grid.mixes_allow(&by_class_id(counts)) || !self.power_allows(counts) {
            return Ok(());
        }
        let total = counts.iter().map(|&(_, count)| count).sum();
        let least: Option<Amount> = self.supply.least_cost(counts);
        if least.is_none_or(|least| self.is_beaten(least) || !self.may_improve(least, counts, total, total)) {
            return Ok(());
        }
        let mut choices: Vec<Vec<usize>> = vec![Vec::with_capacity(self.supply.classes.len())];
        for class in 0..self.supply.classes.len() {
            let count = counts.iter().find(|(known, _)| *known == class).map_or(0, |&(_, count)| count);
            match self.used_options(class, count).as_slice() {
                [used] => choices.iter_mut().for_each(|choice| choice.push(*used)),
                options => {
                    choices = choices
                        .iter()
                        .flat_map(|choice| options.iter().map(move |&used| [choice.as_slice(), &[used]].concat()))
                        .collect();
                }
            }
        }
        // the cheapest first, for it bounds the rest
        let mut choices: Vec<(Amount, Vec<usize>)> =
            choices.into_iter().filter_map(|used| Some((self.least_with(counts, &used)?, used))).collect();
        choices.sort_by(|(a, used), (b, other)| a.cmp(b).then_with(|| other.cmp(used)));
        for (least, used) in choices {
            self.consider_used(least, counts, &used, budget)?;
        }
        Ok(())
    }

    /// Whether the power of so many modules of each class is known and what is asked for.
    fn power_allows(&self, counts: &[(usize, usize)]) -> bool {
        let Some(most) = self.needs.power else { return true };
        let each = |&(class, count): &(usize, usize)| {
            let power = self.supply.classes.get(class)?.module.power()?;
            u64::try_from(count).ok()?.checked_mul(u64::from(power.mw()))
        };
        counts.iter().map(each).try_fold(0u64, |sum, power| sum.checked_add(power?)).is_some_and(|sum| sum <= most)
    }

    /// What the candidate costs at least when so many present modules of each class are used.
    fn least_with(&self, counts: &[(usize, usize)], used: &[usize]) -> Option<Amount> {
        let count_of = |class: usize| counts.iter().find(|(known, _)| *known == class).map_or(0, |&(_, count)| count);
        let classes = self.supply.classes.iter().zip(used).enumerate();
        let cost = |(class, (entry, &used)): (usize, (&Class<'_>, &usize))| {
            entry.cost(count_of(class), used, self.supply.labour, self.supply.machines)
        };
        let costs: Option<Amount> = classes.map(cost).sum();
        Some(self.supply.pull_all + costs?)
    }

    /// How many different parts these classes are at least: one for each sort of facts, and more where what
    /// is present makes it more.
    fn parts_of(&self, counts: &[(usize, usize)]) -> usize {
        let class = |&(class, _): &(usize, usize)| self.supply.classes.get(class);
        let twin = |count: &(usize, usize)| class(count).map(|entry| entry.twin);
        let part = |count: &(usize, usize)| class(count).and_then(Class::only_part);
        // a class counts if it is the first of its part; one whose part is open, if its sort has no other class
        let counted = |(index, count): &(usize, &(usize, usize))| {
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

    /// How many present modules of a class may be among `count`.
    fn used_options(&self, class: usize, count: usize) -> Vec<usize> {
        let Some(entry) = self.supply.classes.get(class) else { return Vec::new() };
        let Some((_, used)) = entry.curve.get(count).copied().flatten() else { return Vec::new() };
        // with packs, breaks and surplus a further unit may cost less than any price says
        if entry.plain && !entry.may_trade && self.excluded.is_empty() {
            return vec![used];
        }
        let cost = |used: usize| entry.cost(count, used, self.supply.labour, self.supply.machines);
        (entry.pinned()..=count.min(entry.present.len())).filter(|&used| cost(used).is_some()).collect()
    }

    fn consider_used(
        &mut self,
        mut least: Amount,
        counts: &[(usize, usize)],
        used: &[usize],
        budget: &mut Budget,
    ) -> Result<(), StopReason> {
        let (labour, machines) = (self.supply.labour, self.supply.machines);
        let count_of = |class: usize| counts.iter().find(|(known, _)| *known == class).map_or(0, |&(_, count)| count);
        let total: usize = counts.iter().map(|&(_, count)| count).sum();
        if self.is_beaten(least) || !self.may_improve(least, counts, total, used.iter().sum()) {
            return Ok(());
        }
        let mut sources = Vec::new();
        let mut charges = Vec::new();
        let mixed = |(class, entry): (usize, &Class<'_>)| count_of(class) > 0 && !entry.plain;
        let is_mixed = self.needs.terms.spares > 0
            || !self.excluded.is_empty()
            || self.supply.classes.iter().enumerate().any(mixed);
        if is_mixed {
            let Some(sourcing) = self.source_mixed(counts, used, budget)? else { return Ok(()) };
            (least, sources, charges) = (sourcing.cost, sourcing.sources, sourcing.charges);
            if self.is_beaten(least) {
                return Ok(());
            }
        }
        let left = self.grid.slots.len().checked_sub(total);
        let Some(spare) = left.and_then(|left| left.checked_sub(self.needs.free_slots)) else { return Ok(()) };
        let demand = self.demand(counts, used, (least, spare));
        let Some(placed) = place(self.grid, self.errors, &demand, budget)? else { return Ok(()) };
        let copies = Amount::try_from(machines).unwrap_or(1);
        let moves = placed.target.moves;
        let cost = least + 2 * labour * copies * Amount::try_from(moves).unwrap_or(0);
        if self.is_beaten(cost) {
            return Ok(());
        }
        if !is_mixed {
            let Some(plain) = self.source_plain(counts, used) else { return Ok(()) };
            sources = plain;
        }
        let free = free_slots(self.errors, &placed.at, budget)?;
        if free.len() < self.needs.free_slots {
            return Ok(());
        }
        if let Some(gathered) = &mut self.gathered {
            let least = gathered.entry(counts.to_vec()).or_insert(cost);
            *least = cost.min(*least);
            return Ok(());
        }
        let free: Vec<usize> = free.into_iter().map(PlaceId::get).collect();
        let key = self.key(cost, &placed, &free, (&sources, used), (total, moves));
        if self.best.as_ref().is_none_or(|best| key < best.key) {
            budget.note_best(cost);
            self.best = Some(Found { key, placed, free, used: used.to_vec(), sources, charges });
        }
        Ok(())
    }

    /// Whether a candidate of this least cost, with these classes and perhaps more, and so many modules in
    /// all, at most `kept` of them present ones, can come before the best one so far.
    pub(crate) fn may_improve(&self, least: Amount, classes: &[(usize, usize)], total: usize, kept: usize) -> bool {
        let Some(best) = &self.best else { return true };
        if least < best.key.cost {
            return true;
        }
        let level =
            classes.iter().filter_map(|&(class, _)| self.levels.get(class)).min().copied().unwrap_or(Level::UNBOUNDED);
        let best_level = best.key.rate.0.map_or(Level::NO_RATE, |rate| step_under(self.grid.machine, Some(rate)));
        let free = self.grid.slots.len().saturating_sub(total);
        let present: usize = self.supply.classes.iter().map(|class| class.present.len()).sum();
        let kept = kept.min(present);
        let handlings = total.saturating_sub(kept) + present.saturating_sub(kept);
        let hope = self.most_bandwidth(level, total);
        let ours = (false, Reverse(level), Reverse((hope, hope)), 0, self.parts_of(classes), Reverse(free), handlings);
        let theirs = (
            best.key.outside_rows,
            Reverse(best_level),
            best.key.bandwidth,
            best.key.spread,
            best.key.parts,
            best.key.free,
            best.key.handlings,
        );
        ours <= theirs
    }

    /// The most bandwidth that so many modules can have at a level: each in a channel of its own. With a rate for
    /// each processor, the others may run faster than the slowest.
    fn most_bandwidth(&self, level: Level, modules: usize) -> Bandwidth {
        let machine = self.grid.machine;
        let level = match machine.platform().rate_policy {
            RatePolicy::PerMachine => level,
            RatePolicy::PerSocket => self.grid.top_level,
        };
        let rate = level.index().and_then(|step| machine.rate_steps().get(step).or(machine.rate_steps().last()));
        let channels = u64::try_from(modules.min(self.grid.channels.len())).unwrap_or(u64::MAX);
        rate.map_or(Bandwidth::ZERO, |rate| rate.peak_bandwidth().times(channels, 1))
    }

    fn key(
        &self,
        cost: Amount,
        placed: &Placed,
        free: &[usize],
        (sources, used): (&[(usize, Sourced<'a>)], &[usize]),
        (total, moves): (usize, usize),
    ) -> PlanKey {
        let kept: usize = used.iter().sum();
        let present: usize = self.supply.classes.iter().map(|class| class.present.len()).sum();
        let rank = |class: Option<ClassId>| {
            class.and_then(|class| self.priority.get(class.get()).copied()).unwrap_or(usize::MAX)
        };
        PlanKey {
            cost,
            outside_rows: placed.outside_rows,
            rate: Reverse(placed.rate),
            bandwidth: Reverse(placed.bandwidth),
            spread: placed.target.spread,
            parts: self.parts(sources, used).len(),
            free: Reverse(free.len()),
            handlings: total.saturating_sub(kept) + present.saturating_sub(kept) + 2 * moves,
            ranks: placed.at.values().iter().map(|&class| rank(class)).collect(),
            taken: taken(sources),
            list: list(sources),
            pulled: present.saturating_sub(kept),
        }
    }
}

/// The same as the placing counts classes.
pub(crate) fn by_class_id(counts: &[(usize, usize)]) -> Vec<(ClassId, usize)> {
    counts.iter().map(|&(class, count)| (ClassId::of(class), count)).collect()
}

/// Every way to put classes into a channel of so many slots.
fn codes(classes: &[usize], slots: usize) -> Vec<Vec<Option<ClassId>>> {
    type Content = Option<ClassId>;
    fn fill(left: &mut Vec<Content>, code: &mut Vec<Content>, slots: usize, codes: &mut Vec<Vec<Content>>) {
        if code.len() == slots {
            if left.is_empty() {
                codes.push(code.clone());
            }
            return;
        }
        if slots - code.len() > left.len() {
            code.push(None);
            fill(left, code, slots, codes);
            code.pop();
        }
        for index in 0..left.len() {
            if left.get(..index).is_some_and(|before| before.iter().any(|other| left.get(index) == Some(other))) {
                continue;
            }
            let digit = left.remove(index);
            code.push(digit);
            fill(left, code, slots, codes);
            code.pop();
            left.insert(index, digit);
        }
    }
    let mut left: Vec<Content> = classes.iter().map(|&class| Some(ClassId::of(class))).collect();
    let mut codes = Vec::new();
    fill(&mut left, &mut Vec::new(), slots, &mut codes);
    codes
}
