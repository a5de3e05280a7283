//! Processors of which at most so many sorts may be there, by what their channels hold.

use std::cmp::Ordering;
use std::collections::BTreeSet;

use itertools::Itertools;

use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::platform::SlotId;
use crate::population::{SocketLoad, UnitLoad};
use crate::rule::even::{self, Held};
use crate::rule::unlike_channels::{key, one_or_list};
use crate::rule::{Cause, Detail, MixBound, ModuleFact, Report, mix};
use crate::stated::Demand;
use crate::unit::Name;

/// A processor and what its channels hold.
struct Own<'a> {
    load: SocketLoad<'a>,
    units: Vec<(UnitLoad<'a>, Held)>,
}

impl<'a> Own<'a> {
    fn new(load: SocketLoad<'a>, fact: &ModuleFact) -> Self {
        let units = load.units().map(|unit| (unit, even::held(fact, &unit)));
        Self { load, units: units.collect() }
    }

    /// How many channels of each load it has, whichever they are.
    fn key(&self) -> FactValue {
        let keys = self.units.iter().filter(|(load, _)| !load.is_empty()).map(|(_, held)| key(held)).sorted();
        let keys = keys.collect_vec();
        let groups = keys.chunk_by(|a, b| a == b);
        one_or_list(groups.filter_map(|group| Some(FactValue::times(group.len(), group.first()?.clone()))))
    }

    /// By channel the rounds in which modules could sit; channels in order of that, those of no round left out.
    fn wiring(&self) -> Vec<Vec<usize>> {
        let rounds = |held: &Held| -> Vec<usize> {
            held.iter().enumerate().filter(|(_, round)| round.is_some()).map(|(round, _)| round).collect()
        };
        self.units.iter().map(|(_, held)| rounds(held)).filter(|rounds| !rounds.is_empty()).sorted().collect()
    }

    fn slots(&self) -> usize {
        self.units.iter().flat_map(|(load, held)| (0..held.len()).map(|round| load.slots_of(round).len())).sum()
    }

    fn modules(&self) -> usize {
        self.units.iter().flat_map(|(_, held)| held.iter().flatten()).map(Vec::len).sum()
    }

    /// The facts of a round's modules.
    fn round(&self, round: usize) -> impl Iterator<Item = &FactValue> {
        self.units.iter().filter_map(move |(_, held)| held.get(round)?.as_ref()).flatten()
    }

    /// Its live slots that no other device takes, by turn.
    fn by_turn(&self) -> Vec<SlotId> {
        let slots = self.units.iter().flat_map(|(load, held)| (0..held.len()).flat_map(|round| load.slots_of(round)));
        let platform = self.load.machine().platform();
        slots.copied().sorted_by_key(|&slot| platform.slot(slot).order()).collect()
    }
}

