//! How the modules of a demand can be shared out among processors.

use std::cmp::Reverse;
use std::collections::{HashMap, HashSet};
use std::rc::Rc;

use itertools::Either;

use crate::fill::demand::exceeds;
use crate::fill::loads::Loads;
use crate::fill::reachable::{PacedBySocket, PacedStates, Reachable, fastest_of};
use crate::fill::target::{Speed, Target, TargetRank};
use crate::fill::{BesideIx, Demand, SlotModel, SocketIx, Usable, VectorIx};
use crate::search::{Budget, Index, StateIx, StateSet, StopReason, Table, wide};

/// How the modules of a demand can be shared out.
pub(crate) struct Shares<'s> {
    loads: &'s Loads,
    demand: &'s Demand,
    /// The least speed of the lower bound of bandwidth that will do.
    least_swept: u128,
    /// Capacities times this compare; 0 for a processor that is not compared.
    weights: Table<SocketIx, u64>,
    /// Two whole numbers between which the mean weighted capacity lies, however the demand is shared out.
    mean: Option<Range>,
}

/// From a lowest to a highest weighted capacity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Range {
    low: u64,
    high: u64,
}

impl Range {
    /// The range with a capacity taken in; of that alone where there is none yet.
    fn with(range: Option<Self>, weighted: u64) -> Self {
        let Self { low, high } = range.unwrap_or(Self { low: weighted, high: weighted });
        Self { low: low.min(weighted), high: high.max(weighted) }
    }

    /// How far apart its ends are; nothing is apart where nothing is compared.
    fn width(range: Option<Self>) -> u64 {
        range.map_or(0, |range| range.high - range.low)
    }
}

/// What a walk over ways to share out looks for.
#[derive(Clone, Copy)]
enum Aim {
    /// Some way that has just this target: those that are better in anything were tried before.
    At(Target),
    /// The first target in order after one that was tried, if any.
    After(Option<Target>),
}

/// What a walk looks for, and where.
#[derive(Clone, Copy)]
struct Walking {
    aim: Aim,
    /// How many processors have no memory; any number where absent.
    bare: Option<usize>,
    /// A spread that none can be smaller than, and the largest that is looked at.
    nearest: u64,
    widest: u64,
}

struct Walk<'w> {
    sockets: &'w PacedBySocket,
    /// The most speed that a processor and those after it can add.
    most_after: Table<SocketIx, Speed>,
    walking: Walking,
    best: Option<Target>,
    /// The points of each socket that were gone on from, where more than two share.
    seen: HashSet<(SocketIx, Point)>,
    /// What each socket may take that is no farther from even than is looked at, where more than two share.
    near: Table<SocketIx, Rc<Near>>,
    /// Whether a socket and those after it can take just so much, as far as was asked.
    known: HashMap<(SocketIx, VectorIx), bool>,
}

/// What a socket may take.
struct Near {
    shares: Vec<Share>,
    /// Their count vectors, in order and as a set.
    vectors: Vec<VectorIx>,
    set: StateSet,
}

/// A state of a socket at a pace.
#[derive(Clone, Copy)]
struct Share {
    state: StateIx,
    vector: VectorIx,
    /// Its weighted capacity; `None` for a socket that is not compared.
    weighted: Option<u64>,
    speed: Speed,
}

/// How far a walk has come.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
struct Point {
    /// What is left to share out.
    remaining: VectorIx,
    /// Sum of what states count beside their vectors: what stays, is lost and spared. No digit can overflow, for the
    /// limit of each holds for the machine.
    beside: BesideIx,
    /// Lowest and highest weighted capacity so far; the mean lies between them from the start.
    range: Option<Range>,
    speed: Speed,
    /// How many processors have none so far.
    bare: usize,
}

/// The most speed that a processor and those after it can have; last of all, nothing after the last one.
fn fastest_from(sockets: &PacedBySocket) -> Table<SocketIx, Speed> {
    let mut sum = Speed::ZERO;
    let mut fastest = vec![sum];
    for entries in sockets.values().iter().rev() {
        sum = fastest_of(entries).plus(sum);
        fastest.push(sum);
    }
    fastest.into_iter().rev().collect()
}

