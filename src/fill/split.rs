//! How the modules of a demand can be shared out among processors.

use std::collections::HashSet;

use crate::fill::Grid;
use crate::fill::loads::Loads;
use crate::fill::place::Demand;
use crate::search::{Budget, Spent, StateSet};

/// What is given up by a way of sharing out; less is better in each.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Target {
    /// Present modules that are used and do not stay in their slots.
    pub(crate) moves: usize,
    /// Largest difference between processors, in weighted MiB.
    pub(crate) spread: u64,
    /// Empty slots that can no longer take a module.
    pub(crate) lost: usize,
}

impl Target {
    fn within(self, other: Self) -> bool {
        self.moves <= other.moves && self.spread <= other.spread && self.lost <= other.lost
    }

    /// The order in which targets are tried.
    pub(crate) fn rank(self, moves_first: bool) -> (usize, u64, usize, usize) {
        if moves_first { (self.moves, self.spread, self.lost, 0) } else { (0, self.spread, self.lost, self.moves) }
    }
}

impl Target {
    pub(crate) const NONE: Self = Self { moves: 0, spread: 0, lost: 0 };
}

/// How the modules of a demand can be shared out.
pub(crate) struct Shares<'s> {
    loads: &'s Loads,
    demand: &'s Demand,
    /// By socket: capacities times this compare; 0 for a processor that is not compared.
    weights: Vec<u64>,
    /// Two whole numbers between which the mean weighted capacity lies, however the demand is shared out.
    mean: Option<(u64, u64)>,
}

/// What a walk over ways to share out looks for.
#[derive(Clone, Copy)]
enum Aim {
    /// Some way within this target.
    Within(Target),
    /// The first target in order after one that was tried, if any.
    After(Option<Target>),
}

struct Walk<'w> {
    sets: &'w [StateSet],
    aim: Aim,
    /// The largest spread that is looked at.
    most: u64,
    best: Option<Target>,
    /// The points of each socket that were gone on from, where more than two share.
    seen: HashSet<(usize, Point)>,
}

impl<'s> Shares<'s> {
    pub(crate) fn new(grid: &Grid<'_>, loads: &'s Loads, demand: &'s Demand) -> Self {
        let weights: Vec<u64> = grid.sockets.iter().map(|socket| socket.weight).collect();
        let total = loads.capacities.last().copied().unwrap_or(0);
        // the sum of capacities is the sum of weighted ones, each divided by its weight
        let all = weights.iter().filter(|&&weight| weight > 0).try_fold(1u64, |all, weight| all.checked_mul(*weight));
        let parts = all.map(|all| weights.iter().filter_map(|&weight| all.checked_div(weight)).sum::<u64>());
        let mean = match (all, parts) {
            (Some(all), Some(parts)) if parts > 0 => {
                total.checked_mul(all).map(|scaled| (scaled / parts, scaled.div_ceil(parts)))
            }
            _ => None,
        };
        Self { loads, demand, weights, mean }
    }

    /// The best target in order after `last`; the best of all where that is absent.
    pub(crate) fn next_target(
        &self,
        ways: &[Vec<StateSet>],
        last: Option<Target>,
        budget: &mut Budget,
    ) -> Result<Option<Target>, Spent> {
        if self.demand.moves_first {
            return self.walk(ways, Aim::After(last), u64::MAX, budget);
        }
        // an even share is usual, and ways far from even are many: look near the mean first
        let Some(nearest) = ways.iter().filter_map(|sets| self.nearest(sets)).min() else { return Ok(None) };
        let mut most = nearest.max(last.map_or(0, |last| last.spread));
        loop {
            let found = self.walk(ways, Aim::After(last), most, budget)?;
            if found.is_some() || most == u64::MAX {
                return Ok(found);
            }
            most = if most > self.widest() { u64::MAX } else { most.saturating_mul(2).max(1024) };
        }
    }

    /// The largest weighted capacity that one processor could have.
    fn widest(&self) -> u64 {
        let total = self.loads.capacities.last().copied().unwrap_or(0);
        self.weights.iter().map(|weight| total.saturating_mul(*weight)).max().unwrap_or(0)
    }

    /// How far from the mean some processor must be; `None` where one can take nothing at all.
    fn nearest(&self, sets: &[StateSet]) -> Option<u64> {
        let Some((low, high)) = self.mean else { return Some(0) };
        let apart = |socket: usize, set: &StateSet| {
            let away = |state: usize| {
                let weighted = self.weighted(socket, state);
                low.saturating_sub(weighted).max(weighted.saturating_sub(high))
            };
            let compared = self.weights.get(socket).is_some_and(|&weight| weight > 0);
            set.iter().map(|state| if compared { away(state) } else { 0 }).min()
        };
        let each: Option<Vec<u64>> = sets.iter().enumerate().map(|(socket, set)| apart(socket, set)).collect();
        each?.into_iter().max()
    }

    fn weighted(&self, socket: usize, state: usize) -> u64 {
        let capacity = self.loads.capacities.get(state % self.loads.vectors).copied().unwrap_or(0);
        capacity.saturating_mul(self.weights.get(socket).copied().unwrap_or(1))
    }

