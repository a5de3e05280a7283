//! What a processor's channels can take between them: sets of reachable count vectors.

use std::rc::Rc;

use crate::fill::Grid;
use crate::fill::loads::Loads;
use crate::fill::rows::{Row, RowGroup, RowsInForce};
use crate::processor::ModulePattern;
use crate::search::{Budget, Spent, StateSet};
use crate::stated::Scope;

/// Which contents each usable slot may have: bit 0 for nothing, then a bit for each local class.
pub(crate) type Masks = Vec<u64>;

/// What each slot may hold, the level to reach, and what processors have in common.
type Question<'q> = (&'q [u64], i32, Option<&'q Repeat>);

/// What channels can take, given what each slot may hold.
pub(crate) struct Reach<'g, 'a> {
    grid: &'g Grid<'a>,
    loads: &'g Loads,
    rows: RowsInForce,
    /// By socket: an earlier one whose channels carry the same loads.
    twins: Vec<Option<usize>>,
    /// By socket: the keys that its loads can have, where the rules ask that channels be alike.
    keys: Vec<Vec<Option<usize>>>,
    /// What processors with memory can have in common, where the rules ask that they be alike.
    repeats: Option<Vec<Repeat>>,
    /// States that the bounds on a processor's number of modules allow; absent where there are none.
    countable: Option<StateSet>,
    /// By socket with rows of its own: countable states of which no row speaks.
    unlisted: Vec<Option<StateSet>>,
    /// Nodes that one set costs.
    nodes: u64,
}

/// What each processor with memory has.
struct Repeat {
    /// The key of all its loads, where it is one.
    key: Option<usize>,
    /// The states that have it, and those of no module.
    counts: StateSet,
}

impl<'g, 'a> Reach<'g, 'a> {
    pub(crate) fn new(grid: &'g Grid<'a>, loads: &'g Loads) -> Self {
        let bounds: Vec<_> = grid.active.counts.iter().filter(|bound| bound.within == Scope::Socket).collect();
        let countable = |count: usize| bounds.iter().all(|bound| bound.allows(count));
        let group_of = |socket: usize| grid.rows.groups.iter().find(|group| group.sockets == [socket]);
        let same = |a: usize, b: usize| {
            let channels = |socket: usize| {
                grid.sockets.get(socket).into_iter().flat_map(|socket| &socket.channels).map(|&c| loads.channels.get(c))
            };
            group_of(a).is_none()
                && group_of(b).is_none()
                && channels(a).count() == channels(b).count()
                && channels(a).zip(channels(b)).all(|pair| match pair {
                    (Some(a), Some(b)) => Rc::ptr_eq(a, b),
                    _ => false,
                })
        };
        let sockets = 0..grid.sockets.len();
        let mut reach = Self {
            grid,
            loads,
            rows: RowsInForce::None,
            twins: sockets.clone().map(|socket| (0..socket).find(|&earlier| same(earlier, socket))).collect(),
            keys: sockets.map(|socket| keys(grid, loads, socket)).collect(),
            repeats: repeats(grid, loads),
            countable: (!bounds.is_empty()).then(|| loads.states_where(countable)),
            unlisted: Vec::new(),
            nodes: 1 + u64::try_from(loads.space.size() / 512).unwrap_or(u64::MAX),
        };
        reach.follow(RowsInForce::None);
        reach
    }

    /// From now on these printed rows are followed.
    pub(crate) fn follow(&mut self, rows: RowsInForce) {
        self.rows = rows;
        let unlisted = |socket: usize| {
            let group = self.rows_of(socket)?;
            let mut states = self.loads.states_where(|count| !rows.speak_of(group, count));
            self.count(&mut states);
            Some(states)
        };
        self.unlisted = (0..self.grid.sockets.len()).map(unlisted).collect();
    }

