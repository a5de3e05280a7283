//! Candidates where rules ask that populated channels, and processors, be alike: a load repeated over so
//! many channels of each processor. These are few, and are considered by least cost.

use crate::fill::ClassId;
use crate::finding::FactValue;
use crate::purchase::engine::choose::{Frame, Node};
use crate::purchase::engine::classes::{Class, times};
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::search::Search;
use crate::rule::CountBound;
use crate::search::{Budget, Index, StopReason, Table, index_types};
use crate::stated::Scope;
use crate::unit::Capacity;

index_types! {
    /// A group of classes.
    GroupId;
}

/// Classes that a load's key does not tell apart.
struct Group {
    classes: Vec<ClassId>,
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

/// A load over so many channels: how many modules of each group, by group.
struct Shape {
    cost: Amount,
    counts: Vec<(GroupId, usize)>,
    /// The groups of the load.
    load: Vec<GroupId>,
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

    fn modules(&self) -> Option<usize> {
        Some(self.modules)
    }

    fn suits(&self, _: &Node) -> bool {
        true
    }
}

impl Search<'_, '_> {
    /// Whether candidates are loads repeated over channels and processors.
    pub(crate) fn is_alike(&self) -> bool {
        let model = self.model();
        model.sockets_repeat() || (model.sockets.len() == 1 && model.loads_repeat().is_some())
    }

    pub(crate) fn alike(&mut self, budget: &mut Budget<'_>) -> Result<(), StopReason> {
        let groups = self.groups();
        let mut shapes = self.shapes(&groups, budget)?;
        shapes.sort_by(|a, b| (a.cost, &a.counts).cmp(&(b.cost, &b.counts)));
        let costs: Vec<Amount> = shapes.iter().map(|shape| shape.cost).collect();
        for (index, shape) in shapes.into_iter().enumerate() {
            if self.is_beaten(shape.cost) || self.is_done() {
                break;
            }
            // every later shape costs as much at least, and often less than what is left of this one
            self.rest_costs = Some(shape.cost);
            self.later_costs = costs.get(index + 1).copied();
            budget.spend()?;
            if !self.load_is_possible(&groups, &shape.load, 0, &mut Vec::new()) {
                continue;
            }
            let Some((frame, start)) = shape_frame(&groups, &shape) else { continue };
            // the load is that of every channel with memory
            self.most_channels = frame.modules.checked_div(shape.load.len()).unwrap_or(0);
            let chosen = self.choose(&frame, start, &mut Vec::new(), budget);
            self.most_channels = self.model().channels.len();
            chosen?;
        }
        Ok(())
    }

    /// The classes by the key that a channel of one of their modules has; a class that may not be used is in none.
    fn groups(&self) -> Table<GroupId, Group> {
        let fact = self.model().loads_repeat();
        let mut groups: Vec<(Option<FactValue>, Group)> = Vec::new();
        for (id, class) in self.classes().all.iter().filter(|&(id, _)| self.allowed(id)) {
            let key = fact.map(|fact| fact(class.module));
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
                curve = join(&curve, &own, self.model().slots.len());
                group.curves.push(curve.clone());
            }
            group.curves.reverse();
        }
        groups
    }

    /// What the classes cost that may not be used: what is present of them is pulled.
    fn pulled_away(&self) -> Option<Amount> {
        let barred = self.classes().all.iter().filter(|&(id, _)| !self.allowed(id));
        barred.map(|(_, class)| class.least_cost(0)).sum()
    }

    fn shapes(&self, groups: &Table<GroupId, Group>, budget: &mut Budget<'_>) -> Result<Vec<Shape>, StopReason> {
        let model = self.model();
        let widest = model.channels.values().iter().map(|channel| channel.slots.len()).max().unwrap_or(0);
        let channels = model.sockets.values().iter().map(|socket| socket.channels.len()).max().unwrap_or(0);
        let all = model.sockets.len();
        let must_have = |bound: &CountBound| bound.within == Scope::Socket && !bound.allows(0);
        let fewest = if model.in_force.counts.iter().any(must_have) { all } else { 1 };
        let Some(base) = self.pulled_away() else { return Ok(Vec::new()) };
        let mut shapes = Vec::new();
        // no module at all is a candidate too
        self.add_shape(groups, (&[], 0), base, &mut shapes);
        let mut load = Vec::new();
        each_load(groups.len(), 0, widest, &mut load, &mut |load| {
            budget.spend()?;
            // over so many channels of so many processors: one without memory is unlike none
            let mut times: Vec<usize> =
                (fewest..=all).flat_map(|sockets| (1..=channels).map(move |channels| sockets * channels)).collect();
            times.sort_unstable();
            times.dedup();
            times.into_iter().for_each(|count| self.add_shape(groups, (load, count), base, &mut shapes));
            Ok(())
        })?;
        Ok(shapes)
    }

    /// Adds the shape in which `each` channels carry a load, where it can meet the request.
    fn add_shape(
        &self,
        groups: &Table<GroupId, Group>,
        (load, each): (&[GroupId], usize),
        base: Amount,
        shapes: &mut Vec<Shape>,
    ) {
        let taken = (load.len() * each).checked_add(self.needs.free_slots);
        if taken.is_none_or(|taken| taken > self.model().slots.len()) {
            return;
        }
        let mut counts: Vec<(GroupId, usize)> = Vec::new();
        for &group in load {
            match counts.last_mut().filter(|(last, _)| *last == group) {
                Some((_, count)) => *count += each,
                None => counts.push((group, each)),
            }
        }
        let held = counts.iter().filter_map(|&(group, count)| Some(times(groups.get(group)?.capacity, count)));
        if !self.suits(held.sum()) {
            return;
        }
        let count_of = |id: GroupId| counts.iter().find(|(known, _)| *known == id).map_or(0, |&(_, count)| count);
        let costs: Option<Amount> = groups.iter().map(|(id, group)| group.least(0, count_of(id))).sum();
        if let Some(cost) = costs.map(|costs| costs + base).filter(|&cost| !self.is_beaten(cost)) {
            shapes.push(Shape { cost, counts, load: load.to_vec() });
        }
    }

    /// Whether some classes of these groups, of which those before `place` are chosen, make a load that some channel may
    /// carry.
    fn load_is_possible(
        &mut self,
        groups: &Table<GroupId, Group>,
        load: &[GroupId],
        place: usize,
        chosen: &mut Vec<ClassId>,
    ) -> bool {
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
    Some((ShapeFrame { steps, modules }, Node { place: 0, slots, capacity: Capacity::ZERO, cost }))
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
