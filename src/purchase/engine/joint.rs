//! What the modules of a candidate are taken from, class by class, and which suppliers charge for it.

use std::collections::BTreeSet;

use crate::fill::ClassId;
use crate::module::MemoryModule;
use crate::purchase::engine::cost::{Amount, CostParts};
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
    /// The exact cost of everything but moves.
    pub(crate) cost: CostParts,
}

/// Where the search over suppliers has come: those who are paid in any case, and those of whom nothing is taken.
#[derive(Default)]
struct Split {
    paid: Vec<SupplierId>,
    barred: Vec<SupplierId>,
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

    /// The cheapest sourcing of a candidate that the goal allows: with the fewest parts and units, first in the order of
    /// lists. `None` where there are not so many units.
    pub(crate) fn source(
        &self,
        candidate: &Candidate<'_>,
        budget: &mut Budget<'_>,
    ) -> Result<Option<Sourcing<'a>>, StopReason> {
        let mut best = None;
        self.split(candidate, &mut Split::default(), &mut best, budget)?;
        Ok(best)
    }

    /// Looks for the best sourcing with some suppliers paid and others left out. What it takes at least is reckoned as if no
    /// further supplier charged; where one does, each of paying and doing without him is looked at.
    fn split(
        &self,
        candidate: &Candidate<'_>,
        split: &mut Split,
        best: &mut Option<Sourcing<'a>>,
        budget: &mut Budget<'_>,
    ) -> Result<(), StopReason> {
        budget.spend()?;
        let Some(sourcing) = self.cheapest(candidate, split, budget)? else { return Ok(()) };
        let total = sourcing.cost.total();
        if self.is_beaten(total) || best.as_ref().is_some_and(|best| total > best.cost.total()) {
            return Ok(());
        }
        let unpaid = sourcing.suppliers.iter().filter(|supplier| !split.paid.contains(supplier));
        let dearest = unpaid.copied().max_by_key(|&supplier| (self.charge(supplier), std::cmp::Reverse(supplier)));
        let Some(supplier) = dearest else {
            let rank = |sourcing: &Sourcing<'a>| {
                let parts = self.parts(sourcing, candidate).len();
                (sourcing.cost.total(), parts, sourcing.units(), sourcing.list())
            };
            if best.as_ref().is_none_or(|best| rank(&sourcing) < rank(best)) {
                *best = Some(sourcing);
            }
            return Ok(());
        };
        split.paid.push(supplier);
        self.split(candidate, split, best, budget)?;
        split.paid.pop();
        split.barred.push(supplier);
        self.split(candidate, split, best, budget)?;
        split.barred.pop();
        Ok(())
    }

    fn charge(&self, supplier: SupplierId) -> Amount {
        self.classes().market.suppliers.get(supplier).map_or(0, |&(_, charge)| charge)
    }

    /// The best sourcing without the suppliers that are left out, where those who are not paid charge nothing.
    fn cheapest(
        &self,
        candidate: &Candidate<'_>,
        split: &Split,
        budget: &mut Budget<'_>,
    ) -> Result<Option<Sourcing<'a>>, StopReason> {
        let mut together: Vec<Sources<'a>> = vec![Vec::new()];
        for order in self.orders(candidate)? {
            together = self.with_order(together, &order, (candidate, &split.barred), budget)?;
        }
        let mut all = together.into_iter().map(|sources| self.whole(sources, candidate, &split.paid));
        Ok(all.find(|sourcing| !self.goal.is_taken(&sourcing.list())))
    }

    /// The best ways to source one class.
    pub(crate) fn of_class(
        &self,
        class: ClassId,
        wanted: Wanted,
        candidate: &Candidate<'_>,
        barred: &[SupplierId],
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
        let (stocks, costs) = self.context.least_costs(class, barred, self.needs.terms.spares, budget)?;
        // an order of more than there is need not be looked for
        let in_offers = stocks.iter().filter(|stock| stock.is_offer()).map(|stock| u64::from(stock.units()));
        if in_offers.sum::<u64>() < u64::from(wanted.bought) {
            return Ok(Vec::new());
        }
        sourcing::best(&stocks, &costs, wanted, &at_hand, budget)
    }

    /// A sourcing with what it costs: what is taken, handled, pulled and charged, those who are paid in any case included.
    pub(crate) fn whole(&self, sources: Sources<'a>, candidate: &Candidate<'_>, paid: &[SupplierId]) -> Sourcing<'a> {
        let takes = sources.iter().flat_map(|(_, sourced)| &sourced.takes);
        let mut suppliers: Vec<SupplierId> =
            takes.filter_map(|take| self.classes().market.charging(take.stock)).collect();
        suppliers.sort_unstable();
        suppliers.dedup();
        let charges = paid.iter().map(|&supplier| self.charge(supplier)).sum();
        let taken: CostParts = sources.iter().map(|(_, sourced)| sourced.cost()).sum();
        let cost = taken + candidate.handling + CostParts { charges, ..CostParts::default() };
        Sourcing { sources, suppliers, cost }
    }
}

#[cfg(test)]
impl Search<'_, '_> {
    /// What the best sourcing costs, by every set of suppliers who charge.
    pub(crate) fn source_by_sets(&self, candidate: &Candidate<'_>, budget: &mut Budget<'_>) -> Option<Amount> {
        use itertools::Itertools;

        let all: Vec<SupplierId> = self.classes().market.suppliers.ids().collect();
        let with = |paid: Vec<SupplierId>| {
            let barred = all.iter().copied().filter(|supplier| !paid.contains(supplier)).collect();
            self.cheapest(candidate, &Split { paid, barred }, budget).unwrap()
        };
        all.iter().copied().powerset().filter_map(with).map(|sourcing| sourcing.cost.total()).min()
    }
}
