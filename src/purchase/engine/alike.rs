//! Candidates where rules ask that populated channels, and processors, be alike: a load repeated over so
//! many channels of each processor. These are few, and are considered by least cost.

use std::cmp::Reverse;

use crate::fill::ClassId;
use crate::finding::FactValue;
use crate::purchase::engine::classes::times;
use crate::purchase::engine::solve::{Solver, by_class_id};
use crate::purchase::engine::stock::Amount;
use crate::rule::CountBound;
use crate::search::{Budget, Index, StopReason};
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
    /// The groups of the load.
    load: Vec<usize>,
}

impl Solver<'_, '_> {
    /// Whether candidates are loads repeated over channels and processors.
    pub(crate) fn is_alike(&self) -> bool {
        self.grid.sockets_repeat() || (self.grid.sockets.len() == 1 && self.grid.loads_repeat().is_some())
    }

    pub(crate) fn alike(&mut self, budget: &mut Budget) -> Result<(), StopReason> {
        let groups = self.groups();
        let mut shapes = self.shapes(&groups, budget)?;
        shapes.sort_by(|a, b| (a.cost, &a.counts).cmp(&(b.cost, &b.counts)));
        for shape in shapes {
            if self.is_beaten(shape.cost) || self.is_done() {
                break;
            }
            budget.spend()?;
            if !self.load_is_possible(&groups, &shape.load, 0, &mut Vec::new()) {
                continue;
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
        Some(self.grid.loads_repeat()?(self.grid.classes.get(ClassId::of(class))?))
    }

    fn shapes(&self, groups: &[Group], budget: &mut Budget) -> Result<Vec<Shape>, StopReason> {
        let widest = self.grid.channels.values().iter().map(|channel| channel.slots.len()).max().unwrap_or(0);
        let channels = self.grid.sockets.values().iter().map(|socket| socket.channels.len()).max().unwrap_or(0);
        let all = self.grid.sockets.len();
        let must_have = |bound: &CountBound| bound.within == Scope::Socket && !bound.allows(0);
        let fewest = if self.grid.in_force.counts.iter().any(must_have) { all } else { 1 };
        let mut shapes = Vec::new();
        // no module at all is a candidate too
        self.shape(groups, &[], 0, &mut shapes);
        let mut load = Vec::new();
        self.loads(groups, 0, widest, &mut load, &mut |load| {
            // over so many channels of so many processors: one without memory is unlike none
            let mut times: Vec<usize> = (fewest..=self.grid.sockets.len())
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
        visit: &mut dyn FnMut(&[usize]) -> Result<(), StopReason>,
    ) -> Result<(), StopReason> {
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
        if (load.len() * each).saturating_add(self.needs.free_slots) > self.grid.slots.len() {
            return;
        }
        let mut counts: Vec<(usize, usize)> = Vec::new();
        for &group in load {
            match counts.last_mut().filter(|(last, _)| *last == group) {
                Some((_, count)) => *count += each,
                None => counts.push((group, each)),
            }
        }
        let capacity = counts
            .iter()
            .map(|&(group, count)| groups.get(group).map_or(Capacity::ZERO, |group| times(group.capacity, count)))
            .sum();
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
            shapes.push(Shape { cost, counts, load: load.to_vec() });
        }
    }

    /// Shares each group's number out among its classes, as long as the least cost of the rest allows.
    fn share(
        &mut self,
        at: Sharing<'_>,
        chosen: &mut Vec<(usize, usize)>,
        budget: &mut Budget,
    ) -> Result<(), StopReason> {
        if self.is_done() {
            return Ok(());
        }
        let Some((&(group, _), rest)) = at.counts.split_first() else {
            return if self.may_be_loads(chosen) { self.consider(chosen, budget) } else { Ok(()) };
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
        let most = self.supply.classes.get(class).map_or(0, crate::purchase::engine::classes::Class::most).min(at.left);
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
            if self.may_improve(least, chosen, at.total, at.total)
                && (count == 0 || self.grid.mixes_allow(&by_class_id(chosen)))
            {
                let next = Sharing { class: at.class + 1, left: at.left - count, cost: at.cost + own, ..at };
                self.share(next, chosen, budget)?;
            }
            if count > 0 {
                chosen.pop();
            }
        }
        Ok(())
    }

    /// Whether some classes of these groups, of which those before `place` are chosen, make a load that some channel may
    /// carry.
    fn load_is_possible(&mut self, groups: &[Group], load: &[usize], place: usize, chosen: &mut Vec<usize>) -> bool {
        let Some(&group) = load.get(place) else { return chosen.is_empty() || self.is_possible(chosen) };
        let classes = groups.get(group).map_or(&[][..], |group| &group.classes);
        // of one group in order, for a load is judged in every order
        let before = chosen.last().copied().filter(|_| place > 0 && load.get(place - 1) == Some(&group));
        for &class in classes.iter().filter(|&&class| before.is_none_or(|before| class >= before)) {
            chosen.push(class);
            let possible = self.load_is_possible(groups, load, place + 1, chosen);
            chosen.pop();
            if possible {
                return true;
            }
        }
        false
    }

    /// Whether the numbers could be loads of single classes repeated, or are of several classes, which
    /// only placing can tell.
    fn may_be_loads(&mut self, chosen: &[(usize, usize)]) -> bool {
        match *chosen {
            [(class, _)] => {
                let widest = self.grid.channels.values().iter().map(|channel| channel.slots.len()).max().unwrap_or(0);
                (1..=widest).any(|count| self.is_possible(&vec![class; count]))
            }
            _ => true,
        }
    }
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
