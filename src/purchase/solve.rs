//! The search for the best plan: candidates are numbers of modules by class, cheapest first; each is
//! placed exactly and compared in the documented order.

use std::cmp::{Ordering, Reverse};
use std::collections::{BTreeSet, HashMap};

use crate::assess::Planner;
use crate::fill::{Demand, Grid, NO_RATE, Placed, Present, free_slots, place, step_under};
use crate::finding::Severity;
use crate::module::MemoryModule;
use crate::platform::SlotId;
use crate::population::{Content, Layout, Occupant};
use crate::purchase::PlanRequest;
use crate::purchase::sourcing::{self, Sourced};
use crate::purchase::supply::{Amount, Class, Stock, Supply};
use crate::search::{Budget, Spent};
use crate::unit::{Capacity, DataRate, Name};

/// The requirements that a search holds candidates against.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Needs {
    pub(crate) at_least: Capacity,
    pub(crate) at_most: Option<Capacity>,
    pub(crate) rate: Option<DataRate>,
    pub(crate) free_slots: usize,
    pub(crate) budget: Option<Amount>,
    pub(crate) one_part: bool,
    pub(crate) kinds: bool,
    pub(crate) known_facts: bool,
}

impl Needs {
    pub(crate) fn of(request: &PlanRequest) -> Self {
        Self {
            at_least: request.usable_at_least_mib.unwrap_or(Capacity::ZERO),
            at_most: request.usable_at_most_mib,
            rate: request.rate_at_least_mts,
            free_slots: request.free_slots_at_least.unwrap_or(0),
            budget: request.budget.map(|budget| Amount::from(budget.amount_minor())),
            one_part: request.one_part_number,
            kinds: request.kinds.is_some(),
            known_facts: request.known_facts_only,
        }
    }
}

/// What decides between plans, in the documented order; less is better.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct PlanKey {
    pub(crate) cost: Amount,
    pub(crate) outside_rows: bool,
    pub(crate) rate: Reverse<Option<DataRate>>,
    pub(crate) spread: u64,
    pub(crate) parts: usize,
    pub(crate) free: Reverse<usize>,
    pub(crate) handlings: usize,
    pub(crate) ranks: Vec<usize>,
    /// Units taken from offers and the shelf, fitted or not.
    pub(crate) taken: usize,
    pub(crate) list: Vec<(u8, Name, Reverse<usize>)>,
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

/// One question asked of the search.
pub(crate) struct Solver<'s, 'a> {
    pub(crate) request: &'a PlanRequest,
    pub(crate) grid: &'s Grid<'a>,
    pub(crate) errors: &'s Grid<'a>,
    pub(crate) supply: &'s Supply<'a>,
    pub(crate) needs: Needs,
    /// Whether the first plan found will do.
    pub(crate) any_will_do: bool,
    pub(crate) best: Option<Found<'a>>,
    /// Position of each class in the fill priority.
    priority: Vec<usize>,
    /// The highest step that each class's grade allows.
    levels: Vec<i32>,
    allowed: Vec<bool>,
    loads: HashMap<Vec<usize>, bool>,
}

/// The parts of a search that stay the same from question to question.
pub(crate) struct Ground<'a> {
    pub(crate) grid: Grid<'a>,
    pub(crate) errors: Grid<'a>,
    pub(crate) supply: Supply<'a>,
}

