//! What the modules of a candidate are taken from.

use std::cmp::Reverse;
use std::collections::BTreeSet;

use crate::module::MemoryModule;
use crate::purchase::solve::Solver;
use crate::purchase::sourcing::{self, Sourced};
use crate::purchase::supply::{Amount, Stock};
use crate::search::{Budget, Spent};
use crate::unit::Name;

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

    /// The cheapest sourcing where packs, breaks or charges matter, with the exact cost of everything
    /// but moves.
    #[allow(clippy::type_complexity)]
    pub(crate) fn source_mixed(
        &self,
        counts: &[(usize, usize)],
        used: &[usize],
        budget: &mut Budget,
    ) -> Result<Option<(Amount, Vec<(usize, Sourced<'a>)>, Vec<(Name, Amount)>)>, Spent> {
        /// More charging suppliers than this are not tried in every combination.
        const MOST_SUPPLIERS: usize = 12;
        let classes: Vec<_> = counts.iter().filter_map(|&(class, _)| self.supply.classes.get(class)).collect();
        let suppliers = sourcing::charging(self.request, &classes);
        if suppliers.len() > MOST_SUPPLIERS {
            return Err(Spent);
        }
        let copies = Amount::try_from(self.supply.machines).unwrap_or(1);
        let mut best: Option<(Amount, Vec<(usize, Sourced<'a>)>, Vec<(Name, Amount)>)> = None;
        for chosen in 0..1u32 << suppliers.len() {
            let is_chosen = |index: usize| chosen >> index & 1 == 1;
            let usable = |stock: Stock<'a>| match stock {
                Stock::Shelf(_) => true,
                Stock::Offer(offer) => {
                    suppliers.iter().position(|(name, _)| Some(*name) == offer.supplier.as_ref()).is_none_or(is_chosen)
                }
            };
            let mut cost = self.supply.pull_all;
            let mut sources = Vec::new();
            for (class, entry) in self.supply.classes.iter().enumerate() {
                let count = counts.iter().find(|(known, _)| *known == class).map_or(0, |&(_, count)| count);
                let reused = used.get(class).copied().unwrap_or(0);
                let credit = entry.present.first().map_or(0, |unit| unit.credit);
                let kept = Amount::try_from(reused.saturating_sub(entry.pinned())).unwrap_or(0);
                cost += kept * copies * (credit - self.supply.labour);
                if count == 0 {
                    continue;
                }
                let wanted = count.saturating_sub(reused).saturating_mul(self.supply.machines);
                let hand = self.at_hand(class, used);
                let Some(sourced) = sourcing::mixed(entry, wanted, &hand, &usable, budget)? else { break };
                cost += sourced.cost + self.supply.labour * Amount::try_from(wanted).unwrap_or(0);
                sources.push((class, sourced));
            }
            if sources.len() < counts.len() {
                continue;
            }
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
            cost += charges.iter().map(|(_, charge)| charge).sum::<Amount>();
            let rank = |cost: Amount, sources: &[(usize, Sourced<'a>)]| {
                (cost, self.parts(sources, used).len(), taken(sources), list(sources))
            };
            if best.as_ref().is_none_or(|(known, from, _)| rank(cost, &sources) < rank(*known, from)) {
                best = Some((cost, sources, charges));
            }
        }
        Ok(best)
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
pub(crate) fn list(sources: &[(usize, Sourced<'_>)]) -> Vec<(u8, Name, Reverse<usize>)> {
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
