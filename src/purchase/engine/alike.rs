//! Candidates where rules ask that populated channels, and processors, be alike: a load repeated over so
//! many channels of each processor. These are few, and are considered by least cost.

use std::cmp::Reverse;
use std::ops::RangeInclusive;

use itertools::Itertools;

use crate::fill::{ChannelIx, ClassId};
use crate::purchase::engine::choose::{Frame, Node};
use crate::purchase::engine::classes::{Class, times};
use crate::purchase::engine::completions::join;
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::search::Search;
use crate::rule::{CountBound, is_odd};
use crate::search::{Budget, Index, StopReason, Table, index_types, wide};
use crate::stated::Scope;
use crate::unit::Capacity;

index_types! {
    /// A group of classes.
    GroupId;
}

/// Classes that a load's key does not tell apart.
pub(crate) struct Group {
    pub(crate) classes: Vec<ClassId>,
    capacity: Capacity,
    /// For the classes from each one on, by number of modules in one machine: what they cost at least.
    curves: Vec<Vec<Option<Amount>>>,
}

impl Group {
    /// The least cost of so many modules of the classes from `first` on.
    fn least(&self, first: usize, count: usize) -> Option<Amount> {
        self.curves.get(first)?.get(count).copied().flatten()
    }
}

/// A load over so many channels, or one for each processor: how many modules of each group, by group.
struct Shape {
    cost: Amount,
    counts: Vec<(GroupId, usize)>,
    loads: Vec<Carried>,
    /// Whether some processors stay as they are beside it.
    beside_kept: bool,
}

impl Shape {
    fn order(&self) -> (Amount, Reverse<usize>, usize, &[(GroupId, usize)]) {
        let channels = self.loads.iter().map(|carried| carried.channels).sum();
        let modules = self.counts.iter().map(|&(_, count)| count).sum();
        (self.cost, Reverse(channels), modules, &self.counts)
    }
}

/// A load that so many channels carry.
#[derive(Clone)]
struct Carried {
    /// The groups of the load.
    load: Vec<GroupId>,
    channels: usize,
    /// Whether some channel stays empty however the loads are shared out.
    beside_empty: bool,
}

/// Processors that stay as they are: how many, and how many modules of each group they have.
struct Kept {
    sockets: usize,
    counts: Vec<(GroupId, usize)>,
}

/// A class of a shape's groups.
struct Step {
    class: ClassId,
    /// What the later classes of its group cost at least, by how many modules they are.
    rest_of_group: Vec<Option<Amount>>,
    /// What all later groups of the shape cost at least.
    later: Amount,
    /// How many modules the group after its own has, where it is the last of its own.
    next_group: Option<usize>,
}

/// The ways to share each group's number out among its classes.
struct ShapeFrame {
    steps: Vec<Step>,
    modules: usize,
}

impl Frame for ShapeFrame {
    fn class(&self, place: usize) -> Option<ClassId> {
        self.steps.get(place).map(|step| step.class)
    }

    fn after(&self, node: &Node, count: usize, own: Amount) -> Option<(Amount, Node)> {
        let step = self.steps.get(node.place)?;
        let left = node.slots.checked_sub(count)?;
        let rest = step.rest_of_group.get(left).copied().flatten()?;
        let slots = step.next_group.unwrap_or(left);
        let next = Node { place: node.place + 1, slots, cost: node.cost + own, ..*node };
        Some((next.cost + rest + step.later, next))
    }

    fn modules(&self, _: &Node, _: usize) -> RangeInclusive<usize> {
        self.modules..=self.modules
    }

    fn suits(&self, _: &Node) -> bool {
        true
    }
}

impl Search<'_, '_> {
    /// Whether candidates are loads repeated over channels and processors.
    pub(crate) fn is_alike(&self) -> bool {
        let model = self.model();
        model.sockets_repeat() || self.has_two_loads() || (model.sockets.len() == 1 && model.repeats.is_some())
    }

    /// Whether each of two processors of one wiring may have a load of its own.
    fn has_two_loads(&self) -> bool {
        let model = self.model();
        model.repeats.is_some()
            && model.sockets.len() == 2
            && model.in_force.like_processors().is_none()
            && model.sockets.ids().map(|socket| model.wiring_of(socket)).all_equal()
    }

