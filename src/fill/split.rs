//! How the modules of a demand can be shared out among processors.

use std::cmp::Reverse;
use std::collections::HashSet;

use crate::fill::loads::Loads;
use crate::fill::pace::Speed;
use crate::fill::reach::{Entry, Narrowed, Ways};
use crate::fill::{Demand, SlotModel, Usable};
use crate::search::{Budget, StopReason};

/// What a way of sharing out gives up, and how fast it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Target {
    /// Present modules that are used and do not stay in their slots; less is better.
    pub(crate) moves: usize,
    /// Bandwidth, by the scales of the paces and rates; more is better.
    pub(crate) speed: Speed,
    /// Largest difference between processors, in weighted MiB; less is better.
    pub(crate) spread: u64,
    /// Empty slots that can no longer take a module; less is better.
    pub(crate) lost: usize,
}

/// The order in which targets are tried.
pub(crate) type TargetRank = (usize, Reverse<Speed>, u64, usize, usize);

impl Target {
    pub(crate) fn rank(self, moves_first: bool) -> TargetRank {
        let (before, after) = if moves_first { (self.moves, 0) } else { (0, self.moves) };
        (before, Reverse(self.speed), self.spread, self.lost, after)
    }

    pub(crate) const NONE: Self = Self { moves: 0, speed: (0, 0), spread: 0, lost: 0 };
}

/// How the modules of a demand can be shared out.
pub(crate) struct Shares<'s> {
    loads: &'s Loads,
    demand: &'s Demand,
    /// The least speed of the lower bound of bandwidth that will do.
    pub(crate) least_swept: u128,
    /// By socket: capacities times this compare; 0 for a processor that is not compared.
    weights: Vec<u64>,
    /// Two whole numbers between which the mean weighted capacity lies, however the demand is shared out.
    mean: Option<(u64, u64)>,
}

/// What a walk over ways to share out looks for.
#[derive(Clone, Copy)]
enum Aim {
    /// Some way that has just this target: those that are better in anything were tried before.
    At(Target),
    /// The first target in order after one that was tried, if any.
    After(Option<Target>),
}

struct Walk<'w> {
    sockets: &'w [Vec<Entry>],
    /// By socket: the most that it and those after it can add to the speed.
    most_after: Vec<Speed>,
    aim: Aim,
    /// The largest spread that is looked at.
    most: u64,
    best: Option<Target>,
    /// The points of each socket that were gone on from, where more than two share.
    seen: HashSet<(usize, Point)>,
}

fn add(a: Speed, b: Speed) -> Speed {
    (a.0.saturating_add(b.0), a.1.saturating_add(b.1))
}

/// The most speed that a processor can have.
fn fastest_of(entries: &[Entry]) -> Speed {
    entries.iter().map(|entry| entry.fastest).fold((0, 0), |a, b| (a.0.max(b.0), a.1.max(b.1)))
}

impl<'s> Shares<'s> {
    pub(crate) fn new(grid: &SlotModel<'_>, loads: &'s Loads, demand: &'s Demand) -> Self {
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
        Self { loads, demand, least_swept: 0, weights, mean }
    }

    /// The best target in order after `last`; the best of all where that is absent.
    pub(crate) fn next_target(
        &self,
        ways: &[Ways],
        last: Option<Target>,
        budget: &mut Budget,
    ) -> Result<Option<Target>, StopReason> {
        if self.demand.moves_first {
            return self.walk(ways, Aim::After(last), u64::MAX, budget);
        }
        // an even share is usual, and ways far from even are many: look near the mean first
        let nearest = ways.iter().filter_map(|ways| self.nearest(&ways.sockets)).min();
        let Some(nearest) = nearest else { return Ok(None) };
        let fastest = ways.iter().map(|ways| Self::fastest(&ways.sockets).first().copied().unwrap_or((0, 0))).max();
        let fastest = last.map_or(fastest.unwrap_or((0, 0)), |last| last.speed);
        let mut most = nearest.max(last.map_or(0, |last| last.spread));
        loop {
            let found = self.walk(ways, Aim::After(last), most, budget)?;
            // further from even nothing is better, once nothing can be faster
            if found.is_some_and(|found| found.speed >= fastest) || most == u64::MAX {
                return Ok(found);
            }
            most = if found.is_some() || most > self.widest() { u64::MAX } else { most.saturating_mul(2).max(1024) };
        }
    }

    /// The largest weighted capacity that one processor could have.
    fn widest(&self) -> u64 {
        let total = self.loads.capacities.last().copied().unwrap_or(0);
        self.weights.iter().map(|weight| total.saturating_mul(*weight)).max().unwrap_or(0)
    }

