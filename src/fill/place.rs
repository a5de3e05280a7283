//! The best legal placing of given modules: exact, by sets of reachable count vectors.
//!
//! Slots are decided in fill order, each for the best content from which the rest can still be placed:
//! the best that is left is guessed for all of them, and the guess is followed as far as it can be.
//! Whether it can is asked of sets of count vectors: which numbers of each class a processor's channels
//! can take between them. Rules that such sets cannot express are asked of the complete candidate, and
//! the search goes back where they refuse.

use std::cell::OnceCell;
use std::cmp::Ordering;
use std::rc::Rc;

use crate::figure::{RunningRate, channels_in_step, deciding};
use crate::fill::candidate::{WHOLE_CHECK, judge, settled};
use crate::fill::loads::{Load, Loads};
use crate::fill::pace::Paces;
use crate::fill::reach::{Masks, Reach, Ways};
use crate::fill::rows::RowsInForce;
use crate::fill::slot_model::fillable;
use crate::fill::split::{Shares, Target};
use crate::fill::{Demand, NO_RATE, SlotModel, step_under};
use crate::platform::RatePolicy;
use crate::search::{Budget, StopReason};
use crate::unit::exact::common_part;
use crate::unit::{Bandwidth, DataRate};

/// A placing, with what decides between placings of the same modules.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Placed {
    /// A class or nothing for each usable slot.
    pub(crate) at: Vec<Option<usize>>,
    pub(crate) rate: Option<DataRate>,
    /// Spread, then swept.
    pub(crate) bandwidth: (Bandwidth, Bandwidth),
    pub(crate) target: Target,
    /// Priority of what sits in each slot: lower comes first.
    pub(crate) ranks: Vec<usize>,
    pub(crate) moves_first: bool,
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
            .then_with(|| other.bandwidth.cmp(&self.bandwidth))
            .then_with(|| self.target.rank(self.moves_first).cmp(&other.target.rank(self.moves_first)))
            .then_with(|| self.ranks.cmp(&other.ranks))
    }
}

struct Placing<'g, 'a> {
    grid: &'g SlotModel<'a>,
    demand: &'g Demand,
    loads: &'g Loads,
    paces: &'g Paces,
    /// Into how many parts a MT/s is cut.
    rate_unit: u128,
    reach: Reach<'g, 'a>,
    shares: Shares<'g>,
    masks: Masks,
    /// Whether the rate of a candidate may lie below the level of each of its loads.
    level_is_hopeful: bool,
    level: i32,
    /// The levels that are tried, best first.
    levels: Vec<i32>,
    /// The levels that processors may have, each with its rate in parts.
    rates: Vec<(i32, u128)>,
    target: Target,
    /// Whether partial candidates are held against rules too: once a complete one was refused.
    careful: bool,
}

/// The best placing of a demand; `None` where there is none.
pub(crate) fn place(
    grid: &SlotModel<'_>,
    errors: &SlotModel<'_>,
    demand: &Demand,
    budget: &mut Budget,
) -> Result<Option<Placed>, StopReason> {
    if let Some(at) = settled(grid, demand) {
        return judge(grid, errors, demand, at, budget);
    }
    let Some(loads) = Loads::new(grid, errors, demand, budget)? else { return Ok(None) };
    let paces = Paces::new(grid, &loads, budget)?;
    let mut placing = Placing {
        grid,
        demand,
        loads: &loads,
        paces: &paces,
        rate_unit: rate_unit(grid),
        reach: Reach::new(grid, &loads, &paces),
        shares: Shares::new(grid, &loads, demand),
        masks: Masks::new(),
        level_is_hopeful: grid.level_is_hopeful(&loads.kinds),
        level: NO_RATE,
        levels: Vec::new(),
        rates: Vec::new(),
        target: Target::NONE,
        careful: false,
    };
    placing.levels = placing.levels();
    placing.choose(budget)
}

impl Placing<'_, '_> {
    /// Which contents each slot may have before any row or decision.
    fn open_slots(&self) -> Masks {
        let mut known: Vec<((usize, usize), u64)> = Vec::new();
        let mut open = Masks::new();
        for slot in 0..self.grid.slots.len() {
            let channel = self.grid.slots.get(slot).and_then(|slot| self.grid.channels.get(slot.channel));
            let sort = channel.map(|channel| {
                (channel.shape, channel.slots.iter().position(|&other| other == slot).unwrap_or(usize::MAX))
            });
            let settled = sort.and_then(|sort| known.iter().find(|(known, _)| *known == sort)).map(|&(_, mask)| mask);
            let mask = settled.unwrap_or_else(|| {
                let kinds = self.loads.kinds.iter().enumerate();
                let admitted = kinds.filter(|&(_, &class)| self.grid.admits(slot, class));
                admitted.fold(1, |mask, (local, _)| mask | 2 << local)
            });
            known.extend(sort.filter(|_| settled.is_none()).map(|sort| (sort, mask)));
            open.push(mask);
        }
        for &(slot, class) in &self.demand.pinned {
            let bit = match class {
                None => 1,
                Some(class) => self.loads.kinds.iter().position(|&kind| kind == class).map_or(0, |local| 2 << local),
            };
            if let Some(mask) = open.get_mut(slot) {
                *mask &= bit;
            }
        }
        open
    }

