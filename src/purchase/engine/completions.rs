//! What the classes still to come cost at least, exactly but for what may sit beside what.

use crate::purchase::engine::cost::Amount;
use crate::search::{Budget, StopReason, wide};
use crate::unit::Capacity;
use crate::unit::exact::gcd;

/// A least cost by number of modules; absent where there are not so many.
pub(crate) type Curve = Vec<Option<Amount>>;

/// A class as far as completions go.
#[derive(Debug, Clone)]
pub(crate) struct Sort {
    pub(crate) capacity: Capacity,
    /// How many of the slots a module takes; none where it is no matter.
    pub(crate) takes: usize,
    /// What so many cost at least.
    pub(crate) curve: Curve,
}

/// The least cost of so many modules from two curves together, up to `most`.
pub(crate) fn join(a: &[Option<Amount>], b: &[Option<Amount>], most: usize) -> Curve {
    let longest = (a.len() + b.len()).saturating_sub(2).min(most);
    let least = |count: usize| {
        let first = (count + 1).saturating_sub(b.len());
        let pairs = a.get(first..=count.min(a.len().saturating_sub(1))).unwrap_or_default().iter().zip(first..);
        pairs.filter_map(|(own, from)| Some((*own)? + b.get(count - from).copied().flatten()?)).min()
    };
    (0..=longest).map(least).collect()
}

/// How many modules slots have room for that take so many each.
fn most_within(slots: usize, takes: usize) -> usize {
    slots.checked_div(takes).unwrap_or(usize::MAX)
}

/// A table of least costs: for the classes from each place on, any number of slots left and capacity still needed.
///
/// Classes of one capacity that take as many slots follow each other and are joined into one curve, so that there is a table for
/// each capacity and not for each class. Capacities are counted in a common unit, rounded up to it where there would be too many steps: then what is
/// needed is reached no later than it would be, and the costs stay below the true ones.
pub(crate) struct Completions {
    unit_mib: u64,
    places: Vec<Place>,
    /// For the capacities from each one on; the last is of none.
    tables: Vec<CostTable>,
}

/// The classes from one on.
struct Place {
    /// Of those of the same capacity, by number.
    curve: Curve,
    /// How many units each of them has, and how many slots it takes.
    units: usize,
    takes: usize,
    /// What comes after them.
    after: usize,
}

/// By slots left, then by units needed.
struct CostTable {
    units: usize,
    costs: Vec<i64>,
    /// What is added to each.
    base: Amount,
}

/// What cannot be had. What can be costs less, beside its base: beyond that it is said to cost just so much.
const NONE: i64 = i64::MAX;
const DEAREST: i64 = 1 << 56;

impl CostTable {
    /// Where no class is left.
    fn last(slots: usize, units: usize) -> Self {
        let mut costs = vec![NONE; (slots + 1) * (units + 1)];
        costs.iter_mut().step_by(units + 1).for_each(|cost| *cost = 0);
        Self { units, costs, base: 0 }
    }

    fn row(&self, slots: usize) -> &[i64] {
        let from = slots * (self.units + 1);
        self.costs.get(from..=from + self.units).unwrap_or_default()
    }

    fn get(&self, slots: usize, units: usize) -> Option<Amount> {
        let cost = self.row(slots).get(units).copied().filter(|&cost| cost != NONE)?;
        Some(self.base + Amount::from(cost))
    }

    /// The table with classes before it.
    fn with(&self, Place { curve, units: each, takes, .. }: &Place, slots: usize) -> Self {
        let (each, takes) = (*each, *takes);
        let base = curve.iter().flatten().min().copied().unwrap_or(0);
        // so many do where more costs no less
        let grows = curve.iter().all(Option::is_some) && curve.is_sorted();
        let enough = if grows { self.units.div_ceil(each.max(1)) } else { most_within(slots, takes) };
        let curve: Vec<Option<i64>> = curve
            .iter()
            .take(enough.saturating_add(1))
            .map(|cost| cost.map(|cost| i64::try_from(cost - base).unwrap_or(DEAREST).min(DEAREST)))
            .collect();
        let mut costs = Vec::with_capacity(self.costs.len());
        for left in 0..=slots {
            let mut row = vec![NONE; self.units + 1];
            for (count, own) in curve.iter().enumerate().take(most_within(left, takes).saturating_add(1)) {
                let Some(own) = *own else { continue };
                let rest = self.row(left - count * takes);
                let reached = (count * each).min(self.units + 1);
                // what so many reach needs nothing more
                let nothing = rest.first().map_or(NONE, |&rest| rest.saturating_add(own));
                let (within, beyond) = row.split_at_mut_checked(reached).unwrap_or_default();
                within.iter_mut().for_each(|cost| *cost = nothing.min(*cost));
                for (cost, &rest) in beyond.iter_mut().zip(rest) {
                    *cost = rest.saturating_add(own).min(*cost);
                }
            }
            costs.extend(row);
        }
        Self { units: self.units, costs, base: self.base + base }
    }
}

impl Completions {
    /// How many steps of work tables may take.
    const MOST_STEPS: usize = 1 << 21;