    /// How far from the mean some processor must be; `None` where one can take nothing at all.
    fn nearest(&self, sockets: &[Vec<Entry>]) -> Option<u64> {
        let Some((low, high)) = self.mean else { return Some(0) };
        let apart = |socket: usize, entries: &[Entry]| {
            let away = |state: usize| {
                let weighted = self.weighted(socket, state);
                low.saturating_sub(weighted).max(weighted.saturating_sub(high))
            };
            let compared = self.weights.get(socket).is_some_and(|&weight| weight > 0);
            let states = entries.iter().flat_map(|entry| entry.set.iter());
            states.map(|state| if compared { away(state) } else { 0 }).min()
        };
        let each: Option<Vec<u64>> =
            sockets.iter().enumerate().map(|(socket, entries)| apart(socket, entries)).collect();
        each?.into_iter().max()
    }

    /// By socket: the most speed that it and those after it can have.
    fn fastest(sockets: &[Vec<Entry>]) -> Vec<Speed> {
        let mut fastest: Vec<Speed> = vec![(0, 0)];
        for entries in sockets.iter().rev() {
            fastest.push(add(fastest_of(entries), fastest.last().copied().unwrap_or((0, 0))));
        }
        fastest.reverse();
        fastest
    }

    fn speed(&self, entry: &Entry, state: usize) -> Speed {
        entry.gait.speed(self.loads.usable(state))
    }

    /// The entries that a way of a target can be made of.
    pub(crate) fn narrowed(ways: &[Ways], target: Target) -> Narrowed {
        let useful = |ways: &Ways| {
            let all = ways.sockets.iter().map(|entries| fastest_of(entries)).fold((0, 0), add);
            let of_socket = |entries: &Vec<Entry>| {
                let others = all.0.saturating_sub(fastest_of(entries).0);
                let suits = |entry: &&Entry| entry.fastest.0.saturating_add(others) >= target.speed.0;
                entries.iter().filter(suits).map(Entry::id).collect()
            };
            ways.sockets.iter().map(of_socket).collect()
        };
        let whole = |sockets: &Vec<Vec<(i32, usize)>>| sockets.iter().all(|entries| !entries.is_empty());
        ways.iter().map(|ways| (ways.repeat, useful(ways))).filter(|(_, sockets)| whole(sockets)).collect()
    }

    fn weighted(&self, socket: usize, state: usize) -> u64 {
        let capacity = self.loads.capacities.get(state % self.loads.vectors).copied().unwrap_or(0);
        capacity.saturating_mul(self.weights.get(socket).copied().unwrap_or(1))
    }

    /// Whether some way has just this target.
    pub(crate) fn feasible(&self, ways: &[Ways], target: Target, budget: &mut Budget) -> Result<bool, StopReason> {
        Ok(self.walk(ways, Aim::At(target), target.spread, budget)?.is_some())
    }

    fn walk(&self, ways: &[Ways], aim: Aim, most: u64, budget: &mut Budget) -> Result<Option<Target>, StopReason> {
        let mut best = None;
        let entries = ways.iter().flat_map(|ways| &ways.sockets).map(Vec::len).sum::<usize>();
        budget.work(u64::try_from(entries * (self.loads.space.size() / 64 + 4)).unwrap_or(u64::MAX))?;
        for ways in ways.iter().filter(|ways| !ways.sockets.iter().any(Vec::is_empty)) {
            let sockets = ways.sockets.as_slice();
            let mut walk = Walk { sockets, most_after: Self::fastest(sockets), aim, most, best, seen: HashSet::new() };
            let start = Point { remaining: self.loads.vectors - 1, rest: 0, range: self.mean, speed: (0, 0) };
            self.step(&mut walk, 0, start, budget)?;
            best = walk.best;
            if matches!(aim, Aim::At(_)) && best.is_some() {
                break;
            }
        }
        Ok(best)
    }

    fn rank(&self, target: Target) -> TargetRank {
        target.rank(self.demand.moves_first)
    }

