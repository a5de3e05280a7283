//! Shelf items and offers: how they can be had, and what that costs. None of it knows a machine, so that several can stand
//! on one stock.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use crate::module::MemoryModule;
use crate::purchase::engine::cost::{Amount, CostParts};
use crate::purchase::{Condition, ModuleSource, Offer, ShelfItem};
use crate::search::{Table, index_types};
use crate::unit::{Name, Price};

index_types! {
    /// A stock of a market, in the order of sources.
    StockId;
    /// A supplier who charges for an order.
    SupplierId;
}

/// Which stock may be used.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct StockFilter {
    /// The conditions that it may be in.
    pub(crate) conditions: Option<BTreeSet<Condition>>,
    /// The most days that an offer may take.
    pub(crate) lead_time: Option<u32>,
}

impl StockFilter {
    /// Whether a stock is in a condition, and arrives in a time, that is allowed.
    pub(crate) fn allows(&self, stock: Stock<'_>) -> bool {
        let is_allowed = |condition: Condition| self.conditions.as_ref().is_none_or(|all| all.contains(&condition));
        match stock {
            // of what is owned the owner need not say it, but that it is new
            Stock::Shelf(item) => match (item.condition, &self.conditions) {
                (Some(condition), _) => is_allowed(condition),
                (None, Some(allowed)) => allowed.iter().any(|condition| *condition != Condition::New),
                (None, None) => true,
            },
            Stock::Offer(offer, _) => {
                let in_time = |most: u32| offer.lead_time_days.is_some_and(|days| days <= most);
                self.lead_time.is_none_or(in_time)
                    && (self.conditions.is_none() || offer.condition.is_some_and(is_allowed))
            }
        }
    }
}

/// What is settled of a supplier who charges.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Standing {
    /// Nothing: units from there bear shares of the charge, and all that can be fitted no more than the whole.
    Open,
    /// The charge is paid in any case.
    Paid,
    /// Nothing is taken from there.
    Barred,
}

/// How suppliers who charge stand.
pub(crate) type Standings = Table<SupplierId, Standing>;

