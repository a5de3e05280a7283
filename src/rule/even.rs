//! When memory is even: what the rules on unlike channels and processors compare, and how.
//!
//! Modules are the same when their facts match; a fact that is not known matches any value, if one assignment makes all
//! alike.

use std::collections::BTreeSet;

use itertools::Itertools;

use crate::finding::FactValue;
use crate::population::UnitLoad;
use crate::rule::ModuleFact;

/// What a unit holds: by round the facts of its modules; absent for a round in which no module could sit.
pub(crate) type Held = Vec<Option<Vec<FactValue>>>;

/// Whether units hold the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Alike {
    /// They do.
    Yes,
    /// They do if facts are so that are not known.
    Perhaps,
    No,
}

/// What a unit holds, each module by its fact.
pub(crate) fn held(fact: &ModuleFact, load: &UnitLoad<'_>) -> Held {
    let facts = |modules: Vec<_>| modules.into_iter().map(fact).collect();
    load.rounds().into_iter().map(|round| round.map(facts)).collect()
}

/// Whether two facts match, and what both then are.
pub(crate) fn unify(a: &FactValue, b: &FactValue) -> Option<FactValue> {
    fn one<T: PartialEq + Copy>(a: Option<T>, b: Option<T>) -> Option<Option<T>> {
        match (a, b) {
            (Some(a), Some(b)) => (a == b).then_some(Some(a)),
            _ => Some(a.or(b)),
        }
    }
    match (a, b) {
        (
            FactValue::ModuleLoad { capacity_mib, package_ranks, stack_height, width },
            FactValue::ModuleLoad { capacity_mib: other, package_ranks: ranks, stack_height: height, width: devices },
        ) => {
            (capacity_mib == other).then_some(())?;
            Some(FactValue::ModuleLoad {
                capacity_mib: *capacity_mib,
                package_ranks: one(*package_ranks, *ranks)?,
                stack_height: one(*stack_height, *height)?,
                width: one(*width, *devices)?,
            })
        }
        _ => (a == b).then(|| a.clone()),
    }
}

/// Whether a fact says everything that there is to know.
fn is_known(fact: &FactValue) -> bool {
    match fact {
        FactValue::ModuleLoad { package_ranks, stack_height, width, .. } => {
            package_ranks.is_some() && stack_height.is_some() && width.is_some()
        }
        _ => true,
    }
}

/// Whether everything is known of what a unit holds.
pub(crate) fn is_all_known(held: &Held) -> bool {
    held.iter().flatten().flatten().all(is_known)
}

/// The facts of the rounds that two units both have, each sorted.
fn in_common<'h>(a: &'h Held, b: &'h Held) -> (Vec<&'h FactValue>, Vec<&'h FactValue>) {
    let (mut one, mut other) = (Vec::new(), Vec::new());
    for (a, b) in a.iter().zip(b) {
        if let (Some(a), Some(b)) = (a, b) {
            one.extend(a);
            other.extend(b);
        }
    }
    one.sort_unstable();
    other.sort_unstable();
    (one, other)
}

/// Every sorted list of facts that two lists both are in some order.
fn matchings(a: &[FactValue], b: &[FactValue]) -> BTreeSet<Vec<FactValue>> {
    let Some((first, rest)) = a.split_first() else {
        return if b.is_empty() { BTreeSet::from([Vec::new()]) } else { BTreeSet::new() };
    };
    let mut all = BTreeSet::new();
    for (index, fact) in b.iter().enumerate() {
        if b.iter().take(index).contains(fact) {
            continue;
        }
        let Some(both) = unify(first, fact) else { continue };
        let others = [b.get(..index).unwrap_or_default(), b.get(index + 1..).unwrap_or_default()].concat();
        for mut matching in matchings(rest, &others) {
            matching.push(both.clone());
            matching.sort_unstable();
            all.insert(matching);
        }
    }
    all
}

/// Whether two lists are the same in some order, as far as is known.
pub(crate) fn match_up(a: &[&FactValue], b: &[&FactValue]) -> bool {
    if a.len() != b.len() {
        return false;
    }
    if a == b {
        return true;
    }
    if a.iter().chain(b).all(|fact| is_known(fact)) {
        return false;
    }
    let owned = |facts: &[&FactValue]| facts.iter().map(|&fact| fact.clone()).collect_vec();
    !matchings(&owned(a), &owned(b)).is_empty()
}

/// Whether two units with memory hold the same over the rounds that both have, as far as is known.
pub(crate) fn are_alike(a: &Held, b: &Held) -> bool {
    let (a, b) = in_common(a, b);
    match_up(&a, &b)
}