impl<'a> Ground<'a> {
    pub(crate) fn new(planner: &Planner<'a>, request: &'a PlanRequest) -> Self {
        let machine = planner.machine();
        let mut fixed = Layout::empty(machine);
        for (label, occupant) in request.present.population.iter() {
            if let (Some(slot), Occupant::OtherDevice(device)) =
                (machine.platform().slot_named(label.as_str()), occupant)
            {
                fixed.set(slot, Content::Other(device));
            }
        }
        let bare = Grid::new(machine, planner.rules(), request.refuse_from, Vec::new(), fixed.clone());
        let places: Vec<SlotId> = bare.slots.iter().map(|slot| slot.id).collect();
        let supply = Supply::new(machine, request, &bare.active, (&places, &fixed));
        let modules: Vec<&'a MemoryModule> = supply.classes.iter().map(|class| class.module).collect();
        let grid = |threshold| Grid::new(machine, planner.rules(), threshold, modules.clone(), fixed.clone());
        Self { grid: grid(request.refuse_from), errors: grid(Severity::Error), supply }
    }
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
        let mut priority = vec![0; order.len()];
        for (place, &class) in order.iter().enumerate() {
            priority.get_mut(class).into_iter().for_each(|entry| *entry = place);
        }
        let level = |module: &MemoryModule| module.grade().map_or(NO_RATE, |grade| step_under(machine, Some(grade)));
        let levels = supply.classes.iter().map(|class| level(class.module).min(grid.top_level)).collect();
        let mut solver = Self {
            request,
            grid,
            errors: &ground.errors,
            supply,
            needs,
            any_will_do: false,
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
    fn floor(&self) -> Option<i32> {
        self.needs.rate.map(|rate| {
            let steps = self.grid.machine.rate_steps();
            let below = steps.iter().filter(|&&step| step < rate).count();
            i32::try_from(below).unwrap_or(i32::MAX)
        })
    }

    /// Whether a module of the class may be used at all.
    fn admits(&self, class: usize) -> bool {
        let Some(entry) = self.supply.classes.get(class) else { return false };
        let module = entry.module;
        let of_kind =
            self.request.kinds.as_ref().is_none_or(|kinds| !self.needs.kinds || kinds.contains(&module.kind()));
        let known = !self.needs.known_facts
            || (module.organization().is_some()
                && module.grade().is_some()
                && module.ecc().is_some()
                && module.voltages().is_some());
        let fast = self.floor().is_none_or(|floor| self.levels.get(class).is_some_and(|&level| level >= floor));
        let shapes = || {
            let mut seen: Vec<(usize, usize)> = Vec::new();
            (0..self.grid.slots.len()).any(|slot| {
                let channel = self.grid.slots.get(slot).and_then(|slot| self.grid.channels.get(slot.channel));
                let Some(channel) = channel else { return false };
                let sort = (channel.shape, channel.slots.iter().position(|&other| other == slot).unwrap_or(0));
                if seen.contains(&sort) {
                    return false;
                }
                seen.push(sort);
                self.grid.admits(slot, class)
            })
        };
        of_kind && known && fast && shapes()
    }

    /// Searches; afterwards `best` is the best plan, if there is one.
    pub(crate) fn run(&mut self, budget: &mut Budget) -> Result<(), Spent> {
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
        capacity >= self.needs.at_least && self.needs.at_most.is_none_or(|most| capacity <= most)
    }

    /// Whether some order of these classes is a legal load of some channel.
    pub(crate) fn is_possible(&mut self, classes: &[usize]) -> bool {
        if let Some(&known) = self.loads.get(classes) {
            return known;
        }
        let mut shapes = BTreeSet::new();
        let floor = self.floor().unwrap_or(NO_RATE);
        let mut possible = false;
        for (channel, entry) in self.grid.channels.iter().enumerate() {
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
    pub(crate) fn consider(&mut self, counts: &[(usize, usize)], budget: &mut Budget) -> Result<(), Spent> {
        budget.spend()?;
        if !self.grid.mixes_allow(counts) || (self.needs.one_part && self.parts_of(counts) > 1) {
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
        if entry.plain && !entry.may_trade {
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
    ) -> Result<(), Spent> {
        let (labour, machines) = (self.supply.labour, self.supply.machines);
        let count_of = |class: usize| counts.iter().find(|(known, _)| *known == class).map_or(0, |&(_, count)| count);
        let total: usize = counts.iter().map(|&(_, count)| count).sum();
        if self.is_beaten(least) || !self.may_improve(least, counts, total, used.iter().sum()) {
            return Ok(());
        }
        let mut sources = Vec::new();
        let mut charges = Vec::new();
        if self.supply.classes.iter().enumerate().any(|(class, entry)| count_of(class) > 0 && !entry.plain) {
            let Some((exact, from, charged)) = self.source_mixed(counts, used, budget)? else { return Ok(()) };
            (least, sources, charges) = (exact, from, charged);
            if self.is_beaten(least) {
                return Ok(());
            }
        }
        let Some(spare) = self.grid.slots.len().checked_sub(total + self.needs.free_slots) else { return Ok(()) };
        let mut demand = self.demand(counts, used);
        demand.most_lost = Some(spare);
        demand.most_moves = self.most_moves(least);
        demand.least_level = demand.least_level.max(self.level_to_match(least));
        let Some(placed) = place(self.grid, self.errors, &demand, budget)? else { return Ok(()) };
        let copies = Amount::try_from(machines).unwrap_or(1);
        let moves = placed.target.moves;
        let cost = least + 2 * labour * copies * Amount::try_from(moves).unwrap_or(0);
        if self.is_beaten(cost) {
            return Ok(());
        }
        if sources.is_empty() {
            let Some(plain) = self.source_plain(counts, used) else { return Ok(()) };
            sources = plain;
        }
        let free = free_slots(self.errors, &placed.at, budget)?;
        if free.len() < self.needs.free_slots {
            return Ok(());
        }
        let key = self.key(cost, &placed, &free, (&sources, used), (total, moves));
        if self.best.as_ref().is_none_or(|best| key < best.key) {
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
        let level = classes.iter().filter_map(|&(class, _)| self.levels.get(class)).min().copied().unwrap_or(i32::MAX);
        let best_level = best.key.rate.0.map_or(NO_RATE, |rate| step_under(self.grid.machine, Some(rate)));
        let free = self.grid.slots.len().saturating_sub(total);
        let present: usize = self.supply.classes.iter().map(|class| class.present.len()).sum();
        let kept = kept.min(present);
        let handlings = total.saturating_sub(kept) + present.saturating_sub(kept);
        let ours = (false, Reverse(level), 0, self.parts_of(classes), Reverse(free), handlings);
        let theirs = (
            best.key.outside_rows,
            Reverse(best_level),
            best.key.spread,
            best.key.parts,
            best.key.free,
            best.key.handlings,
        );
        ours <= theirs
    }

    /// The level that a candidate of this cost must reach to come before the best one so far.
    fn level_to_match(&self, least: Amount) -> Option<i32> {
        let best = self.best.as_ref().filter(|best| best.key.cost == least && !best.key.outside_rows)?;
        best.key.rate.0.map(|rate| step_under(self.grid.machine, Some(rate)))
    }

    /// How many moves a candidate of this cost without them may have and still not be beaten; no limit where
    /// moves cost nothing.
    fn most_moves(&self, least: Amount) -> Option<usize> {
        let each = 2 * self.supply.labour * Amount::try_from(self.supply.machines).unwrap_or(1);
        let best = self.best.as_ref().map(|best| best.key.cost);
        let most = best.into_iter().chain(self.needs.budget).min()?;
        usize::try_from((most - least).checked_div(each)?).ok()
    }

    fn demand(&self, counts: &[(usize, usize)], used: &[usize]) -> Demand {
        let twin = |class: usize| self.supply.classes.get(class).map_or(class, |entry| entry.twin);
        let merged = |each: &mut dyn Iterator<Item = (usize, usize)>| {
            let mut sums: Vec<(usize, usize)> = Vec::new();
            for (class, count) in each {
                match sums.iter_mut().find(|(known, _)| *known == twin(class)) {
                    Some((_, sum)) => *sum += count,
                    None => sums.push((twin(class), count)),
                }
            }
            sums
        };
        let mut demand = Demand {
            counts: merged(&mut counts.iter().copied()),
            present: vec![None; self.grid.slots.len()],
            used: vec![0],
            moves_first: self.supply.labour > 0,
            least_level: self.floor(),
            ..Demand::default()
        };
        for (entry, &used) in self.supply.classes.iter().zip(used).filter(|&(_, &used)| used > 0) {
            // present modules that are all used make one group; of any other class only so many are used
            let group = if used == entry.present.len() { 0 } else { demand.used.len() };
            demand.used.resize(demand.used.len().max(group + 1), 0);
            demand.used.get_mut(group).into_iter().for_each(|sum| *sum += used);
            for unit in &entry.present {
                let Some(place) = unit.place else { continue };
                let present = Some(Present { class: entry.twin, group });
                demand.present.get_mut(place).into_iter().for_each(|entry| *entry = present);
                if unit.pinned {
                    demand.pinned.push((place, Some(entry.twin)));
                }
            }
        }
        demand
    }

    fn at_hand(&self, class: usize, used: usize) -> BTreeSet<&'a MemoryModule> {
        let present = self.supply.classes.get(class).and_then(|entry| entry.present.first());
        present.filter(|_| used > 0).map(|unit| unit.module).into_iter().collect()
    }

    fn source_plain(&self, counts: &[(usize, usize)], used: &[usize]) -> Option<Vec<(usize, Sourced<'a>)>> {
        let sourced = counts.iter().map(|&(class, count)| {
            let entry = self.supply.classes.get(class)?;
            let used = used.get(class).copied()?;
            let wanted = count.checked_sub(used)?.checked_mul(self.supply.machines)?;
            Some((class, sourcing::plain(entry, wanted, &self.at_hand(class, used))?))
        });
        sourced.collect()
    }

    /// The cheapest sourcing where packs, breaks or charges matter, with the exact cost of everything
    /// but moves.
    #[allow(clippy::type_complexity)]
    fn source_mixed(
        &self,
        counts: &[(usize, usize)],
        used: &[usize],
        budget: &mut Budget,
    ) -> Result<Option<(Amount, Vec<(usize, Sourced<'a>)>, Vec<(Name, Amount)>)>, Spent> {
        /// More charging suppliers than this are not tried in every combination.
        const MOST_SUPPLIERS: usize = 12;
        let classes: Vec<_> = counts.iter().filter_map(|&(class, _)| self.supply.classes.get(class)).collect();
        let suppliers = sourcing::charging(self.request, &classes);
        if suppliers.len() > MOST_SUPPLIERS {
            return Err(Spent);
        }
        let copies = Amount::try_from(self.supply.machines).unwrap_or(1);
        let mut best: Option<(Amount, Vec<(usize, Sourced<'a>)>, Vec<(Name, Amount)>)> = None;
        for chosen in 0..1u32 << suppliers.len() {
            let is_chosen = |index: usize| chosen >> index & 1 == 1;
            let usable = |stock: Stock<'a>| match stock {
                Stock::Shelf(_) => true,
                Stock::Offer(offer) => {
                    suppliers.iter().position(|(name, _)| Some(*name) == offer.supplier.as_ref()).is_none_or(is_chosen)
                }
            };
            let mut cost = self.supply.pull_all;
            let mut sources = Vec::new();
            for (class, entry) in self.supply.classes.iter().enumerate() {
                let count = counts.iter().find(|(known, _)| *known == class).map_or(0, |&(_, count)| count);
                let used = used.get(class).copied().unwrap_or(0);
                let credit = entry.present.first().map_or(0, |unit| unit.credit);
                let kept = Amount::try_from(used.saturating_sub(entry.pinned())).unwrap_or(0);
                cost += kept * copies * (credit - self.supply.labour);
                if count == 0 {
                    continue;
                }
                let wanted = count.saturating_sub(used).saturating_mul(self.supply.machines);
                let hand = self.at_hand(class, used);
                let Some(sourced) = sourcing::mixed(entry, wanted, &hand, &usable, budget)? else { break };
                cost += sourced.cost + self.supply.labour * Amount::try_from(wanted).unwrap_or(0);
                sources.push((class, sourced));
            }
            if sources.len() < counts.len() {
                continue;
            }
            let is_used = |name: &Name| {
                sources.iter().flat_map(|(_, sourced)| &sourced.takes).any(|take| match take.stock {
                    Stock::Offer(offer) => offer.supplier.as_ref() == Some(name),
                    Stock::Shelf(_) => false,
                })
            };
            let charges: Vec<(Name, Amount)> = suppliers
                .iter()
                .filter(|(name, _)| is_used(name))
                .map(|&(name, charge)| (name.clone(), charge))
                .collect();
            cost += charges.iter().map(|(_, charge)| charge).sum::<Amount>();
            let rank = |cost: Amount, sources: &[(usize, Sourced<'a>)]| {
                (cost, self.parts(sources, used).len(), taken(sources), list(sources))
            };
            if best.as_ref().is_none_or(|(known, from, _)| rank(cost, &sources) < rank(*known, from)) {
                best = Some((cost, sources, charges));
            }
        }
        Ok(best)
    }

    /// The parts of a plan.
    fn parts(&self, sources: &[(usize, Sourced<'a>)], used: &[usize]) -> BTreeSet<&'a MemoryModule> {
        let kept = used.iter().enumerate().flat_map(|(class, &used)| self.at_hand(class, used));
        sources.iter().flat_map(|(_, sourced)| sourced.parts()).chain(kept).collect()
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
        let rank =
            |class: Option<usize>| class.and_then(|class| self.priority.get(class).copied()).unwrap_or(usize::MAX);
        PlanKey {
            cost,
            outside_rows: placed.outside_rows,
            rate: Reverse(placed.rate),
            spread: placed.target.spread,
            parts: self.parts(sources, used).len(),
            free: Reverse(free.len()),
            handlings: total.saturating_sub(kept) + present.saturating_sub(kept) + 2 * moves,
            ranks: placed.at.iter().map(|&class| rank(class)).collect(),
            taken: taken(sources),
            list: list(sources),
        }
    }
}

/// How many units are taken from offers and the shelf.
fn taken(sources: &[(usize, Sourced<'_>)]) -> usize {
    sources.iter().flat_map(|(_, sourced)| &sourced.takes).map(|take| take.quantity).sum()
}

/// The sorted list of sources.
fn list(sources: &[(usize, Sourced<'_>)]) -> Vec<(u8, Name, Reverse<usize>)> {
    let takes = sources.iter().flat_map(|(_, sourced)| &sourced.takes);
    let mut list: Vec<_> = takes
        .map(|take| {
            let (kind, id) = take.stock.order();
            (kind, id.clone(), Reverse(take.quantity))
        })
        .collect();
    list.sort();
    list
}

/// Every way to put classes into a channel of so many slots.
fn codes(classes: &[usize], slots: usize) -> Vec<Vec<u16>> {
    fn fill(left: &mut Vec<u16>, code: &mut Vec<u16>, slots: usize, codes: &mut Vec<Vec<u16>>) {
        if code.len() == slots {
            if left.is_empty() {
                codes.push(code.clone());
            }
            return;
        }
        if slots - code.len() > left.len() {
            code.push(0);
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
    let mut left: Vec<u16> = classes.iter().map(|class| u16::try_from(class + 1).unwrap_or(u16::MAX)).collect();
    let mut codes = Vec::new();
    fill(&mut left, &mut Vec::new(), slots, &mut codes);
    codes
}
