//! Which stock the modules of one class are taken from: least cost, then fewest parts, then fewest units, then by the
//! sorted list of sources.

use std::cmp::Ordering;
use std::collections::{BTreeSet, HashMap};

use crate::module::MemoryModule;
use crate::purchase::engine::cost::{Amount, CostParts};
use crate::purchase::engine::stock::{Lines, SourceOrder, Stock};
use crate::purchase::engine::table::LeastCosts;
use crate::search::{Budget, StopReason};

/// So many units of a stock that are kept, and how many of them are not fitted.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Take<'a> {
    pub(crate) stock: Stock<'a>,
    pub(crate) quantity: u32,
    pub(crate) spare: u32,
}

impl Take<'_> {
    /// The same without a share of a charge.
    pub(crate) fn without_share(self) -> Self {
        Self { stock: self.stock.without_share(), ..self }
    }

    /// What the units cost, less what is left over is worth; labour and charges are not counted.
    pub(crate) fn cost(self) -> CostParts {
        let surplus = -self.stock.surplus_value() * Amount::from(self.spare);
        CostParts { surplus, ..self.stock.cost_parts(self.quantity) }
    }

    /// How many units are ordered beside these and sent back.
    pub(crate) fn returned(self) -> u32 {
        self.stock.returned(self.quantity)
    }
}

/// What a class's modules are bought or taken from.
#[derive(Debug, Clone, Default)]
pub(crate) struct Sourced<'a> {
    /// In the order of sources; what is left over included.
    pub(crate) takes: Vec<Take<'a>>,
}

impl<'a> Sourced<'a> {
    /// What all comes to; labour and charges are not counted.
    pub(crate) fn cost(&self) -> CostParts {
        self.takes.iter().map(|take| take.cost()).sum()
    }

    /// The parts that are fitted.
    pub(crate) fn parts(&self) -> impl Iterator<Item = &'a MemoryModule> {
        self.takes.iter().filter(|take| take.quantity > take.spare).map(|take| take.stock.module())
    }

    /// How many units are kept, fitted or not.
    pub(crate) fn units(&self) -> u64 {
        self.takes.iter().map(|take| u64::from(take.quantity)).sum()
    }

    /// How many units are not fitted.
    fn surplus(&self) -> u32 {
        self.takes.iter().map(|take| take.spare).sum()
    }

    pub(crate) fn list(&self) -> Lines {
        let line = |take: &Take<'_>| {
            let (kind, id) = take.stock.order();
            (kind, id.clone(), std::cmp::Reverse(take.quantity))
        };
        self.takes.iter().map(line).collect()
    }
}

/// Takes `wanted` units of stocks that are plain.
pub(crate) fn plain<'a>(
    stocks: &[Stock<'a>],
    wanted: u32,
    at_hand: &BTreeSet<&'a MemoryModule>,
) -> Option<Sourced<'a>> {
    let mut by_price: Vec<Stock<'a>> = stocks.to_vec();
    by_price.sort_by_key(|stock| (stock.least_price(), stock.order()));
    let mut takes: Vec<Take<'a>> = Vec::new();
    let mut left = wanted;
    for level in by_price.chunk_by(|a, b| a.least_price() == b.least_price()) {
        if left == 0 {
            break;
        }
        let all: u64 = level.iter().map(|stock| u64::from(stock.units())).sum();
        if all <= u64::from(left) {
            for &stock in level {
                takes.push(Take { stock, quantity: stock.units(), spare: 0 });
                left -= stock.units();
            }
        } else {
            let mut parts = at_hand.clone();
            parts.extend(takes.iter().map(|take| take.stock.module()));
            takes.extend(at_one_price(level, left, parts));
            left = 0;
        }
    }
    takes.sort_by_key(|take| take.stock.order());
    (left == 0).then_some(Sourced { takes })
}

