//! Which stock the modules of a plan are taken from: least cost, then fewest parts, then by the sorted
//! list of sources.

use std::collections::BTreeSet;

use crate::module::MemoryModule;
use crate::purchase::PlanRequest;
use crate::purchase::engine::classes::Class;
use crate::purchase::engine::sources::Lines;
use crate::purchase::engine::stock::{Amount, Stock, amount, least_with};
use crate::search::{Budget, StopReason};
use crate::unit::Name;

/// So many units of a stock that are kept, labour not counted.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Take<'a> {
    pub(crate) stock: Stock<'a>,
    pub(crate) quantity: usize,
}

impl Take<'_> {
    /// What the units cost; for an offer at the price of its quantity, with what sending back the rest costs.
    pub(crate) fn cost(self) -> Amount {
        self.stock.cost(self.quantity)
    }

    /// What the units cost by themselves.
    pub(crate) fn price(self) -> Amount {
        self.stock.price(self.quantity)
    }

    /// How many units are ordered beside these and sent back.
    pub(crate) fn returned(self) -> usize {
        self.stock.ordered(self.quantity).saturating_sub(self.quantity)
    }

    /// What sending these back costs.
    pub(crate) fn return_cost(self) -> Amount {
        self.cost() - self.price()
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
fn list_key(takes: &[Take<'_>]) -> Lines {
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

/// What is asked of a class's stock.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wanted {
    /// How many units are to be fitted.
    pub(crate) fitted: usize,
    /// How many units are to be bought at least, so that there are spares.
    pub(crate) bought: usize,
    /// How many sourcings: the best ones with different lists. Of all but the best, those in which one order could be
    /// smaller for the same cost or less are left out.
    pub(crate) best: usize,
}

/// The best ways to source a class with packs, breaks or suppliers of which only some may be used, the best first.
pub(crate) fn mixed<'a>(
    class: &Class<'a>,
    wanted: Wanted,
    at_hand: &BTreeSet<&'a MemoryModule>,
    usable: &dyn Fn(Stock<'a>) -> bool,
    budget: &mut Budget,
) -> Result<Vec<Sourced<'a>>, StopReason> {
    let stocks: Vec<Stock<'a>> = class.stock.iter().copied().filter(|&stock| usable(stock)).collect();
    let worth = stocks.iter().map(|&stock| stock.surplus_value()).max().unwrap_or(0);
    // an order of more than there is need not be looked for
    let in_offers = stocks.iter().filter(|stock| matches!(stock, Stock::Offer(_))).map(|stock| stock.units());
    if in_offers.fold(0, usize::saturating_add) < wanted.bought {
        return Ok(Vec::new());
    }
    let mut search = Mixed { stocks, at_hand, wanted, worth, least: Vec::new(), best: Vec::new() };
    search.reckon(budget)?;
    search.descend(0, &mut Vec::new(), At::default(), budget)?;
    Ok(search.best)
}

struct Mixed<'s, 'a> {
    /// The shelf before offers.
    stocks: Vec<Stock<'a>>,
    at_hand: &'s BTreeSet<&'a MemoryModule>,
    wanted: Wanted,
    /// The most that a unit is worth that is not fitted.
    worth: Amount,
    /// For the stocks from each one on, by units still wanted of them: what these cost at least, less what surplus
    /// can be worth. Absent where there are not so many.
    least: Vec<Vec<Option<Amount>>>,
    best: Vec<Sourced<'a>>,
}

/// What is taken so far.
#[derive(Debug, Clone, Copy, Default)]
struct At {
    shelf: usize,
    bought: usize,
    cost: Amount,
}

impl At {
    fn with(self, take: Take<'_>) -> Self {
        let (shelf, bought) = match take.stock {
            Stock::Shelf(_) => (take.quantity, 0),
            Stock::Offer(_) => (0, take.quantity),
        };
        Self { shelf: self.shelf + shelf, bought: self.bought + bought, cost: self.cost + take.cost() }
    }
}

impl<'a> Mixed<'_, 'a> {
    fn most(&self) -> usize {
        self.wanted.fitted.max(self.wanted.bought)
    }

    fn is_offer(&self, index: usize) -> bool {
        self.stocks.get(index).is_none_or(|stock| matches!(stock, Stock::Offer(_)))
    }

    /// How many units are still wanted of the stocks from an index on.
    fn left(&self, index: usize, at: At) -> usize {
        let left = self.wanted.fitted.saturating_sub(at.shelf + at.bought);
        if self.is_offer(index) { left.max(self.wanted.bought.saturating_sub(at.bought)) } else { left }
    }

    fn reckon(&mut self, budget: &mut Budget<'_>) -> Result<(), StopReason> {
        let all = self.most();
        let size = u64::try_from(all).unwrap_or(u64::MAX);
        // large orders take time too
        budget.spend_many(
            size.saturating_mul(size).saturating_mul(u64::try_from(self.stocks.len()).unwrap_or(u64::MAX)) >> 10,
        )?;
        let mut after: Vec<Option<Amount>> = (0..=all).map(|left| (left == 0).then_some(0)).collect();
        let mut least_from = vec![after.clone()];
        for (index, &stock) in self.stocks.iter().enumerate().rev() {
            let costs = self.quantities(stock, all).into_iter().map(|quantity| (quantity, stock.cost(quantity)));
            let costs: Vec<(usize, Amount)> = costs.collect();
            // the last of the shelf: from then on enough must be bought
            let bought = if !self.is_offer(index) && self.is_offer(index + 1) { self.wanted.bought } else { 0 };
            // the rest, once what must be bought is
            let rest: Vec<Option<Amount>> =
                (0..=all).map(|left| after.get(left.max(bought)).copied().flatten()).collect();
            // what must be bought beyond what is fitted is worth something at most
            let slack = self.worth * amount(bought);
            after = least_with(&costs, &rest, self.worth).into_iter().map(|least| Some(least? - slack)).collect();
            least_from.push(after.clone());
        }
        least_from.reverse();
        self.least = least_from;
        Ok(())
    }

    fn descend(
        &mut self,
        index: usize,
        takes: &mut Vec<Take<'a>>,
        at: At,
        budget: &mut Budget,
    ) -> Result<(), StopReason> {
        budget.spend()?;
        let left = self.left(index, at);
        let more = self.least.get(index).and_then(|least| least.get(left).copied().flatten());
        let Some(more) = more else { return Ok(()) };
        let units = at.shelf + at.bought;
        // units that are bought beyond what is fitted, now or later, are worth something at most
        let least = at.cost - self.worth * amount((units + left).saturating_sub(self.wanted.fitted)) + more;
        if !self.may_improve((least, units + left), takes) {
            return Ok(());
        }
        let Some(&stock) = self.stocks.get(index) else {
            self.offer(takes, at);
            return Ok(());
        };
        // a unit beyond what is wanted may set free one that is worth more on the shelf
        let wanted = if self.worth > 0 && matches!(stock, Stock::Offer(_)) { self.most() } else { left };
        for quantity in self.quantities(stock, wanted) {
            let take = Take { stock, quantity };
            if quantity > 0 {
                takes.push(take);
            }
            self.descend(index + 1, takes, at.with(take), budget)?;
            if quantity > 0 {
                takes.pop();
            }
        }
        Ok(())
    }

    /// Whether takes that go on from these, at this cost and with so many units at least, can come before
    /// the last of the best so far. Lists are tried in their order, so of equals the first is kept.
    fn may_improve(&self, (least, units): (Amount, usize), takes: &[Take<'a>]) -> bool {
        let Some(last) = self.best.last().filter(|_| self.best.len() >= self.wanted.best) else { return true };
        if least != last.cost {
            return least < last.cost;
        }
        // a unit too many may leave a part out
        let exact = units == self.wanted.fitted;
        let parts: BTreeSet<_> = takes.iter().filter(|_| exact).map(|take| take.stock.module()).collect();
        (self.new_parts(&parts), units) < (self.new_parts(&last.parts().collect()), self.wanted.fitted + last.surplus())
    }

    fn new_parts(&self, parts: &BTreeSet<&'a MemoryModule>) -> usize {
        parts.difference(self.at_hand).count()
    }

    /// The quantities worth keeping where so many are wanted.
    fn quantities(&self, stock: Stock<'a>, wanted: usize) -> Vec<usize> {
        stock.quantities(wanted, self.wanted.best > 1)
    }

    fn sourced(&self, takes: Vec<Take<'a>>, at: At) -> Option<Sourced<'a>> {
        let spare = spare(&takes, (at.shelf + at.bought).checked_sub(self.wanted.fitted)?)?;
        let worth = takes.iter().zip(&spare).map(|(take, &units)| take.stock.surplus_value() * amount(units));
        let cost = at.cost - worth.sum::<Amount>();
        Some(Sourced { takes, spare, cost })
    }

    fn offer(&mut self, takes: &[Take<'a>], at: At) {
        let Some(sourced) = self.sourced(takes.to_vec(), at) else { return };
        if self.wanted.best > 1 && !self.is_lean(&sourced) {
            return;
        }
        let key = |sourced: &Sourced<'a>| {
            let parts: BTreeSet<_> = sourced.parts().collect();
            (sourced.cost, self.new_parts(&parts), sourced.surplus(), list_key(&sourced.takes))
        };
        let own = key(&sourced);
        let place = self.best.partition_point(|known| key(known) < own);
        self.best.insert(place, sourced);
        self.best.truncate(self.wanted.best);
    }

    /// Whether no order could be smaller, with all else as it is, for the same cost or less.
    fn is_lean(&self, sourced: &Sourced<'a>) -> bool {
        let is_needless = |index: usize, take: &Take<'a>| {
            let fewer = take.quantity.saturating_sub(sourced.surplus())..take.quantity;
            fewer.filter(|&quantity| take.stock.can_keep(quantity)).any(|quantity| {
                let mut takes = sourced.takes.clone();
                takes.get_mut(index).into_iter().for_each(|take| take.quantity = quantity);
                takes.retain(|take| take.quantity > 0);
                let at = takes.iter().fold(At::default(), |at, &take| at.with(take));
                at.bought >= self.wanted.bought
                    && self.sourced(takes, at).is_some_and(|smaller| smaller.cost <= sourced.cost)
            })
        };
        let mut offers = sourced.takes.iter().enumerate().filter(|(_, take)| matches!(take.stock, Stock::Offer(_)));
        !offers.any(|(index, take)| is_needless(index, take))
    }
}

/// Which units are not fitted: of offers those worth most, then the last by source. What is on the shelf
/// stays there unless it is fitted, so `None` where offers have not so many.
fn spare(takes: &[Take<'_>], mut surplus: usize) -> Option<Vec<usize>> {
    let mut order: Vec<usize> = (0..takes.len()).rev().collect();
    let worth = |index: &usize| takes.get(*index).map(|take| take.stock.surplus_value());
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
