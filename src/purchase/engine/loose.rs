//! Candidates where channels may differ: numbers of modules are chosen class by class, with a bound on what
//! the rest must cost at least.

use std::cmp::Reverse;

use crate::fill::ClassId;
use crate::finding::FactValue;
use crate::purchase::engine::classes::times;
use crate::purchase::engine::solve::{Solver, by_class_id};
use crate::purchase::engine::stock::Amount;
use crate::search::{Budget, Index, StopReason};
use crate::unit::Capacity;

/// A pair of prices, for capacity and for a slot, in 2^-16 minor units, with what the classes from each
/// one on can contribute at best under it.
struct Prices {
    per_mib: Amount,
    per_slot: Amount,
    suffix: Vec<Amount>,
}

const SCALE: u32 = 16;

/// How many pairs of prices bound the choice class by class.
const BEST_PRICES: usize = 16;

impl Solver<'_, '_> {
    /// Chooses numbers class by class, within each set of classes that may meet: the one that must cost
    /// least first.
    pub(crate) fn loose(&mut self, budget: &mut Budget) -> Result<(), StopReason> {
        let allowed: Vec<usize> = (0..self.supply.classes.len()).filter(|&class| self.allowed(class)).collect();
        let pinned = |class: &usize| self.supply.classes.get(*class).is_some_and(|entry| entry.pinned() > 0);
        let mut sets = self.meeting(allowed);
        let all_pinned: Vec<usize> = (0..self.supply.classes.len()).filter(pinned).collect();
        sets.retain(|set| all_pinned.iter().all(|class| set.contains(class)));
        let mut ranked: Vec<(Amount, Vec<usize>)> = sets.into_iter().map(|set| (self.bound_of(&set), set)).collect();
        ranked.sort();
        for (bound, set) in ranked {
            if !self.is_beaten(bound) && !self.is_done() {
                self.loose_among(set, budget)?;
            }
        }
        Ok(())
    }

    /// The sets of classes that bounds of one key in the whole machine let meet.
    fn meeting(&self, classes: Vec<usize>) -> Vec<Vec<usize>> {
        let mut sets = vec![classes];
        for (_, keys) in self.grid.mixes.iter().filter(|(at_most, _)| *at_most == 1) {
            let key_of = |class: usize| keys.get(ClassId::of(class)).cloned().flatten();
            sets = sets
                .into_iter()
                .flat_map(|set| {
                    let keyless: Vec<usize> = set.iter().copied().filter(|&class| key_of(class).is_none()).collect();
                    let mut keys: Vec<FactValue> = set.iter().filter_map(|&class| key_of(class)).collect();
                    keys.sort();
                    keys.dedup();
                    if keys.is_empty() {
                        return vec![keyless];
                    }
                    let with = |wanted: FactValue| {
                        let fits = |&class: &usize| key_of(class).is_none_or(|key| key == wanted);
                        set.iter().copied().filter(fits).collect::<Vec<usize>>()
                    };
                    keys.into_iter().map(with).collect()
                })
                .collect();
        }
        sets
    }

    fn bound_of(&self, classes: &[usize]) -> Amount {
        let slots = self.grid.slots.len().saturating_sub(self.needs.free_slots);
        let start = Node { index: 0, slots, capacity: Capacity::ZERO, cost: self.supply.pull_all };
        start.bound(&self.prices(classes), self.bounds.at_least)
    }

    fn loose_among(&mut self, mut classes: Vec<usize>, budget: &mut Budget) -> Result<(), StopReason> {
        // the cheapest by capacity first
        classes.sort_by(|&a, &b| {
            let value = |class: usize| {
                let entry = self.supply.classes.get(class);
                let cost = entry.and_then(|entry| entry.least_cost(1)).unwrap_or(Amount::MAX >> 40);
                (cost, entry.map_or(1, |entry| Amount::from(entry.module.capacity().mib())))
            };
            let ((cost_a, mib_a), (cost_b, mib_b)) = (value(a), value(b));
            (cost_a * mib_b).cmp(&(cost_b * mib_a)).then(a.cmp(&b))
        });
        let mut prices = self.prices(&classes);
        let slots = self.grid.slots.len().saturating_sub(self.needs.free_slots);
        let start = Node { index: 0, slots, capacity: Capacity::ZERO, cost: self.supply.pull_all };
        // what bounds the start best bounds the rest well
        prices.sort_by_cached_key(|prices| Reverse(start.bound(std::slice::from_ref(prices), self.bounds.at_least)));
        prices.truncate(BEST_PRICES);
        // plans of one class first: they are often best, and bound the rest
        for &class in &classes {
            let most = self.supply.classes.get(class).map_or(0, crate::purchase::engine::classes::Class::most);
            for count in 1..=most {
                let each = self.supply.classes.get(class).map_or(Capacity::ZERO, |entry| entry.module.capacity());
                let capacity = times(each, count);
                if self.suits(capacity) && !self.is_done() {
                    self.consider(&[(class, count)], budget)?;
                    break;
                }
            }
        }
        self.choose(&classes, &prices, start, &mut Vec::new(), budget)
    }

