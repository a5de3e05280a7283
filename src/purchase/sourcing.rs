//! Which stock the modules of a plan are taken from: least cost, then fewest parts, then by the sorted
//! list of sources.

use std::collections::BTreeSet;

use crate::module::MemoryModule;
use crate::purchase::PlanRequest;
use crate::purchase::supply::{Amount, Class, Stock};
use crate::search::{Budget, Spent};
use crate::unit::Name;

/// So many units of a stock, labour not counted.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Take<'a> {
    pub(crate) stock: Stock<'a>,
    pub(crate) quantity: usize,
}

impl Take<'_> {
    /// What the units cost; for an offer at the price of its quantity.
    pub(crate) fn cost(self) -> Amount {
        let quantity = Amount::try_from(self.quantity).unwrap_or(Amount::MAX);
        let each = match self.stock {
            Stock::Shelf(_) => self.stock.least_price(),
            Stock::Offer(offer) => {
                let quantity = u32::try_from(self.quantity).unwrap_or(u32::MAX);
                Amount::from(offer.price_at(quantity).amount_minor())
            }
        };
        quantity.saturating_mul(each)
    }
}

/// What a class's modules are bought or taken from.
#[derive(Debug, Clone)]
pub(crate) struct Sourced<'a> {
    /// In the order of sources; surplus included.
    pub(crate) takes: Vec<Take<'a>>,
    /// How many units of each take are not fitted.
    pub(crate) spare: Vec<usize>,
    /// What all comes to, less what the surplus is worth; labour and charges not counted.
    pub(crate) cost: Amount,
}

/// The order of lists of sources: by source and id, the larger quantity first.
fn list_key(takes: &[Take<'_>]) -> Vec<(u8, Name, std::cmp::Reverse<usize>)> {
    takes
        .iter()
        .map(|take| (take.stock.order().0, take.stock.order().1.clone(), std::cmp::Reverse(take.quantity)))
        .collect()
}

impl<'a> Sourced<'a> {
    /// The parts that are fitted.
    pub(crate) fn parts(&self) -> impl Iterator<Item = &'a MemoryModule> {
        let fitted = self.takes.iter().zip(&self.spare).filter(|(take, spare)| take.quantity > **spare);
        fitted.map(|(take, _)| take.stock.module())
    }

    /// How many units are not fitted.
    pub(crate) fn surplus(&self) -> usize {
        self.spare.iter().sum()
    }
}

/// Takes `wanted` units of a class whose stock is plain.
pub(crate) fn plain<'a>(class: &Class<'a>, wanted: usize, at_hand: &BTreeSet<&'a MemoryModule>) -> Option<Sourced<'a>> {
    let mut by_price: Vec<Stock<'a>> = class.stock.clone();
    by_price.sort_by_key(|stock| (stock.least_price(), stock.order()));
    let mut takes: Vec<Take<'a>> = Vec::new();
    let mut left = wanted;
    let mut rest = by_price.as_slice();
    while let Some(price) = rest.first().map(|stock| stock.least_price()).filter(|_| left > 0) {
        let same = rest.iter().take_while(|stock| stock.least_price() == price).count();
        let (level, dearer) = rest.split_at_checked(same)?;
        rest = dearer;
        let all: usize = level.iter().map(|stock| stock.units()).sum();
        if all <= left {
            takes.extend(level.iter().map(|&stock| Take { stock, quantity: stock.units() }));
            left -= all;
        } else {
            let mut parts = at_hand.clone();
            parts.extend(takes.iter().map(|take| take.stock.module()));
            takes.extend(at_one_price(level, left, parts));
            left = 0;
        }
    }
    takes.sort_by_key(|take| take.stock.order());
    let cost = takes.iter().map(|take| take.cost()).sum();
    let spare = vec![0; takes.len()];
    (left == 0).then_some(Sourced { takes, spare, cost })
}