/// Takes `left` units from stocks of one price with the fewest further parts; of such choices the first
/// in the order of lists.
fn at_one_price<'a>(level: &[Stock<'a>], mut left: u32, mut parts: BTreeSet<&'a MemoryModule>) -> Vec<Take<'a>> {
    /// Units that the stocks can give with so many parts beside those at hand.
    fn reach(stocks: &[Stock<'_>], parts: &BTreeSet<&MemoryModule>, more: usize) -> u64 {
        let units = |stock: &Stock<'_>| u64::from(stock.units());
        let free: u64 = stocks.iter().filter(|s| parts.contains(s.module())).map(units).sum();
        let mut others: Vec<(&MemoryModule, u64)> = Vec::new();
        for stock in stocks.iter().filter(|stock| !parts.contains(stock.module())) {
            match others.iter_mut().find(|(part, _)| *part == stock.module()) {
                Some((_, sum)) => *sum += units(stock),
                None => others.push((stock.module(), units(stock))),
            }
        }
        others.sort_by_key(|&(_, units)| std::cmp::Reverse(units));
        free + others.iter().take(more).map(|(_, units)| units).sum::<u64>()
    }
    let enough = |more: &usize| reach(level, &parts, *more) >= u64::from(left);
    let mut more = (0..level.len()).find(enough).unwrap_or(level.len());
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
        if reach(later, &with, more_after) >= u64::from(left - quantity) {
            takes.push(Take { stock, quantity, spare: 0 });
            (parts, more, left) = (with, more_after, left - quantity);
        }
    }
    takes
}

/// What is asked of a class's stock.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wanted {
    /// How many units are to be fitted.
    pub(crate) fitted: u32,
    /// How many units are to be bought at least, so that there are spares.
    pub(crate) bought: u32,
    /// How many sourcings: the best ones with different lists. Of all but the best, those in which one order could be
    /// smaller for the same cost or less are left out.
    pub(crate) best: usize,
}

/// The best ways to source a class with packs, breaks, returns or suppliers of which only some may be used, the best
/// first.
pub(crate) fn best<'a>(
    stocks: &[Stock<'a>],
    costs: &LeastCosts,
    wanted: Wanted,
    at_hand: &BTreeSet<&'a MemoryModule>,
    budget: &mut Budget<'_>,
) -> Result<Vec<Sourced<'a>>, StopReason> {
    let worths: BTreeSet<Amount> =
        stocks.iter().filter(|stock| stock.is_offer()).map(|stock| stock.surplus_value()).collect();
    let recurs = |stock: &Stock<'a>| stocks.iter().filter(|other| other.module() == stock.module()).count() > 1;
    let mut recurring: Vec<&MemoryModule> = stocks.iter().filter(|stock| recurs(stock)).map(|s| s.module()).collect();
    recurring.sort();
    recurring.dedup();
    let start = At { fitted: wanted.fitted, ..At::default() };
    let parts: BTreeSet<&MemoryModule> = stocks.iter().map(|stock| stock.module()).collect();
    let by_parts = wanted.bought > 0 && parts.len() > 1;
    let one_worth = worths.len() <= 1 && !by_parts;
    let seen = (wanted.best == 1 && recurring.len() <= 64).then(HashMap::new);
    let mut choice = Choice { stocks, costs, at_hand, wanted, one_worth, by_parts, recurring, seen, best: Vec::new() };
    choice.descend(0, &mut Vec::new(), start, budget)?;
    Ok(choice.best)
}

struct Choice<'s, 'a> {
    stocks: &'s [Stock<'a>],
    costs: &'s LeastCosts,
    at_hand: &'s BTreeSet<&'a MemoryModule>,
    wanted: Wanted,
    /// Whether what is left over of any offer is worth the same: then the last ones are left over.
    one_worth: bool,
    /// Whether of what is worth the same that may be left over without which the fewest parts are fitted.
    by_parts: bool,
    /// The parts of which there is more than one stock.
    recurring: Vec<&'a MemoryModule>,
    /// Where only the best is wanted: what it took to come to each point.
    seen: Option<HashMap<Point, Effort<'a>>>,
    best: Vec<Sourced<'a>>,
}