impl<'s> Shares<'s> {
    /// The ways to share out a demand, of which those slower than `least_swept` by the lower bound will not do.
    pub(crate) fn new(model: &SlotModel<'_>, loads: &'s Loads, demand: &'s Demand, least_swept: u128) -> Self {
        let weights: Table<SocketIx, u64> = model.sockets.values().iter().map(|socket| socket.weight).collect();
        let mean = mean(weights.values(), loads.total_capacity());
        Self { loads, demand, least_swept, weights, mean }
    }

    /// The best target in order after `last`, the best of all where that is absent; of those in which so many processors
    /// have no memory, where that is given.
    pub(crate) fn next_target(
        &self,
        all: &[Reachable],
        bare: Option<usize>,
        last: Option<Target>,
        budget: &mut Budget,
    ) -> Result<Option<Target>, StopReason> {
        let aim = Aim::After(last);
        let nearest = all.iter().filter_map(|reachable| self.nearest(&reachable.sockets)).min();
        let Some(nearest) = nearest else { return Ok(None) };
        if self.demand.moves_first {
            return self.walk(all, Walking { aim, bare, nearest, widest: u64::MAX }, budget);
        }
        // ways far from even are many, and nothing is worth as much as an even share: look near the mean first
        let mut widest = nearest.max(last.map_or(0, |last| last.spread));
        loop {
            let found = self.walk(all, Walking { aim, bare, nearest, widest }, budget)?;
            if found.is_some() || widest == u64::MAX {
                return Ok(found);
            }
            widest = if widest > self.widest() { u64::MAX } else { widest.saturating_mul(2).max(1024) };
        }
    }

    /// The largest weighted capacity that one processor could have. One that 64 bits cannot hold is compared as the
    /// most that they can.
    fn widest(&self) -> u64 {
        let total = self.loads.total_capacity();
        self.weights.values().iter().fold(0, |widest, weight| widest.max(total.saturating_mul(*weight)))
    }

    /// How far from the mean some processor must be; `None` where one can take nothing at all.
    fn nearest(&self, sockets: &PacedBySocket) -> Option<u64> {
        let Some(Range { low, high }) = self.mean else { return Some(0) };
        let apart = |socket: SocketIx, entries: &[PacedStates]| {
            let away = |state: StateIx| match self.weighted(socket, state) {
                None => 0,
                // below, above or between
                Some(weighted) => low.saturating_sub(weighted).max(weighted.saturating_sub(high)),
            };
            entries.iter().flat_map(|paced| paced.states.iter()).map(away).min()
        };
        let mut farthest = None;
        for (socket, entries) in sockets.iter() {
            farthest = farthest.max(Some(apart(socket, entries)?));
        }
        farthest
    }

    /// The weighted capacity of a processor in a state, of which 64 bits hold as much as they can; `None` for a
    /// processor that is not compared.
    fn weighted(&self, socket: SocketIx, state: StateIx) -> Option<u64> {
        let weight = self.weights.get(socket).copied().filter(|&weight| weight > 0)?;
        Some(self.loads.capacity(self.loads.states.vector_of(state)).saturating_mul(weight))
    }

    /// Whether some way has just this target.
    pub(crate) fn feasible(&self, all: &[Reachable], target: Target, budget: &mut Budget) -> Result<bool, StopReason> {
        let walking = Walking { aim: Aim::At(target), bare: Some(target.bare), nearest: 0, widest: target.spread };
        Ok(self.walk(all, walking, budget)?.is_some())
    }

    fn walk(&self, all: &[Reachable], walking: Walking, budget: &mut Budget) -> Result<Option<Target>, StopReason> {
        let states = &self.loads.states;
        let entries =
            all.iter().flat_map(|reachable| reachable.sockets.values()).map(|entries| entries.len()).sum::<usize>();
        budget.work(wide(entries * (states.size() / 64 + 4)))?;
        let mut best = None;
        for Reachable { sockets, .. } in all {
            if sockets.values().iter().any(|entries| entries.is_empty()) {
                continue;
            }
            let mut walk = Walk {
                sockets,
                most_after: fastest_from(sockets),
                walking,
                best,
                seen: HashSet::new(),
                near: self.near(sockets, walking.widest),
                known: HashMap::new(),
            };
            let start = Point {
                remaining: states.everything(),
                beside: BesideIx::of(0),
                range: self.mean,
                speed: Speed::ZERO,
                bare: 0,
            };
            self.share_out(&mut walk, SocketIx::of(0), start, budget)?;
            best = walk.best;
            if matches!(walking.aim, Aim::At(_)) && best.is_some() {
                break;
            }
        }
        Ok(best)
    }