/// Holds the processors of a machine against a bound.
pub(crate) fn hold<'a>(
    bound: &MixBound,
    sockets: impl Iterator<Item = SocketLoad<'a>> + Clone,
    (fact, by_slot): (&ModuleFact, bool),
    report: &mut Report<'_>,
) {
    let all: Vec<Own<'_>> = sockets.map(|load| Own::new(load, fact)).collect();
    let place = |own: &Own<'_>| Place::socket(own.load.machine().platform(), own.load.id());
    if bound.at_most != 1 {
        let items = all.iter().filter(|own| own.modules() > 0);
        return mix::hold(
            bound,
            items,
            (|own: &&Own<'_>| Ok(Some(own.key())), |_, _| false, |own: &&Own<'_>| place(own)),
            report,
        );
    }
    let strict = by_slot && bound.demand == Demand::Required;
    // a processor without memory is spoken of by another rule
    let taking = |own: &&Own<'_>| own.slots() > 0 && (strict || own.modules() > 0);
    let compared: Vec<&Own<'_>> = all.iter().filter(taking).collect();
    let differ = |a: &Own<'_>, b: &Own<'_>| if strict { differ_by_slot(a, b, fact) } else { differ(a, b) };
    if !compared.iter().tuple_combinations().any(|(a, b)| differ(a, b)) {
        return;
    }
    let cause = if compared.iter().map(|own| own.modules()).all_equal() { Cause::Modules } else { Cause::Processors };
    let sockets = compared.iter().map(|own| own.load.id()).collect_vec();
    let layout = compared.iter().find_map(|own| own.units.first()).map(|(load, _)| load.layout());
    report.uneven(layout, &sockets, Cause::Processors, (bound.basis, bound.source.as_ref()), bound.demand, || {
        let keys = compared.iter().map(|own| own.key()).collect_vec();
        let weight = |at: &usize| {
            let same = keys.iter().filter(|key| Some(*key) == keys.get(*at)).count();
            (same, compared.get(*at).map_or(0, |own| own.modules()))
        };
        // most, or of as many the fuller ones, are how it should be
        let best =
            (0..keys.len()).max_by(|a, b| weight(a).cmp(&weight(b)).then_with(|| keys.get(*b).cmp(&keys.get(*a))));
        let expected = best.and_then(|at| keys.get(at));
        let odd =
            compared.iter().zip(&keys).filter(|(_, key)| Some(*key) != expected).map(|(own, _)| own).collect_vec();
        let unlike = compared.iter().tuple_combinations().find(|(a, b)| differ(a, b));
        let pair = unlike.map(|(one, other)| by_fullness(one, other));
        let remedy = pair.map_or(Remedy::UseLikeModules, |(fuller, emptier)| remedy(fuller, emptier, cause, strict));
        let places = if odd.is_empty() { compared.iter().collect_vec() } else { odd };
        let found = places.iter().map(|own| own.key()).sorted().dedup();
        Detail::at_all(places.iter().map(|own| place(own)))
            .fact(FactName::Found, one_or_list(found))
            .fact(FactName::Elsewhere, expected.cloned().unwrap_or_else(|| FactValue::list([])))
            .remedy(remedy)
    });
}

/// The processor with more modules for its slots first; of two that are as full, the second.
fn by_fullness<'o, 'a>(one: &'o Own<'a>, other: &'o Own<'a>) -> (&'o Own<'a>, &'o Own<'a>) {
    match (one.modules() * other.slots()).cmp(&(other.modules() * one.slots())) {
        Ordering::Greater => (one, other),
        Ordering::Equal | Ordering::Less => (other, one),
    }
}

/// Whether two processors with memory hold what differs.
fn differ(a: &Own<'_>, b: &Own<'_>) -> bool {
    if a.wiring() == b.wiring() {
        return !channels_match(a, b);
    }
    let rounds = a.units.iter().chain(&b.units).map(|(_, held)| held.len()).max().unwrap_or(0);
    let unlike = (0..rounds).any(|round| {
        let of = |own: &Own<'_>| own.round(round).cloned().collect::<BTreeSet<FactValue>>();
        let (one, other) = (of(a), of(b));
        let lacks = |one: &BTreeSet<FactValue>, other: &BTreeSet<FactValue>| {
            one.iter().any(|fact| !other.iter().any(|known| even::unify(fact, known).is_some()))
        };
        !one.is_empty() && !other.is_empty() && (lacks(&one, &other) || lacks(&other, &one))
    });
    unlike || a_move_would_help(a, b)
}

/// Whether moving one module from the fuller processor to the other brings their modules per slot nearer.
fn a_move_would_help(a: &Own<'_>, b: &Own<'_>) -> bool {
    let (fuller, emptier) = by_fullness(a, b);
    // times the slots of both
    let shares =
        |fuller_has: usize, emptier_has: usize| (fuller_has * emptier.slots()).abs_diff(emptier_has * fuller.slots());
    let (more, less) = (fuller.modules(), emptier.modules());
    more > 0 && less < emptier.slots() && shares(more - 1, less + 1) < shares(more, less)
}