/// Everything that can be bought or taken from the shelf.
#[derive(Debug, Clone)]
pub(crate) struct Market<'a> {
    /// The shelf before offers, each by id, with who charges for it.
    stocks: Rc<Table<StockId, (Stock<'a>, Option<SupplierId>)>>,
    /// Who charges for an order, and how much.
    pub(crate) suppliers: Rc<Table<SupplierId, (&'a Name, Amount)>>,
    pub(crate) standings: Standings,
    /// Whether units bear shares.
    is_shared: bool,
}

impl<'a> Market<'a> {
    /// What a filter lets through of which anything can be had, where no more than so many units can be fitted. Of suppliers
    /// who charge nothing is settled.
    pub(crate) fn new(
        shelf: &'a [ShelfItem],
        offers: &'a [Offer],
        charges: &'a BTreeMap<Name, Price>,
        (filter, most): (&StockFilter, u32),
    ) -> Self {
        let charges = charges.iter().map(|(name, charge)| (name, Amount::from(charge.amount_minor())));
        let suppliers: Table<SupplierId, (&'a Name, Amount)> = charges.collect();
        // where nothing is charged, that is paid
        let standing = |&(_, charge): &(&Name, Amount)| if charge == 0 { Standing::Paid } else { Standing::Open };
        let standings = suppliers.values().iter().map(standing).collect();
        let mut market = Self { stocks: Rc::default(), suppliers: Rc::new(suppliers), standings, is_shared: true };
        let stocks = shelf.iter().map(Stock::Shelf).chain(offers.iter().map(Stock::offer));
        let stocks = stocks.filter(|&stock| stock.units() > 0 && filter.allows(stock));
        let mut stocks: Vec<_> = stocks.map(|stock| (stock, market.charging(stock))).collect();
        stocks.sort_by_key(|(stock, _)| stock.order());
        let share = |(supplier, &(_, charge)): (SupplierId, &(&Name, Amount))| {
            let own = stocks.iter().filter(|(_, seller)| *seller == Some(supplier));
            let units = own.map(|(stock, _)| u64::from(stock.units())).sum::<u64>().min(u64::from(most));
            charge.checked_div(Amount::from(units)).unwrap_or(0)
        };
        let shares: Table<SupplierId, Amount> = market.suppliers.iter().map(share).collect();
        for (stock, seller) in &mut stocks {
            if let Stock::Offer(_, share) = stock {
                *share = seller.and_then(|seller| shares.get(seller).copied()).unwrap_or(0);
            }
        }
        market.stocks = Rc::new(stocks.into_iter().collect());
        market
    }

    /// The same where suppliers stand otherwise.
    pub(crate) fn under(&self, standings: &Standings, is_shared: bool) -> Self {
        Self { standings: standings.clone(), is_shared, ..self.clone() }
    }

    /// All stocks, whatever is settled of who sells them.
    pub(crate) fn all(&self) -> impl Iterator<Item = (StockId, Stock<'a>)> {
        self.stocks.iter().map(|(id, &(stock, _))| (id, stock))
    }

    /// A stock as it can be had: with its share of the charge of a supplier who is open, and none from one who is barred.
    pub(crate) fn at_hand(&self, id: StockId) -> Option<Stock<'a>> {
        let &(stock, _) = self.stocks.get(id)?;
        match self.standing(id) {
            None => Some(stock),
            Some(Standing::Open) if self.is_shared => Some(stock),
            Some(Standing::Open | Standing::Paid) => Some(stock.without_share()),
            Some(Standing::Barred) => None,
        }
    }

    /// The supplier of a stock who charges for an order.
    pub(crate) fn charging(&self, stock: Stock<'_>) -> Option<SupplierId> {
        let Stock::Offer(Offer { supplier: Some(supplier), .. }, _) = stock else { return None };
        self.suppliers.find(|(name, _)| *name == supplier)
    }

    /// What is settled of the supplier of a stock, where one charges for it.
    pub(crate) fn standing(&self, id: StockId) -> Option<Standing> {
        self.stocks.get(id).and_then(|&(_, seller)| self.standings.get(seller?).copied())
    }

    /// Whether of any supplier who charges nothing is settled.
    pub(crate) fn is_open(&self) -> bool {
        self.standings.values().contains(&Standing::Open)
    }

    /// What a supplier charges.
    pub(crate) fn charge(&self, supplier: SupplierId) -> Amount {
        self.suppliers.get(supplier).map_or(0, |&(_, charge)| charge)
    }

    /// What suppliers are paid in any case.
    pub(crate) fn paid(&self) -> Amount {
        let paid = self.standings.iter().filter(|&(_, standing)| *standing == Standing::Paid);
        paid.map(|(supplier, _)| self.charge(supplier)).sum()
    }
}

/// A shelf item or an offer.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Stock<'a> {
    Shelf(&'a ShelfItem),
    /// With the share of its supplier's charge that each of its units bears if it is fitted.
    Offer(&'a Offer, Amount),
}

/// The order of sources: the shelf before offers, then by id.
pub(crate) type SourceOrder<'a> = (u8, &'a Name);

impl<'a> Stock<'a> {
    /// An offer whose units bear no share of a charge.
    pub(crate) fn offer(offer: &'a Offer) -> Self {
        Self::Offer(offer, 0)
    }

    /// The same without that.
    pub(crate) fn without_share(self) -> Self {
        match self {
            Self::Shelf(_) => self,
            Self::Offer(offer, _) => Self::offer(offer),
        }
    }

    pub(crate) fn module(self) -> &'a MemoryModule {
        match self {
            Self::Shelf(item) => &item.module,
            Self::Offer(offer, _) => &offer.module,
        }
    }

    pub(crate) fn is_offer(self) -> bool {
        matches!(self, Self::Offer(..))
    }

    /// How many units can be had at most: whole packs, if that is as many as are sold.
    pub(crate) fn units(self) -> u32 {
        match self {
            Self::Shelf(item) => item.stock,
            Self::Offer(offer, _) => {
                let packs = offer.stock - offer.stock.checked_rem(offer.pack).unwrap_or(0);
                if packs >= offer.minimum_quantity { packs } else { 0 }
            }
        }
    }

    /// How many units are ordered, or taken off the shelf, for so many to be kept: whole packs, and no fewer than are
    /// sold. `None` where that is more than a number says.
    pub(crate) fn ordered(self, kept: u32) -> Option<u32> {
        match self {
            Self::Shelf(_) => Some(kept),
            Self::Offer(..) if kept == 0 => Some(0),
            Self::Offer(offer, _) => kept.max(offer.minimum_quantity).checked_next_multiple_of(offer.pack.max(1)),
        }
    }

    /// Whether a part of an order can be sent back.
    fn is_returnable(self) -> bool {
        matches!(self, Self::Offer(offer, _) if offer.return_cost.is_some())
    }

    /// Whether so many units can be kept: all that are ordered, unless some are sent back.
    pub(crate) fn can_keep(self, kept: u32) -> bool {
        kept <= self.units() && (self.is_returnable() || self.ordered(kept) == Some(kept))
    }

    /// How many units are ordered beside those kept, and sent back.
    pub(crate) fn returned(self, kept: u32) -> u32 {
        self.ordered(kept).map_or(0, |ordered| ordered - kept)
    }

    /// What so many units cost that are kept; for an offer at the price of its quantity, with what sending back the rest
    /// costs.
    pub(crate) fn cost_parts(self, kept: u32) -> CostParts {
        let units = Amount::from(kept);
        match self {
            Self::Shelf(_) => CostParts { shelf: units * self.least_price(), ..CostParts::default() },
            Self::Offer(offer, share) => {
                let each = Amount::from(offer.price_at(kept).amount_minor());
                let back = offer.return_cost.map_or(0, |each| Amount::from(each.amount_minor()));
                let returns = back * Amount::from(self.returned(kept));
                CostParts { purchases: units * each, returns, charges: units * share, ..CostParts::default() }
            }
        }
    }

    /// The same as one amount.
    pub(crate) fn cost(self, kept: u32) -> Amount {
        self.cost_parts(kept).total()
    }

    /// The quantities worth keeping where so many are wanted, the largest first: up to that, and beyond it where a
    /// pack, the smallest order or a break is. Between these cost is a line, so that of the best plan only the ends
    /// matter; of the `best` plans no more than so many from the cheaper end do, for each of those before it would be a
    /// plan of its own.
    pub(crate) fn quantities(self, wanted: u32, best: usize) -> Vec<u32> {
        let steps = match self {
            Self::Shelf(_) => &[][..],
            Self::Offer(offer, _) => &offer.breaks,
        };
        let mut quantities: Vec<u32> = (0..=wanted.min(self.units())).collect();
        for kept in steps.iter().map(|step| step.from).chain([wanted]) {
            let Some(ordered) = self.ordered(kept) else { continue };
            quantities.extend([kept, ordered]);
            let further = u32::try_from(best.saturating_sub(1)).unwrap_or(u32::MAX).min(ordered.saturating_sub(kept));
            if further > 0 && self.is_returnable() {
                quantities.extend((kept..=ordered).take(usize::try_from(further).unwrap_or(usize::MAX)));
                quantities
                    .extend(ordered.min(self.units()).saturating_sub(further).max(kept)..=ordered.min(self.units()));
            }
        }
        quantities.retain(|&quantity| self.can_keep(quantity));
        quantities.sort_unstable();
        quantities.dedup();
        quantities.reverse();
        quantities
    }

    /// Of the quantities from one to another those at which cost can turn: between them it is a line.
    pub(crate) fn turning_points(self, from: u32, to: u32) -> Vec<u32> {
        let Self::Offer(offer, _) = self else { return vec![from, to] };
        let breaks = offer.breaks.iter().flat_map(|step| [step.from.saturating_sub(1), step.from]);
        let points = breaks.chain([from, to, offer.minimum_quantity]);
        // and the nearest that can be kept
        let pack = offer.pack.max(1);
        let near = points.flat_map(|point| {
            let below = point - point % pack;
            [Some(point), Some(below), below.checked_add(pack), below.checked_sub(1)]
        });
        let mut points: Vec<u32> =
            near.flatten().filter(|point| (from..=to).contains(point) && self.can_keep(*point)).collect();
        points.sort_unstable();
        points.dedup();
        points
    }

    /// What one unit is worth that is kept and not fitted: it bears no share of a charge.
    pub(crate) fn surplus_value(self) -> Amount {
        match self {
            Self::Shelf(_) => 0,
            Self::Offer(offer, share) => {
                share + offer.surplus_value.map_or(0, |value| Amount::from(value.amount_minor()))
            }
        }
    }

    /// The least that one unit can come to, labour not counted.
    pub(crate) fn least_price(self) -> Amount {
        match self {
            Self::Shelf(item) => item.unit_value.map_or(0, |value| Amount::from(value.amount_minor())),
            Self::Offer(offer, share) => {
                let dearest_first = offer.breaks.iter().map(|step| step.unit_price);
                let least = dearest_first.fold(Amount::from(offer.unit_price.amount_minor()), |least, price| {
                    least.min(Amount::from(price.amount_minor()))
                });
                share + least
            }
        }
    }

    /// What it is called in a plan.
    pub(crate) fn source(self) -> ModuleSource {
        match self {
            Self::Shelf(item) => ModuleSource::Shelf { id: item.id.clone() },
            Self::Offer(offer, _) => ModuleSource::Offer { id: offer.id.clone() },
        }
    }

    /// The shelf before offers, then by id.
    pub(crate) fn order(self) -> SourceOrder<'a> {
        match self {
            Self::Shelf(item) => (0, &item.id),
            Self::Offer(offer, _) => (1, &offer.id),
        }
    }

    /// Whether any number of units can be had at one price each, whatever else its supplier charges for the order.
    pub(crate) fn is_simple(self) -> bool {
        match self {
            Self::Shelf(_) => true,
            Self::Offer(offer, _) => offer.pack == 1 && offer.minimum_quantity == 1 && offer.breaks.is_empty(),
        }
    }
}