/// Takes `left` units from stocks of one price with the fewest further parts; of such choices the first
/// in the order of lists.
fn at_one_price<'a>(level: &[Stock<'a>], mut left: usize, mut parts: BTreeSet<&'a MemoryModule>) -> Vec<Take<'a>> {
    /// Units that the stocks can give with so many parts beside those at hand.
    fn reach(stocks: &[Stock<'_>], parts: &BTreeSet<&MemoryModule>, more: usize) -> usize {
        let free: usize = stocks.iter().filter(|s| parts.contains(s.module())).map(|stock| stock.units()).sum();
        let mut others: Vec<(&MemoryModule, usize)> = Vec::new();
        for stock in stocks.iter().filter(|stock| !parts.contains(stock.module())) {
            match others.iter_mut().find(|(part, _)| *part == stock.module()) {
                Some((_, units)) => *units += stock.units(),
                None => others.push((stock.module(), stock.units())),
            }
        }
        others.sort_by_key(|&(_, units)| std::cmp::Reverse(units));
        free + others.iter().take(more).map(|(_, units)| units).sum::<usize>()
    }
    let mut more = (0..).find(|&more| reach(level, &parts, more) >= left || more >= level.len()).unwrap_or(0);
    let mut takes = Vec::new();
    let mut ordered = level.to_vec();
    ordered.sort_by_key(|stock| stock.order());
    let mut rest = ordered.as_slice();
    while let Some((&stock, later)) = rest.split_first() {
        if left == 0 {
            break;
        }
        rest = later;
        let is_new = !parts.contains(stock.module());
        if is_new && more == 0 {
            continue;
        }
        let quantity = stock.units().min(left);
        let mut with = parts.clone();
        with.insert(stock.module());
        let more_after = more - usize::from(is_new);
        if reach(later, &with, more_after) >= left - quantity {
            takes.push(Take { stock, quantity });
            (parts, more, left) = (with, more_after, left - quantity);
        }
    }
    takes
}

/// Takes `wanted` units of a class with packs, breaks or suppliers of which only some may be used.
pub(crate) fn mixed<'a>(
    class: &Class<'a>,
    wanted: usize,
    at_hand: &BTreeSet<&'a MemoryModule>,
    usable: &dyn Fn(Stock<'a>) -> bool,
    budget: &mut Budget,
) -> Result<Option<Sourced<'a>>, Spent> {
    let stocks: Vec<Stock<'a>> = class.stock.iter().copied().filter(|&stock| usable(stock)).collect();
    let worth = stocks.iter().map(|&stock| surplus_value(stock)).max().unwrap_or(0);
    let mut search = Mixed { stocks, at_hand, wanted, worth, least: Vec::new(), best: None };
    search.reckon();
    search.descend(0, &mut Vec::new(), 0, 0, budget)?;
    Ok(search.best)
}

struct Mixed<'s, 'a> {
    stocks: Vec<Stock<'a>>,
    at_hand: &'s BTreeSet<&'a MemoryModule>,
    wanted: usize,
    /// The most that a unit is worth that is not fitted.
    worth: Amount,
    /// For the stocks from each one on, by units still wanted: what these cost at least, less what surplus
    /// can be worth. Absent where there are not so many.
    least: Vec<Vec<Option<Amount>>>,
    best: Option<Sourced<'a>>,
}