    fn rank(&self, target: Target) -> TargetRank {
        target.rank(self.demand.moves_first)
    }

    /// Gives one socket each of its states in turn, and goes on with the next.
    fn share_out(
        &self,
        walk: &mut Walk<'_>,
        socket: SocketIx,
        point: Point,
        budget: &mut Budget,
    ) -> Result<(), StopReason> {
        let sockets = walk.sockets;
        let (is_first, next_socket) = (socket == SocketIx::of(0), socket.after(1));
        if sockets.get(next_socket).is_none() {
            self.end(walk, socket, point);
            return Ok(());
        }
        if sockets.len() > 2 && !walk.seen.insert((socket, point)) {
            return Ok(());
        }
        let near = walk.near.get(socket).map(Rc::clone);
        let shares = match (&near, sockets.get(socket)) {
            (Some(near), _) => Either::Left(near.shares.iter().copied()),
            (None, entries) => Either::Right(entries.into_iter().flat_map(|entries| self.shares(socket, entries))),
        };
        for share in shares {
            if walk.is_over() {
                return Ok(());
            }
            if !is_first && !self.fits(share.vector, point.remaining) {
                continue;
            }
            let Some(next) = self.advance(walk, socket, point, share) else { continue };
            if sockets.len() > 2 && !self.can_take(walk, next_socket, next.remaining, budget)? {
                continue;
            }
            if !is_first {
                budget.spend()?;
            }
            self.share_out(walk, next_socket, next, budget)?;
        }
        Ok(())
    }

    fn share(&self, socket: SocketIx, paced: &PacedStates, state: StateIx) -> Share {
        let (vector, weighted) = (self.loads.states.vector_of(state), self.weighted(socket, state));
        Share { state, vector, weighted, speed: paced.pace.speed(self.loads.usable(state)) }
    }

    /// All that a socket may take.
    fn shares<'e>(&'e self, socket: SocketIx, entries: &'e [PacedStates]) -> impl Iterator<Item = Share> + 'e {
        let of_entry =
            move |paced: &'e PacedStates| paced.states.iter().map(move |state| self.share(socket, paced, state));
        entries.iter().flat_map(of_entry)
    }

    /// What each socket may take that is no farther from the mean than `widest`, the fastest first; of two sockets nothing, for
    /// they are looked at one by one.
    fn near(&self, sockets: &PacedBySocket, widest: u64) -> Table<SocketIx, Rc<Near>> {
        if sockets.len() < 3 {
            return Table::default();
        }
        let is_near = |share: &Share| {
            let range = share.weighted.map(|weighted| Range::with(self.mean, weighted));
            Range::width(range) <= widest
        };
        let of_socket = |(socket, entries): (SocketIx, &Rc<Vec<PacedStates>>)| {
            let mut shares: Vec<Share> = self.shares(socket, entries).filter(is_near).collect();
            shares.sort_by_key(|share| Reverse(share.speed));
            let mut vectors: Vec<VectorIx> = shares.iter().map(|share| share.vector).collect();
            vectors.sort_unstable();
            vectors.dedup();
            let mut set = self.loads.states.no_states();
            vectors.iter().for_each(|vector| set.insert(StateIx::of(vector.get())));
            Rc::new(Near { shares, vectors, set })
        };
        // processors that are alike share theirs
        let mut known: Table<SocketIx, Rc<Near>> = Table::default();
        for (socket, entries) in sockets.iter() {
            let is_alike = |(other, own): &(SocketIx, &Rc<Vec<PacedStates>>)| {
                *other < socket && Rc::ptr_eq(own, entries) && self.weights.get(*other) == self.weights.get(socket)
            };
            let twin = sockets.iter().find(is_alike).and_then(|(other, _)| known.get(other)).map(Rc::clone);
            known.push(twin.unwrap_or_else(|| of_socket((socket, entries))));
        }
        known
    }