/// What the rest depends on: the next stock, what is still to be fitted and to be bought beside, which recurring parts are
/// there, and what may be left over.
type Point = (usize, u32, u32, u64, (Option<Amount>, Option<Amount>));

/// Less is better, whatever follows: cost, further parts, units left over, then what is taken of which source.
type Effort<'a> = (Amount, usize, u32, Vec<Taken<'a>>);

/// A source, and how much is taken of it: more comes first.
type Taken<'a> = (SourceOrder<'a>, std::cmp::Reverse<u32>);

fn taken<'a>(takes: &[Take<'a>]) -> Vec<Taken<'a>> {
    takes.iter().map(|take| (take.stock.order(), std::cmp::Reverse(take.quantity))).collect()
}

/// How far a choice has come.
#[derive(Debug, Clone, Copy, Default)]
struct At {
    /// Units still to be fitted.
    fitted: u32,
    /// Units bought so far.
    bought: u32,
    /// Units that are not fitted so far.
    surplus: u32,
    cost: Amount,
}

impl<'a> Choice<'_, 'a> {
    /// How many units must at least be bought beside those still to be fitted: more where the shelf gives some of these.
    fn extra(&self, at: At) -> u32 {
        self.wanted.bought.saturating_sub(at.bought).saturating_sub(at.fitted)
    }

    fn descend(
        &mut self,
        index: usize,
        takes: &mut Vec<Take<'a>>,
        at: At,
        budget: &mut Budget<'_>,
    ) -> Result<(), StopReason> {
        budget.spend()?;
        let extra = self.extra(at);
        let Some(rest) = self.costs.least(index, at.fitted, extra) else { return Ok(()) };
        if !self.may_improve(at.cost + rest, at, takes) || self.is_dominated((index, at, extra), takes) {
            return Ok(());
        }
        let Some(&stock) = self.stocks.get(index) else {
            self.keep(takes);
            return Ok(());
        };
        let wanted = at.fitted.checked_add(if stock.is_offer() { extra } else { 0 });
        for quantity in stock.quantities(wanted.ok_or(StopReason::INTERNAL_RANGE)?, self.wanted.best) {
            let most = quantity.min(at.fitted);
            // what is on the shelf stays there unless it is fitted
            let fewest = match stock.is_offer() {
                true if self.one_worth => most,
                true => 0,
                false => quantity,
            };
            for fitted in (fewest..=most).rev() {
                let take = Take { stock, quantity, spare: quantity - fitted };
                if !self.one_worth && quantity > 0 && !self.is_settled(takes, take) {
                    continue;
                }
                let next = At {
                    fitted: at.fitted - fitted,
                    bought: at.bought + if stock.is_offer() { quantity } else { 0 },
                    surplus: at.surplus + take.spare,
                    cost: at.cost + take.cost().total(),
                };
                if quantity > 0 {
                    takes.push(take);
                }
                self.descend(index + 1, takes, next, budget)?;
                if quantity > 0 {
                    takes.pop();
                }
            }
        }
        Ok(())
    }

    fn new_parts(&self, takes: &[Take<'a>]) -> usize {
        let fitted = takes.iter().filter(|take| take.quantity > take.spare).map(|take| take.stock.module());
        let parts: BTreeSet<_> = fitted.filter(|module| !self.at_hand.contains(module)).collect();
        parts.len()
    }

    /// Whether what goes on from here, at this cost at least, can come before the last of the best so far.
    fn may_improve(&self, least: Amount, at: At, takes: &[Take<'a>]) -> bool {
        let Some(last) = self.best.last().filter(|_| self.best.len() >= self.wanted.best) else { return true };
        let cost = last.cost().total();
        if least != cost {
            return least < cost;
        }
        match (self.new_parts(takes), at.surplus).cmp(&(self.new_parts(&last.takes), last.surplus())) {
            Ordering::Equal => {
                // where all is worth the same, lists are tried in their order, so of equals the first is kept
                let known = last.takes.get(..takes.len()).unwrap_or(&last.takes);
                !self.one_worth && taken(takes) <= taken(known)
            }
            order => order == Ordering::Less,
        }
    }

    /// Whether what is left over is what is worth most, and of what is worth the same, where parts do not matter, the last
    /// by source: of each choice of quantities one split is then looked at.
    fn is_settled(&self, takes: &[Take<'a>], next: Take<'a>) -> bool {
        let (worth, all_spare) = (next.stock.surplus_value(), next.spare == next.quantity);
        let goes_with = |take: &Take<'a>| {
            let known = take.stock.surplus_value();
            (take.spare == 0 || known > worth || self.by_parts && known == worth || all_spare)
                && (next.spare == 0 || known <= worth || take.spare == take.quantity)
        };
        !next.stock.is_offer() || takes.iter().filter(|take| take.stock.is_offer()).all(goes_with)
    }

    /// What the takes so far say of which units may be left over later: the least worth of one that is, and the most of one
    /// that is not.
    fn worths(&self, takes: &[Take<'a>]) -> (Option<Amount>, Option<Amount>) {
        let offers = || takes.iter().filter(|take| take.stock.is_offer() && !self.one_worth);
        let worth = |take: &Take<'a>| take.stock.surplus_value();
        let left_over = offers().filter(|take| take.spare > 0).map(worth).min();
        (left_over, offers().filter(|take| take.spare < take.quantity).map(worth).max())
    }

    /// Whether this point was reached before with no more effort. Where all is worth the same, what is reached first has
    /// the first list, too.
    fn is_dominated(&mut self, (index, at, extra): (usize, At, u32), takes: &[Take<'a>]) -> bool {
        let list = if self.one_worth { Vec::new() } else { taken(takes) };
        let effort = (at.cost, self.new_parts(takes), at.surplus, list);
        let is_there = |part: &&&MemoryModule| takes.iter().any(|t| t.quantity > t.spare && t.stock.module() == **part);
        let parts = (0_u32..).zip(&self.recurring).filter(|(_, part)| is_there(part));
        let parts = parts.fold(0_u64, |all, (bit, _)| all | 1 << bit);
        let point = (index, at.fitted, extra, parts, self.worths(takes));
        let Some(seen) = &mut self.seen else { return false };
        if seen.get(&point).is_some_and(|known| *known <= effort) {
            return true;
        }
        seen.insert(point, effort);
        false
    }

    fn keep(&mut self, takes: &[Take<'a>]) {
        let sourced = Sourced { takes: takes.to_vec() };
        if self.wanted.best > 1 && !self.is_lean(&sourced) {
            return;
        }
        let key =
            |known: &Sourced<'a>| (known.cost().total(), self.new_parts(&known.takes), known.surplus(), known.list());
        let own = key(&sourced);
        let place = self.best.partition_point(|known| key(known) < own);
        if self.best.get(place).is_none_or(|known| key(known) != own) {
            self.best.insert(place, sourced);
            self.best.truncate(self.wanted.best);
        }
    }

    /// Settles which units are not fitted: of offers those worth most, then the last by source. `None` where offers have
    /// not so many.
    fn settled(&self, mut takes: Vec<Take<'a>>) -> Option<Sourced<'a>> {
        let all: u64 = takes.iter().map(|take| u64::from(take.quantity)).sum();
        let mut surplus = all.checked_sub(u64::from(self.wanted.fitted))?;
        let mut order: Vec<usize> = (0..takes.len()).rev().collect();
        order.sort_by_key(|&index| std::cmp::Reverse(takes.get(index).map(|take| take.stock.surplus_value())));
        for index in order {
            let Some(take) = takes.get_mut(index) else { continue };
            let spare = if take.stock.is_offer() { u64::from(take.quantity).min(surplus) } else { 0 };
            take.spare = u32::try_from(spare).ok()?;
            surplus -= spare;
        }
        (surplus == 0).then_some(Sourced { takes })
    }

    /// Whether no order could be smaller, with all else as it is, for the same cost or less.
    fn is_lean(&self, sourced: &Sourced<'a>) -> bool {
        let bought: u64 = sourced.takes.iter().filter(|t| t.stock.is_offer()).map(|t| u64::from(t.quantity)).sum();
        let cost = sourced.cost().total();
        let is_needless = |(index, take): (usize, &Take<'a>)| {
            let fewest = take.quantity.saturating_sub(sourced.surplus());
            let most = take.quantity.saturating_sub(1);
            take.stock.turning_points(fewest, most).into_iter().any(|quantity| {
                let mut takes = sourced.takes.clone();
                takes.get_mut(index).into_iter().for_each(|take| take.quantity = quantity);
                takes.retain(|take| take.quantity > 0);
                bought - u64::from(take.quantity - quantity) >= u64::from(self.wanted.bought)
                    && self.settled(takes).is_some_and(|smaller| smaller.cost().total() <= cost)
            })
        };
        !sourced.takes.iter().enumerate().filter(|(_, take)| take.stock.is_offer()).any(is_needless)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::purchase::{Offer, ShelfItem};
    use crate::testing::{name, plain};
    use crate::unit::Price;

    fn price(minor: u64) -> Price {
        Price::new(minor, "EUR".parse().unwrap())
    }

    fn part(number: usize) -> MemoryModule {
        plain().to_builder().part_number(name(&format!("part {number}"))).build().unwrap()
    }

    type Drawn = (u64, u32, u32, u64, usize, bool);

    fn offer(id: usize, (unit, stock, pack, worth, number, returnable): Drawn) -> Offer {
        let offer = Offer::new(name(&format!("offer {id}")), part(number), price(unit), stock).pack(pack);
        let offer = offer.surplus_value(price(worth.min(unit)));
        if returnable { offer.return_cost(price(1)) } else { offer }
    }

    /// Every choice of how many are kept of each stock and which of them are not fitted.
    fn all_choices<'a>(stocks: &[Stock<'a>], fitted: u32) -> Vec<Vec<Take<'a>>> {
        let Some((&stock, rest)) = stocks.split_first() else { return if fitted == 0 { vec![vec![]] } else { vec![] } };
        let mut all = Vec::new();
        for quantity in (0..=stock.units()).filter(|&kept| stock.can_keep(kept)) {
            for share in (0..=quantity.min(fitted)).filter(|&share| stock.is_offer() || share == quantity) {
                for mut takes in all_choices(rest, fitted - share) {
                    if quantity > 0 {
                        takes.insert(0, Take { stock, quantity, spare: quantity - share });
                    }
                    all.push(takes);
                }
            }
        }
        all
    }

    /// Whether what is left over is what is worth most, and of what is worth the same, where parts do not matter, the last
    /// by source.
    fn is_settled(sourced: &Sourced<'_>, by_parts: bool) -> bool {
        let mut offers: Vec<&Take<'_>> = sourced.takes.iter().filter(|take| take.stock.is_offer()).rev().collect();
        offers.sort_by_key(|take| std::cmp::Reverse(take.stock.surplus_value()));
        if by_parts {
            let worth = |take: &&&Take<'_>| take.stock.surplus_value();
            let left_over = offers.iter().filter(|take| take.spare > 0).map(|take| worth(&take)).min();
            let fitted = offers.iter().filter(|take| take.spare < take.quantity).map(|take| worth(&take)).max();
            return left_over.is_none_or(|least| fitted.is_none_or(|most| least >= most));
        }
        // no unit is left over after one that is fitted
        offers
            .iter()
            .flat_map(|take| [(take.spare, true), (take.quantity - take.spare, false)])
            .filter(|&(units, _)| units > 0)
            .map(|(_, spare)| spare)
            .is_sorted_by_key(|spare| !spare)
    }

    /// Of what is worth most one unit is left over: of the first offer, so that two of the second are fitted, or of the
    /// third. The first list comes first, though the other is tried before it.
    #[test]
    fn a_list_that_is_tried_later_may_come_first() {
        let drawn = [(3, 1, 1, 3, 0, false), (3, 2, 1, 0, 0, false), (3, 1, 1, 3, 0, false)];
        let offers: Vec<Offer> = drawn.into_iter().enumerate().map(|(id, drawn)| offer(id, drawn)).collect();
        let stocks: Vec<Stock<'_>> = offers.iter().map(Stock::offer).collect();
        let mut budget = Budget::new(1_000, None);
        let costs = LeastCosts::new(&stocks, 2, 3, &mut budget).unwrap();
        let wanted = Wanted { fitted: 2, bought: 3, best: 1 };
        let ours = best(&stocks, &costs, wanted, &BTreeSet::new(), &mut budget).unwrap();
        let list: Vec<(&str, u32)> =
            ours[0].takes.iter().map(|take| (take.stock.order().1.as_str(), take.quantity)).collect();
        assert_eq!(list, [("offer 0", 1), ("offer 1", 2)]);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(1024))]

        /// The best sourcing is the best of all: cost, further parts, units left over, then the list.
        #[test]
        fn law_the_best_sourcing_is_the_best_of_all(
            drawn in prop_oneof![
                proptest::collection::vec((1u64..6, 1u32..5, 1u32..4, 0u64..6, 0usize..3, any::<bool>()), 1..5),
                // with many ties
                proptest::collection::vec((1u64..3, 1u32..3, Just(1u32), 0u64..3, 0usize..3, Just(false)), 3..7),
            ],
            shelf in proptest::collection::vec((0u64..4, 1u32..3, 0usize..3), 0..2),
            fitted in 0u32..6,
            bought in 0u32..4,
            has_part in any::<bool>(),
        ) {
            let offers: Vec<Offer> = drawn.into_iter().enumerate().map(|(id, drawn)| offer(id, drawn)).collect();
            let item = |(id, (value, stock, number)): (usize, (u64, u32, usize))| {
                ShelfItem::new(name(&format!("item {id}")), part(number), stock).unit_value(price(value))
            };
            let items: Vec<ShelfItem> = shelf.into_iter().enumerate().map(item).collect();
            let stocks: Vec<Stock<'_>> =
                items.iter().map(Stock::Shelf).chain(offers.iter().map(Stock::offer)).collect();
            let known = part(0);
            let at_hand: BTreeSet<&MemoryModule> = if has_part { [&known].into() } else { BTreeSet::new() };
            let parts = |sourced: &Sourced<'_>| {
                sourced.parts().filter(|part| !at_hand.contains(part)).collect::<BTreeSet<_>>().len()
            };
            let key = |sourced: &Sourced<'_>| {
                (sourced.cost().total(), parts(sourced), sourced.surplus(), sourced.list())
            };
            let enough = |sourced: &Sourced<'_>| {
                let offers = sourced.takes.iter().filter(|take| take.stock.is_offer());
                offers.map(|take| take.quantity).sum::<u32>() >= bought
            };
            let all = all_choices(&stocks, fitted).into_iter().map(|takes| Sourced { takes });
            let all = all.filter(|sourced| is_settled(sourced, bought > 0)).filter(enough);
            let expected = all.map(|sourced| key(&sourced)).min();
            let mut budget = Budget::new(1_000_000, None);
            let costs = LeastCosts::new(&stocks, 6, 4, &mut budget).unwrap();
            let wanted = Wanted { fitted, bought, best: 1 };
            let ours = best(&stocks, &costs, wanted, &at_hand, &mut budget).unwrap();
            prop_assert_eq!(ours.first().map(key), expected);
        }
    }
}