    /// Chooses the share of one socket and goes on with the next.
    fn step(&self, walk: &mut Walk<'_>, socket: usize, point: Point, budget: &mut Budget) -> Result<(), StopReason> {
        let sockets = walk.sockets;
        let Some(entries) = sockets.get(socket) else { return Ok(()) };
        if socket + 1 == sockets.len() {
            // the last socket takes just what is left
            for entry in entries {
                let states = (point.remaining..self.loads.space.size()).step_by(self.loads.vectors);
                for state in states.filter(|&state| entry.set.contains(state)) {
                    if let Some(end) = self.advance(walk, socket, point, (entry, state)) {
                        self.note(walk, end);
                    }
                }
            }
            return Ok(());
        }
        if sockets.len() > 2 && !walk.seen.insert((socket, point)) {
            return Ok(());
        }
        for entry in entries {
            for state in entry.set.iter() {
                if walk.is_over() {
                    return Ok(());
                }
                if socket > 0 && !self.fits(state % self.loads.vectors, point.remaining) {
                    continue;
                }
                if let Some(next) = self.advance(walk, socket, point, (entry, state)) {
                    if socket > 0 {
                        budget.spend()?;
                    }
                    self.step(walk, socket + 1, next, budget)?;
                }
            }
        }
        Ok(())
    }

    /// Keeps a target if it is what the walk looks for.
    fn note(&self, walk: &mut Walk<'_>, end: Point) {
        let target = self.target(end);
        let over = |number: usize, most: Option<usize>| most.is_some_and(|most| number > most);
        let (usable, Usable(least, most)) = (self.loads.usable(self.end_state(end)), self.demand.usable);
        if over(target.lost, self.demand.most_lost)
            || over(target.moves, self.demand.most_moves)
            || target.speed.1 < self.least_swept
            || usable < least
            || usable > most
        {
            return;
        }
        let suits = match walk.aim {
            Aim::At(wanted) => target == wanted,
            Aim::After(last) => last.is_none_or(|last| self.rank(target) > self.rank(last)),
        };
        if suits && walk.best.is_none_or(|best| self.rank(target) < self.rank(best)) {
            walk.best = Some(target);
        }
    }

    /// The state of the whole machine once everything is shared out.
    fn end_state(&self, end: Point) -> usize {
        self.loads.vectors - 1 + end.rest * self.loads.vectors
    }

    /// What is given up once everything is shared out.
    fn target(&self, end: Point) -> Target {
        let (space, classes, groups) = (&self.loads.space, self.loads.kinds.len(), self.loads.groups);
        let number = end.rest * self.loads.vectors;
        let stays = (classes..classes + groups).map(|group| space.digit(number, group));
        let (low, high) = end.range.unwrap_or((0, 0));
        Target {
            moves: self.demand.moves(stays),
            speed: end.speed,
            spread: high - low,
            lost: space.digit(number, classes + groups),
        }
    }

    /// Whether a share is no more than what is left, in each class.
    fn fits(&self, share: usize, remaining: usize) -> bool {
        let space = &self.loads.space;
        (0..self.loads.kinds.len()).all(|class| space.digit(share, class) <= space.digit(remaining, class))
    }

    /// The point after a socket takes a state; `None` where that cannot be what the walk looks for.
    fn advance(&self, walk: &Walk<'_>, socket: usize, point: Point, (entry, state): (&Entry, usize)) -> Option<Point> {
        let (vector, rest) = (state % self.loads.vectors, state / self.loads.vectors);
        let weighted = self.weighted(socket, state);
        let range = match point.range {
            // a processor without live slots is not compared
            known if self.weights.get(socket) == Some(&0) => known,
            None => Some((weighted, weighted)),
            Some((low, high)) => Some((low.min(weighted), high.max(weighted))),
        };
        let (low, high) = range.unwrap_or((0, 0));
        let speed = add(point.speed, self.speed(entry, state));
        let hope = add(speed, walk.most_after.get(socket + 1).copied().unwrap_or((0, 0)));
        let too_slow = match walk.aim {
            Aim::At(target) => hope.0 < target.speed.0 || speed.0 > target.speed.0,
            Aim::After(_) => !self.demand.moves_first && walk.best.is_some_and(|best| hope.0 < best.speed.0),
        };
        // an equal spread may still do with fewer lost slots or moves
        let too_wide = match walk.best {
            Some(best) if !self.demand.moves_first => hope <= best.speed && high - low > best.spread,
            _ => false,
        };
        if too_slow || too_wide || hope.1 < self.least_swept || high - low > walk.most {
            return None;
        }
        Some(Point { remaining: point.remaining - vector, rest: point.rest + rest, range, speed })
    }
}

impl Walk<'_> {
    /// Whether nothing better can come.
    fn is_over(&self) -> bool {
        self.best.is_some_and(|best| {
            let fastest = self.most_after.first().copied().unwrap_or((0, 0));
            let nothing_given_up = best.moves == 0 && best.spread == 0 && best.lost == 0;
            matches!(self.aim, Aim::At(_)) || (nothing_given_up && best.speed >= fastest)
        })
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
    speed: Speed,
}