    /// Whether a socket and those after it can take just what remains, at whatever speed.
    fn can_take(
        &self,
        walk: &mut Walk<'_>,
        socket: SocketIx,
        remaining: VectorIx,
        budget: &mut Budget,
    ) -> Result<bool, StopReason> {
        if let Some(&known) = walk.known.get(&(socket, remaining)) {
            return Ok(known);
        }
        let Some(own) = walk.near.get(socket).map(Rc::clone) else { return Ok(true) };
        let next = socket.after(1);
        let rest = |share: VectorIx| remaining.get().checked_sub(share.get()).map(VectorIx::of);
        let can = match walk.near.get(next) {
            None => own.set.contains(StateIx::of(remaining.get())),
            Some(last) if walk.near.get(next.after(1)).is_none() => {
                // whether the numbers fit is asked last, for it takes longest
                let is_rest = |rest: VectorIx| last.set.contains(StateIx::of(rest.get()));
                budget.spend_many(wide(own.vectors.len() / 256))?;
                own.vectors.iter().any(|&share| rest(share).is_some_and(is_rest) && self.fits(share, remaining))
            }
            Some(_) => {
                budget.spend_many(wide(own.vectors.len() / 16))?;
                let fitting = own.vectors.iter().copied().filter(|&share| self.fits(share, remaining));
                let rests: Vec<VectorIx> = fitting.filter_map(rest).collect();
                let mut can = false;
                for rest in rests {
                    can = self.can_take(walk, next, rest, budget)?;
                    if can {
                        break;
                    }
                }
                can
            }
        };
        walk.known.insert((socket, remaining), can);
        Ok(can)
    }

    /// Gives the last socket just what is left.
    fn end(&self, walk: &mut Walk<'_>, socket: SocketIx, point: Point) {
        let sockets = walk.sockets;
        for paced in sockets.get(socket).into_iter().flat_map(|entries| entries.iter()) {
            let states = self.loads.states.states_with(point.remaining);
            for state in states.filter(|&state| paced.states.contains(state)) {
                if let Some(end) = self.advance(walk, socket, point, self.share(socket, paced, state)) {
                    self.note(walk, end);
                }
            }
        }
    }

    /// Keeps a target if it is what the walk looks for.
    fn note(&self, walk: &mut Walk<'_>, end: Point) {
        let target = self.target(end);
        let whole = self.loads.states.state(self.loads.states.everything(), end.beside);
        let (usable, Usable(least, most)) = (self.loads.usable(whole), self.demand.usable);
        if walk.walking.bare.is_some_and(|bare| bare != target.bare)
            || exceeds(target.lost, self.demand.most_lost)
            || exceeds(target.moves, self.demand.most_moves)
            || target.speed.swept < self.least_swept
            || usable < least
            || usable > most
            || !self.loads.states.bars_all_lower(whole)
        {
            return;
        }
        let suits = match walk.walking.aim {
            Aim::At(wanted) => target == wanted,
            Aim::After(last) => last.is_none_or(|last| self.rank(target) > self.rank(last)),
        };
        if suits && walk.best.is_none_or(|best| self.rank(target) < self.rank(best)) {
            walk.best = Some(target);
        }
    }

    /// What is given up once everything is shared out.
    fn target(&self, end: Point) -> Target {
        let states = &self.loads.states;
        let state = states.state(VectorIx::of(0), end.beside);
        Target {
            moves: self.demand.moves(|group| states.stays(state, group)),
            bare: end.bare,
            speed: end.speed,
            spread: Range::width(end.range),
            lost: states.lost(state),
        }
    }

    /// Whether a share is no more than what is left, of each kind.
    fn fits(&self, share: VectorIx, remaining: VectorIx) -> bool {
        let count = |vector, kind| self.loads.states.count(vector, kind);
        self.loads.kinds.ids().all(|kind| count(share, kind) <= count(remaining, kind))
    }