/// Whether the channels of one can be matched with those of the other, each with one that holds the same.
fn channels_match(a: &Own<'_>, b: &Own<'_>) -> bool {
    let contents = |own: &Own<'_>| -> Vec<Vec<FactValue>> {
        let facts = |held: &Held| held.iter().flatten().flatten().cloned().sorted().collect();
        let taking = own.units.iter().filter(|(_, held)| held.iter().any(Option::is_some));
        taking.map(|(_, held)| facts(held)).sorted().collect()
    };
    let (one, other) = (contents(a), contents(b));
    if one == other {
        return true;
    }
    let alike = |a: &[FactValue], b: &[FactValue]| even::match_up(&a.iter().collect_vec(), &b.iter().collect_vec());
    // an alternating path for each in turn
    let mut taken: Vec<Option<usize>> = vec![None; other.len()];
    fn place(
        from: usize,
        edges: &dyn Fn(usize, usize) -> bool,
        taken: &mut Vec<Option<usize>>,
        seen: &mut BTreeSet<usize>,
    ) -> bool {
        for to in 0..taken.len() {
            if !edges(from, to) || !seen.insert(to) {
                continue;
            }
            let holder = taken.get(to).copied().flatten();
            if holder.is_none_or(|holder| place(holder, edges, taken, seen)) {
                taken.get_mut(to).into_iter().for_each(|entry| *entry = Some(from));
                return true;
            }
        }
        false
    }
    let edges = |from: usize, to: usize| match (one.get(from), other.get(to)) {
        (Some(a), Some(b)) => alike(a, b),
        _ => false,
    };
    one.len() == other.len() && (0..one.len()).all(|from| place(from, &edges, &mut taken, &mut BTreeSet::new()))
}

/// Whether two processors differ slot by slot, each in its own turn order, as far as both have slots.
fn differ_by_slot(a: &Own<'_>, b: &Own<'_>, fact: &ModuleFact) -> bool {
    let contents = |own: &Own<'_>| {
        let layout = own.units.first().map(|(load, _)| load.layout());
        let module = |slot| layout.and_then(|layout| layout.get(slot).module()).map(fact);
        own.by_turn().into_iter().map(module).collect_vec()
    };
    let differ = |(a, b): (Option<FactValue>, Option<FactValue>)| match (a, b) {
        (Some(a), Some(b)) => even::unify(&a, &b).is_none(),
        (a, b) => a.is_some() != b.is_some(),
    };
    contents(a).into_iter().zip(contents(b)).any(differ)
}

fn remedy(fuller: &Own<'_>, emptier: &Own<'_>, cause: Cause, strict: bool) -> Remedy {
    let label = |own: &Own<'_>, slot: SlotId| own.load.machine().platform().slot(slot).label().clone();
    let holds = |own: &Own<'_>, slot: SlotId| own.load.modules().any(|site| site.slot == slot);
    let last = fuller.by_turn().into_iter().rev().find(|&slot| holds(fuller, slot));
    let first = emptier.by_turn().into_iter().find(|&slot| !holds(emptier, slot));
    match (cause, last, first) {
        (Cause::Modules, ..) => Remedy::UseLikeModules,
        (_, Some(from), Some(to)) if !strict && fuller.modules() > emptier.modules() + 1 => {
            Remedy::Move { slots: vec![label(fuller, from)], to: vec![label(emptier, to)] }
        }
        // the slots whose like the fuller one fills
        _ => {
            let pairs = fuller.by_turn().into_iter().zip(emptier.by_turn());
            let lacking = pairs.filter(|&(own, other)| holds(fuller, own) && !holds(emptier, other));
            let slots: Vec<Name> = lacking.map(|(_, slot)| label(emptier, slot)).collect();
            if slots.is_empty() { Remedy::UseLikeModules } else { Remedy::AddLike { slots } }
        }
    }
}
