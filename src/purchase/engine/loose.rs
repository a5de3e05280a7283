//! Candidates where channels may differ: numbers of modules are chosen class by class, with a bound on what
//! the rest must cost at least.

use std::cmp::Reverse;

use crate::fill::ClassId;
use crate::finding::FactValue;
use crate::purchase::engine::choose::{Frame, Node};
use crate::purchase::engine::classes::{Class, times};
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::goal::Goal;
use crate::purchase::engine::needs::Bounds;
use crate::purchase::engine::search::Search;
use crate::search::{Budget, StopReason};
use crate::stated::Scope;
use crate::unit::Capacity;

/// A pair of prices, for capacity and for a slot, in 2^-16 minor units, with what the classes from each
/// one on can contribute at best under it.
///
/// For any such pair that is not negative, what goes on from a node costs at least the capacity still needed at its price,
/// less the slots left at theirs, plus the sum over the classes to come of the least of cost less what capacity and slots
/// are worth: capacity has to be reached, and slots cannot be exceeded. Prices may be rounded in any way, for the bound holds
/// at every price; what comes of them is whole.
struct Prices {
    per_mib: Amount,
    per_slot: Amount,
    suffix: Vec<Amount>,
}

const SCALE: u32 = 16;

/// How many pairs of prices bound the choice class by class.
const BEST_PRICES: usize = 16;

/// How many pairs of prices are tried.
const MOST_PRICES: usize = 64;

/// Classes of which any numbers may be chosen, as far as slots go.
struct LooseFrame {
    classes: Vec<(ClassId, Capacity)>,
    prices: Vec<Prices>,
    at_least: Capacity,
    at_most: Option<Capacity>,
}

impl Frame for LooseFrame {
    fn class(&self, place: usize) -> Option<ClassId> {
        self.classes.get(place).map(|&(class, _)| class)
    }

    fn after(&self, node: &Node, count: usize, own: Amount) -> Option<(Amount, Node)> {
        let &(_, each) = self.classes.get(node.place)?;
        let next = Node {
            place: node.place + 1,
            slots: node.slots.checked_sub(count)?,
            capacity: node.capacity + times(each, count),
            cost: node.cost + own,
        };
        let fits = self.at_most.is_none_or(|most| next.capacity <= most);
        fits.then(|| (self.bound(&next), next))
    }

    fn modules(&self) -> Option<usize> {
        None
    }

    fn suits(&self, node: &Node) -> bool {
        node.capacity >= self.at_least && self.at_most.is_none_or(|most| node.capacity <= most)
    }
}

impl LooseFrame {
    /// What a plan that goes on from a node costs at least.
    fn bound(&self, node: &Node) -> Amount {
        let bounds = self.prices.iter().filter_map(|prices| self.bound_at(prices, node));
        // rounded up to whole minor units, for a cost is whole
        let more = bounds.max().map_or(0, |scaled| (scaled + (1 << SCALE) - 1) >> SCALE);
        node.cost + more
    }

    fn bound_at(&self, prices: &Prices, node: &Node) -> Option<Amount> {
        let needed = Amount::from(self.at_least.saturating_sub(node.capacity).mib());
        let slots = Amount::try_from(node.slots).ok()?;
        Some(prices.per_mib * needed - prices.per_slot * slots + prices.suffix.get(node.place)?)
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
            budget.work(10_000)?;
            if pinned.iter().all(|class| set.contains(class)) {
                ranked.extend(self.frame(set));
            }
        }
        ranked.sort_by_key(|(frame, start)| frame.bound(start));
        let bounds: Vec<Amount> = ranked.iter().map(|(frame, start)| frame.bound(start)).collect();
        for (index, (frame, start)) in ranked.into_iter().enumerate() {
            let Some(&bound) = bounds.get(index) else { break };
            if self.is_beaten(bound) || self.is_done() {
                break;
            }
            self.later_costs = bounds.get(index + 1).copied();
            self.loose_among(&frame, start, budget)?;
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
        let frames = self.meeting(allowed).into_iter().filter_map(|set| self.frame(set));
        // where no set can be had, no plan can, and anything is a bound
        frames.map(|(frame, start)| frame.bound(&start)).min().unwrap_or(0)
    }

