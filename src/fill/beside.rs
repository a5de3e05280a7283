//! Which loads may stand beside each other at one processor, by the rules that compare its channels two by two.

use std::collections::BTreeMap;
use std::rc::Rc;

use itertools::Itertools;

use crate::fill::legal_loads::LegalLoads;
use crate::fill::load_facts::LoadCode;
use crate::fill::{ChannelIx, ClassId, PlaceId, ShapeIx, SlotModel, SocketIx};
use crate::rule::even;
use crate::search::{Budget, StopReason, wide};

/// Loads of which each may stand beside every other: by shape of channel, which of its legal loads.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Company(BTreeMap<ShapeIx, Vec<bool>>);

impl Company {
    pub(crate) fn admits(&self, shape: ShapeIx, load: usize) -> bool {
        self.0.get(&shape).and_then(|loads| loads.get(load)) == Some(&true)
    }
}

/// The most companies that are told apart; where there are more, any load may stand beside any other, and complete
/// candidates are held against the rules.
const MOST_COMPANIES: usize = 1 << 12;

/// Steps of work that holding one load against another comes to.
const ONE_PAIR: u64 = 16;

/// How the channels of a processor are compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Compared {
    /// By all rules in force.
    Fully,
    /// As in a printed layout: which slots are filled is no matter, and unlike modules in one round are.
    ByRound,
}

/// A legal load of a shape of channel.
struct Node<'n> {
    shape: ShapeIx,
    /// A channel of the shape, and the place of the load among its legal ones.
    channel: ChannelIx,
    index: usize,
    code: &'n LoadCode,
    /// The round of each place.
    rounds: &'n [Option<usize>],
}