    /// The best placing: inside all printed rows where there is one. Outside them, it follows at least those
    /// that must be followed.
    fn choose(&mut self, budget: &mut Budget) -> Result<Option<Placed>, StopReason> {
        let open = self.open_slots();
        if self.grid.rows.groups.is_empty() {
            return self.best(RowsInForce::None, &open, budget);
        }
        let otherwise = RowsInForce::Required;
        let Some(inside) = self.best(RowsInForce::All, &open, budget)? else {
            return Ok(self.best(otherwise, &open, budget)?.map(Placed::outside));
        };
        if !self.demand.moves_first || inside.target.moves == 0 {
            return Ok(Some(inside));
        }
        // moves cost money, and cost comes before printed rows
        let outside = self.best(otherwise, &open, budget)?;
        let outside = outside.filter(|outside| outside.target.moves < inside.target.moves);
        Ok(Some(outside.map_or(inside, Placed::outside)))
    }

    /// The best placing under some rows.
    fn best(&mut self, rows: RowsInForce, open: &Masks, budget: &mut Budget) -> Result<Option<Placed>, StopReason> {
        self.reach.follow(rows);
        let mut best: Option<Placed> = None;
        for masks in self.reach.machine_rows(open) {
            self.masks = masks;
            if let Some(placed) = self.best_in_order(budget)? {
                if best.as_ref().is_none_or(|best| placed.order(best) == Ordering::Less) {
                    best = Some(placed);
                }
            }
        }
        Ok(best)
    }

    /// The levels that are worth trying, best first.
    fn levels(&self) -> Vec<i32> {
        let top = self.grid.top_level;
        let mut channels: Vec<&Rc<Vec<Load>>> = self.loads.channels.iter().collect();
        channels.dedup_by(|a, b| Rc::ptr_eq(a, b));
        let mut levels: Vec<i32> =
            channels.into_iter().flat_map(|loads| loads.iter()).map(|load| load.level.min(top)).collect();
        levels.push(NO_RATE);
        if self.level_is_hopeful {
            levels.extend(0..=top);
        }
        let least = self.demand.least_level;
        if self.demand.any_will_do {
            return vec![least.unwrap_or(NO_RATE)];
        }
        levels.retain(|&level| least.is_none_or(|least| level >= least));
        levels.extend(least);
        levels.sort_unstable();
        levels.dedup();
        levels.reverse();
        levels
    }

    /// Tries levels and targets in the documented order until one can be placed.
    fn best_in_order(&mut self, budget: &mut Budget) -> Result<Option<Placed>, StopReason> {
        let moves_first = self.demand.moves_first;
        let mut levels = self.levels.clone().into_iter();
        // of each level looked at: what processors can take, and the best target not yet tried
        let mut known: Vec<Known> = Vec::new();
        loop {
            // a lower level may do with fewer moves; where moves cost nothing, the highest comes first
            while moves_first || known.is_empty() {
                let Some(level) = levels.next() else { break };
                self.at_level(level);
                let ways = self.reach.sets(&self.masks, &self.rates, budget)?;
                let target = self.shares.next_target(&ways, None, budget)?;
                known.extend(target.map(|target| (level, ways, target)));
            }
            let order = |&(level, _, target): &Known| {
                (if moves_first { target.moves } else { 0 }, std::cmp::Reverse(level), target.rank(moves_first))
            };
            let next = known.iter().enumerate().min_by_key(|(_, entry)| order(entry)).map(|(index, _)| index);
            let Some(index) = next else { return Ok(None) };
            let (level, mut ways, target) = known.swap_remove(index);
            self.at_level(level);
            self.target = target;
            let open = self.masks.clone();
            self.settle_stays();
            self.reach.narrow(Some(Shares::narrowed(&ways, target)));
            let placed = self.descend(0, budget)?;
            self.reach.narrow(None);
            if placed.is_some() {
                return Ok(placed);
            }
            self.masks = open;
            if self.careful && self.reach.look_at_every_pace() {
                for (level, ways, _) in &mut known {
                    self.at_level(*level);
                    *ways = self.reach.sets(&self.masks, &self.rates, budget)?;
                }
                self.at_level(level);
                ways = self.reach.sets(&self.masks, &self.rates, budget)?;
            }
            let later = self.shares.next_target(&ways, Some(target), budget)?;
            known.extend(later.map(|target| (level, ways, target)));
        }
    }