    /// Whether some way gives up no more than the target in anything.
    pub(crate) fn feasible(&self, ways: &[Vec<StateSet>], target: Target, budget: &mut Budget) -> Result<bool, Spent> {
        Ok(self.walk(ways, Aim::Within(target), target.spread, budget)?.is_some())
    }

    fn walk(&self, ways: &[Vec<StateSet>], aim: Aim, most: u64, budget: &mut Budget) -> Result<Option<Target>, Spent> {
        let mut best = None;
        for sets in ways.iter().filter(|sets| !sets.iter().any(StateSet::is_empty)) {
            let mut walk = Walk { sets, aim, most, best, seen: HashSet::new() };
            let start = Point { remaining: self.loads.vectors - 1, rest: 0, range: self.mean };
            self.step(&mut walk, 0, start, budget)?;
            best = walk.best;
        }
        Ok(best)
    }

    fn rank(&self, target: Target) -> (usize, u64, usize, usize) {
        target.rank(self.demand.moves_first)
    }

    /// Chooses the share of one socket and goes on with the next.
    fn step(&self, walk: &mut Walk<'_>, socket: usize, point: Point, budget: &mut Budget) -> Result<(), Spent> {
        let sets = walk.sets;
        let Some(set) = sets.get(socket) else { return Ok(()) };
        if socket + 1 == sets.len() {
            // the last socket takes just what is left
            let states = (point.remaining..self.loads.space.size()).step_by(self.loads.vectors);
            for state in states.filter(|&state| set.contains(state)) {
                if let Some(end) = self.advance(walk, socket, point, state) {
                    self.note(walk, self.target(end));
                }
            }
            return Ok(());
        }
        if sets.len() > 2 && !walk.seen.insert((socket, point)) {
            return Ok(());
        }
        for state in set.iter() {
            if walk.is_over() {
                break;
            }
            if socket > 0 && !self.fits(state % self.loads.vectors, point.remaining) {
                continue;
            }
            if let Some(next) = self.advance(walk, socket, point, state) {
                if socket > 0 {
                    budget.spend()?;
                }
                self.step(walk, socket + 1, next, budget)?;
            }
        }
        Ok(())
    }

    /// Keeps a target if it is what the walk looks for.
    fn note(&self, walk: &mut Walk<'_>, target: Target) {
        let over = |number: usize, most: Option<usize>| most.is_some_and(|most| number > most);
        if over(target.lost, self.demand.most_lost) || over(target.moves, self.demand.most_moves) {
            return;
        }
        let suits = match walk.aim {
            Aim::Within(most) => target.within(most),
            Aim::After(last) => last.is_none_or(|last| self.rank(target) > self.rank(last)),
        };
        if suits && walk.best.is_none_or(|best| self.rank(target) < self.rank(best)) {
            walk.best = Some(target);
        }
    }

    /// What is given up once everything is shared out.
    fn target(&self, end: Point) -> Target {
        let (space, classes, groups) = (&self.loads.space, self.loads.kinds.len(), self.loads.groups);
        let number = end.rest * self.loads.vectors;
        let stays = (classes..classes + groups).map(|group| space.digit(number, group));
        let (low, high) = end.range.unwrap_or((0, 0));
        Target { moves: self.demand.moves(stays), spread: high - low, lost: space.digit(number, classes + groups) }
    }

    /// Whether a share is no more than what is left, in each class.
    fn fits(&self, share: usize, remaining: usize) -> bool {
        let space = &self.loads.space;
        (0..self.loads.kinds.len()).all(|class| space.digit(share, class) <= space.digit(remaining, class))
    }

    /// The point after a socket takes a state; `None` where that cannot be what the walk looks for.
    fn advance(&self, walk: &Walk<'_>, socket: usize, point: Point, state: usize) -> Option<Point> {
        let (vector, rest) = (state % self.loads.vectors, state / self.loads.vectors);
        let weighted = self.weighted(socket, state);
        let range = match point.range {
            // a processor without live slots is not compared
            known if self.weights.get(socket) == Some(&0) => known,
            None => Some((weighted, weighted)),
            Some((low, high)) => Some((low.min(weighted), high.max(weighted))),
        };
        let (low, high) = range.unwrap_or((0, 0));
        let most = match walk.best {
            Some(best) if !self.demand.moves_first => best.spread.min(walk.most),
            _ => walk.most,
        };
        let next = Point { remaining: point.remaining - vector, rest: point.rest + rest, range };
        (high - low <= most).then_some(next)
    }
}

impl Walk<'_> {
    /// Whether nothing better can come.
    fn is_over(&self) -> bool {
        self.best.is_some_and(|best| matches!(self.aim, Aim::Within(_)) || best == Target::NONE)
    }
}

/// How far a walk has come.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
struct Point {
    /// Number of the vector that is left to share out.
    remaining: usize,
    /// Sum of what states say beside their vectors: what stays and what is lost. No digit can overflow,
    /// for the limit of each holds for the machine.
    rest: usize,
    /// Lowest and highest weighted capacity so far; the mean lies between them from the start.
    range: Option<(u64, u64)>,
}