    pub(crate) fn alike(&mut self, budget: &mut Budget<'_>) -> Result<(), StopReason> {
        let groups = self.groups(budget)?;
        if self.has_two_loads() {
            // there are many shapes, of which those that are dearer need not be listed
            let allowed: Vec<ClassId> = self.classes().all.ids().filter(|&id| self.allowed(id)).collect();
            self.of_one_class(&allowed, budget)?;
        }
        let mut shapes = self.shapes(&groups, budget)?;
        // of one cost those first that fill most channels, and these with few modules: they are good, and bound the rest
        shapes.sort_by(|a, b| a.order().cmp(&b.order()));
        let costs: Vec<Amount> = shapes.iter().map(|shape| shape.cost).collect();
        for (index, shape) in shapes.into_iter().enumerate() {
            if self.is_beaten(shape.cost) || self.is_done() {
                break;
            }
            // every later shape costs as much at least, and often less than what is left of this one
            self.rest_costs = Some(shape.cost);
            self.later_costs = costs.get(index + 1).copied();
            budget.spend()?;
            // the loads are those of every channel with memory
            if !shape.beside_kept {
                self.most_channels = shape.loads.iter().map(|carried| carried.channels).sum();
            }
            let chosen = self.of_shape(&groups, &shape, budget);
            self.most_channels = self.model().channels.len();
            chosen?;
        }
        Ok(())
    }

    fn of_shape(
        &mut self,
        groups: &Table<GroupId, Group>,
        shape: &Shape,
        budget: &mut Budget<'_>,
    ) -> Result<(), StopReason> {
        if !self.are_possible(groups, shape) {
            return Ok(());
        }
        let Some((frame, start)) = shape_frame(groups, shape) else { return Ok(()) };
        self.choose(&frame, start, &mut Vec::new(), budget)
    }

    /// How many modules of each group there are in the shapes of which some load may be carried.
    pub(crate) fn group_counts(
        &mut self,
        groups: &Table<GroupId, Group>,
        budget: &mut Budget<'_>,
    ) -> Result<Vec<Vec<(GroupId, usize)>>, StopReason> {
        let shapes = self.shapes(groups, budget)?;
        let possible = shapes.into_iter().filter(|shape| self.are_possible(groups, shape));
        Ok(possible.map(|shape| shape.counts).collect())
    }

    /// The classes by the key that a channel of one of their modules has; a class that may not be used is in none.
    pub(crate) fn groups(&self, budget: &mut Budget<'_>) -> Result<Table<GroupId, Group>, StopReason> {
        let repeats = self.model().repeats.as_ref();
        let mut groups: Vec<(Option<usize>, Group)> = Vec::new();
        for (id, class) in self.classes().all.iter().filter(|&(id, _)| self.allowed(id)) {
            let key = repeats.and_then(|repeats| repeats.sort_of(id));
            match groups.iter_mut().find(|(known, _)| *known == key) {
                Some((_, group)) => group.classes.push(id),
                None => {
                    let capacity = class.module.capacity();
                    groups.push((key, Group { classes: vec![id], capacity, curves: Vec::new() }));
                }
            }
        }
        let mut groups: Table<GroupId, Group> = groups.into_iter().map(|(_, group)| group).collect();
        for (_, group) in groups.iter_mut() {
            let mut curve = vec![Some(0)];
            group.curves.push(curve.clone());
            for &class in group.classes.iter().rev() {
                let own = self.classes().all.get(class);
                let most = own.map_or(0, Class::most);
                let own: Vec<_> = (0..=most).map(|count| own.and_then(|class| class.least_cost(count))).collect();
                budget.work(wide(curve.len()).saturating_mul(wide(own.len())))?;
                curve = join(&curve, &own, self.model().slots.len());
                group.curves.push(curve.clone());
            }
            group.curves.reverse();
        }
        Ok(groups)
    }

    /// The processors that may stay as they are, each set of them but that of all; first that of none.
    fn kept(&self, groups: &Table<GroupId, Group>) -> Vec<Kept> {
        let model = self.model();
        let mut all = vec![Kept { sockets: 0, counts: Vec::new() }];
        for before in model.printed.iter().filter(|exempt| exempt.was_so_before) {
            let group =
                |class: ClassId| groups.iter().find(|(_, group)| group.classes.contains(&class)).map(|(id, _)| id);
            let Some(own) = before.classes().map(group).collect::<Option<Vec<GroupId>>>() else { continue };
            for index in 0..all.len() {
                let Some(known) = all.get(index).filter(|known| known.sockets + 1 < model.sockets.len()) else {
                    continue;
                };
                let mut counts = known.counts.clone();
                for &group in &own {
                    match counts.iter_mut().find(|(known, _)| *known == group) {
                        Some((_, count)) => *count += 1,
                        None => counts.push((group, 1)),
                    }
                }
                let sockets = known.sockets + 1;
                all.push(Kept { sockets, counts });
            }
        }
        all
    }

    /// What is paid in any case: for the classes that may not be used, of which what is present is pulled, and to suppliers.
    fn in_any_case(&self) -> Option<Amount> {
        let barred = self.classes().all.iter().filter(|&(id, _)| !self.allowed(id));
        let pulled: Option<Amount> = barred.map(|(_, class)| class.least_cost(0)).sum();
        Some(self.classes().market.paid() + pulled?)
    }