    /// Where nothing may move, present modules that are all used stay in their slots.
    fn settle_stays(&mut self) {
        let demand = self.demand;
        for (slot, mask) in self.masks.iter_mut().enumerate().filter(|_| self.target.moves == 0) {
            let all_used = |group: usize| demand.used.get(group).is_some_and(|&used| used >= demand.slots_of(group));
            let Some(present) = demand.present_at(slot).filter(|present| all_used(present.group)) else { continue };
            let local = self.loads.kinds.iter().position(|&kind| kind == present.class);
            *mask &= local.map_or(0, |local| 2 << local);
        }
    }

    /// Decides the slots from `from` on, in fill order, each time for the best content from which the rest
    /// can still be placed. What is decided before can be.
    fn descend(&mut self, from: usize, budget: &mut Budget) -> Result<Option<Placed>, StopReason> {
        let base = self.masks.clone();
        let guess = self.guess(from);
        self.follow(&base, from, &guess);
        let mut reached = guess.len();
        if self.is_open(base.len(), budget)? {
            budget.work(WHOLE_CHECK)?;
            if let Some(placed) = self.complete() {
                self.masks = base;
                return Ok(Some(placed));
            }
        } else {
            // how far the guess can be followed: a prefix of one that can be, can be. It often ends at once
            let (mut open, mut shut) = (0, guess.len());
            while shut - open > 1 {
                let middle = if open == 0 { 1 } else { usize::midpoint(open, shut.min(3 * open)) };
                self.follow(&base, from, guess.get(..middle).unwrap_or(&guess));
                if self.is_open(from + middle, budget)? {
                    open = middle;
                } else {
                    shut = middle;
                }
            }
            reached = open;
        }
        for place in (0..guess.len().min(reached + 1)).rev() {
            let (Some(&guessed), Some(&mask)) = (guess.get(place), base.get(from + place)) else { continue };
            self.follow(&base, from, guess.get(..place).unwrap_or(&guess));
            for digit in self.options(mask).skip_while(|&digit| digit != guessed).skip(1).collect::<Vec<_>>() {
                self.masks.get_mut(from + place).into_iter().for_each(|mask| *mask = 1 << digit);
                if self.is_open(from + place + 1, budget)? {
                    if let Some(placed) = self.descend(from + place + 1, budget)? {
                        self.masks = base;
                        return Ok(Some(placed));
                    }
                }
            }
        }
        self.masks = base;
        Ok(None)
    }

    /// The contents that a mask allows, best first.
    fn options(&self, mask: u64) -> impl Iterator<Item = usize> + use<> {
        let digits = (0..self.loads.kinds.len()).map(|local| local + 1).chain([0]);
        digits.filter(move |digit| mask >> digit & 1 == 1)
    }

    /// For each slot from `from` on, the best module that is left, whatever the rules make of it.
    fn guess(&self, from: usize) -> Vec<usize> {
        let mut left = self.loads.counts.clone();
        let settled = |mask: u64| usize::try_from(mask.trailing_zeros()).ok()?.checked_sub(1);
        let mut take = |local: usize| match left.get_mut(local) {
            Some(count) if *count > 0 => {
                *count -= 1;
                true
            }
            _ => false,
        };
        for (slot, &mask) in self.masks.iter().enumerate() {
            if slot < from || mask.is_power_of_two() {
                settled(mask).map(&mut take);
            }
        }
        let mut guess = Vec::with_capacity(self.masks.len().saturating_sub(from));
        for &mask in self.masks.get(from..).unwrap_or_default() {
            let best = match mask.is_power_of_two() {
                true => None,
                false => self.options(mask).find(|&digit| digit.checked_sub(1).is_none_or(&mut take)),
            };
            guess.push(best.or_else(|| self.options(mask).next()).unwrap_or(0));
        }
        guess
    }

    /// Decides slots from `from` on, and no others after them.
    fn follow(&mut self, base: &Masks, from: usize, digits: &[usize]) {
        self.masks.clone_from(base);
        let slots = self.masks.iter_mut().skip(from).zip(digits);
        slots.for_each(|(mask, digit)| *mask &= 1 << digit);
    }

    /// Whether the rest can be placed once the slots before `end` are decided.
    fn is_open(&self, end: usize, budget: &mut Budget) -> Result<bool, StopReason> {
        budget.spend()?;
        if self.careful && self.grid.in_force.is_lost(&self.grid.layout(&self.contents(end))) {
            return Ok(false);
        }
        let ways = self.reach.sets(&self.masks, &self.rates, budget)?;
        self.shares.feasible(&ways, self.target, budget)
    }

