//! What the modules of a candidate are taken from.

use std::cmp::Reverse;
use std::collections::BTreeSet;

use crate::module::MemoryModule;
use crate::purchase::engine::classes::Class;
use crate::purchase::engine::solve::Solver;
use crate::purchase::engine::sourcing::{self, Sourced, Wanted};
use crate::purchase::engine::stock::{Amount, Stock};
use crate::search::{Budget, StopReason};
use crate::unit::Name;

/// What a candidate's modules are taken from, with the exact cost of everything but moves.
pub(crate) struct Sourcing<'a> {
    pub(crate) cost: Amount,
    /// By class.
    pub(crate) sources: Vec<(usize, Sourced<'a>)>,
    pub(crate) charges: Vec<(Name, Amount)>,
}

/// Lines of a purchase: the sorted list of sources.
pub(crate) type Lines = Vec<(u8, Name, Reverse<usize>)>;

impl<'a> Solver<'_, 'a> {
    /// The parts of present modules that are kept, of a class and of those that are placed as it is.
    fn at_hand(&self, class: usize, used: &[usize]) -> BTreeSet<&'a MemoryModule> {
        let twin = self.supply.classes.get(class).map(|entry| entry.twin);
        let kept = self.supply.classes.iter().zip(used).filter(|&(entry, &used)| used > 0 && Some(entry.twin) == twin);
        kept.filter_map(|(entry, _)| entry.present.first()).map(|unit| unit.module).collect()
    }

    pub(crate) fn source_plain(&self, counts: &[(usize, usize)], used: &[usize]) -> Option<Vec<(usize, Sourced<'a>)>> {
        let sourced = counts.iter().map(|&(class, count)| {
            let entry = self.supply.classes.get(class)?;
            let wanted = count.checked_sub(used.get(class).copied()?)?.checked_mul(self.supply.machines)?;
            Some((class, sourcing::plain(entry, wanted, &self.at_hand(class, used))?))
        });
        sourced.collect()
    }

    /// The cheapest sourcing where packs, breaks, charges, spares or lists that are left out matter, with the exact
    /// cost of everything but moves.
    pub(crate) fn source_mixed(
        &self,
        counts: &[(usize, usize)],
        used: &[usize],
        budget: &mut Budget,
    ) -> Result<Option<Sourcing<'a>>, StopReason> {
        /// More charging suppliers than this are not tried in every combination.
        const MOST_SUPPLIERS: usize = 12;
        let asked = self.asked(counts, used);
        let classes: Vec<_> = asked.iter().filter_map(|&(class, _)| self.supply.classes.get(class)).collect();
        let suppliers = sourcing::charging(self.request, &classes);
        if suppliers.len() > MOST_SUPPLIERS {
            return Err(StopReason::INTERNAL_RANGE);
        }
        let base = self.cost_besides(counts, used);
        let mut best: Option<Sourcing<'a>> = None;
        for chosen in 0..1u32 << suppliers.len() {
            let is_chosen = |index: usize| chosen >> index & 1 == 1;
            let usable = |stock: Stock<'a>| match stock {
                Stock::Shelf(_) => true,
                Stock::Offer(offer) => {
                    suppliers.iter().position(|(name, _)| Some(*name) == offer.supplier.as_ref()).is_none_or(is_chosen)
                }
            };
            let together = self.together(&asked, used, &usable, budget)?;
            let mut kept = together.into_iter().filter(|sources| !self.excluded.contains(&list(sources)));
            let Some(sources) = kept.next() else { continue };
            let is_used = |name: &Name| {
                sources.iter().flat_map(|(_, sourced)| &sourced.takes).any(|take| match take.stock {
                    Stock::Offer(offer) => offer.supplier.as_ref() == Some(name),
                    Stock::Shelf(_) => false,
                })
            };
            let charges: Vec<(Name, Amount)> = suppliers
                .iter()
                .filter(|(name, _)| is_used(name))
                .map(|&(name, charge)| (name.clone(), charge))
                .collect();
            let cost = base
                + sources.iter().map(|(_, sourced)| sourced.cost).sum::<Amount>()
                + charges.iter().map(|(_, charge)| charge).sum::<Amount>();
            let rank = |cost: Amount, sources: &[(usize, Sourced<'a>)]| {
                (cost, self.parts(sources, used).len(), taken(sources), list(sources))
            };
            if best.as_ref().is_none_or(|best| rank(cost, &sources) < rank(best.cost, &best.sources)) {
                best = Some(Sourcing { cost, sources, charges });
            }
        }
        Ok(best)
    }

    /// What is asked of the stock of each class: what is to be fitted, and how many must be bought so that there are
    /// spares of every part that is fitted.
    fn asked(&self, counts: &[(usize, usize)], used: &[usize]) -> Vec<(usize, Wanted)> {
        let count_of = |class: usize| counts.iter().find(|(known, _)| *known == class).map_or(0, |&(_, count)| count);
        let used_of = |class: usize| used.get(class).copied().unwrap_or(0);
        let best = self.excluded.len() + 1;
        let mut asked = Vec::new();
        for (class, entry) in self.supply.classes.iter().enumerate() {
            let fitted = count_of(class).saturating_sub(used_of(class)).saturating_mul(self.supply.machines);
            let twins = || self.supply.classes.iter().enumerate().filter(|(_, other)| other.twin == entry.twin);
            let is_fitted = twins().any(|(twin, _)| count_of(twin) > 0);
            // twins share one stock: the first of them that has any takes from it
            let is_stocked = !entry.stock.is_empty() || twins().all(|(_, other)| other.stock.is_empty());
            let bought = if self.needs.terms.spares > 0 && is_fitted && is_stocked {
                let pulled: usize = twins().map(|(twin, other)| other.present.len() - used_of(twin)).sum();
                let shelf: usize = entry.shelf_units();
                let at_hand = pulled.saturating_mul(self.supply.machines).saturating_add(shelf);
                fitted.saturating_add(self.needs.terms.spares).saturating_sub(at_hand)
            } else {
                0
            };
            if count_of(class) > 0 || bought > 0 {
                asked.push((class, Wanted { fitted, bought, best }));
            }
        }
        asked
    }

    /// What a candidate costs beside what is taken from stock: what is pulled, kept, and put in.
    fn cost_besides(&self, counts: &[(usize, usize)], used: &[usize]) -> Amount {
        let copies = Amount::try_from(self.supply.machines).unwrap_or(1);
        let each = |(entry, &used): (&Class<'_>, &usize)| {
            let credit = entry.present.first().map_or(0, |unit| unit.credit);
            Amount::try_from(used.saturating_sub(entry.pinned())).unwrap_or(0) * (credit - self.supply.labour)
        };
        let kept: Amount = self.supply.classes.iter().zip(used).map(each).sum();
        let total: usize = counts.iter().map(|&(_, count)| count).sum();
        let new = Amount::try_from(total.saturating_sub(used.iter().sum())).unwrap_or(0);
        self.supply.pull_all + copies * (kept + new * self.supply.labour)
    }

    /// The best ways to source classes together, the best first; as many as one class may have.
    fn together(
        &self,
        asked: &[(usize, Wanted)],
        used: &[usize],
        usable: &dyn Fn(Stock<'a>) -> bool,
        budget: &mut Budget,
    ) -> Result<Vec<Vec<(usize, Sourced<'a>)>>, StopReason> {
        let mut together: Vec<Vec<(usize, Sourced<'a>)>> = vec![Vec::new()];
        for &(class, wanted) in asked {
            let Some(entry) = self.supply.classes.get(class) else { continue };
            let hand = self.at_hand(class, used);
            let own = sourcing::mixed(entry, wanted, &hand, usable, budget)?;
            let with = |before: &Vec<(usize, Sourced<'a>)>, sourced: &Sourced<'a>| {
                let own = std::iter::once((class, sourced.clone()));
                before.iter().cloned().chain(own).collect::<Vec<_>>()
            };
            let mut more: Vec<_> =
                together.iter().flat_map(|before| own.iter().map(move |sourced| with(before, sourced))).collect();
            if wanted.best > 1 {
                more.sort_by_cached_key(|sources| {
                    let cost: Amount = sources.iter().map(|(_, sourced)| sourced.cost).sum();
                    (cost, self.parts(sources, used).len(), taken(sources), list(sources))
                });
                more.truncate(wanted.best);
            }
            together = more;
        }
        Ok(together)
    }

    /// The parts of a plan.
    pub(crate) fn parts(&self, sources: &[(usize, Sourced<'a>)], used: &[usize]) -> BTreeSet<&'a MemoryModule> {
        let kept = (0..used.len()).flat_map(|class| self.at_hand(class, used));
        sources.iter().flat_map(|(_, sourced)| sourced.parts()).chain(kept).collect()
    }
}

/// How many units are taken from offers and the shelf.
pub(crate) fn taken(sources: &[(usize, Sourced<'_>)]) -> usize {
    sources.iter().flat_map(|(_, sourced)| &sourced.takes).map(|take| take.quantity).sum()
}

/// The sorted list of sources.
pub(crate) fn list(sources: &[(usize, Sourced<'_>)]) -> Lines {
    let takes = sources.iter().flat_map(|(_, sourced)| &sourced.takes);
    let mut list: Vec<_> = takes
        .map(|take| {
            let (kind, id) = take.stock.order();
            (kind, id.clone(), Reverse(take.quantity))
        })
        .collect();
    list.sort();
    list
}