/// Lines of a purchase: the sorted list of sources.
pub(crate) type Lines = Vec<(u8, Name, Reverse<u32>)>;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::purchase::QuantityBreak;
    use crate::testing::{name, plain};

    /// Between two neighbours the cost of what can be kept is a line.
    #[test]
    fn between_turning_points_cost_is_a_line() {
        let price = |minor: u64| Price::new(minor, "EUR".parse().unwrap());
        for (pack, fewest, breaks) in itertools::iproduct!(1..5, 0..6, 2..14) {
            let offer = Offer::new(name("offer"), plain(), price(50), 23).pack(pack).minimum_quantity(fewest);
            let offer = offer.breaks([QuantityBreak::new(breaks, price(41))]);
            let stock = Stock::offer(&offer);
            let points = stock.turning_points(1, 20);
            let kept: Vec<u32> = (1..=20).filter(|&count| stock.can_keep(count)).collect();
            assert_eq!((points.first(), points.last()), (kept.first(), kept.last()));
            for (from, to) in points.iter().zip(points.iter().skip(1)) {
                let between: Vec<u32> = kept.iter().copied().filter(|count| (from..=to).contains(&count)).collect();
                let slopes = between
                    .iter()
                    .zip(between.iter().skip(1))
                    .map(|(&a, &b)| (stock.cost(b) - stock.cost(a)) / Amount::from(b - a));
                assert!(slopes.collect::<BTreeSet<_>>().len() <= 1, "{pack} {fewest} {breaks}: {from} to {to}");
            }
        }
    }
}
