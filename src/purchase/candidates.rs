//! In which order candidates are considered.
//!
//! Where rules ask that populated channels, and processors, be alike, a candidate is a load repeated over
//! so many channels of each processor: these are few, and are considered by least cost. Otherwise numbers
//! of modules are chosen class by class, with a bound on what the rest must cost at least.

use std::cmp::Reverse;

use crate::finding::FactValue;
use crate::population::{Content, Layout, ModuleSite};
use crate::purchase::solve::Solver;
use crate::purchase::supply::Amount;
use crate::rule::MixOf;
use crate::search::{Budget, Spent};
use crate::stated::Scope;
use crate::unit::Capacity;

/// Classes that a load's key does not tell apart.
struct Group {
    classes: Vec<usize>,
    capacity: Capacity,
    /// For the classes from each one on, by number of modules in one machine: the least cost over pulling
    /// everything.
    curves: Vec<Vec<Option<Amount>>>,
}

impl Group {
    /// The least cost of so many modules of the classes from `first` on.
    fn least(&self, first: usize, count: usize) -> Option<Amount> {
        self.curves.get(first)?.get(count).copied().flatten()
    }
}

/// How far the sharing out of a shape among classes has come.
#[derive(Clone, Copy)]
struct Sharing<'s> {
    groups: &'s [Group],
    /// Groups still to share out, and how many of each; the first is being shared out.
    counts: &'s [(usize, usize)],
    /// The next class of the first group, and how many it and those after it must make.
    class: usize,
    left: usize,
    /// What the classes chosen so far come to, with everything that pulling all does.
    cost: Amount,
    /// How many modules the shape has.
    total: usize,
}