    /// Of classes with their curves, those of one capacity beside each other; of up to so many slots and so much needed.
    pub(crate) fn new(
        classes: &[Sort],
        slots: usize,
        needed: Capacity,
        budget: &mut Budget<'_>,
    ) -> Result<Self, StopReason> {
        let mut sizes: Vec<u64> = classes.iter().map(|sort| sort.capacity.mib()).collect();
        sizes.dedup();
        let common = sizes.iter().copied().fold(0, gcd).max(1);
        // what all slots can hold is enough to see that more cannot be had
        let largest = sizes.iter().max().copied().unwrap_or(0);
        let beside: usize = classes.iter().filter(|sort| sort.takes == 0).map(|sort| sort.curve.len()).sum();
        let most = largest.saturating_mul(wide(slots.saturating_add(beside))).saturating_add(1);
        let all_units = needed.mib().min(most).div_ceil(common);
        let steps_of_unit = sizes.len() * (slots + 1) * (slots + 1);
        let most_units = wide(Self::MOST_STEPS / steps_of_unit.max(1)).max(64);
        let unit_mib = common.saturating_mul(all_units.div_ceil(most_units).max(1));
        let in_units = |mib: u64| usize::try_from(mib.div_ceil(unit_mib)).map_err(|_| StopReason::INTERNAL_RANGE);
        let units = in_units(needed.mib().min(most))?;
        budget.work(wide(steps_of_unit * (units + 1) / 8))?;
        let mut places: Vec<Place> = Vec::new();
        let mut tables = vec![CostTable::last(slots, units)];
        let mut curve: Curve = vec![Some(0)];
        let mut later = None;
        for Sort { capacity, takes, curve: own } in classes.iter().rev() {
            let alike = (*capacity, *takes);
            if later.is_some_and(|later| later != alike) {
                if let (Some(last), Some(place)) = (tables.last(), places.last()) {
                    tables.push(last.with(place, slots));
                }
                curve = vec![Some(0)];
            }
            later = Some(alike);
            curve = join(&curve, own, most_within(slots, *takes));
            let units = in_units(capacity.mib())?;
            places.push(Place { curve: curve.clone(), units, takes: *takes, after: tables.len() - 1 });
        }
        places.reverse();
        Ok(Self { unit_mib, places, tables })
    }

    /// What the classes from a place on cost at least that fill up to so many slots and hold as much as is needed; `None` where
    /// they cannot.
    pub(crate) fn least(&self, place: usize, slots: usize, needed: Capacity) -> Option<Amount> {
        let Some(at) = self.places.get(place) else { return (needed == Capacity::ZERO).then_some(0) };
        let units = usize::try_from(needed.mib().div_ceil(self.unit_mib)).ok()?;
        let after = self.tables.get(at.after)?;
        let with = |(count, own): (usize, &Option<Amount>)| {
            Some((*own)? + after.get(slots - count * at.takes, units.saturating_sub(count * at.units))?)
        };
        at.curve.iter().enumerate().take(most_within(slots, at.takes).saturating_add(1)).filter_map(with).min()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn by_enumeration(classes: &[Sort], slots: usize, needed: u64) -> Option<Amount> {
        let Some((Sort { capacity, takes, curve }, rest)) = classes.split_first() else {
            return (needed == 0).then_some(0);
        };
        let with = |(count, own): (usize, &Option<Amount>)| {
            let left = needed.saturating_sub(capacity.mib() * u64::try_from(count).unwrap());
            Some((*own)? + by_enumeration(rest, slots.checked_sub(count * takes)?, left)?)
        };
        curve.iter().enumerate().filter_map(with).min()
    }

    fn classes() -> impl Strategy<Value = Vec<Sort>> {
        let cost = prop_oneof![4 => (-9i128..90).prop_map(Some), 1 => Just(None)];
        let sizes = prop::sample::select(vec![8u64, 16, 24, 32, 48]);
        let takes = prop_oneof![3 => Just(1usize), 1 => 2usize..4, 1 => Just(0)];
        let one = (sizes, takes, prop::collection::vec(cost, 1..6));
        prop::collection::vec(one, 0..5).prop_map(|mut all| {
            all.sort_by_key(|&(size, takes, _)| (size, takes));
            let sort = |(size, takes, curve)| Sort { capacity: Capacity::from_mib(size), takes, curve };
            all.into_iter().map(sort).collect()
        })
    }

    proptest! {
        #[test]
        fn law_completions_cost_what_enumeration_finds(
            classes in classes(), slots in 0usize..9, needed in 0u64..300, from in 0usize..5, filled in 0usize..9,
        ) {
            let budget = &mut Budget::new(1000, None);
            let all = Completions::new(&classes, slots, Capacity::from_mib(needed), budget).unwrap();
            let from = from.min(classes.len());
            let left = slots.saturating_sub(filled);
            for needed in [needed, needed / 2, 0] {
                let expected = by_enumeration(&classes[from..], left, needed);
                prop_assert_eq!(all.least(from, left, Capacity::from_mib(needed)), expected, "{} of {}", left, needed);
            }
        }
    }

    #[test]
    fn where_there_are_too_many_steps_costs_stay_below() {
        let curve: Curve = (0..=96).map(|count| Some(count * 7)).collect();
        let sort = |size: u64| Sort { capacity: Capacity::from_mib(1000 * size + 1), takes: 1, curve: curve.clone() };
        let classes: Vec<Sort> = (1..=40).map(sort).collect();
        let budget = &mut Budget::new(1_000_000, None);
        let needed = Capacity::from_mib(96 * 30_000);
        let all = Completions::new(&classes, 96, needed, budget).unwrap();
        assert!(all.unit_mib > 1);
        let least = all.least(0, 96, needed).unwrap();
        // 40,001 MiB for 7 each
        let exact = 7 * (96 * 30_000 / 40_001 + 1);
        assert!(least <= exact && least > exact * 8 / 10, "{least} {exact}");
        // much more than there can be
        assert_eq!(all.least(0, 96, Capacity::from_mib(96 * 80_000)), None);
    }
}
