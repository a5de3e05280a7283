//! What units of one class cost at least, for the stocks from each one on.

use std::collections::VecDeque;

use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::stock::Stock;
use crate::search::{Budget, SearchSize, StopReason};

/// The least that stocks come to: for the stocks from each one on, by how many units are still to be fitted, and how many
/// are to be bought beside them. Labour and charges are left out, what is not fitted counts at its worth. Exact: this is what
/// the best choice of quantities costs.
#[derive(Debug)]
pub(crate) struct LeastCosts {
    fitted: usize,
    extra: usize,
    rows: Vec<Vec<Option<Amount>>>,
}

impl LeastCosts {
    /// The most entries that are worked out.
    const MOST: usize = 1 << 20;

    /// Up to so many units fitted, and so many bought beside them.
    ///
    /// # Errors
    /// Where there are too many, or the budget ends.
    pub(crate) fn new(
        stocks: &[Stock<'_>],
        fitted: u32,
        extra: u32,
        budget: &mut Budget<'_>,
    ) -> Result<Self, StopReason> {
        let range = |units: u32| usize::try_from(units).map_err(|_| StopReason::INTERNAL_RANGE);
        let (most_fitted, most_extra) = (range(fitted)?, range(extra)?);
        let size = (most_fitted + 1).checked_mul(most_extra + 1);
        let entries = size.and_then(|size| size.checked_mul(stocks.len() + 1)).filter(|&all| all <= Self::MOST);
        if entries.is_none() {
            let found = u64::from(fitted) + u64::from(extra);
            let limit = u64::try_from(Self::MOST / (stocks.len() + 1)).unwrap_or(u64::MAX);
            return Err(StopReason::TooLarge { what: SearchSize::UnitsOfASort, found, limit });
        }
        let mut costs = Self { fitted: most_fitted, extra: most_extra, rows: Vec::with_capacity(stocks.len() + 1) };
        let mut after: Vec<Option<Amount>> = vec![None; (most_fitted + 1) * (most_extra + 1)];
        after.first_mut().into_iter().for_each(|none| *none = Some(0));
        costs.rows.push(after);
        for &stock in stocks.iter().rev() {
            let row = costs.row_before(stock, (fitted, extra), budget)?;
            costs.rows.push(row);
        }
        costs.rows.reverse();
        Ok(costs)
    }

    /// What the stocks from `index` on cost at least, where there are as many units.
    pub(crate) fn least(&self, index: usize, fitted: u32, extra: u32) -> Option<Amount> {
        let place = self.place(usize::try_from(fitted).ok()?, usize::try_from(extra).ok()?)?;
        self.rows.get(index)?.get(place).copied().flatten()
    }

    fn place(&self, fitted: usize, extra: usize) -> Option<usize> {
        (fitted <= self.fitted && extra <= self.extra).then(|| extra * (self.fitted + 1) + fitted)
    }

    /// The row for a stock that comes before those of the last row.
    fn row_before(
        &self,
        stock: Stock<'_>,
        (most_fitted, most_extra): (u32, u32),
        budget: &mut Budget<'_>,
    ) -> Result<Vec<Option<Amount>>, StopReason> {
        // nothing of it, or some
        let mut row = self.rows.last().cloned().unwrap_or_default();
        // of what is on the shelf nothing is bought
        let most_extra = if stock.is_offer() { most_extra } else { 0 };
        let quantities = stock.quantities(most_fitted.saturating_add(most_extra), 1);
        for beside in 0..=most_extra {
            let shares = shares(stock, &quantities, most_fitted, beside);
            let index = usize::try_from(beside).map_err(|_| StopReason::INTERNAL_RANGE)?;
            for extra in index..=self.extra {
                let (Some(from), Some(to)) = (self.place(0, extra - index), self.place(0, extra)) else { continue };
                let rest = self.rows.last().and_then(|rest| rest.get(from..=from + self.fitted)).unwrap_or_default();
                let Some(row) = row.get_mut(to..=to + self.fitted) else { continue };
                let steps = match shares {
                    Shares::Line { most, .. } => 2 * rest.len().max(most),
                    Shares::Each(ref costs) => costs.len() * rest.len(),
                };
                budget.work(u64::try_from(steps).unwrap_or(u64::MAX))?;
                shares.improve(rest, row);
            }
        }
        Ok(row)
    }
}

/// What taking units of one stock costs by how many of them are fitted, less what those beside are worth.
enum Shares {
    /// Up to so many, each at one price.
    Line { base: Amount, each: Amount, most: usize },
    /// For each number fitted.
    Each(Vec<(usize, Amount)>),
}

/// The shares of a stock of which at least so many units are bought beside those fitted.
fn shares(stock: Stock<'_>, quantities: &[u32], fitted: u32, beside: u32) -> Shares {
    let worth = stock.surplus_value();
    let index = |units: u32| usize::try_from(units).ok();
    if stock.is_simple() {
        let each = stock.least_price();
        return match stock.units().checked_sub(beside).and_then(|most| index(most.min(fitted))) {
            Some(most) => Shares::Line { base: (each - worth) * Amount::from(beside), each, most },
            None => Shares::Each(Vec::new()),
        };
    }
    // from the largest number down, as if all that are kept were left over; those fitted are added afterwards
    let mut kept = quantities.iter().map(|&kept| (kept, stock.cost(kept) - worth * Amount::from(kept))).peekable();
    let mut least: Option<Amount> = None;
    let mut costs = Vec::new();
    for share in (0..=fitted).rev() {
        let enough = |kept: u32| kept.checked_sub(beside).is_some_and(|kept| kept >= share);
        while let Some((_, cost)) = kept.next_if(|&(kept, _)| enough(kept)) {
            least = Some(least.map_or(cost, |known| known.min(cost)));
        }
        costs.extend(least.and_then(|least| Some((index(share)?, least + worth * Amount::from(share)))));
    }
    Shares::Each(costs)
}

impl Shares {
    /// Lowers each cost of a row where a share of this stock and the rest come to less.
    fn improve(&self, rest: &[Option<Amount>], row: &mut [Option<Amount>]) {
        let mut lower = |place: usize, cost: Amount| {
            if let Some(entry) = row.get_mut(place) {
                *entry = Some(entry.map_or(cost, |known| known.min(cost)));
            }
        };
        match self {
            Self::Each(costs) => {
                for (place, &rest) in rest.iter().enumerate() {
                    let Some(rest) = rest else { continue };
                    costs.iter().for_each(|&(share, cost)| lower(place + share, rest + cost));
                }
            }
            Self::Line { base, each, most } => {
                // the least of a window that moves along: rests that can still be the least, the least of them first
                let mut window: VecDeque<(usize, Amount)> = VecDeque::new();
                for (place, &rest) in rest.iter().enumerate() {
                    let along = |place: usize| each * Amount::try_from(place).unwrap_or(0);
                    if let Some(level) = rest.map(|rest| rest - along(place)) {
                        while window.back().is_some_and(|&(_, last)| last >= level) {
                            window.pop_back();
                        }
                        window.push_back((place, level));
                    }
                    while window.front().is_some_and(|&(first, _)| first + most < place) {
                        window.pop_front();
                    }
                    if let Some(&(_, level)) = window.front() {
                        lower(place, base + level + along(place));
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::purchase::{Offer, QuantityBreak, ShelfItem};
    use crate::testing::{name, plain};
    use crate::unit::Price;

    fn price(minor: u64) -> Price {
        Price::new(minor, "EUR".parse().unwrap())
    }

    fn offer(id: usize, (unit, stock, pack): (u64, u32, u32), (from, off): (u32, u64), extras: (u64, bool)) -> Offer {
        let offer = Offer::new(name(&format!("offer {id}")), plain(), price(unit), stock).pack(pack);
        let lowest = unit.saturating_sub(off);
        let offer = if from > 1 { offer.breaks([QuantityBreak::new(from, price(lowest))]) } else { offer };
        let offer = offer.surplus_value(price(extras.0.min(lowest)));
        if extras.1 { offer.return_cost(price(3)) } else { offer }
    }

    fn offers() -> impl Strategy<Value = Vec<Offer>> {
        let one = ((1u64..20, 0u32..9, 1u32..5), (0u32..6, 0u64..9), (0u64..20, any::<bool>()));
        proptest::collection::vec(one, 0..4).prop_map(|all| {
            let numbered = all.into_iter().enumerate();
            numbered.map(|(id, (base, step, extras))| offer(id, base, step, extras)).collect()
        })
    }

    /// By every choice of how many are kept of each, and which of them are fitted.
    fn by_enumeration(stocks: &[Stock<'_>], fitted: u32, extra: u32) -> Option<Amount> {
        let Some((&stock, rest)) = stocks.split_first() else { return (fitted == 0 && extra == 0).then_some(0) };
        let kept = (0..=stock.units()).filter(|&kept| stock.can_keep(kept));
        let ways = kept.flat_map(|kept| (0..=kept.min(fitted)).map(move |share| (kept, share)));
        let ways = ways.filter(|&(kept, share)| stock.is_offer() || kept == share);
        let cost = |(kept, share): (u32, u32)| {
            let own = stock.cost(kept) - stock.surplus_value() * Amount::from(kept - share);
            Some(own + by_enumeration(rest, fitted - share, extra.saturating_sub(kept - share))?)
        };
        ways.filter_map(cost).min()
    }

    proptest! {
        #[test]
        fn law_least_costs_are_those_of_the_best_choice(
            offers in offers(),
            shelf in proptest::collection::vec((0u64..9, 0u32..4), 0..2),
            fitted in 0u32..7,
            extra in 0u32..3,
        ) {
            let items: Vec<ShelfItem> = shelf.iter().enumerate().map(|(id, &(value, stock))| {
                ShelfItem::new(name(&format!("item {id}")), plain(), stock).unit_value(price(value))
            }).collect();
            let stocks: Vec<Stock<'_>> =
                items.iter().map(Stock::Shelf).chain(offers.iter().map(Stock::offer)).collect();
            let costs = LeastCosts::new(&stocks, 7, 3, &mut Budget::new(1000, None)).unwrap();
            for first in 0..=stocks.len() {
                let expected = by_enumeration(&stocks[first..], fitted, extra);
                prop_assert_eq!(costs.least(first, fitted, extra), expected, "from {}", first);
            }
        }
    }

    #[test]
    fn too_many_units_are_a_size() {
        let many = offer(0, (5, u32::MAX, 1), (0, 0), (0, false));
        let found = LeastCosts::new(&[Stock::offer(&many)], 2_000_000, 0, &mut Budget::new(1000, None));
        let reason = found.unwrap_err();
        assert!(matches!(reason, StopReason::TooLarge { what: SearchSize::UnitsOfASort, found: 2_000_000, .. }));
    }
}
