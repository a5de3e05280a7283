//! What a later request costs at least, by what was fitted before it: where both ask for like channels, so that its plans
//! are loads repeated over channels.

use crate::fill::ClassId;
use crate::purchase::ShelfItem;
use crate::purchase::engine::alike::GroupId;
use crate::purchase::engine::classes::{at_lowest_prices, price_levels};
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::search::Search;
use crate::purchase::engine::stock::Stock;
use crate::search::{Budget, StopReason, Table, index_types, wide};

index_types! {
    /// Modules that later loads do not tell apart.
    PotId;
}

/// Modules that later loads do not tell apart, of which some are fitted before.
#[derive(Debug)]
struct Pot {
    /// By number fitted before, then by number that is wanted: what is bought or taken beside, less the most that may be
    /// credited for what is not used.
    costs: Vec<Vec<Option<Amount>>>,
}

/// What a later request costs at least, by numbers of modules fitted before it.
#[derive(Debug)]
pub(crate) struct Sequel {
    /// By class of the first request.
    pot_of: Table<ClassId, Option<PotId>>,
    pots: Table<PotId, Pot>,
    /// How many modules the populations that may come of it have.
    ends: Vec<Vec<(PotId, usize)>>,
}

impl Pot {
    /// A pot of stocks beside what is fitted, for which so much is credited at most, in each of so many machines.
    fn new(stocks: &[Stock<'_>], credit: Amount, machines: u32, slots: usize) -> Self {
        let levels = price_levels(stocks);
        let beside = |count: usize| at_lowest_prices(&levels, u32::try_from(count).ok()?.checked_mul(machines)?);
        let beside: Vec<Option<Amount>> = (0..=slots).map(beside).collect();
        let each = credit * Amount::from(machines);
        let mut costs: Vec<Vec<Option<Amount>>> = Vec::with_capacity(slots + 1);
        let mut credits = 0;
        for _ in 0..=slots {
            // none that is fitted is used; or one is, and the rest is as with one fewer
            let last = costs.last();
            let with_one = |wanted: usize| last?.get(wanted.checked_sub(1)?).copied().flatten();
            let row = beside.iter().enumerate().map(|(wanted, cost)| {
                let with_none = cost.map(|cost| cost - credits);
                with_none.into_iter().chain(with_one(wanted)).min()
            });
            let row = row.collect();
            costs.push(row);
            credits += each;
        }
        Self { costs }
    }

    fn cost(&self, fitted: usize, wanted: usize) -> Option<Amount> {
        self.costs.get(fitted)?.get(wanted).copied().flatten()
    }
}

impl Sequel {
    /// The most ends that are gone through for each number.
    const MOST_ENDS: usize = 1 << 13;