    fn shapes(&self, groups: &Table<GroupId, Group>, budget: &mut Budget<'_>) -> Result<Vec<Shape>, StopReason> {
        let model = self.model();
        let widest = model.channels.values().iter().map(|channel| channel.slots.len()).max().unwrap_or(0);
        let with_places = |channel: &&ChannelIx| !model.places_of(**channel).is_empty();
        let channels_of = |socket| model.channels_of(socket).iter().filter(with_places).count();
        let channels = model.sockets.ids().map(channels_of).max().unwrap_or(0);
        let all = model.sockets.len();
        let classes: Vec<ClassId> = self.classes().all.ids().filter(|&class| self.allowed(class)).collect();
        let no_odd_number =
            model.sockets.ids().all(|socket| model.refuses_odd_channels(&self.context.errors, socket, &classes));
        let must_have = |bound: &CountBound| bound.within == Scope::Socket && !bound.allows(0);
        let each_must_have = model.in_force.counts.iter().any(must_have);
        let Some(base) = self.in_any_case() else { return Ok(Vec::new()) };
        let differ = model.before.as_ref().is_some_and(|before| before.processors_differ);
        let keeps_alike = model.in_force.like_processors().is_some() && !differ;
        let may_be_filled = |count: &usize| !(no_odd_number && is_odd(*count, channels));
        let mut shapes = Vec::new();
        // processors whose warnings were so before may stay as they are; mostly none does
        for kept in self.kept(groups) {
            let all = all - kept.sockets;
            let fewest = if each_must_have { all } else { 1 };
            // beside processors that were alike and stay as they are, what differs would be new
            let alone = kept.sockets > 0 && keeps_alike;
            // no further module at all is a candidate too
            self.add_shape(groups, &kept, &[], base, &mut shapes);
            if all == 2 && self.has_two_loads() {
                let mut own = Vec::new();
                each_load(groups.len(), 0, widest, &mut Vec::new(), &mut |load| {
                    budget.spend()?;
                    let counts = (1..=channels).filter(may_be_filled);
                    own.extend(counts.map(|own| Carried {
                        load: load.to_vec(),
                        channels: own,
                        beside_empty: own < channels,
                    }));
                    Ok(())
                })?;
                self.add_pairs(groups, &own, (!each_must_have, base), &mut shapes, budget)?;
                continue;
            }
            let mut load = Vec::new();
            let widest = if alone { 0 } else { widest };
            each_load(groups.len(), 0, widest, &mut load, &mut |load| {
                budget.spend()?;
                // over so many channels of so many processors: one without memory is unlike none
                let counts = (1..=channels).filter(may_be_filled);
                let mut times: Vec<(usize, bool)> = (fewest..=all)
                    .cartesian_product(counts)
                    .map(|(sockets, own)| (sockets * own, own < channels))
                    .collect();
                times.sort_unstable();
                times.dedup_by_key(|(count, _)| *count);
                times.into_iter().for_each(|(channels, beside_empty)| {
                    let carried = Carried { load: load.to_vec(), channels, beside_empty };
                    self.add_shape(groups, &kept, &[&carried], base, &mut shapes);
                });
                Ok(())
            })?;
        }
        Ok(shapes)
    }

    /// Adds the shapes in which each of two processors has one of these loads, or one of them none.
    fn add_pairs(
        &self,
        groups: &Table<GroupId, Group>,
        own: &[Carried],
        (one_will_do, base): (bool, Amount),
        shapes: &mut Vec<Shape>,
        budget: &mut Budget<'_>,
    ) -> Result<(), StopReason> {
        let none = Kept { sockets: 0, counts: Vec::new() };
        for (index, first) in own.iter().enumerate() {
            budget.work(wide(own.len() - index))?;
            if one_will_do {
                self.add_shape(groups, &none, &[first], base, shapes);
            }
            for second in own.iter().skip(index) {
                self.add_shape(groups, &none, &[first, second], base, shapes);
            }
        }
        Ok(())
    }