    /// The frame of some classes, the cheapest by capacity first, and where it starts; `None` where classes are left out of
    /// which some modules must stay.
    fn frame(&self, mut classes: Vec<ClassId>) -> Option<(LooseFrame, Node)> {
        let others = self.classes().all.iter().filter(|(id, _)| !classes.contains(id));
        let cost: Amount = others.map(|(_, class)| class.least_cost(0)).sum::<Option<Amount>>()?;
        let slots = self.model().slots.len().saturating_sub(self.needs.free_slots);
        let value = |class: ClassId| {
            let entry = self.classes().all.get(class)?;
            Some((entry.further_cost(1)?, Amount::from(entry.module.capacity().mib())))
        };
        classes.sort_by(|&a, &b| match (value(a), value(b)) {
            (Some((cost_a, mib_a)), Some((cost_b, mib_b))) => (cost_a * mib_b).cmp(&(cost_b * mib_a)).then(a.cmp(&b)),
            (a_value, b_value) => a_value.is_none().cmp(&b_value.is_none()).then(a.cmp(&b)),
        });
        let prices = self.prices(&classes);
        let capacity = |class: ClassId| Some((class, self.classes().all.get(class)?.module.capacity()));
        let classes = classes.into_iter().filter_map(capacity).collect();
        let Bounds { at_least, at_most, .. } = self.bounds;
        let mut frame = LooseFrame { classes, prices, at_least, at_most };
        let start = Node { place: 0, slots, capacity: Capacity::ZERO, cost };
        // what bounds the start best bounds the rest well
        let mut prices = std::mem::take(&mut frame.prices);
        prices.sort_by_cached_key(|prices| Reverse(frame.bound_at(prices, &start)));
        prices.truncate(BEST_PRICES);
        frame.prices = prices;
        Some((frame, start))
    }

    fn loose_among(&mut self, frame: &LooseFrame, start: Node, budget: &mut Budget<'_>) -> Result<(), StopReason> {
        self.of_one_class(&frame.classes, budget)?;
        self.choose(frame, start, &mut Vec::new(), budget)
    }

    /// Considers the fewest modules of one class alone that will do, for each class: such plans are often good, and bound the
    /// rest.
    pub(crate) fn of_one_class(
        &mut self,
        classes: &[(ClassId, Capacity)],
        budget: &mut Budget<'_>,
    ) -> Result<(), StopReason> {
        for &(class, each) in classes {
            let most = self.classes().all.get(class).map_or(0, Class::most);
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
                let ended = self.suits(times(each, count)) && self.consider(&[(class, count)], budget).is_err();
                if ended || self.best_key() != known {
                    break;
                }
            }
            if one_will_do && self.best.is_some() {
                return;
            }
        }
    }

    /// Prices for capacity and slots under which bounds are tight: those at which two classes, or a
    /// class and nothing, are worth the same.
    fn prices(&self, classes: &[ClassId]) -> Vec<Prices> {
        let point = |class: ClassId| {
            let entry = self.classes().all.get(class)?;
            let count = entry.most().max(1);
            let cost = entry.further_cost(count)? << SCALE;
            Some((cost / Amount::try_from(count).ok()?, Amount::from(entry.module.capacity().mib())))
        };
        let points: Vec<(Amount, Amount)> = classes.iter().filter_map(|&class| point(class)).collect();
        let mut pairs: Vec<(Amount, Amount)> = vec![(0, 0)];
        for &(cost, mib) in &points {
            pairs.push(((cost / mib.max(1)).max(0), 0));
            for &(other, smaller) in points.iter().filter(|&&(_, other)| other < mib) {
                let per_mib = (cost - other) / (mib - smaller);
                let per_slot = per_mib * smaller - other;
                if per_mib > 0 && per_slot > 0 {
                    pairs.push((per_mib, per_slot));
                }
            }
        }
        pairs.sort_unstable();
        pairs.dedup();
        let step = pairs.len().div_ceil(MOST_PRICES).max(1);
        pairs.into_iter().step_by(step).map(|(per_mib, per_slot)| self.price(classes, per_mib, per_slot)).collect()
    }

    fn price(&self, classes: &[ClassId], per_mib: Amount, per_slot: Amount) -> Prices {
        let mut suffix = vec![0];
        let mut sum: Amount = 0;
        for &class in classes.iter().rev() {
            let Some(entry) = self.classes().all.get(class) else { continue };
            let each = per_mib * Amount::from(entry.module.capacity().mib()) - per_slot;
            let worth = |count: usize| Some((entry.least_cost(count)? << SCALE) - each * Amount::try_from(count).ok()?);
            // a class of which no number can be had leaves no plan
            sum += (0..=entry.most()).filter_map(worth).min().unwrap_or(0);
            suffix.push(sum);
        }
        suffix.reverse();
        Prices { per_mib, per_slot, suffix }
    }
}