    /// What the slots before `end`, which are decided, hold.
    fn contents(&self, end: usize) -> Vec<Option<usize>> {
        let decided = |mask: u64| {
            let local = usize::try_from(mask.trailing_zeros()).unwrap_or(0).checked_sub(1)?;
            self.loads.kinds.get(local).copied()
        };
        self.masks.iter().enumerate().map(|(slot, &mask)| if slot < end { decided(mask) } else { None }).collect()
    }

    fn complete(&mut self) -> Option<Placed> {
        let at = self.contents(usize::MAX);
        let layout = self.grid.layout(&at);
        let known = OnceCell::new();
        let running = known.get_or_init(|| RunningRate::of(&layout));
        let (rate, bandwidth) = (running.rate(), deciding(&layout, running));
        let level = rate.map_or(NO_RATE, |rate| step_under(self.grid.machine, Some(rate)));
        if level < self.level || bandwidth < self.hoped() || !self.grid.allows(&layout, &known) {
            self.careful = true;
            return None;
        }
        let kinds = &self.loads.kinds;
        let rank = |class: Option<usize>| {
            class.and_then(|class| kinds.iter().position(|&kind| kind == class)).unwrap_or(usize::MAX)
        };
        let ranks = at.iter().map(|&class| rank(class)).collect();
        let (target, moves_first) = (self.target, self.demand.moves_first);
        Some(Placed { at, rate, bandwidth, target, ranks, moves_first, outside_rows: false })
    }

    /// From now on at this level: the levels that processors may have, each with its rate, and the least
    /// bandwidth in parts of the scales.
    fn at_level(&mut self, level: i32) {
        self.level = level;
        let own = |level: i32| {
            let step = usize::try_from(level).ok().and_then(|level| self.grid.machine.rate_steps().get(level));
            step.filter(|_| !self.demand.any_will_do).map_or(0, |&step| parts_of(step, self.rate_unit))
        };
        self.rates = match self.grid.machine.platform().rate_policy {
            RatePolicy::PerMachine => vec![(level, own(level))],
            RatePolicy::PerSocket => {
                self.levels.iter().filter(|&&other| other >= level).map(|&other| (other, own(other))).collect()
            }
        };
        self.shares.least_swept = self.demand.least_swept.map_or(0, |least| self.parts_needed(least));
    }

    /// How many parts of the scales a bandwidth is, rounded up.
    fn parts_needed(&self, bandwidth: Bandwidth) -> u128 {
        let (numerator, denominator) = <(u64, u64)>::from(bandwidth);
        let parts = [self.paces.scale.one(), self.rate_unit, channels_in_step(self.grid.machine).into()];
        let parts = parts.iter().try_fold(u128::from(numerator), |all, part| all.checked_mul(*part));
        parts.map_or(u128::MAX, |parts| parts.div_ceil(u128::from(denominator) * 8))
    }

    /// The bandwidth of the target.
    fn hoped(&self) -> (Bandwidth, Bandwidth) {
        let whole = [self.paces.scale.one(), self.rate_unit, channels_in_step(self.grid.machine).into()];
        let whole = whole.iter().fold(1, |all: u128, part| all.saturating_mul(*part));
        let of = |parts: u128| Bandwidth::of(parts.saturating_mul(8), whole);
        (of(self.target.speed.0), of(self.target.speed.1))
    }
}

/// A level, what processors can take at it, and the best target not yet tried.
type Known = (i32, Vec<Ways>, Target);

/// Into how many parts a MT/s is cut so that every step of the rate is a whole number of them; 2^20 where that
/// would be too many, and rates are rounded down.
fn rate_unit(grid: &SlotModel<'_>) -> u128 {
    let denominators = grid.machine.rate_steps().iter().map(|step| u128::from(step.exact_mts().1));
    let common = denominators.fold(1_u128, |lcm, d| (lcm / common_part(lcm, d)).saturating_mul(d));
    if common > 1 << 20 { 1 << 20 } else { common }
}

/// A rate in such parts.
fn parts_of(rate: DataRate, unit: u128) -> u128 {
    let (numerator, denominator) = rate.exact_mts();
    u128::from(numerator) * unit / u128::from(denominator)
}

/// The empty usable slots of a placing that could still take a module of a class at hand without an
/// error on its channel, once the slots before it are filled.
pub(crate) fn free_slots(
    errors: &SlotModel<'_>,
    at: &[Option<usize>],
    budget: &mut Budget,
) -> Result<Vec<usize>, StopReason> {
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
