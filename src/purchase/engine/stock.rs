//! Shelf items and offers: how they can be had, and what that costs.

use crate::module::MemoryModule;
use crate::purchase::engine::context::Terms;
use crate::purchase::{Condition, ModuleSource, Offer, PlanRequest, ShelfItem};
use crate::unit::Name;

/// An amount of money in minor units; wide enough for any sum of a checked request.
pub(crate) type Amount = i128;

/// A shelf item or an offer.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Stock<'a> {
    Shelf(&'a ShelfItem),
    Offer(&'a Offer),
}

impl<'a> Stock<'a> {
    pub(crate) fn module(self) -> &'a MemoryModule {
        match self {
            Self::Shelf(item) => &item.module,
            Self::Offer(offer) => &offer.module,
        }
    }

    /// How many units can be had at most.
    pub(crate) fn units(self) -> usize {
        let stock = match self {
            Self::Shelf(item) => item.stock,
            Self::Offer(offer) => match offer.stock / offer.pack.max(1) * offer.pack {
                packs if packs >= offer.minimum_quantity => packs,
                _ => 0,
            },
        };
        usize::try_from(stock).unwrap_or(usize::MAX)
    }

    /// How many units are ordered, or taken off the shelf, for so many to be kept: whole packs, and no fewer than are
    /// sold.
    pub(crate) fn ordered(self, kept: usize) -> usize {
        match self {
            Self::Shelf(_) => kept,
            Self::Offer(_) if kept == 0 => 0,
            Self::Offer(offer) => {
                let pack = usize::try_from(offer.pack).unwrap_or(1).max(1);
                let least = usize::try_from(offer.minimum_quantity).unwrap_or(usize::MAX);
                kept.max(least).div_ceil(pack).saturating_mul(pack)
            }
        }
    }

    /// Whether a part of an order can be sent back.
    fn is_returnable(self) -> bool {
        matches!(self, Self::Offer(offer) if offer.return_cost.is_some())
    }

    /// Whether so many units can be kept: all that are ordered, unless some are sent back.
    pub(crate) fn can_keep(self, kept: usize) -> bool {
        kept <= self.units() && (self.is_returnable() || self.ordered(kept) == kept)
    }

    /// What so many units cost that are kept, by themselves.
    pub(crate) fn price(self, kept: usize) -> Amount {
        let each = match self {
            Self::Shelf(_) => self.least_price(),
            Self::Offer(offer) => Amount::from(offer.price_at(u32::try_from(kept).unwrap_or(u32::MAX)).amount_minor()),
        };
        amount(kept).saturating_mul(each)
    }

    /// The same with what sending back the rest of the order costs.
    pub(crate) fn cost(self, kept: usize) -> Amount {
        let each = match self {
            Self::Shelf(_) => None,
            Self::Offer(offer) => offer.return_cost,
        };
        let back = amount(self.ordered(kept).saturating_sub(kept));
        let back = each.map_or(0, |each| back.saturating_mul(Amount::from(each.amount_minor())));
        self.price(kept).saturating_add(back)
    }

    /// The quantities worth keeping where so many are wanted, the largest first: up to that, and beyond it where a
    /// pack, the smallest order or a break is. Between these cost is a line, so that of the best plan only the ends
    /// matter; those between are among them where asked for.
    pub(crate) fn quantities(self, wanted: usize, between: bool) -> Vec<usize> {
        let mut steps = vec![wanted];
        if let Self::Offer(offer) = self {
            steps.extend(offer.breaks.iter().filter_map(|step| usize::try_from(step.from).ok()));
        }
        let mut quantities: Vec<usize> = (0..=wanted.min(self.units())).collect();
        for kept in steps {
            let ordered = self.ordered(kept);
            let between = if between { kept..ordered.min(self.units()) } else { 0..0 };
            quantities.extend(between.chain([kept, ordered]));
        }
        quantities.retain(|&quantity| self.can_keep(quantity));
        quantities.sort_unstable();
        quantities.dedup();
        quantities.reverse();
        quantities
    }

    /// What one unit is worth that is kept and not fitted.
    pub(crate) fn surplus_value(self) -> Amount {
        match self {
            Self::Shelf(_) => 0,
            Self::Offer(offer) => offer.surplus_value.map_or(0, |value| Amount::from(value.amount_minor())),
        }
    }

    /// The least that one unit can come to, labour not counted.
    pub(crate) fn least_price(self) -> Amount {
        match self {
            Self::Shelf(item) => item.unit_value.map_or(0, |value| Amount::from(value.amount_minor())),
            Self::Offer(offer) => {
                let prices = offer.breaks.iter().map(|step| step.unit_price).chain([offer.unit_price]);
                prices.map(|price| Amount::from(price.amount_minor())).min().unwrap_or(0)
            }
        }
    }

    /// What it is called in a plan.
    pub(crate) fn source(self) -> ModuleSource {
        match self {
            Self::Shelf(item) => ModuleSource::Shelf { id: item.id.clone() },
            Self::Offer(offer) => ModuleSource::Offer { id: offer.id.clone() },
        }
    }

    /// The shelf before offers, then by id.
    pub(crate) fn order(self) -> (u8, &'a Name) {
        match self {
            Self::Shelf(item) => (0, &item.id),
            Self::Offer(offer) => (1, &offer.id),
        }
    }

    /// Whether it is in a condition, and arrives in a time, that the request allows.
    pub(crate) fn is_allowed(self, terms: &Terms) -> bool {
        let is_allowed = |condition: Condition| terms.conditions.as_ref().is_none_or(|all| all.contains(&condition));
        match self {
            // of what is owned the owner need not say it
            Self::Shelf(item) => item.condition.is_none_or(is_allowed),
            Self::Offer(offer) => {
                let in_time = |most: u32| offer.lead_time_days.is_some_and(|days| days <= most);
                terms.lead_time.is_none_or(in_time)
                    && (terms.conditions.is_none() || offer.condition.is_some_and(is_allowed))
            }
        }
    }

    /// Whether any number of units can be had at one price each, whatever else its supplier charges.
    pub(crate) fn is_simple(self) -> bool {
        match self {
            Self::Shelf(_) => true,
            Self::Offer(offer) => offer.pack == 1 && offer.minimum_quantity == 1 && offer.breaks.is_empty(),
        }
    }

    /// Whether any number of units can be had at one price each.
    pub(crate) fn is_plain(self, request: &PlanRequest) -> bool {
        let supplier = match self {
            Self::Shelf(_) => None,
            Self::Offer(offer) => offer.supplier.as_ref(),
        };
        self.is_simple() && supplier.and_then(|supplier| request.supplier_charges.get(supplier)).is_none()
    }
}

pub(crate) fn amount(units: usize) -> Amount {
    Amount::try_from(units).unwrap_or(Amount::MAX)
}

/// By units still wanted: what they cost at least, less what those beyond are worth, where a stock with these
/// quantities and costs comes before one that leaves `rest`.
pub(crate) fn least_with(costs: &[(usize, Amount)], rest: &[Option<Amount>], worth: Amount) -> Vec<Option<Amount>> {
    let least = |left: usize| {
        let ways = costs.iter().filter_map(|&(quantity, cost)| {
            let rest = (*rest.get(left.saturating_sub(quantity))?)?;
            Some(cost - worth * amount(quantity.saturating_sub(left)) + rest)
        });
        ways.min()
    };
    (0..rest.len()).map(least).collect()
}