    /// What follows the plans of a search in another one. For each class of the first, the other one has a shelf item that
    /// stands for what is fitted, whose value is what is credited for it. `None` where not both are of loads that are
    /// repeated, or they tell loads apart unlike.
    pub(crate) fn new(
        now: &Search<'_, '_>,
        later: &mut Search<'_, '_>,
        items: &[(ClassId, &ShelfItem)],
        budget: &mut Budget<'_>,
    ) -> Result<Option<Self>, StopReason> {
        if !now.is_alike() || !later.is_alike() {
            return Ok(None);
        }
        let (groups, own) = (later.groups(budget)?, now.groups(budget)?);
        let (classes, slots) = (later.classes(), later.model().slots.len());
        let stocks_of = |class: ClassId| classes.all.get(class).map(|entry| entry.stocks(&classes.market));
        let is_item = |stock: &Stock<'_>| matches!(stock, Stock::Shelf(item) if items.iter().any(|(_, known)| known.id == item.id));
        // the group in which a class of the first is found again
        let group_of = |class: ClassId| -> Option<GroupId> {
            let (_, item) = items.iter().find(|(known, _)| *known == class)?;
            let has_it = |class: &ClassId| {
                let stocks = stocks_of(*class).unwrap_or_default();
                stocks.iter().any(|stock| matches!(stock, Stock::Shelf(other) if other.id == item.id))
            };
            groups.iter().find(|(_, group)| group.classes.iter().any(has_it)).map(|(id, _)| id)
        };
        let credit_of = |class: ClassId| {
            let item = items.iter().find(|(known, _)| *known == class);
            item.and_then(|(_, item)| item.unit_value).map_or(0, |value| Amount::from(value.amount_minor()))
        };
        let mut credits: Table<PotId, Amount> = groups.ids().map(|_| 0).collect();
        let mut pots: Vec<(GroupId, PotId)> = groups.ids().zip(credits.ids()).collect();
        let mut pot_of = Table::filled(None, now.classes().all.len());
        for (_, group) in own.iter() {
            let mut found: Vec<GroupId> = group.classes.iter().filter_map(|&class| group_of(class)).collect();
            found.sort_unstable();
            found.dedup();
            let pot = match found.as_slice() {
                [] => credits.push(0),
                [one] => match pots.iter().find(|(group, _)| group == one) {
                    Some(&(_, pot)) => pot,
                    None => return Ok(None),
                },
                _ => return Ok(None),
            };
            for &class in &group.classes {
                credits.get_mut(pot).into_iter().for_each(|credit| *credit = credit_of(class).max(*credit));
                pot_of.get_mut(class).into_iter().for_each(|entry| *entry = Some(pot));
            }
        }
        budget.work(wide(credits.len() * (slots + 1) * (slots + 1)))?;
        let machines = classes.labour.machines;
        let pot = |(id, &credit): (PotId, &Amount)| {
            let group = pots.iter().find(|(_, pot)| *pot == id).and_then(|(group, _)| groups.get(*group));
            let stocks = group.into_iter().flat_map(|group| &group.classes).filter_map(|&class| stocks_of(class));
            let stocks: Vec<Stock<'_>> = stocks.flatten().filter(|stock| !is_item(stock)).collect();
            Pot::new(&stocks, credit, machines, slots)
        };
        let all = credits.iter().map(pot).collect();
        pots.sort_unstable();
        let of_group = |group: GroupId| pots.iter().find(|(known, _)| *known == group).map(|&(_, pot)| pot);
        let end = |counts: Vec<(GroupId, usize)>| -> Option<Vec<(PotId, usize)>> {
            counts.into_iter().map(|(group, count)| Some((of_group(group)?, count))).collect()
        };
        let counts = later.group_counts(&groups, budget)?;
        if counts.len() > Self::MOST_ENDS {
            return Ok(None);
        }
        let mut ends: Vec<_> = counts.into_iter().filter_map(end).collect();
        ends.sort_unstable();
        ends.dedup();
        Ok(Some(Self { pot_of, pots: all, ends }))
    }

    /// What follows at least after so many modules of each class; `None` where nothing can.
    pub(crate) fn least(&self, counts: impl IntoIterator<Item = (ClassId, usize)>) -> Option<Amount> {
        let mut fitted = Table::filled(0, self.pots.len());
        for (class, count) in counts {
            let pot = self.pot_of.get(class).copied().flatten()?;
            *fitted.get_mut(pot)? += count;
        }
        let none_used: Amount =
            fitted.iter().map(|(pot, &count)| self.pots.get(pot)?.cost(count, 0)).sum::<Option<_>>()?;
        let with = |&(pot, wanted): &(PotId, usize)| {
            let (pot, count) = (self.pots.get(pot)?, *fitted.get(pot)?);
            Some(pot.cost(count, wanted)? - pot.cost(count, 0)?)
        };
        let ends = self.ends.iter().filter_map(|end| end.iter().map(with).sum::<Option<Amount>>());
        Some(none_used + ends.min()?)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::purchase::Offer;
    use crate::testing::{name, plain};
    use crate::unit::Price;

    proptest! {
        /// Of so many that are fitted any number is used, and the others are credited; the rest are the cheapest units.
        #[test]
        fn law_a_pot_costs_what_trying_every_number_finds(
            drawn in prop::collection::vec((0u64..9, 0u32..4), 0..4), credit in 0i128..9, machines in 1u32..3,
        ) {
            let offer = |(price, stock): &(u64, u32)| {
                Offer::new(name("offer"), plain(), Price::new(*price, "EUR".parse().unwrap()), *stock)
            };
            let offers: Vec<Offer> = drawn.iter().map(offer).collect();
            let stocks: Vec<Stock<'_>> = offers.iter().map(Stock::offer).collect();
            let pot = Pot::new(&stocks, credit, machines, 6);
            let mut units: Vec<Amount> =
                drawn.iter().flat_map(|&(price, stock)| (0..stock).map(move |_| Amount::from(price))).collect();
            units.sort_unstable();
            let each = usize::try_from(machines).unwrap();
            for (fitted, wanted) in itertools::iproduct!(0..=6_usize, 0..=6_usize) {
                let with = |used: usize| {
                    let beside: Amount = units.get(..(wanted - used) * each)?.iter().sum();
                    Some(beside - credit * Amount::try_from((fitted - used) * each).unwrap())
                };
                let expected = (0..=fitted.min(wanted)).filter_map(with).min();
                prop_assert_eq!(pot.cost(fitted, wanted), expected, "{} of {}", wanted, fitted);
            }
        }
    }
}