/// Whether in some round both units hold modules that are not the same, as far as is known.
pub(crate) fn unlike_in_a_round(a: &Held, b: &Held) -> bool {
    let rounds = a.iter().zip(b).filter_map(|(a, b)| Some((a.as_ref()?, b.as_ref()?)));
    rounds.filter(|(a, b)| !a.is_empty() && !b.is_empty()).any(|(a, b)| {
        let (a, b) = (a.iter().sorted().collect_vec(), b.iter().sorted().collect_vec());
        !match_up(&a, &b)
    })
}

/// Whether units with memory all hold the same over the rounds that each two of them have.
pub(crate) fn all_alike(units: &[Held]) -> Alike {
    if !units.iter().tuple_combinations().all(|(a, b)| are_alike(a, b)) {
        return Alike::No;
    }
    if units.iter().all(is_all_known) || units.iter().all_equal() {
        return Alike::Yes;
    }
    // each set of rounds that two units share is one list for all that share it
    let rounds = |a: &Held, b: &Held| -> Vec<usize> {
        a.iter().zip(b).enumerate().filter(|(_, (a, b))| a.is_some() && b.is_some()).map(|(round, _)| round).collect()
    };
    let shared: BTreeSet<Vec<usize>> = units.iter().tuple_combinations().map(|(a, b)| rounds(a, b)).collect();
    let of = |unit: &Held, rounds: &[usize]| -> Vec<FactValue> {
        rounds.iter().filter_map(|&round| unit.get(round)?.as_ref()).flatten().cloned().sorted().collect()
    };
    for set in shared {
        let takes_part = |index: usize, unit: &Held| {
            units.iter().enumerate().any(|(other, held)| other != index && rounds(unit, held) == set)
        };
        let own = units.iter().enumerate().filter(|&(index, unit)| takes_part(index, unit));
        let mut lists: Option<BTreeSet<Vec<FactValue>>> = None;
        for facts in own.map(|(_, unit)| of(unit, &set)).dedup() {
            lists = Some(match lists {
                None => BTreeSet::from([facts]),
                Some(lists) => lists.iter().flat_map(|list| matchings(list, &facts)).collect(),
            });
        }
        if lists.is_some_and(|lists| lists.is_empty()) {
            return Alike::No;
        }
    }
    Alike::Perhaps
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::module::DeviceWidth;
    use crate::unit::Capacity;

    fn fact(gib: u32, width: Option<DeviceWidth>) -> FactValue {
        FactValue::ModuleLoad {
            capacity_mib: Capacity::from_gib(gib),
            package_ranks: Some(2),
            stack_height: Some(1),
            width,
        }
    }

    const X4: Option<DeviceWidth> = Some(DeviceWidth::X4);
    const X8: Option<DeviceWidth> = Some(DeviceWidth::X8);

    fn unit(rounds: &[Option<&[FactValue]>]) -> Held {
        rounds.iter().map(|round| round.map(<[FactValue]>::to_vec)).collect()
    }

    #[test]
    fn order_within_a_channel_is_no_matter() {
        let (large, small) = ([fact(64, X4)], [fact(32, X4)]);
        let a = unit(&[Some(&large), Some(&small)]);
        let b = unit(&[Some(&small), Some(&large)]);
        assert!(are_alike(&a, &b));
        // a channel of one slot has the first round alone
        assert!(are_alike(&a, &unit(&[Some(&large)])));
        assert!(!are_alike(&b, &unit(&[Some(&large)])));
        // a slot that is taken away is no round
        assert!(are_alike(&a, &unit(&[Some(&large), None])));
        assert!(!are_alike(&a, &unit(&[Some(&large), Some(&[])])));
    }

    #[test]
    fn an_unknown_fact_is_what_makes_all_alike_if_one_thing_does() {
        let (known, other, open) = ([fact(32, X4)], [fact(32, X8)], [fact(32, None)]);
        let units = |all: &[&[FactValue]]| all.iter().map(|&facts| unit(&[Some(facts)])).collect_vec();
        assert_eq!(all_alike(&units(&[&known, &known])), Alike::Yes);
        assert_eq!(all_alike(&units(&[&open, &open])), Alike::Yes);
        assert_eq!(all_alike(&units(&[&known, &open])), Alike::Perhaps);
        assert_eq!(all_alike(&units(&[&known, &other])), Alike::No);
        // each two could be alike, all three cannot
        let pair = |a: &[FactValue], b: &[FactValue]| unit(&[Some(a), Some(b)]);
        assert_eq!(all_alike(&[pair(&known, &open), pair(&other, &open)]), Alike::Perhaps);
        assert_eq!(all_alike(&[pair(&known, &open), pair(&other, &open), pair(&known, &known)]), Alike::No);
    }
}