    /// The rows that speak of one processor alone and are followed.
    fn rows_of(&self, socket: usize) -> Option<&'g RowGroup> {
        let mut groups = self.grid.rows.groups.iter().filter(|_| self.rows != RowsInForce::None);
        groups.find(|group| group.sockets == [socket])
    }

    fn count(&self, states: &mut StateSet) {
        self.countable.iter().for_each(|countable| states.keep(countable));
    }

    /// The masks under each row that speaks of all processors at once.
    pub(crate) fn machine_rows(&self, open: &Masks) -> Vec<Masks> {
        let total: usize = self.loads.counts.iter().sum();
        let all = self.grid.sockets.len();
        let group = self.grid.rows.groups.iter().find(|group| all > 1 && group.sockets.len() == all);
        let Some(group) = group.filter(|group| self.rows.speak_of(group, total)) else { return vec![open.clone()] };
        let rows = group.rows.iter().filter(|row| row.slots.len() == total);
        rows.map(|row| self.row_masks(row, open, |_| true)).collect()
    }

    /// The masks with a row imposed on the slots that `concerns` picks.
    fn row_masks(&self, row: &Row, masks: &[u64], concerns: impl Fn(usize) -> bool) -> Masks {
        let fits = |pattern: &ModulePattern| {
            let matching = self.loads.kinds.iter().enumerate().filter(|&(_, &class)| {
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

    /// What each processor can take at a level: one set each, or one for each thing they can have in common.
    pub(crate) fn sets(&self, masks: &[u64], level: i32, budget: &mut Budget) -> Result<Vec<Vec<StateSet>>, Spent> {
        let Some(repeats) = &self.repeats else { return Ok(vec![self.sets_with(masks, level, None, budget)?]) };
        repeats.iter().map(|repeat| self.sets_with(masks, level, Some(repeat), budget)).collect()
    }

    fn sets_with(
        &self,
        masks: &[u64],
        level: i32,
        repeat: Option<&Repeat>,
        budget: &mut Budget,
    ) -> Result<Vec<StateSet>, Spent> {
        let mut sets: Vec<StateSet> = Vec::with_capacity(self.grid.sockets.len());
        for (socket, twin) in self.twins.iter().enumerate() {
            let known = twin.filter(|&twin| self.slots(twin, masks).eq(self.slots(socket, masks)));
            let set = match known.and_then(|twin| sets.get(twin)) {
                Some(set) => set.clone(),
                None => {
                    budget.spend_many(self.nodes)?;
                    self.of_socket(socket, (masks, level, repeat))
                }
            };
            let is_empty = set.is_empty();
            sets.push(set);
            if is_empty {
                break;
            }
        }
        Ok(sets)
    }

    /// The masks of a processor's slots, channel by channel.
    fn slots<'m>(&'m self, socket: usize, masks: &'m [u64]) -> impl Iterator<Item = Option<u64>> + 'm {
        let channels = self.grid.sockets.get(socket).into_iter().flat_map(|socket| &socket.channels);
        channels.flat_map(move |&channel| self.channel_masks(channel, masks))
    }

    fn channel_masks<'m>(&'m self, channel: usize, masks: &'m [u64]) -> impl Iterator<Item = Option<u64>> + 'm {
        let slots = self.grid.channels.get(channel).map_or(&[][..], |channel| &channel.slots);
        slots.iter().map(|&slot| masks.get(slot).copied())
    }

    fn of_socket(&self, socket: usize, (masks, level, repeat): Question<'_>) -> StateSet {
        let mut set = self.under(socket, (masks, level, repeat));
        let (Some(group), Some(Some(unlisted))) = (self.rows_of(socket), self.unlisted.get(socket)) else {
            self.count(&mut set);
            return set;
        };
        set.keep(unlisted);
        let of_socket = |slot: usize| self.grid.slots.get(slot).is_some_and(|slot| slot.socket == socket);
        for row in group.rows.iter().filter(|row| self.rows.speak_of(group, row.slots.len())) {
            let mut under = self.under(socket, (&self.row_masks(row, masks, of_socket), level, repeat));
            self.count(&mut under);
            set.add(&under);
        }
        set
    }

    fn under(&self, socket: usize, (masks, level, repeat): Question<'_>) -> StateSet {
        let mut all = StateSet::empty(self.loads.space.size());
        let one = repeat.and_then(|repeat| repeat.key).map(Some);
        for key in one.into_iter().chain(self.keys.get(socket).into_iter().flatten().copied().filter(|_| one.is_none()))
        {
            self.add_with_key(socket, masks, level, key, &mut all);
        }
        repeat.iter().for_each(|repeat| all.keep(&repeat.counts));
        all
    }

    /// Adds what a processor can take when the loads of its channels all have one key.
    fn add_with_key(&self, socket: usize, masks: &[u64], level: i32, key: Option<usize>, all: &mut StateSet) {
        let Some(socket) = self.grid.sockets.get(socket) else { return };
        let mut set = StateSet::empty(self.loads.space.size());
        set.insert(0);
        let mut next = StateSet::empty(self.loads.space.size());
        let mut steps: Vec<usize> = Vec::new();
        let mut before: Option<usize> = None;
        for &channel in &socket.channels {
            let Some(loads) = self.loads.channels.get(channel) else { return };
            let repeats = before.is_some_and(|before| {
                self.loads.channels.get(before).is_some_and(|other| Rc::ptr_eq(other, loads))
                    && self.channel_masks(before, masks).eq(self.channel_masks(channel, masks))
            });
            before = Some(channel);
            if !repeats {
                steps.clear();
                for load in loads.iter() {
                    let fits = load.level >= level
                        && (key.is_none() || load.key.is_none() || load.key == key)
                        && self
                            .channel_masks(channel, masks)
                            .zip(&load.digits)
                            .all(|(mask, digit)| mask.is_some_and(|mask| mask >> digit & 1 == 1));
                    if fits && !steps.contains(&load.step) {
                        steps.push(load.step);
                    }
                }
            }
            if steps.is_empty() {
                return;
            }
            next.clear();
            for step in steps.iter().filter_map(|&step| self.loads.steps.get(step)) {
                next.add_raised(&set, &step.room, step.offset);
            }
            std::mem::swap(&mut set, &mut next);
        }
        all.add(&set);
    }
}

/// The keys that a processor's channels may share; one absent key where they need not be alike.
fn keys(grid: &Grid<'_>, loads: &Loads, socket: usize) -> Vec<Option<usize>> {
    if !grid.channels_are_alike() {
        return vec![None];
    }
    let channels = grid.sockets.get(socket).into_iter().flat_map(|socket| &socket.channels);
    let loads = channels.filter_map(|&channel| loads.channels.get(channel)).flat_map(|loads| loads.iter());
    let mut keys: Vec<Option<usize>> = loads.map(|load| load.key).filter(Option::is_some).collect();
    keys.sort_unstable();
    keys.dedup();
    if keys.is_empty() { vec![None] } else { keys }
}

/// What processors with memory can have in common when everything is shared out; `None` where they need
/// not be alike, or there is nothing to share.
fn repeats(grid: &Grid<'_>, loads: &Loads) -> Option<Vec<Repeat>> {
    let total: usize = loads.counts.iter().sum();
    let firsts = grid.alike_to_sockets(&loads.kinds).filter(|_| grid.sockets.len() > 1 && total > 0)?;
    Some(if grid.sockets_repeat() { repeated_loads(grid, loads) } else { equal_parts(grid, loads, &firsts) })
}

/// Equal parts of everything that the rule on processors tells apart, by how many processors have memory.
fn equal_parts(grid: &Grid<'_>, loads: &Loads, firsts: &[usize]) -> Vec<Repeat> {
    let sums = |count_of: &dyn Fn(usize) -> usize| {
        let mut sums = vec![0usize; firsts.len()];
        for (local, &first) in firsts.iter().enumerate() {
            sums.get_mut(first).into_iter().for_each(|sum| *sum += count_of(local));
        }
        sums
    };
    let all = sums(&|local| loads.counts.get(local).copied().unwrap_or(0));
    let parts = (1..=grid.sockets.len()).filter(|parts| all.iter().all(|sum| sum % parts == 0));
    parts
        .map(|parts| {
            let mut counts = StateSet::empty(loads.space.size());
            for vector in 0..loads.vectors {
                let own = sums(&|local| loads.space.digit(vector, local));
                if vector == 0 || own.iter().zip(&all).all(|(own, all)| own * parts == *all) {
                    (vector..loads.space.size()).step_by(loads.vectors).for_each(|state| counts.insert(state));
                }
            }
            Repeat { key: None, counts }
        })
        .collect()
}

/// A load that repeats over so many channels of each processor with memory.
fn repeated_loads(grid: &Grid<'_>, loads: &Loads) -> Vec<Repeat> {
    let total: usize = loads.counts.iter().sum();
    let capacity = loads.capacities.last().copied().unwrap_or(0);
    let size = |local: usize| {
        let class = loads.kinds.get(local).and_then(|&class| grid.classes.get(class));
        class.map_or(0, |module| module.capacity().mib())
    };
    // the key of a load says how many modules it has and how much they hold
    let mut keys: Vec<(usize, usize, u64)> = Vec::new();
    for load in loads.channels.iter().flat_map(|loads| loads.iter()) {
        let locals = || load.digits.iter().filter_map(|digit| digit.checked_sub(1));
        let sizes = locals().map(size).fold(0u64, u64::saturating_add);
        keys.extend(load.key.map(|key| (key, locals().count(), sizes)));
    }
    keys.sort_unstable();
    keys.dedup();
    let widest = grid.sockets.iter().map(|socket| socket.channels.len()).max().unwrap_or(0);
    let mut repeats = Vec::new();
    for (key, modules, holds) in keys {
        let times = total.checked_div(modules).filter(|times| times * modules == total).unwrap_or(0);
        if holds.saturating_mul(u64::try_from(times).unwrap_or(u64::MAX)) != capacity {
            continue;
        }
        for channels in (1..=widest).filter(|&channels| times % channels == 0 && times / channels <= grid.sockets.len())
        {
            let counts = loads.states_where(|count| count == 0 || count == channels * modules);
            repeats.push(Repeat { key: Some(key), counts });
        }
    }
    repeats
}
