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
    /// Weighted capacity by count vector is this by class times the socket's weight.
    pub(crate) capacities: &'s [u64],
    pub(crate) weights: &'s [u64],
    pub(crate) counts: &'s [usize],
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
        self.step(&walk, 0, self.counts, (0, 0), None, visit);
    }

    /// Whether some way gives up no more than the target in anything.
    pub(crate) fn feasible(&self, sets: &[StateSet], target: Target) -> bool {
        let walk = Walk { sets, bound: Some(target) };
        let mut found = false;
        self.step(&walk, 0, self.counts, (0, 0), None, &mut |candidate| {
            found |= candidate.within(target);
            !found
        });
        found
    }

    /// Chooses the share of one socket and goes on with the next. Gives false to stop the walk.
    fn step(
        &self,
        walk: &Walk<'_>,
        socket: usize,
        remaining: &[usize],
        (matches, lost): (usize, usize),
        range: Option<(u64, u64)>,
        visit: &mut dyn FnMut(Target) -> bool,
    ) -> bool {
        let Some(set) = walk.sets.get(socket) else { return true };
        let last = socket + 1 == walk.sets.len();
        let exact = last.then(|| self.space.number(remaining)).flatten();
        for state in set.iter() {
            let vector = state % self.vectors;
            if last && exact != Some(vector) {
                continue;
            }
            let share: Vec<usize> = (0..self.classes).map(|class| self.space.digit(vector, class)).collect();
            if share.iter().zip(remaining).any(|(share, remaining)| share > remaining) {
                continue;
            }
            let weight = self.weights.get(socket).copied().unwrap_or(1);
            let capacity: u64 = share.iter().zip(self.capacities).map(|(&count, &each)| count_times(count, each)).sum();
            let weighted = capacity.saturating_mul(weight);
            let (low, high) = range.map_or((weighted, weighted), |(low, high)| (low.min(weighted), high.max(weighted)));
            let rest = state / self.vectors;
            let matches = matches + rest % (self.max_matches + 1);
            let lost = lost + rest / (self.max_matches + 1);
            if walk.bound.is_some_and(|bound| high - low > bound.spread || lost > bound.lost) {
                continue;
            }
            let go_on = if last {
                visit(Target { moves: self.max_matches.saturating_sub(matches), spread: high - low, lost })
            } else {
                let left: Vec<usize> =
                    remaining.iter().zip(&share).map(|(remaining, share)| remaining - share).collect();
                self.step(walk, socket + 1, &left, (matches, lost), Some((low, high)), visit)
            };
            if !go_on {
                return false;
            }
        }
        true
    }
}

fn count_times(count: usize, each: u64) -> u64 {
    u64::try_from(count).unwrap_or(u64::MAX).saturating_mul(each)
}