    /// The point after a socket takes a state; `None` where that cannot be what the walk looks for.
    fn advance(
        &self,
        walk: &Walk<'_>,
        socket: SocketIx,
        point: Point,
        Share { state, vector, weighted, speed }: Share,
    ) -> Option<Point> {
        let range = match weighted {
            None => point.range,
            Some(weighted) => Some(Range::with(point.range, weighted)),
        };
        let spread = Range::width(range);
        let speed = point.speed.plus(speed);
        let hope = speed.plus(*walk.most_after.get(socket.after(1))?);
        let Walking { aim, bare: wanted, nearest, widest } = walk.walking;
        let too_slow = match aim {
            Aim::At(target) => hope.spread < target.speed.spread || speed.spread > target.speed.spread,
            Aim::After(_) => false,
        };
        // as far from even, more speed may still come, and an equal one may do with fewer moves or lost slots
        let is_beaten = match walk.best {
            Some(best) if !self.demand.moves_first => {
                let least = spread.max(nearest);
                least > best.spread || (least == best.spread && hope < best.speed)
            }
            _ => false,
        };
        let bare = point.bare + usize::from(vector == VectorIx::of(0));
        let too_bare = wanted.is_some_and(|wanted| bare > wanted);
        if too_slow || is_beaten || too_bare || hope.swept < self.least_swept || spread > widest {
            return None;
        }
        let remaining = point.remaining.get().checked_sub(vector.get())?;
        let beside = point.beside.after(self.loads.states.beside(state).get());
        Some(Point { remaining: VectorIx::of(remaining), beside, range, speed, bare })
    }
}

/// Two whole numbers between which the mean weighted capacity lies, however so much is shared out; `None` where
/// nothing is compared, or 64 bits cannot say it.
fn mean(weights: &[u64], total: u64) -> Option<Range> {
    let compared = || weights.iter().filter(|&&weight| weight > 0);
    // the sum of capacities is the sum of weighted ones, each divided by its weight
    let all = compared().try_fold(1u64, |all, weight| all.checked_mul(*weight))?;
    let parts = compared().filter_map(|&weight| all.checked_div(weight)).sum::<u64>();
    let scaled = total.checked_mul(all)?;
    Some(Range { low: scaled.checked_div(parts)?, high: scaled.div_ceil(parts) })
}

impl Walk<'_> {
    /// Whether nothing better can come.
    fn is_over(&self) -> bool {
        self.best.is_some_and(|best| {
            let nothing_given_up = best.moves == 0 && best.spread <= self.walking.nearest && best.lost == 0;
            let is_fastest = || self.most_after.values().first().is_none_or(|&fastest| best.speed >= fastest);
            matches!(self.walking.aim, Aim::At(_)) || (nothing_given_up && is_fastest())
        })
    }
}

#[cfg(test)]
mod tests {

    use itertools::Itertools;

    use super::*;
    use crate::fill::choices::{Choices, OpenPlaces};
    use crate::fill::drive::Drive;
    use crate::fill::exempt::ExemptLayouts;
    use crate::fill::pace::Paces;
    use crate::fill::rates::LevelRate;
    use crate::fill::reach::Reach;
    use crate::fill::{ClassId, Level, PlaceId, Present, PresentGroup};
    use crate::finding::Severity;
    use crate::population::Layout;
    use crate::rule::RuleBook;
    use crate::testing;

