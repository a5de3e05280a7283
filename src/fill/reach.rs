//! What a processor's channels can take between them: sets of reachable count vectors.

use std::rc::Rc;

use itertools::Itertools;

use crate::fill::SlotModel;
use crate::fill::loads::{Load, Loads};
use crate::fill::pace::{Gait, Held, Paces, Speed, Way};
use crate::fill::repeat::{Repeat, keys, repeats};
use crate::fill::rows::{Row, RowGroup, RowsInForce};
use crate::processor::ModulePattern;
use crate::search::{Budget, StateSet, StopReason};
use crate::stated::Scope;

/// Which contents each usable slot may have: bit 0 for nothing, then a bit for each local class.
pub(crate) type Masks = Vec<u64>;

/// What is asked of a processor's channels.
#[derive(Clone, Copy)]
struct Question<'q> {
    /// What each slot may hold.
    masks: &'q [u64],
    /// The level to reach.
    level: i32,
    /// What processors have in common.
    repeat: Option<&'q Repeat>,
    /// What each channel holds.
    held: &'q Held,
    /// Whether the pace matters.
    paced: bool,
    /// Whether no channel may hold a module.
    empty: bool,
}

/// States of a processor that have one pace at one rate.
pub(crate) struct Entry {
    /// The level that its loads reach.
    pub(crate) level: i32,
    /// Index among the processor's ways to fill its channels.
    way: usize,
    pub(crate) gait: Gait,
    /// The most speed of any of the states.
    pub(crate) fastest: Speed,
    pub(crate) set: StateSet,
}

/// What processors can take between them.
pub(crate) struct Ways {
    /// Index of what they have in common.
    pub(crate) repeat: usize,
    /// By processor; those after one that can take nothing at all are left out.
    pub(crate) sockets: Vec<Vec<Entry>>,
}

impl Entry {
    /// By what it is found again when sets are asked for anew.
    pub(crate) fn id(&self) -> (i32, usize) {
        (self.level, self.way)
    }
}

/// The entries that are still looked at: by what processors have in common, by processor the level and the way.
pub(crate) type Narrowed = Vec<(usize, Vec<Vec<(i32, usize)>>)>;

/// What channels can take, given what each slot may hold.
pub(crate) struct Reach<'g, 'a> {
    grid: &'g SlotModel<'a>,
    loads: &'g Loads,
    rows: RowsInForce,
    /// By socket: an earlier one whose channels carry the same loads.
    twins: Vec<Option<usize>>,
    /// By socket: the keys that its loads can have, where the rules ask that channels be alike.
    keys: Vec<Vec<Option<usize>>>,
    /// What processors with memory can have in common, where the rules ask that they be alike.
    repeats: Option<Vec<Repeat>>,
    /// States that the bounds on a processor's number of modules, and on unlike ones, allow; absent where there are
    /// none.
    countable: Option<StateSet>,
    /// By socket with rows of its own: countable states of which no row speaks.
    unlisted: Vec<Option<StateSet>>,
    paces: &'g Paces,
    /// By socket: the group of the mode of each channel.
    groups: Vec<Vec<Option<usize>>>,
    narrowed: Option<Narrowed>,
    /// Whether states are looked at for every pace, and not for their best alone.
    every_pace: bool,
    /// Nodes that one set costs.
    nodes: u64,
    /// Steps of work that one set costs: each load of each channel is a pass over a set.
    work: u64,
}

