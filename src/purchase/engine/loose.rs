//! Candidates where channels may differ: numbers of modules are chosen class by class, with a bound on what
//! the rest must cost at least.

use std::cmp::Reverse;
use std::ops::RangeInclusive;

use crate::fill::{ClassId, Level};
use crate::finding::FactValue;
use crate::purchase::engine::choose::{Frame, Node};
use crate::purchase::engine::classes::times;
use crate::purchase::engine::completions::{Completions, Sort};
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::crowding::{Crowding, Weights};
use crate::purchase::engine::goal::Goal;
use crate::purchase::engine::needs::Bounds;
use crate::purchase::engine::possible::Room;
use crate::purchase::engine::search::Search;
use crate::search::{Budget, StopReason};
use crate::stated::Scope;
use crate::unit::Capacity;

/// Classes of which any numbers may be chosen, as far as slots go.
pub(crate) struct LooseFrame {
    pub(crate) classes: Vec<ClassId>,
    /// By class: what a module holds and takes of the room there is, and what so many cost at least.
    pub(crate) curves: Vec<Sort>,
    completions: Completions,
    /// The same by weights that were learnt: those of one way that processors may divide the classes beside each other.
    learnt: Vec<Lesson>,
    largest: Capacity,
    pub(crate) at_least: Capacity,
    pub(crate) at_most: Option<Capacity>,
}

/// What was learnt of a way, as a bound.
struct Lesson {
    way: usize,
    /// Where a node keeps what is left of it.
    at: usize,
    weights: Weights,
    completions: Completions,
}

impl Frame for LooseFrame {
    fn class(&self, place: usize) -> Option<ClassId> {
        self.classes.get(place).copied()
    }

    fn after(&self, node: &Node, count: usize, own: Amount) -> Option<(Amount, Node)> {
        let sort = self.curves.get(node.place)?;
        let mut learnt = node.learnt;
        for (left, lesson) in learnt.iter_mut().zip(&self.learnt) {
            let weight = lesson.weights.of(*self.classes.get(node.place)?).saturating_mul(count);
            *left = left.and_then(|left| left.checked_sub(weight));
        }
        let next = Node {
            place: node.place + 1,
            slots: node.slots.checked_sub(count * sort.takes)?,
            learnt,
            capacity: node.capacity + times(sort.capacity, count),
            cost: node.cost + own,
        };
        let fits = self.at_most.is_none_or(|most| next.capacity <= most);
        Some((self.bound(&next).filter(|_| fits)?, next))
    }

    fn modules(&self, node: &Node, chosen: usize) -> RangeInclusive<usize> {
        let needed = self.at_least.saturating_sub(node.capacity).mib().div_ceil(self.largest.mib().max(1));
        let more = usize::try_from(needed).unwrap_or(node.slots).min(node.slots);
        chosen + more..=chosen + node.slots
    }

    fn suits(&self, node: &Node) -> bool {
        node.capacity >= self.at_least && self.at_most.is_none_or(|most| node.capacity <= most)
    }
}

impl LooseFrame {
    /// What a plan that goes on from a node costs at least; `None` where none can.
    pub(crate) fn bound(&self, node: &Node) -> Option<Amount> {
        let needed = self.at_least.saturating_sub(node.capacity);
        let least = self.completions.least(node.place, node.slots, needed)?;
        // some way must do
        let mut learnt: Option<Amount> = None;
        for lessons in self.learnt.chunk_by(|a, b| a.way == b.way) {
            let of_lesson = |lesson: &Lesson| {
                let left = node.learnt.get(lesson.at).copied().flatten()?;
                lesson.completions.least(node.place, left, needed)
            };
            let own = lessons.iter().map(of_lesson).collect::<Option<Vec<_>>>().and_then(|all| all.into_iter().max());
            learnt = learnt.into_iter().chain(own).min();
        }
        if self.learnt.is_empty() { Some(node.cost + least) } else { Some(node.cost + learnt?.max(least)) }
    }
}

impl Search<'_, '_> {
    /// Chooses numbers class by class, within each set of classes that may meet: the one that must cost
    /// least first.
    pub(crate) fn loose(&mut self, budget: &mut Budget<'_>) -> Result<(), StopReason> {
        let allowed = self.classes().all.ids().filter(|&class| self.allowed(class)).collect();
        let pinned = |class: &ClassId| self.classes().all.get(*class).is_some_and(|entry| entry.pinned() > 0);
        let pinned: Vec<ClassId> = self.classes().all.ids().filter(pinned).collect();
        let mut ranked = Vec::new();
        for set in self.meeting(allowed) {
            if pinned.iter().all(|class| set.contains(class)) {
                let frame = self.frame(set, self.floor().unwrap_or(Level::NO_RATE), budget)?;
                ranked.extend(frame.and_then(|(frame, start)| Some((frame.bound(&start)?, frame, start))));
            }
        }
        ranked.sort_by_key(|&(bound, ..)| bound);
        let bounds: Vec<Amount> = ranked.iter().map(|&(bound, ..)| bound).collect();
        for (index, (bound, mut frame, start)) in ranked.into_iter().enumerate() {
            if self.is_beaten(bound) || self.is_done() {
                break;
            }
            self.later_costs = bounds.get(index + 1).copied();
            self.loose_among(&mut frame, start, budget)?;
        }
        Ok(())
    }