impl SlotModel<'_> {
    /// The companies of loads that the channels of a processor may have, of modules of some classes; `None` where the rules
    /// in force compare no channels.
    pub(crate) fn companies(
        &self,
        errors: &SlotModel<'_>,
        (socket, compared): (SocketIx, Compared),
        classes: &[ClassId],
        budget: &mut Budget<'_>,
    ) -> Result<Option<Rc<Vec<Company>>>, StopReason> {
        if !self.compares_channels() || !self.units_are_channels(socket) {
            return Ok(None);
        }
        let key = (socket, compared, classes.to_vec());
        if let Some(known) = self.companies.borrow().get(&key) {
            return Ok(known.clone());
        }
        let mut shapes: Vec<(ShapeIx, ChannelIx, Rc<LegalLoads>, Vec<Option<usize>>)> = Vec::new();
        for &channel in self.channels_of(socket) {
            let Some(shape) = self.channels.get(channel).map(|channel| channel.shape) else { continue };
            if shapes.iter().all(|(known, ..)| *known != shape) {
                let legal = self.legal_loads(channel, classes, budget)?;
                shapes.push((shape, channel, legal, self.rounds_of(channel)));
            }
        }
        let nodes = shapes.iter().flat_map(|(shape, channel, legal, rounds)| {
            let node = move |(index, code)| Node { shape: *shape, channel: *channel, index, code, rounds };
            legal.loads.iter().map(|load| &load.code).enumerate().map(node)
        });
        let nodes: Vec<Node<'_>> = nodes.collect();
        let mut beside: Vec<Vec<bool>> = Vec::with_capacity(nodes.len());
        for (a, one) in nodes.iter().enumerate() {
            budget.work(wide(nodes.len()).saturating_mul(ONE_PAIR))?;
            // a load beside itself is left to the rules
            let other = |(b, other)| a == b || self.may_stand_beside(errors, compared, one, other);
            beside.push(nodes.iter().enumerate().map(other).collect());
        }
        let found = cliques(&beside).map(|cliques| {
            let company = |clique: Vec<usize>| {
                let mut company: BTreeMap<ShapeIx, Vec<bool>> =
                    shapes.iter().map(|(shape, _, legal, _)| (*shape, vec![false; legal.loads.len()])).collect();
                for node in clique.into_iter().filter_map(|node| nodes.get(node)) {
                    let entry = company.get_mut(&node.shape).and_then(|loads| loads.get_mut(node.index));
                    entry.into_iter().for_each(|entry| *entry = true);
                }
                Company(company)
            };
            Rc::new(cliques.into_iter().map(company).sorted().dedup().collect::<Vec<Company>>())
        });
        self.companies.borrow_mut().insert(key, found.clone());
        Ok(found)
    }

    fn may_stand_beside(&self, errors: &SlotModel<'_>, compared: Compared, a: &Node<'_>, b: &Node<'_>) -> bool {
        let (Some(one), Some(other)) = (self.load(a.channel, a.code), self.load(b.channel, b.code)) else {
            return true;
        };
        let keys_differ = matches!((one.key, other.key), (Some(a), Some(b)) if a != b);
        let unlike = || match (one.held, other.held) {
            (Some(a), Some(b)) if a != b => {
                let held = self.judged.held.borrow();
                match (held.get(a), held.get(b)) {
                    (Some(a), Some(b)) if compared == Compared::ByRound && !self.in_force.reads_own_loads => {
                        even::unlike_in_a_round(a, b)
                    }
                    (Some(a), Some(b)) => !even::are_alike(a, b),
                    _ => false,
                }
            }
            _ => false,
        };
        let would_spread = || {
            self.in_force.spread_first
                && compared == Compared::Fully
                && (self.would_spread(errors, a, b) || self.would_spread(errors, b, a))
        };
        !keys_differ && !unlike() && !would_spread()
    }

    /// Whether a load of a channel may stand beside an empty channel of its kind.
    pub(crate) fn may_stand_beside_empty(&self, errors: &SlotModel<'_>, channel: ChannelIx, code: &LoadCode) -> bool {
        let socket = self.places_of(channel).first().and_then(|&place| self.slots.get(place)).map(|slot| slot.socket);
        let Some(shape) = self.channels.get(channel).map(|channel| channel.shape) else { return true };
        let (empty, rounds) = (vec![None; code.len()], self.rounds_of(channel));
        let node = |code| Node { shape, channel, index: 0, code, rounds: &rounds };
        !self.in_force.spread_first
            || !socket.is_some_and(|socket| self.units_are_channels(socket))
            || !self.would_spread(errors, &node(code), &node(&empty))
    }

    /// Whether a module of one load sits in a later round than an empty slot of the other in which it could sit.
    fn would_spread(&self, errors: &SlotModel<'_>, from: &Node<'_>, to: &Node<'_>) -> bool {
        let filled = from.code.iter().zip(from.rounds).enumerate();
        let filled = filled.filter_map(|(index, (class, round))| Some((index, (*class)?, (*round)?)));
        filled.into_iter().any(|(index, class, round)| {
            let empty = to.code.iter().zip(to.rounds).enumerate().filter(|(_, (class, _))| class.is_none());
            let empty = empty.filter_map(|(index, (_, other))| Some((index, (*other)?)));
            empty.filter(|&(_, other)| other < round).any(|(into, _)| {
                let (mut left, mut filled) = (from.code.clone(), to.code.clone());
                left.get_mut(index).into_iter().for_each(|place| *place = None);
                filled.get_mut(into).into_iter().for_each(|place| *place = Some(class));
                let takes = |place: &PlaceId| errors.admits(*place, class);
                errors.places_of(to.channel).get(into).is_some_and(takes)
                    && errors.load(from.channel, &left).is_some()
                    && errors.load(to.channel, &filled).is_some()
            })
        })
    }

    /// The round of each place of a channel; absent where no module of a joined channel could go with it.
    pub(crate) fn rounds_of(&self, channel: ChannelIx) -> Vec<Option<usize>> {
        let round = |place: &PlaceId| {
            let slot = self.slots.get(*place)?;
            let socket = self.machine.platform().slot(slot.id).socket;
            let unit = self.machine.units(socket).iter().find(|unit| unit.slots().contains(&slot.id))?;
            unit.rounds.iter().position(|slots| slots.contains(&slot.id))
        };
        self.places_of(channel).iter().map(round).collect()
    }

    /// Whether some rule in force compares channels two by two.
    fn compares_channels(&self) -> bool {
        self.in_force.spread_first || self.channels_are_alike()
    }

    /// Whether what rules say of the channels that a mode joins can be said of each channel by itself: where all are of one
    /// shape and must hold the same facts.
    pub(crate) fn units_are_channels(&self, socket: SocketIx) -> bool {
        let Some(mode) = self.machine.mode_description().filter(|mode| !mode.groups.is_empty()) else { return true };
        let joined = self.channels_of(socket).iter().filter(|&&channel| self.like_group_of(channel).is_some());
        let shapes = joined.filter_map(|&channel| self.channels.get(channel)).map(|channel| channel.shape);
        let says_enough = matches!(
            mode.identical,
            crate::platform::Identical::Organization
                | crate::platform::Identical::Facts
                | crate::platform::Identical::Part
        );
        !self.in_force.like_groups.is_empty()
            && says_enough
            && shapes.dedup().count() <= 1
            && !self.in_force.reads_own_loads
    }
}

