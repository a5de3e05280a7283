//! What the modules of a candidate are taken from, class by class, as suppliers stand.

use std::collections::BTreeSet;

use crate::fill::ClassId;
use crate::module::MemoryModule;
use crate::purchase::engine::cost::CostParts;
use crate::purchase::engine::search::{Candidate, Search};
use crate::purchase::engine::sourcing::{self, Sourced, Wanted};
use crate::purchase::engine::stock::{Lines, SupplierId};
use crate::search::{Budget, StopReason};

/// What modules are taken from, by class.
pub(crate) type Sources<'a> = Vec<(ClassId, Sourced<'a>)>;

/// What a candidate's modules are taken from.
#[derive(Debug, Clone)]
pub(crate) struct Sourcing<'a> {
    /// By class.
    pub(crate) sources: Sources<'a>,
    /// The suppliers who charge.
    pub(crate) suppliers: Vec<SupplierId>,
    /// The cost of everything but moves, as suppliers stand.
    pub(crate) cost: CostParts,
}

impl<'a> Sourcing<'a> {
    /// The sorted list of sources.
    pub(crate) fn list(&self) -> Lines {
        let mut list: Lines = self.sources.iter().flat_map(|(_, sourced)| sourced.list()).collect();
        list.sort();
        list
    }

    /// How many units are taken from offers and the shelf.
    pub(crate) fn units(&self) -> u64 {
        self.sources.iter().map(|(_, sourced)| sourced.units()).sum()
    }

    /// The parts that are fitted.
    fn parts(&self) -> impl Iterator<Item = &'a MemoryModule> {
        self.sources.iter().flat_map(|(_, sourced)| sourced.parts())
    }
}

impl<'a> Search<'_, 'a> {
    /// The parts of present modules that are kept, of a class and of those that are placed as it is.
    fn at_hand(&self, class: ClassId, candidate: &Candidate<'_>) -> BTreeSet<&'a MemoryModule> {
        let twin = self.classes().all.get(class).map(|entry| entry.twin);
        let kept =
            self.classes().all.iter().filter(|&(id, entry)| {
                candidate.used.get(id).is_some_and(|&used| used > 0) && Some(entry.twin) == twin
            });
        kept.filter_map(|(_, entry)| entry.present.first()).map(|unit| unit.module).collect()
    }

    /// The parts of a plan.
    pub(crate) fn parts(&self, sourcing: &Sourcing<'a>, candidate: &Candidate<'_>) -> BTreeSet<&'a MemoryModule> {
        let kept = self.classes().all.ids().flat_map(|class| self.at_hand(class, candidate));
        sourcing.parts().chain(kept).collect()
    }

    /// The cheapest sourcing of a candidate that the goal allows, from what is at hand as suppliers stand: with the fewest
    /// parts and units, first in the order of lists. `None` where there are not so many units.
    pub(crate) fn source(
        &self,
        candidate: &Candidate<'_>,
        budget: &mut Budget<'_>,
    ) -> Result<Option<Sourcing<'a>>, StopReason> {
        budget.spend()?;
        let mut together: Vec<Sources<'a>> = vec![Vec::new()];
        for order in self.orders(candidate)? {
            together = self.with_order(together, &order, candidate, budget)?;
        }
        let mut all = together.into_iter().map(|sources| self.whole(sources, candidate));
        Ok(all.find(|sourcing| !self.goal.is_taken(&sourcing.list())))
    }

    /// The best ways to source one class.
    pub(crate) fn of_class(
        &self,
        class: ClassId,
        wanted: Wanted,
        candidate: &Candidate<'_>,
        budget: &mut Budget<'_>,
    ) -> Result<Vec<Sourced<'a>>, StopReason> {
        let Some(entry) = self.classes().all.get(class) else { return Ok(Vec::new()) };
        let at_hand = self.at_hand(class, candidate);
        if entry.plain && wanted.best == 1 {
            let stocks = entry.stocks(&self.classes().market);
            return Ok(sourcing::plain(&stocks, wanted.fitted, &at_hand).into_iter().collect());
        }
        if wanted.fitted == 0 && wanted.bought == 0 && (wanted.best == 1 || entry.stock.is_empty()) {
            return Ok(vec![Sourced::default()]);
        }
        let (stocks, costs) = self.classes().least_costs(entry, budget)?;
        // an order of more than there is need not be looked for
        let in_offers = stocks.iter().filter(|stock| stock.is_offer()).map(|stock| u64::from(stock.units()));
        if in_offers.sum::<u64>() < u64::from(wanted.bought) {
            return Ok(Vec::new());
        }
        sourcing::best(&stocks, &costs, wanted, &at_hand, budget)
    }

    /// A sourcing with what it costs: what is taken, handled, pulled, and paid to suppliers in any case.
    pub(crate) fn whole(&self, sources: Sources<'a>, candidate: &Candidate<'_>) -> Sourcing<'a> {
        let market = &self.classes().market;
        let takes = sources.iter().flat_map(|(_, sourced)| &sourced.takes);
        let mut suppliers: Vec<SupplierId> = takes.filter_map(|take| market.charging(take.stock)).collect();
        suppliers.sort_unstable();
        suppliers.dedup();
        let paid = CostParts { charges: market.paid(), ..CostParts::default() };
        let taken: CostParts = sources.iter().map(|(_, sourced)| sourced.cost()).sum();
        Sourcing { sources, suppliers, cost: taken + candidate.handling + paid }
    }
}