/// A load over so many channels: how many modules of each group, by group.
struct Shape {
    cost: Amount,
    counts: Vec<(usize, usize)>,
}

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
    /// Whether candidates are loads repeated over channels and processors.
    pub(crate) fn is_alike(&self) -> bool {
        self.grid.sockets_repeat() || (self.grid.sockets.len() == 1 && self.grid.loads_repeat())
    }

    pub(crate) fn alike(&mut self, budget: &mut Budget) -> Result<(), Spent> {
        let groups = self.groups();
        let mut shapes = self.shapes(&groups, budget)?;
        shapes.sort_by(|a, b| (a.cost, &a.counts).cmp(&(b.cost, &b.counts)));
        for shape in shapes {
            if self.is_beaten(shape.cost) || self.is_done() {
                break;
            }
            let unused =
                groups.iter().enumerate().filter(|(index, _)| !shape.counts.iter().any(|(known, _)| known == index));
            let none: Option<Amount> = unused.map(|(_, group)| group.least(0, 0)).sum();
            let Some(none) = none else { continue };
            let cost = self.supply.pull_all + none;
            let left = shape.counts.first().map_or(0, |&(_, count)| count);
            let total = shape.counts.iter().map(|&(_, count)| count).sum();
            let start = Sharing { groups: &groups, counts: &shape.counts, class: 0, left, cost, total };
            self.share(start, &mut Vec::new(), budget)?;
        }
        Ok(())
    }

    /// The classes by the key that a channel of one of their modules has.
    fn groups(&self) -> Vec<Group> {
        let mut groups: Vec<(Option<FactValue>, Group)> = Vec::new();
        for class in (0..self.supply.classes.len()).filter(|&class| self.allowed(class)) {
            let Some(entry) = self.supply.classes.get(class) else { continue };
            let key = self.load_key(class);
            let place = groups.iter().position(|(known, _)| *known == key).unwrap_or_else(|| {
                let group = Group { classes: Vec::new(), capacity: entry.module.capacity(), curves: Vec::new() };
                groups.push((key, group));
                groups.len() - 1
            });
            groups.get_mut(place).into_iter().for_each(|(_, group)| group.classes.push(class));
        }
        let mut groups: Vec<Group> = groups.into_iter().map(|(_, group)| group).collect();
        for group in &mut groups {
            let mut curve = vec![Some(0)];
            group.curves.push(curve.clone());
            for &class in group.classes.iter().rev() {
                let own = self.supply.classes.get(class).map_or(&[][..], |entry| &entry.curve);
                let own: Vec<_> = own.iter().map(|known| known.map(|(cost, _)| cost)).collect();
                curve = join(&curve, &own, self.grid.slots.len());
                group.curves.push(curve.clone());
            }
            group.curves.reverse();
        }
        groups
    }

    fn load_key(&self, class: usize) -> Option<FactValue> {
        let mix = self.grid.active.mixes.iter().find(|mix| *mix.code == *"channels-alike")?;
        let MixOf::Channels(key) = mix.of else { return None };
        let slot = self.grid.slots.iter().find(|slot| slot.channel < self.grid.channels.len())?;
        let channel = self.grid.channels.get(slot.channel)?;
        let mut layout = Layout::empty(self.grid.machine);
        layout.set(slot.id, Content::Module(self.grid.classes.get(class)?));
        let load = layout.channels().find(|load| load.id() == channel.id)?;
        key(&load).ok().flatten()
    }

    fn shapes(&self, groups: &[Group], budget: &mut Budget) -> Result<Vec<Shape>, Spent> {
        let widest = self.grid.channels.iter().map(|channel| channel.slots.len()).max().unwrap_or(0);
        let channels = self.grid.sockets.iter().map(|socket| socket.channels.len()).max().unwrap_or(0);
        let mut shapes = Vec::new();
        // no module at all is a candidate too
        self.shape(groups, &[], 0, &mut shapes);
        let mut load = Vec::new();
        self.loads(groups, 0, widest, &mut load, &mut |load| {
            // over so many channels of so many processors: one without memory is unlike none
            let mut times: Vec<usize> = (1..=self.grid.sockets.len())
                .flat_map(|sockets| (1..=channels).map(move |channels| sockets * channels))
                .collect();
            times.sort_unstable();
            times.dedup();
            times.into_iter().for_each(|count| self.shape(groups, load, count, &mut shapes));
            budget.spend()
        })?;
        Ok(shapes)
    }

    /// Every multiset of groups of up to `left` modules.
    fn loads(
        &self,
        groups: &[Group],
        from: usize,
        left: usize,
        load: &mut Vec<usize>,
        visit: &mut dyn FnMut(&[usize]) -> Result<(), Spent>,
    ) -> Result<(), Spent> {
        if left == 0 {
            return Ok(());
        }
        for group in from..groups.len() {
            load.push(group);
            visit(load)?;
            self.loads(groups, group, left - 1, load, visit)?;
            load.pop();
        }
        Ok(())
    }

    /// Adds the shape in which `each` channels carry a load, where it can meet the request.
    fn shape(&self, groups: &[Group], load: &[usize], each: usize, shapes: &mut Vec<Shape>) {
        if load.len() * each + self.needs.free_slots > self.grid.slots.len() {
            return;
        }
        let mut counts: Vec<(usize, usize)> = Vec::new();
        for &group in load {
            match counts.last_mut().filter(|(last, _)| *last == group) {
                Some((_, count)) => *count += each,
                None => counts.push((group, each)),
            }
        }
        let capacity =
            counts.iter().map(|&(group, count)| times(groups.get(group).map(|group| group.capacity), count)).sum();
        if !self.suits(capacity) {
            return;
        }
        let mut cost = self.supply.pull_all;
        for (index, group) in groups.iter().enumerate() {
            let count = counts.iter().find(|(known, _)| *known == index).map_or(0, |&(_, count)| count);
            match group.least(0, count) {
                Some(least) => cost += least,
                None => return,
            }
        }
        if !self.is_beaten(cost) {
            shapes.push(Shape { cost, counts });
        }
    }

    /// Shares each group's number out among its classes, as long as the least cost of the rest allows.
    fn share(&mut self, at: Sharing<'_>, chosen: &mut Vec<(usize, usize)>, budget: &mut Budget) -> Result<(), Spent> {
        if self.is_done() {
            return Ok(());
        }
        let Some((&(group, _), rest)) = at.counts.split_first() else {
            return if self.load_is_possible(chosen) { self.consider(chosen, budget) } else { Ok(()) };
        };
        budget.spend()?;
        let Some(entry) = at.groups.get(group) else { return Ok(()) };
        let Some(&class) = entry.classes.get(at.class) else {
            let left = rest.first().map_or(0, |&(_, count)| count);
            return if at.left == 0 {
                self.share(Sharing { counts: rest, class: 0, left, ..at }, chosen, budget)
            } else {
                Ok(())
            };
        };
        let later: Option<Amount> =
            rest.iter().map(|&(group, count)| at.groups.get(group).and_then(|group| group.least(0, count))).sum();
        let Some(later) = later else { return Ok(()) };
        let most = self.supply.classes.get(class).map_or(0, crate::purchase::supply::Class::most).min(at.left);
        let ways = (0..=most).rev().filter_map(|count| {
            let own = self.supply.classes.get(class)?.least_cost(count)?;
            let others = entry.least(at.class + 1, at.left - count)?;
            Some((at.cost + own + others + later, Reverse(count), own))
        });
        // the cheapest first, for it bounds the rest
        let mut ways: Vec<_> = ways.collect();
        ways.sort_unstable();
        for (least, Reverse(count), own) in ways {
            if self.is_beaten(least) {
                continue;
            }
            if count > 0 {
                chosen.push((class, count));
            }
            if self.may_improve(least, chosen, at.total, at.total) && (count == 0 || self.grid.mixes_allow(chosen)) {
                let next = Sharing { class: at.class + 1, left: at.left - count, cost: at.cost + own, ..at };
                self.share(next, chosen, budget)?;
            }
            if count > 0 {
                chosen.pop();
            }
        }
        Ok(())
    }

    /// Whether the numbers could be loads of single classes repeated, or are of several classes, which
    /// only placing can tell.
    fn load_is_possible(&mut self, chosen: &[(usize, usize)]) -> bool {
        match *chosen {
            [(class, _)] => {
                let widest = self.grid.channels.iter().map(|channel| channel.slots.len()).max().unwrap_or(0);
                (1..=widest).any(|count| self.is_possible(&vec![class; count]))
            }
            _ => true,
        }
    }

    /// Chooses numbers class by class, within each set of classes that may meet: the one that must cost
    /// least first.
    pub(crate) fn loose(&mut self, budget: &mut Budget) -> Result<(), Spent> {
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
        let Some(slot) = self.grid.slots.first() else { return sets };
        for mix in
            self.grid.active.mixes.iter().filter(|mix| mix.bound.within == Scope::Machine && mix.bound.at_most == 1)
        {
            let MixOf::Modules(key) = mix.of else { continue };
            let key_of = |class: usize| {
                let module = self.grid.classes.get(class)?;
                key(&ModuleSite { machine: self.grid.machine, slot: slot.id, module }).ok().flatten()
            };
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
        start.bound(&self.prices(classes), self.needs.at_least)
    }

    fn loose_among(&mut self, mut classes: Vec<usize>, budget: &mut Budget) -> Result<(), Spent> {
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
        prices.sort_by_cached_key(|prices| Reverse(start.bound(std::slice::from_ref(prices), self.needs.at_least)));
        prices.truncate(BEST_PRICES);
        // plans of one class first: they are often best, and bound the rest
        for &class in &classes {
            let most = self.supply.classes.get(class).map_or(0, crate::purchase::supply::Class::most);
            for count in 1..=most {
                let capacity = times(self.supply.classes.get(class).map(|entry| entry.module.capacity()), count);
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
    ) -> Result<(), Spent> {
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
                capacity: node.capacity + times(Some(each), count),
                cost: node.cost + entry.least_cost(count)?,
            };
            let fits = self.needs.at_most.is_none_or(|most| next.capacity <= most);
            fits.then(|| (next.bound(prices, self.needs.at_least), Reverse(count), next))
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
            if count == 0 || self.grid.mixes_allow(chosen) {
                self.choose(classes, prices, next, chosen, budget)?;
            }
            if count > 0 {
                chosen.pop();
            }
        }
        Ok(())
    }

    /// What any plan costs at least.
    pub(crate) fn bound(&self) -> Option<Amount> {
        let classes: Vec<usize> = (0..self.supply.classes.len()).filter(|&class| self.allowed(class)).collect();
        self.meeting(classes).iter().map(|set| self.bound_of(set)).min()
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

fn times(capacity: Option<Capacity>, count: usize) -> Capacity {
    capacity.unwrap_or(Capacity::ZERO).times(u64::try_from(count).unwrap_or(u64::MAX))
}

/// The least cost of so many modules from two curves together.
fn join(a: &[Option<Amount>], b: &[Option<Amount>], most: usize) -> Vec<Option<Amount>> {
    let longest = (a.len() + b.len()).saturating_sub(2).min(most);
    let least = |count: usize| {
        (0..=count)
            .filter_map(|from| Some(a.get(from).copied().flatten()? + b.get(count - from).copied().flatten()?))
            .min()
    };
    (0..=longest).map(least).collect()
}