/// The largest sets of nodes of which each two are beside each other, those that no other holds; `None` where there are too
/// many.
pub(crate) fn cliques(beside: &[Vec<bool>]) -> Option<Vec<Vec<usize>>> {
    // nodes with the same neighbours that are neighbours themselves are one
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (node, row) in beside.iter().enumerate() {
        let same = |group: &&mut Vec<usize>| group.first().and_then(|&first| beside.get(first)) == Some(row);
        match groups.iter_mut().find(same) {
            Some(group) => group.push(node),
            None => groups.push(vec![node]),
        }
    }
    let is_beside = |a: usize, b: usize| {
        let first = |group: usize| groups.get(group).and_then(|group| group.first().copied());
        match (first(a), first(b)) {
            (Some(a), Some(b)) => beside.get(a).and_then(|row| row.get(b)) == Some(&true),
            _ => false,
        }
    };
    let mut found = Vec::new();
    let all: Vec<usize> = (0..groups.len()).collect();
    if !extend(&is_beside, &mut Vec::new(), all, Vec::new(), &mut found) {
        return None;
    }
    let nodes =
        |clique: Vec<usize>| clique.into_iter().filter_map(|group| groups.get(group)).flatten().copied().collect();
    Some(found.into_iter().map(nodes).collect())
}

/// Adds the cliques that extend one by candidates and hold none of those that are done; false where they are too many.
fn extend(
    is_beside: &dyn Fn(usize, usize) -> bool,
    clique: &mut Vec<usize>,
    mut candidates: Vec<usize>,
    mut done: Vec<usize>,
    found: &mut Vec<Vec<usize>>,
) -> bool {
    if candidates.is_empty() {
        if done.is_empty() {
            found.push(clique.clone());
        }
        return found.len() <= MOST_COMPANIES;
    }
    // a clique without the pivot holds something that is not beside it
    let pivot = candidates
        .iter()
        .chain(&done)
        .copied()
        .max_by_key(|&pivot| candidates.iter().filter(|&&other| other != pivot && is_beside(pivot, other)).count());
    let tried: Vec<usize> = candidates
        .iter()
        .copied()
        .filter(|&node| pivot.is_none_or(|pivot| node == pivot || !is_beside(pivot, node)))
        .collect();
    for node in tried {
        let near =
            |nodes: &[usize]| nodes.iter().copied().filter(|&other| other != node && is_beside(node, other)).collect();
        clique.push(node);
        let go_on = extend(is_beside, clique, near(&candidates), near(&done), found);
        clique.pop();
        if !go_on {
            return false;
        }
        candidates.retain(|&other| other != node);
        done.push(node);
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn largest_companies_of_who_may_stand_beside_whom() {
        // 0 - 1 - 2 - 3, and 4 beside all
        let edge = |a: usize, b: usize| a == b || a == 4 || b == 4 || a.abs_diff(b) == 1;
        let beside: Vec<Vec<bool>> = (0..5).map(|a| (0..5).map(|b| edge(a, b)).collect()).collect();
        let mut found = cliques(&beside).unwrap();
        found.iter_mut().for_each(|clique| clique.sort_unstable());
        found.sort();
        assert_eq!(found, [vec![0, 1, 4], vec![1, 2, 4], vec![2, 3, 4]]);
        // nobody beside anybody else
        let alone: Vec<Vec<bool>> = (0..3).map(|a| (0..3).map(|b| a == b).collect()).collect();
        assert_eq!(cliques(&alone).unwrap().len(), 3);
    }
}