impl<'g, 'a> Reach<'g, 'a> {
    pub(crate) fn new(grid: &'g SlotModel<'a>, loads: &'g Loads, paces: &'g Paces) -> Self {
        let bounds: Vec<_> = grid.in_force.counts.iter().filter(|bound| bound.within == Scope::Socket).collect();
        let countable = |count: usize| bounds.iter().all(|bound| bound.allows(count));
        let group_of = |socket: usize| grid.rows.groups.iter().find(|group| group.sockets == [socket]);
        let same = |a: usize, b: usize| {
            let channels = |socket: usize| {
                grid.sockets.get(socket).into_iter().flat_map(|socket| &socket.channels).map(|&c| loads.channels.get(c))
            };
            let wiring = |socket: usize| grid.sockets.get(socket).and_then(|socket| grid.machine.wiring(socket.id));
            let wired_alike = match (wiring(a), wiring(b)) {
                (Some(a), Some(b)) => (&a.sets, &a.divisions) == (&b.sets, &b.divisions),
                _ => false,
            };
            group_of(a).is_none()
                && group_of(b).is_none()
                && wired_alike
                && grid.groups(a) == grid.groups(b)
                && channels(a).count() == channels(b).count()
                && channels(a).zip(channels(b)).all(|pair| match pair {
                    (Some(a), Some(b)) => Rc::ptr_eq(a, b),
                    _ => false,
                })
        };
        let sockets = 0..grid.sockets.len();
        let of_socket = |socket: &crate::fill::slot_model::ModelSocket| {
            socket
                .channels
                .iter()
                .filter_map(|&channel| loads.channels.get(channel))
                .map(|loads| loads.len())
                .sum::<usize>()
        };
        let passes = grid.sockets.iter().map(of_socket).max().unwrap_or(0);
        let mut reach = Self {
            grid,
            loads,
            rows: RowsInForce::None,
            twins: sockets.clone().map(|socket| (0..socket).find(|&earlier| same(earlier, socket))).collect(),
            keys: sockets.map(|socket| keys(grid, loads, socket)).collect(),
            repeats: repeats(grid, loads),
            countable: (!bounds.is_empty()).then(|| loads.states_where(countable)),
            unlisted: Vec::new(),
            paces,
            groups: (0..grid.sockets.len()).map(|socket| grid.groups(socket)).collect(),
            narrowed: None,
            every_pace: false,
            nodes: 1 + u64::try_from(loads.space.size() / 512).unwrap_or(u64::MAX),
            work: u64::try_from(passes * (loads.space.size() / 64 + 4)).unwrap_or(u64::MAX),
        };
        if let Some(mixes) = grid.socket_mixes() {
            let unmixed = loads.states_that(|digits| {
                mixes.iter().all(|(at_most, keys)| {
                    let there = loads.kinds.iter().zip(digits).filter(|&(_, &count)| count > 0);
                    there.filter_map(|(&class, _)| keys.get(class)?.as_ref()).unique().count() <= *at_most
                })
            });
            match &mut reach.countable {
                Some(countable) => countable.keep(&unmixed),
                None => reach.countable = Some(unmixed),
            }
        }
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

    /// From now on only these entries are looked at.
    pub(crate) fn narrow(&mut self, narrowed: Option<Narrowed>) {
        self.narrowed = narrowed;
    }

    /// From now on states are looked at for every pace; whether that is new.
    pub(crate) fn look_at_every_pace(&mut self) -> bool {
        !std::mem::replace(&mut self.every_pace, true)
    }

    /// What each processor can take at these levels, each with its rate: for each thing they can have in common.
    pub(crate) fn sets(
        &self,
        masks: &[u64],
        levels: &[(i32, u128)],
        budget: &mut Budget,
    ) -> Result<Vec<Ways>, StopReason> {
        let repeats: Vec<Option<&Repeat>> = match &self.repeats {
            Some(repeats) => repeats.iter().map(Some).collect(),
            None => vec![None],
        };
        let mut ways = Vec::new();
        for (repeat, &common) in repeats.iter().enumerate() {
            let only = self.narrowed.as_ref().map(|all| all.iter().find(|(known, _)| *known == repeat));
            let only = match only {
                Some(Some((_, only))) => Some(only.as_slice()),
                Some(None) => continue,
                None => None,
            };
            ways.push(Ways { repeat, sockets: self.sets_with((masks, common), levels, only, budget)? });
        }
        Ok(ways)
    }

    fn sets_with(
        &self,
        (masks, repeat): (&[u64], Option<&Repeat>),
        levels: &[(i32, u128)],
        only: Option<&[Vec<(i32, usize)>]>,
        budget: &mut Budget,
    ) -> Result<Vec<Vec<Entry>>, StopReason> {
        let mut sockets: Vec<Vec<Entry>> = Vec::with_capacity(self.grid.sockets.len());
        for (socket, twin) in self.twins.iter().enumerate() {
            let asked = |of: usize| only.and_then(|only| only.get(of));
            let known = twin
                .filter(|&twin| asked(twin) == asked(socket) && self.slots(twin, masks).eq(self.slots(socket, masks)));
            let entries = match known.and_then(|twin| sockets.get(twin)) {
                Some(entries) => entries.iter().map(|entry| Entry { set: entry.set.clone(), ..*entry }).collect(),
                None => {
                    let mut entries: Vec<Entry> = Vec::new();
                    for &(level, rate) in levels {
                        self.add_entries(
                            (socket, asked(socket)),
                            (masks, repeat),
                            (level, rate),
                            &mut entries,
                            budget,
                        )?;
                    }
                    entries
                }
            };
            let is_empty = entries.is_empty();
            sockets.push(entries);
            if is_empty {
                break;
            }
        }
        Ok(sockets)
    }

    /// Adds what a processor can take at one level, each state at its best pace.
    fn add_entries(
        &self,
        (socket, only): (usize, Option<&Vec<(i32, usize)>>),
        (masks, repeat): (&[u64], Option<&Repeat>),
        (level, rate): (i32, u128),
        entries: &mut Vec<Entry>,
        budget: &mut Budget,
    ) -> Result<(), StopReason> {
        let mut seen = StateSet::empty(self.loads.space.size());
        let Some(ways) = self.paces.sockets.get(socket) else { return Ok(()) };
        // without a rate no pace matters: the last way of a plain processor takes in all others
        let widest = ways.len().saturating_sub(1);
        let skipped = |index: usize, way: &Way| rate == 0 && matches!(way.held, Held::AtMost(_)) && index < widest;
        for (index, way) in ways.iter().enumerate().filter(|&(index, way)| !skipped(index, way)) {
            if only.is_some_and(|only| !only.contains(&(level, index))) {
                continue;
            }
            budget.spend_many(self.nodes)?;
            budget.work(self.work)?;
            let mut set = self
                .of_socket(socket, Question { masks, level, repeat, held: &way.held, paced: rate > 0, empty: false });
            // a state that is reached at a better pace needs no other, unless a rule refuses it there
            if !self.every_pace && !matches!(way.held, Held::OneOf(_)) {
                set.remove(&seen);
                seen.add(&set);
            }
            // a pace is faster the more there is
            if let Some(most) = set.iter().map(|state| self.loads.usable(state)).max() {
                let gait = way.pace.gait(self.paces.scale, rate);
                entries.push(Entry { level, way: index, gait, fastest: gait.speed(most), set });
            }
        }
        Ok(())
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

    fn of_socket(&self, socket: usize, question: Question<'_>) -> StateSet {
        let mut set = self.under(socket, question);
        let (Some(group), Some(Some(unlisted))) = (self.rows_of(socket), self.unlisted.get(socket)) else {
            self.count(&mut set);
            return set;
        };
        set.keep(unlisted);
        let of_socket = |slot: usize| self.grid.slots.get(slot).is_some_and(|slot| slot.socket == socket);
        for row in group.rows.iter().filter(|row| self.rows.speak_of(group, row.slots.len())) {
            let masks = self.row_masks(row, question.masks, of_socket);
            let mut under = self.under(socket, Question { masks: &masks, ..question });
            self.count(&mut under);
            set.add(&under);
        }
        set
    }

    fn under(&self, socket: usize, question: Question<'_>) -> StateSet {
        let mut all = StateSet::empty(self.loads.space.size());
        let one = question.repeat.and_then(|repeat| repeat.key).map(Some);
        for key in one.into_iter().chain(self.keys.get(socket).into_iter().flatten().copied().filter(|_| one.is_none()))
        {
            self.add_with_key(socket, question, key, &mut all);
        }
        question.repeat.iter().for_each(|repeat| all.keep(&repeat.counts));
        all
    }

    /// Adds what a processor can take when the loads of its channels all have one key.
    fn add_with_key(&self, socket: usize, mut question: Question<'_>, key: Option<usize>, all: &mut StateSet) {
        let Some(entry) = self.grid.sockets.get(socket) else { return };
        if let (Held::AtMost(most) | Held::JustOrNothing(most), Some(_), true) = (question.held, key, question.paced) {
            // where loads of this key fill a channel to another height, it can be empty and no more
            let loads = entry.channels.iter().filter_map(|&channel| self.loads.channels.get(channel));
            question.empty = !loads.flat_map(|loads| loads.iter()).any(|load| load.key == key && load.usable == *most);
        }
        let groups = self.groups.get(socket).map_or(&[][..], Vec::as_slice);
        let mut set = StateSet::empty(self.loads.space.size());
        set.insert(0);
        if matches!(question.held, Held::OneOf(_)) || groups.iter().any(Option::is_some) {
            let profiles = match question.held {
                Held::OneOf(profiles) => Some(profiles.as_slice()),
                _ => None,
            };
            let walk = Detailed { channels: &entry.channels, groups, question, key };
            self.add_detailed(&walk, (0, profiles), &set, &mut Vec::new(), all);
            return;
        }
        let mut next = StateSet::empty(self.loads.space.size());
        let mut steps: Vec<usize> = Vec::new();
        let mut before: Option<usize> = None;
        for &channel in &entry.channels {
            let Some(loads) = self.loads.channels.get(channel) else { return };
            let repeats = before.is_some_and(|before| {
                self.loads.channels.get(before).is_some_and(|other| Rc::ptr_eq(other, loads))
                    && self.channel_masks(before, question.masks).eq(self.channel_masks(channel, question.masks))
            });
            before = Some(channel);
            if !repeats {
                steps.clear();
                for load in loads.iter().filter(|load| self.fits(channel, load, question, key)) {
                    if !steps.contains(&load.step) {
                        steps.push(load.step);
                    }
                }
            }
            if steps.is_empty() {
                return;
            }
            self.raise(&set, &steps, &mut next);
            std::mem::swap(&mut set, &mut next);
        }
        all.add(&set);
    }

    /// Makes `next` what a set becomes by any of some steps.
    fn raise(&self, set: &StateSet, steps: &[usize], next: &mut StateSet) {
        next.clear();
        for step in steps.iter().filter_map(|&step| self.loads.steps.get(step)) {
            next.add_raised(set, &step.room, step.offset);
        }
    }

    /// Whether a channel may carry a load.
    fn fits(&self, channel: usize, load: &Load, question: Question<'_>, key: Option<usize>) -> bool {
        let held = match question.held {
            Held::Any | Held::OneOf(_) => true,
            Held::AtMost(most) => load.usable <= *most,
            Held::JustOrNothing(held) => load.usable == *held || load.usable == 0,
        };
        held && load.level >= question.level
            && !(question.empty && load.key.is_some())
            && (key.is_none() || load.key.is_none() || load.key == key)
            && self
                .channel_masks(channel, question.masks)
                .zip(&load.digits)
                .all(|(mask, digit)| mask.is_some_and(|mask| mask >> digit & 1 == 1))
    }

    /// The same channel by channel, each with a load of its own choice of what it holds and what its group has in
    /// common.
    fn add_detailed(
        &self,
        walk: &Detailed<'_>,
        (place, profiles): (usize, Option<&[Vec<u64>]>),
        set: &StateSet,
        mates: &mut Vec<(usize, Option<usize>)>,
        all: &mut StateSet,
    ) {
        let Some(&channel) = walk.channels.get(place) else { return all.add(set) };
        let Some(loads) = self.loads.channels.get(channel) else { return };
        let group = walk.groups.get(place).copied().flatten();
        let decided = group.and_then(|group| mates.iter().find(|(known, _)| *known == group)).map(|&(_, mate)| mate);
        let fitting: Vec<&Load> = loads
            .iter()
            .filter(|load| self.fits(channel, load, walk.question, walk.key))
            .filter(|load| decided.is_none_or(|mate| load.mate == mate))
            .collect();
        let mut next = StateSet::empty(self.loads.space.size());
        let mut go_on = |rest: Option<&[Vec<u64>]>, chosen: &[&Load], mates: &mut Vec<(usize, Option<usize>)>| {
            let steps: Vec<usize> = chosen.iter().map(|load| load.step).sorted_unstable().dedup().collect();
            self.raise(set, &steps, &mut next);
            if !next.is_empty() {
                self.add_detailed(walk, (place + 1, rest), &next, mates, all);
            }
        };
        let held = |profile: &Vec<u64>| profile.get(place).copied();
        let parts: Vec<Option<&[Vec<u64>]>> = match profiles {
            None => vec![None],
            Some(profiles) => profiles.chunk_by(|a, b| held(a) == held(b)).map(Some).collect(),
        };
        for rest in parts {
            let wanted = rest.and_then(|rest| held(rest.first()?));
            let mut chosen = fitting.clone();
            chosen.retain(|load| wanted.is_none_or(|wanted| load.usable == wanted));
            match group.filter(|_| decided.is_none()) {
                None => go_on(rest, &chosen, mates),
                Some(group) => {
                    for mate in chosen.iter().map(|load| load.mate).sorted_unstable().dedup().collect::<Vec<_>>() {
                        mates.push((group, mate));
                        let alike: Vec<&Load> = chosen.iter().copied().filter(|load| load.mate == mate).collect();
                        go_on(rest, &alike, mates);
                        mates.pop();
                    }
                }
            }
        }
    }
}

/// A processor whose channels are looked at one by one.
struct Detailed<'w> {
    channels: &'w [usize],
    groups: &'w [Option<usize>],
    question: Question<'w>,
    key: Option<usize>,
}
