//! How the modules of a demand can be shared out among processors.

use crate::fill::place::Demand;
use crate::search::{Space, StateSet};

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

/// The meaning of the numbers of a state: counts by class, then how many of each group stay, then lost slots.
pub(crate) struct Shares<'s> {
    pub(crate) space: &'s Space,
    /// How many classes there are; the digits before matches and lost slots.
    pub(crate) classes: usize,
    /// Number of count vectors.
    pub(crate) vectors: usize,
    /// Capacity by count vector, in MiB.
    pub(crate) capacities: &'s [u64],
    pub(crate) weights: &'s [u64],
    pub(crate) demand: &'s Demand,
    /// The digit of a state that counts lost slots; those of the groups that stay come before it.
    pub(crate) lost_digit: usize,
}

struct Walk<'w> {
    sets: &'w [StateSet],
    bound: Option<Target>,
}

impl Shares<'_> {
    /// Every way to share the demand out, by what it gives up. `visit` says whether to go on.
    pub(crate) fn targets(&self, sets: &[StateSet], visit: &mut dyn FnMut(Target) -> bool) {
        self.step(&Walk { sets, bound: None }, 0, self.start(), visit);
    }

    /// Whether some way gives up no more than the target in anything.
    pub(crate) fn feasible(&self, sets: &[StateSet], target: Target) -> bool {
        let mut found = false;
        self.step(&Walk { sets, bound: Some(target) }, 0, self.start(), &mut |candidate| {
            found |= candidate.within(target);
            !found
        });
        found
    }

    fn start(&self) -> Point {
        Point { remaining: self.vectors - 1, rest: 0, range: None }
    }

    /// Chooses the share of one socket and goes on with the next. Gives false to stop the walk.
    fn step(&self, walk: &Walk<'_>, socket: usize, point: Point, visit: &mut dyn FnMut(Target) -> bool) -> bool {
        let Some(set) = walk.sets.get(socket) else { return true };
        if socket + 1 == walk.sets.len() {
            // the last socket takes just what is left
            let states = (point.remaining..self.space.size()).step_by(self.vectors);
            for state in states.filter(|&state| set.contains(state)) {
                let Some(end) = self.advance(walk, socket, point, state) else { continue };
                if !visit(self.target(end)) {
                    return false;
                }
            }
            return true;
        }
        for state in set.iter() {
            let first = socket == 0;
            if !first && !self.fits(state % self.vectors, point.remaining) {
                continue;
            }
            if let Some(next) = self.advance(walk, socket, point, state) {
                if !self.step(walk, socket + 1, next, visit) {
                    return false;
                }
            }
        }
        true
    }

    /// What is given up once everything is shared out.
    fn target(&self, end: Point) -> Target {
        let number = end.rest * self.vectors;
        let stays = (self.classes..self.lost_digit).map(|group| self.space.digit(number, group));
        let (low, high) = end.range.unwrap_or((0, 0));
        Target { moves: self.demand.moves(stays), spread: high - low, lost: self.space.digit(number, self.lost_digit) }
    }

    /// Whether a share is no more than what is left, in each class.
    fn fits(&self, share: usize, remaining: usize) -> bool {
        (0..self.classes).all(|class| self.space.digit(share, class) <= self.space.digit(remaining, class))
    }

    /// The point after a socket takes a state; `None` where that passes the bound.
    fn advance(&self, walk: &Walk<'_>, socket: usize, point: Point, state: usize) -> Option<Point> {
        let (vector, rest) = (state % self.vectors, state / self.vectors);
        let weight = self.weights.get(socket).copied().unwrap_or(1);
        let weighted = self.capacities.get(vector).copied().unwrap_or(0).saturating_mul(weight);
        let range = match point.range {
            // a processor without live slots is not compared
            known if weight == 0 => known,
            None => Some((weighted, weighted)),
            Some((low, high)) => Some((low.min(weighted), high.max(weighted))),
        };
        let (low, high) = range.unwrap_or((0, 0));
        if walk.bound.is_some_and(|bound| high - low > bound.spread) {
            return None;
        }
        Some(Point { remaining: point.remaining - vector, rest: point.rest + rest, range })
    }
}

/// How far a walk has come.
#[derive(Clone, Copy)]
struct Point {
    /// Number of the vector that is left to share out.
    remaining: usize,
    /// Sum of what states say beside their vectors: what stays and what is lost. No digit can overflow,
    /// for the limit of each holds for the machine.
    rest: usize,
    /// Lowest and highest weighted capacity so far.
    range: Option<(u64, u64)>,
}