impl<'a> Mixed<'_, 'a> {
    fn reckon(&mut self) {
        let mut after: Vec<Option<Amount>> = (0..=self.wanted).map(|left| (left == 0).then_some(0)).collect();
        let mut all = vec![after.clone()];
        for &stock in self.stocks.iter().rev() {
            let costs: Vec<(usize, Amount)> = self
                .quantities(stock, 0)
                .into_iter()
                .map(|quantity| (quantity, Take { stock, quantity }.cost()))
                .collect();
            let least = |left: usize| {
                let ways = costs.iter().filter_map(|&(quantity, cost)| {
                    let rest = (*after.get(left.saturating_sub(quantity))?)?;
                    Some(cost - self.worth * amount(quantity.saturating_sub(left)) + rest)
                });
                ways.min()
            };
            after = (0..=self.wanted).map(least).collect();
            all.push(after.clone());
        }
        all.reverse();
        self.least = all;
    }

    fn descend(
        &mut self,
        index: usize,
        takes: &mut Vec<Take<'a>>,
        units: usize,
        cost: Amount,
        budget: &mut Budget,
    ) -> Result<(), Spent> {
        budget.spend()?;
        let left = self.wanted.saturating_sub(units);
        let more = self.least.get(index).and_then(|least| least.get(left).copied().flatten());
        let Some(more) = more else { return Ok(()) };
        let least = cost - self.worth * amount(units.saturating_sub(self.wanted)) + more;
        if self.best.as_ref().is_some_and(|best| !self.may_improve(best, (least, units + left), takes)) {
            return Ok(());
        }
        let Some(&stock) = self.stocks.get(index) else {
            self.offer(takes, units, cost);
            return Ok(());
        };
        for quantity in self.quantities(stock, units) {
            let take = Take { stock, quantity };
            if quantity > 0 {
                takes.push(take);
            }
            self.descend(index + 1, takes, units + quantity, cost + take.cost(), budget)?;
            if quantity > 0 {
                takes.pop();
            }
        }
        Ok(())
    }

    /// Whether takes that go on from these, at this cost and with so many units at least, can come before
    /// the best so far. Lists are tried in their order, so of equals the first is kept.
    fn may_improve(&self, best: &Sourced<'a>, (least, units): (Amount, usize), takes: &[Take<'a>]) -> bool {
        if least != best.cost {
            return least < best.cost;
        }
        // a unit too many may leave a part out
        let parts: BTreeSet<_> =
            takes.iter().filter(|_| units == self.wanted).map(|take| take.stock.module()).collect();
        let new = |parts: &BTreeSet<&'a MemoryModule>| parts.difference(self.at_hand).count();
        (new(&parts), units) < (new(&best.parts().collect()), self.wanted + best.surplus())
    }

    /// The quantities worth trying: up to what is wanted, and beyond it where a pack or a break is.
    fn quantities(&self, stock: Stock<'a>, units: usize) -> Vec<usize> {
        let pack = match stock {
            Stock::Shelf(_) => 1,
            Stock::Offer(offer) => usize::try_from(offer.pack).unwrap_or(1).max(1),
        };
        // a unit beyond what is wanted may set free one that is worth more on the shelf
        let covered = if self.worth > 0 { 0 } else { units };
        let left = self.wanted.saturating_sub(covered);
        let mut quantities: Vec<usize> =
            (0..=left.div_ceil(pack)).map(|packs| packs * pack).filter(|&quantity| quantity <= stock.units()).collect();
        if let Stock::Offer(offer) = stock {
            let breaks = offer.breaks.iter().filter_map(|step| usize::try_from(step.from).ok());
            quantities
                .extend(breaks.map(|from| from.div_ceil(pack) * pack).filter(|&quantity| quantity <= stock.units()));
        }
        quantities.sort_unstable();
        quantities.dedup();
        quantities.reverse();
        quantities
    }

    fn offer(&mut self, takes: &[Take<'a>], units: usize, cost: Amount) {
        let Some(spare) = spare(takes, units - self.wanted) else { return };
        let worth = takes.iter().zip(&spare).map(|(take, &units)| surplus_value(take.stock) * amount(units));
        let sourced = Sourced { takes: takes.to_vec(), cost: cost - worth.sum::<Amount>(), spare };
        let key = |sourced: &Sourced<'a>| {
            let parts: BTreeSet<_> = sourced.parts().collect();
            (sourced.cost, parts.difference(self.at_hand).count(), sourced.surplus(), list_key(&sourced.takes))
        };
        if self.best.as_ref().is_none_or(|best| key(&sourced) < key(best)) {
            self.best = Some(sourced);
        }
    }
}

fn amount(units: usize) -> Amount {
    Amount::try_from(units).unwrap_or(Amount::MAX)
}

fn surplus_value(stock: Stock<'_>) -> Amount {
    match stock {
        Stock::Shelf(_) => 0,
        Stock::Offer(offer) => offer.surplus_value.map_or(0, |value| Amount::from(value.amount_minor())),
    }
}

/// Which units are not fitted: of offers those worth most, then the last by source. What is on the shelf
/// stays there unless it is fitted, so `None` where offers have not so many.
fn spare(takes: &[Take<'_>], mut surplus: usize) -> Option<Vec<usize>> {
    let mut order: Vec<usize> = (0..takes.len()).rev().collect();
    let worth = |index: &usize| takes.get(*index).map(|take| surplus_value(take.stock));
    order.sort_by_key(|index| std::cmp::Reverse(worth(index)));
    let mut spare = vec![0; takes.len()];
    for index in order {
        let (Some(take), Some(units)) = (takes.get(index), spare.get_mut(index)) else { continue };
        if matches!(take.stock, Stock::Offer(_)) {
            *units = take.quantity.min(surplus);
            surplus -= *units;
        }
    }
    (surplus == 0).then_some(spare)
}

/// The suppliers that charge for an order and sell something of these classes.
pub(crate) fn charging<'a>(request: &'a PlanRequest, classes: &[&Class<'_>]) -> Vec<(&'a Name, Amount)> {
    let sells = |supplier: &Name| {
        classes.iter().flat_map(|class| &class.stock).any(|stock| match stock {
            Stock::Offer(offer) => offer.supplier.as_ref() == Some(supplier),
            Stock::Shelf(_) => false,
        })
    };
    let charges = request.supplier_charges.iter().filter(|(supplier, _)| sells(supplier));
    charges.map(|(supplier, charge)| (supplier, Amount::from(charge.amount_minor()))).collect()
}