    /// The sets of classes that bounds of one key in the whole machine let meet.
    fn meeting(&self, classes: Vec<ClassId>) -> Vec<Vec<ClassId>> {
        let mut sets = vec![classes];
        for mix in self.model().mixes_within(Scope::Machine).filter(|mix| mix.at_most == 1) {
            let key_of = |class: ClassId| mix.keys.get(class).cloned().flatten();
            let split = |set: Vec<ClassId>| {
                let keyless: Vec<ClassId> = set.iter().copied().filter(|&class| key_of(class).is_none()).collect();
                let mut keys: Vec<FactValue> = set.iter().filter_map(|&class| key_of(class)).collect();
                keys.sort();
                keys.dedup();
                if keys.is_empty() {
                    return vec![keyless];
                }
                let with = |wanted: FactValue| {
                    let fits = |&class: &ClassId| key_of(class).is_none_or(|key| key == wanted);
                    set.iter().copied().filter(fits).collect::<Vec<ClassId>>()
                };
                keys.into_iter().map(with).collect()
            };
            sets = sets.into_iter().flat_map(split).collect();
        }
        sets
    }

    /// What any plan costs at least, before anything is looked at.
    pub(crate) fn least_of_all(&self) -> Amount {
        let allowed = self.classes().all.ids().filter(|&class| self.allowed(class)).collect();
        // to bound is a small part of a search, and comes after it
        let mut budget = Budget::new(0, None);
        let mut bound = |set| {
            let (frame, start) = self.frame(set, self.floor().unwrap_or(Level::NO_RATE), &mut budget).ok().flatten()?;
            frame.bound(&start)
        };
        // where no set can be had, no plan can, and anything is a bound
        self.meeting(allowed).into_iter().filter_map(&mut bound).min().unwrap_or(0)
    }

    /// The frame of some classes at a level at least, and where it starts; `None` where classes are left out of which some
    /// modules must stay.
    pub(crate) fn frame(
        &self,
        classes: Vec<ClassId>,
        level: Level,
        budget: &mut Budget<'_>,
    ) -> Result<Option<(LooseFrame, Node)>, StopReason> {
        let others = self.classes().all.iter().filter(|(id, _)| !classes.contains(id));
        let cost: Option<Amount> = others.map(|(_, class)| class.least_cost(0)).sum();
        let Some(cost) = cost.map(|cost| self.classes().market.paid() + cost) else { return Ok(None) };
        let cost = cost + self.goal.follows_in_any_case();
        let Room { each, all } = self.model().room(&classes, level, budget)?;
        let slots = self.model().slots.len().saturating_sub(self.needs.free_slots);
        // no module takes less than a slot, and none more than the most
        let slots = all.min(slots.saturating_mul(each.iter().max().copied().unwrap_or(1)));
        let sort = |(class, takes): (ClassId, usize)| {
            let entry = self.classes().all.get(class)?;
            let curve = (0..=entry.most()).map(|count| entry.least_cost(count)).collect();
            Some((class, Sort { capacity: entry.module.capacity(), takes, curve }))
        };
        let mut sorts: Vec<(ClassId, Sort)> = classes.into_iter().zip(each).filter_map(sort).collect();
        // those of one capacity that take as much have one table
        sorts.sort_by_key(|(class, sort)| (Reverse(sort.capacity), sort.takes, *class));
        let (classes, curves): (Vec<ClassId>, Vec<Sort>) = sorts.into_iter().unzip();
        let Bounds { at_least, at_most, .. } = self.bounds;
        let completions = Completions::new(&curves, slots, at_least, budget)?;
        let largest = curves.iter().map(|sort| sort.capacity).max().unwrap_or(Capacity::ZERO);
        let start = Node { place: 0, slots, learnt: [None; Node::MOST_LEARNT], capacity: Capacity::ZERO, cost };
        let learnt = Vec::new();
        Ok(Some((LooseFrame { classes, curves, completions, learnt, largest, at_least, at_most }, start)))
    }

