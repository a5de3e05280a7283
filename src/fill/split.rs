//! How the modules of a demand can be shared out among processors.

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

/// The meaning of the numbers of a state: counts by class, then matches, then lost slots.
pub(crate) struct Shares<'s> {
    pub(crate) space: &'s Space,
    /// How many classes there are; the digits before matches and lost slots.
    pub(crate) classes: usize,
    /// Number of count vectors.
    pub(crate) vectors: usize,
    /// Capacity by count vector, in MiB.
    pub(crate) capacities: &'s [u64],
    pub(crate) weights: &'s [u64],
    pub(crate) max_matches: usize,
    pub(crate) max_lost: usize,
}

struct Walk<'w> {
    sets: &'w [StateSet],
    bound: Option<Target>,
}

impl Shares<'_> {
    /// Every way to share the demand out, by what it gives up. `visit` says whether to go on.
    pub(crate) fn targets(&self, sets: &[StateSet], visit: &mut dyn FnMut(Target) -> bool) {
        let walk = Walk { sets, bound: None };
        self.step(&walk, 0, Point { remaining: self.vectors - 1, matches: 0, lost: 0, range: None }, visit);
    }

    /// Whether some way gives up no more than the target in anything.
    pub(crate) fn feasible(&self, sets: &[StateSet], target: Target) -> bool {
        let walk = Walk { sets, bound: Some(target) };
        let mut found = false;
        let start = Point { remaining: self.vectors - 1, matches: 0, lost: 0, range: None };
        self.step(&walk, 0, start, &mut |candidate| {
            found |= candidate.within(target);
            !found
        });
        found
    }

    /// Chooses the share of one socket and goes on with the next. Gives false to stop the walk.
    fn step(&self, walk: &Walk<'_>, socket: usize, point: Point, visit: &mut dyn FnMut(Target) -> bool) -> bool {
        let Some(set) = walk.sets.get(socket) else { return true };
        if socket + 1 == walk.sets.len() {
            // the last socket takes just what is left
            let rests = (self.max_matches + 1) * (self.max_lost + 1);
            let states = (0..rests).map(|rest| rest * self.vectors + point.remaining);
            for state in states.filter(|&state| set.contains(state)) {
                let Some(end) = self.advance(walk, socket, point, state) else { continue };
                let (low, high) = end.range.unwrap_or((0, 0));
                let moves = self.max_matches.saturating_sub(end.matches);
                if !visit(Target { moves, spread: high - low, lost: end.lost }) {
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
        let matches = point.matches + rest % (self.max_matches + 1);
        let lost = point.lost + rest / (self.max_matches + 1);
        if walk.bound.is_some_and(|bound| high - low > bound.spread || lost > bound.lost) {
            return None;
        }
        Some(Point { remaining: point.remaining - vector, matches, lost, range })
    }
}

/// How far a walk has come.
#[derive(Clone, Copy)]
struct Point {
    /// Number of the vector that is left to share out.
    remaining: usize,
    matches: usize,
    lost: usize,
    /// Lowest and highest weighted capacity so far.
    range: Option<(u64, u64)>,
}