    /// Every target, by enumeration of all ways to give each processor one of its states; sorted.
    fn all_targets(model: &SlotModel<'_>, loads: &Loads, demand: &Demand, all: &[Reachable]) -> Vec<Target> {
        let states = &loads.states;
        let mut targets = Vec::new();
        for reachable in all {
            let of_socket = |entries: &Rc<Vec<PacedStates>>| {
                let states = entries.iter().flat_map(|paced| paced.states.iter().map(move |state| (state, paced.pace)));
                states.collect::<Vec<_>>()
            };
            let of_sockets: Vec<Vec<_>> = reachable.sockets.values().iter().map(of_socket).collect();
            if of_sockets.len() < model.sockets.len() {
                continue;
            }
            for shares in of_sockets.iter().map(|states| states.iter().copied()).multi_cartesian_product() {
                let sum =
                    |count: &dyn Fn(StateIx) -> usize| shares.iter().map(|&(state, _)| count(state)).sum::<usize>();
                let is_whole = loads
                    .counts
                    .iter()
                    .all(|(kind, &count)| sum(&|state| states.count(states.vector_of(state), kind)) == count);
                if !is_whole {
                    continue;
                }
                let weighted = shares
                    .iter()
                    .zip(model.sockets.values())
                    .map(|(&(state, _), socket)| loads.capacity(states.vector_of(state)) * socket.weight);
                let (least, most) = weighted.minmax().into_option().unwrap();
                targets.push(Target {
                    bare: shares.iter().filter(|&&(state, _)| states.vector_of(state) == VectorIx::of(0)).count(),
                    moves: demand.moves(|group| sum(&|state| states.stays(state, group))),
                    speed: shares
                        .iter()
                        .fold(Speed::ZERO, |sum, (state, pace)| sum.plus(pace.speed(loads.usable(*state)))),
                    spread: most - least,
                    lost: sum(&|state| states.lost(state)),
                });
            }
        }
        targets.retain(|target| !exceeds(target.moves, demand.most_moves) && !exceeds(target.lost, demand.most_lost));
        targets.sort_by_key(|target| target.rank(demand.moves_first));
        targets.dedup();
        targets
    }

    /// Walks over all targets of a demand and holds them against enumeration; how many there were.
    fn compare(sockets: usize, channels: usize, mut demand: Demand, present: &[(usize, usize)]) -> usize {
        let machine = testing::machine(testing::board_of(sockets, channels, 2), testing::processor());
        let (plain, quad, rules) = (testing::plain(), testing::quad(), RuleBook::standard());
        let model = SlotModel::new(&machine, &rules, Severity::Error, vec![&plain, &quad], Layout::empty(&machine));
        demand.present = Table::filled(None, model.slots.len());
        demand.used = Table::filled(present.len(), 1);
        for &(place, class) in present {
            let group = PresentGroup::of(0);
            *demand.present.get_mut(PlaceId::of(place)).unwrap() = Some(Present { class: ClassId::of(class), group });
        }
        let budget = &mut Budget::new(10_000_000, None);
        let loads = Loads::new(&model, &model, (&demand, Drive::Hoped), budget).unwrap().unwrap();
        let exempt = ExemptLayouts::new(&model, &loads);
        let paces = Paces::new(&model, &loads, (&exempt, &demand), budget).unwrap();
        let reach = Reach::new((&model, &model), &loads, &paces, &exempt, budget).unwrap();
        let open: OpenPlaces =
            model.slots.values().iter().map(|_| Choices::modules(loads.kinds.ids()).or_nothing()).collect();
        let all = reach.reachable(&open, &[LevelRate { level: Level::NO_RATE, rate: 1 }], budget).unwrap();
        let shares = Shares::new(&model, &loads, &demand, 0);
        let expected = all_targets(&model, &loads, &demand, &all);
        let mut last = None;
        for target in &expected {
            last = shares.next_target(&all, None, last, budget).unwrap();
            assert_eq!(last, Some(*target), "{sockets}x{channels} {demand:?}");
            assert!(shares.feasible(&all, *target, budget).unwrap());
        }
        assert_eq!(shares.next_target(&all, None, last, budget).unwrap(), None);
        expected.len()
    }

    #[test]
    fn targets_come_in_the_order_of_all_ways_to_share_out() {
        let presents: [&[(usize, usize)]; 2] = [&[], &[(0, 0), (1, 1), (2, 0)]];
        let mut found = 0;
        for ((sockets, channels), first, second, present, moves_first) in
            itertools::iproduct!([(1, 2), (2, 1), (2, 2), (3, 1)], 0..4, 0..3, presents, [false, true])
        {
            let counts = vec![(ClassId::of(0), first), (ClassId::of(1), second)];
            if (1..=sockets * channels * 2).contains(&(first + second)) {
                for most_moves in [None, Some(1)] {
                    let demand = Demand { counts: counts.clone(), moves_first, most_moves, ..Demand::default() };
                    found += compare(sockets, channels, demand, present);
                }
            }
        }
        assert!(found > 500, "{found}");
    }
}
