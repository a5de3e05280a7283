//! Populated channels of which at most so many sorts may be there.

use itertools::Itertools;

use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::platform::SocketId;
use crate::population::{SocketLoad, UnitLoad};
use crate::rule::even::{self, Alike, Held};
use crate::rule::{Cause, Detail, MixBound, ModuleFact, Report, mix};
use crate::unit::Name;

/// What a channel holds, in order of rounds: one fact, or how many of which.
pub(crate) fn key(held: &Held) -> FactValue {
    let mut facts: Vec<&FactValue> = held.iter().flatten().flatten().collect();
    facts.sort_unstable();
    let runs = facts.chunk_by(|a, b| a == b).filter_map(|run| Some((run.len(), *run.first()?)));
    one_or_list(runs.map(|(count, fact)| if count == 1 { fact.clone() } else { FactValue::times(count, fact.clone()) }))
}

pub(crate) fn one_or_list(values: impl Iterator<Item = FactValue>) -> FactValue {
    let mut values: Vec<_> = values.collect();
    match values.pop() {
        Some(one) if values.is_empty() => one,
        last => FactValue::list(values.into_iter().chain(last)),
    }
}

/// The places of a unit's channels.
pub(crate) fn places(load: &UnitLoad<'_>) -> Vec<Place> {
    load.unit().channels.iter().map(|&id| Place::channel(load.machine().platform(), id)).collect()
}

/// Holds the populated channels of some processors against a bound.
pub(crate) fn hold<'a>(
    bound: &MixBound,
    sockets: impl Iterator<Item = SocketLoad<'a>> + Clone,
    fact: &ModuleFact,
    report: &mut Report<'_>,
) {
    let units = sockets.clone().flat_map(|socket| socket.units()).filter(|load| !load.is_empty()).collect();
    let sockets: Vec<SocketId> = sockets.map(|socket| socket.id()).collect();
    hold_units(bound, (units, &sockets), fact, report);
}

/// Holds populated channels, or those that the mode joins, of some processors against a bound.
pub(crate) fn hold_units<'a>(
    bound: &MixBound,
    (units, sockets): (Vec<UnitLoad<'a>>, &[SocketId]),
    fact: &ModuleFact,
    report: &mut Report<'_>,
) {
    let held: Vec<Held> = units.iter().map(|load| even::held(fact, load)).collect();
    if bound.at_most != 1 {
        let items = units.iter().zip(&held);
        let key = |(_, held): &(&UnitLoad<'a>, &Held)| Ok(Some(key(held)));
        let place = |(load, _): &(&UnitLoad<'a>, &Held)| places(load).into_iter().next().unwrap_or(Place::Machine);
        return mix::hold(bound, items, (key, |_, _| false, place), report);
    }
    match even::all_alike(&held) {
        Alike::Yes => {}
        Alike::Perhaps => report.supposed(|| {
            let open = units.iter().zip(&held).filter(|(_, held)| !even::is_all_known(held));
            Detail::at_all(open.flat_map(|(load, _)| places(load)))
        }),
        Alike::No => {
            let cause = if unlike_in_a_round(&held) { Cause::Modules } else { Cause::Slots };
            let layout = units.first().map(UnitLoad::layout);
            let grounds = (bound.basis, bound.source.as_ref());
            report.uneven(layout, sockets, cause, grounds, bound.demand, || detail(&units, &held, cause));
        }
    }
}

/// Whether in some round two units hold modules that are not the same.
pub(crate) fn unlike_in_a_round(held: &[Held]) -> bool {
    held.iter().tuple_combinations().any(|(a, b)| even::unlike_in_a_round(a, b))
}

/// Names the channels that differ from most, and says what to do.
fn detail(units: &[UnitLoad<'_>], held: &[Held], cause: Cause) -> Detail {
    let keys: Vec<FactValue> = held.iter().map(key).collect();
    let weight = |key: &FactValue| {
        let same = keys.iter().filter(|other| *other == key).count();
        let modules = keys.iter().position(|other| other == key).and_then(|at| held.get(at)).map_or(0, count);
        (same, modules)
    };
    let expected = keys.iter().max_by(|a, b| weight(a).cmp(&weight(b)).then_with(|| b.cmp(a)));
    // what differs may be a fact that the text leaves out: then all of them
    let is_told = keys.iter().any(|key| Some(key) != expected);
    let odd = || units.iter().zip(&keys).filter(move |(_, key)| !is_told || Some(*key) != expected);
    let found = odd().map(|(_, key)| key.clone()).sorted().dedup();
    Detail::at_all(odd().flat_map(|(load, _)| places(load)))
        .fact(FactName::Found, one_or_list(found))
        .fact(FactName::Elsewhere, expected.cloned().unwrap_or_else(|| FactValue::list([])))
        .remedy(remedy(units, held, cause))
}

fn count(held: &Held) -> usize {
    held.iter().flatten().map(Vec::len).sum()
}

/// What would make units hold the same: modules in the slots of a round that others fill, or an exchange.
pub(crate) fn remedy(units: &[UnitLoad<'_>], held: &[Held], cause: Cause) -> Remedy {
    let label = |load: &UnitLoad<'_>, slot| load.machine().platform().slot(slot).label().clone();
    match cause {
        // the slots in which other channels have a module
        Cause::Slots => {
            let is_filled = |round: usize| {
                held.iter()
                    .any(|held| held.get(round).is_some_and(|held| held.as_ref().is_some_and(|held| !held.is_empty())))
            };
            let lacks = |load: &UnitLoad<'_>, round: usize| load.modules_of(round).next().is_none() && is_filled(round);
            let slots: Vec<Name> = units
                .iter()
                .flat_map(|load| {
                    let rounds = (0..load.unit().rounds.len()).filter(|&round| lacks(load, round));
                    rounds.flat_map(|round| load.slots_of(round)).map(|&slot| label(load, slot)).collect_vec()
                })
                .collect();
            if slots.is_empty() { Remedy::UseLikeModules } else { Remedy::AddLike { slots } }
        }
        // two modules in one round whose exchange makes both channels alike
        Cause::Modules | Cause::Processors => {
            let pairs = units.iter().zip(held).tuple_combinations();
            let pairs = pairs.filter(|((_, one), (_, other))| !even::are_alike(one, other));
            let swap = pairs.flat_map(|((a, one), (b, other))| {
                let rounds = one.len().min(other.len());
                (0..rounds).filter_map(move |round| {
                    let (mut one, mut other) = (one.clone(), other.clone());
                    std::mem::swap(one.get_mut(round)?, other.get_mut(round)?);
                    let own =
                        |load: &UnitLoad<'_>| load.modules_of(round).map(|site| label(load, site.slot)).collect_vec();
                    let (a, b) = (own(a), own(b));
                    (!a.is_empty() && !b.is_empty() && even::are_alike(&one, &other)).then_some((a, b))
                })
            });
            swap.into_iter().next().map_or(Remedy::UseLikeModules, |(slots, with)| Remedy::Exchange { slots, with })
        }
    }
}