    fn choose(
        &mut self,
        classes: &[usize],
        prices: &[Prices],
        node: Node,
        chosen: &mut Vec<(usize, usize)>,
        budget: &mut Budget,
    ) -> Result<(), StopReason> {
        budget.spend()?;
        if self.is_done() {
            return Ok(());
        }
        let Some(&class) = classes.get(node.index) else {
            return if self.suits(node.capacity) { self.consider(chosen, budget) } else { Ok(()) };
        };
        let Some(entry) = self.supply.classes.get(class) else { return Ok(()) };
        let (most, each) = (entry.most().min(node.slots), entry.module.capacity());
        let ways = (0..=most).rev().filter_map(|count| {
            let next = Node {
                index: node.index + 1,
                slots: node.slots - count,
                capacity: node.capacity + times(each, count),
                cost: node.cost + entry.least_cost(count)?,
            };
            let fits = self.bounds.at_most.is_none_or(|most| next.capacity <= most);
            fits.then(|| (next.bound(prices, self.bounds.at_least), Reverse(count), next))
        });
        // the one that must cost least first
        let mut ways: Vec<_> = ways.filter(|&(bound, ..)| !self.is_beaten(bound)).collect();
        ways.sort_unstable_by_key(|&(bound, count, _)| (bound, count));
        for (bound, Reverse(count), next) in ways {
            if self.is_beaten(bound) {
                break;
            }
            if count > 0 {
                chosen.push((class, count));
            }
            if count == 0 || self.grid.mixes_allow(&by_class_id(chosen)) {
                self.choose(classes, prices, next, chosen, budget)?;
            }
            if count > 0 {
                chosen.pop();
            }
        }
        Ok(())
    }

    /// What any plan costs at least, as far as that is known.
    pub(crate) fn at_least(&self) -> Amount {
        let classes: Vec<usize> = (0..self.supply.classes.len()).filter(|&class| self.allowed(class)).collect();
        let bounds = self.meeting(classes).into_iter().map(|set| self.bound_of(&set)).min();
        bounds.unwrap_or(self.supply.pull_all)
    }

    /// Prices for capacity and slots under which bounds are tight: those at which two classes, or a
    /// class and nothing, are worth the same.
    fn prices(&self, classes: &[usize]) -> Vec<Prices> {
        const MOST: usize = 64;
        let points: Vec<(Amount, Amount)> = classes
            .iter()
            .filter_map(|&class| {
                let entry = self.supply.classes.get(class)?;
                let count = entry.most().max(1);
                let cost = entry.least_cost(count)? << SCALE;
                Some((cost / Amount::try_from(count).ok()?, Amount::from(entry.module.capacity().mib())))
            })
            .collect();
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
        let step = pairs.len().div_ceil(MOST).max(1);
        pairs.into_iter().step_by(step).map(|(per_mib, per_slot)| self.price(classes, per_mib, per_slot)).collect()
    }

    fn price(&self, classes: &[usize], per_mib: Amount, per_slot: Amount) -> Prices {
        let mut suffix = vec![0];
        let mut sum: Amount = 0;
        for &class in classes.iter().rev() {
            let Some(entry) = self.supply.classes.get(class) else { continue };
            let each = per_mib * Amount::from(entry.module.capacity().mib()) - per_slot;
            let worth = |count: usize| Some((entry.least_cost(count)? << SCALE) - each * Amount::try_from(count).ok()?);
            sum += (0..=entry.most()).filter_map(worth).min().unwrap_or(0);
            suffix.push(sum);
        }
        suffix.reverse();
        Prices { per_mib, per_slot, suffix }
    }
}

/// A point of the choice class by class.
#[derive(Clone, Copy)]
struct Node {
    index: usize,
    slots: usize,
    capacity: Capacity,
    cost: Amount,
}

impl Node {
    /// What a plan that goes on from here costs at least: the capacity still needed at its price, less the
    /// slots left at theirs, less what the classes to come can gain.
    fn bound(&self, prices: &[Prices], at_least: Capacity) -> Amount {
        let needed = Amount::from(at_least.saturating_sub(self.capacity).mib());
        let slots = Amount::try_from(self.slots).unwrap_or(0);
        let more = prices.iter().filter_map(|prices| {
            let gain = prices.suffix.get(self.index)?;
            Some(prices.per_mib * needed - prices.per_slot * slots + gain)
        });
        // rounded up to whole minor units, for a cost is whole
        let more = more.max().map_or(0, |scaled| (scaled + (1 << SCALE) - 1) >> SCALE);
        self.cost + more
    }
}