    /// A start with the lessons of which the bounds are highest, as many of each way.
    fn with_lessons(&self, frame: &mut LooseFrame, start: Node, budget: &mut Budget<'_>) -> Result<Node, StopReason> {
        frame.learnt.clear();
        let start = Node { learnt: [None; Node::MOST_LEARNT], ..start };
        let Some(crowding) = &self.crowding else { return Ok(start) };
        let ways = crowding.lessons().count();
        for (way, lessons) in crowding.lessons().enumerate() {
            let mut all = Vec::new();
            for weights in lessons.iter().filter(|weights| weights.all <= Self::HEAVIEST) {
                let weigh = |(&class, sort): (&ClassId, &Sort)| Sort { takes: weights.of(class), ..sort.clone() };
                let sorts: Vec<Sort> = frame.classes.iter().zip(&frame.curves).map(weigh).collect();
                let completions = Completions::new(&sorts, weights.all, frame.at_least, budget)?;
                let bound = completions.least(start.place, weights.all, frame.at_least).unwrap_or(Amount::MAX);
                all.push((bound, weights, completions));
            }
            all.sort_by_key(|&(bound, ..)| Reverse(bound));
            let most = Node::MOST_LEARNT.checked_div(ways).unwrap_or(0);
            // of a way without lessons nothing is known, nor then of all of them
            if most == 0 || all.is_empty() {
                frame.learnt.clear();
                return Ok(start);
            }
            for (_, weights, completions) in all.into_iter().take(most) {
                frame.learnt.push(Lesson { way, at: frame.learnt.len(), weights: weights.clone(), completions });
            }
        }
        let mut learnt = start.learnt;
        learnt.iter_mut().zip(&frame.learnt).for_each(|(left, lesson)| *left = Some(lesson.weights.all));
        Ok(Node { learnt, ..start })
    }

    /// What channels may weigh together in tables at most.
    const HEAVIEST: usize = 256;

    fn loose_among(
        &mut self,
        frame: &mut LooseFrame,
        mut start: Node,
        budget: &mut Budget<'_>,
    ) -> Result<(), StopReason> {
        self.ideals = None;
        self.rooms.clear();
        let floor = self.floor().unwrap_or(Level::NO_RATE);
        self.crowding = Some(Crowding::new(self.model(), &frame.classes, floor));
        self.of_one_class(&frame.classes, budget)?;
        if matches!(self.goal, Goal::Best) && !self.needs.quality_first {
            let mut tries = self.first_tries;
            // as long as something is learnt that bounds the rest
            loop {
                let known = self.lessons();
                if self.try_out(tries, frame, start, budget)? {
                    return Ok(());
                }
                if self.lessons() == known {
                    break;
                }
                start = self.with_lessons(frame, start, budget)?;
                tries = tries.saturating_mul(2);
            }
            if let Some((part, from)) = self.settle_ties(frame, start, budget)? {
                return self.choose(&part, from, &mut Vec::new(), budget);
            }
        }
        self.choose(frame, start, &mut Vec::new(), budget)
    }

    /// Considers the fewest modules of one class alone that will do, for each class: such plans are often good, and bound the
    /// rest.
    pub(crate) fn of_one_class(&mut self, classes: &[ClassId], budget: &mut Budget<'_>) -> Result<(), StopReason> {
        for &class in classes {
            let Some(entry) = self.classes().all.get(class) else { continue };
            let (each, most) = (entry.module.capacity(), entry.most());
            let fewest = (1..=most).find(|&count| self.suits(times(each, count)));
            if let Some(count) = fewest.filter(|_| !self.is_done()) {
                self.consider(&[(class, count)], budget)?;
            }
        }
        Ok(())
    }

    /// Sets up plans of one class alone, the first that may be for each, so that a search which was stopped has one to show.
    /// They never depend on how far the search had come.
    pub(crate) fn set_up_plans(&mut self, budget: &mut Budget<'_>) {
        if !matches!(self.goal, Goal::Best | Goal::Any) {
            return;
        }
        self.set_up_each(false, budget);
    }

    /// Sets up one plan of one class alone, as soon as can be: with modules by turn where that is legal.
    pub(crate) fn set_up_one(&mut self, budget: &mut Budget<'_>) {
        self.by_turn = true;
        self.set_up_each(true, budget);
        self.by_turn = false;
        if self.best.is_none() {
            self.set_up_each(true, budget);
        }
    }

    fn set_up_each(&mut self, one_will_do: bool, budget: &mut Budget<'_>) {
        for class in self.classes().all.ids().filter(|&class| self.allowed(class)).collect::<Vec<ClassId>>() {
            let Some(entry) = self.classes().all.get(class) else { continue };
            let (each, most) = (entry.module.capacity(), entry.most());
            let known = self.best_key();
            for count in 1..=most {
                // where the nodes for this are used up too, that is all there is to show
                let ended =
                    self.suits(times(each, count)) && self.by_suppliers(Some(&vec![(class, count)]), budget).is_err();
                if ended || self.best_key() != known {
                    break;
                }
            }
            if one_will_do && self.best.is_some() {
                return;
            }
        }
    }
}