    /// Adds the shape in which so many channels carry each load, where it can meet the request.
    fn add_shape(
        &self,
        groups: &Table<GroupId, Group>,
        kept: &Kept,
        loads: &[&Carried],
        base: Amount,
        shapes: &mut Vec<Shape>,
    ) {
        let kept_modules: usize = kept.counts.iter().map(|&(_, count)| count).sum();
        let modules: usize = loads.iter().map(|carried| carried.load.len() * carried.channels).sum();
        let taken = (modules + kept_modules).checked_add(self.needs.free_slots);
        if taken.is_none_or(|taken| taken > self.model().slots.len()) {
            return;
        }
        let mut counts: Vec<(GroupId, usize)> = Vec::new();
        for carried in loads {
            for &group in &carried.load {
                match counts.iter_mut().find(|(known, _)| *known == group) {
                    Some((_, count)) => *count += carried.channels,
                    None => counts.push((group, carried.channels)),
                }
            }
        }
        for &(group, own) in &kept.counts {
            match counts.iter_mut().find(|(known, _)| *known == group) {
                Some((_, count)) => *count += own,
                None => counts.push((group, own)),
            }
        }
        let held = counts.iter().filter_map(|&(group, count)| Some(times(groups.get(group)?.capacity, count)));
        if !self.suits(held.sum()) {
            return;
        }
        let count_of = |id: GroupId| counts.iter().find(|(known, _)| *known == id).map_or(0, |&(_, count)| count);
        let costs: Option<Amount> = groups.iter().map(|(id, group)| group.least(0, count_of(id))).sum();
        let first = |&(group, count): &(GroupId, usize)| Some((*groups.get(group)?.classes.first()?, count));
        let cost = costs.filter(|costs| !self.is_beaten(costs + base));
        let cost =
            cost.and_then(|costs| Some(costs + base + self.goal.follows_at_least(counts.iter().filter_map(first))?));
        if let Some(cost) = cost.filter(|&cost| !self.is_beaten(cost)) {
            let loads = loads.iter().copied().cloned().collect();
            shapes.push(Shape { cost, counts, loads, beside_kept: kept.sockets > 0 });
        }
    }

    /// Whether some channel may carry each load of a shape.
    fn are_possible(&mut self, groups: &Table<GroupId, Group>, shape: &Shape) -> bool {
        shape.loads.iter().all(|carried| self.load_is_possible(groups, carried, 0, &mut Vec::new()))
    }

    /// Whether some classes of these groups, of which those before `place` are chosen, make a load that some channel may
    /// carry.
    fn load_is_possible(
        &mut self,
        groups: &Table<GroupId, Group>,
        carried: &Carried,
        place: usize,
        chosen: &mut Vec<ClassId>,
    ) -> bool {
        let load = &carried.load;
        let Some(&group) = load.get(place) else {
            return chosen.is_empty() || self.is_possible(chosen, carried.beside_empty);
        };
        let classes = groups.get(group).map_or(&[][..], |group| &group.classes);
        // of one group in order, for a load is judged in every order
        let before = chosen.last().copied().filter(|_| place > 0 && load.get(place - 1) == Some(&group));
        for &class in classes.iter().filter(|&&class| before.is_none_or(|before| class >= before)) {
            chosen.push(class);
            let possible = self.load_is_possible(groups, carried, place + 1, chosen);
            chosen.pop();
            if possible {
                return true;
            }
        }
        false
    }
}

/// The frame of a shape, and where it starts; `None` where its numbers cannot be had.
fn shape_frame(groups: &Table<GroupId, Group>, shape: &Shape) -> Option<(ShapeFrame, Node)> {
    let mut steps = Vec::new();
    let mut own = 0;
    for (index, &(id, count)) in shape.counts.iter().enumerate() {
        let group = groups.get(id)?;
        own += group.least(0, count)?;
        let after = shape.counts.get(index + 1..).unwrap_or_default();
        let later: Option<Amount> = after.iter().map(|&(id, count)| groups.get(id)?.least(0, count)).sum();
        for (place, &class) in group.classes.iter().enumerate() {
            let is_last = place + 1 == group.classes.len();
            steps.push(Step {
                class,
                rest_of_group: group.curves.get(place + 1)?.clone(),
                later: later?,
                next_group: is_last.then(|| after.first().map_or(0, |&(_, count)| count)),
            });
        }
    }
    let modules = shape.counts.iter().map(|&(_, count)| count).sum();
    // everything that is not shared out: what is pulled
    let cost = shape.cost - own;
    let slots = shape.counts.first().map_or(0, |&(_, count)| count);
    Some((
        ShapeFrame { steps, modules },
        Node { place: 0, slots, learnt: [None; Node::MOST_LEARNT], capacity: Capacity::ZERO, cost },
    ))
}

/// Every multiset of groups of up to `left`, the groups from one on.
fn each_load(
    groups: usize,
    from: usize,
    left: usize,
    load: &mut Vec<GroupId>,
    visit: &mut dyn FnMut(&[GroupId]) -> Result<(), StopReason>,
) -> Result<(), StopReason> {
    if left == 0 {
        return Ok(());
    }
    for group in from..groups {
        load.push(GroupId::of(group));
        visit(load)?;
        each_load(groups, group, left - 1, load, visit)?;
        load.pop();
    }
    Ok(())
}
