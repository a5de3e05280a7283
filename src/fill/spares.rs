//! How what loads spare is counted.

use std::collections::BTreeMap;

use crate::fill::loads::held;
use crate::fill::{ClassId, SlotModel, SpareIx};
use crate::search::{Budget, StopReason, Table};
use crate::unit::exact::gcd;

/// What loads spare where a mode spares ranks, as numbers that add up: in units of their common part, or as how many
/// channels spare each amount, whichever has fewer states.
pub(crate) struct Spares {
    /// What one of each sort is, in MiB, and how many there are at most; none where nothing is spared.
    sorts: Table<SpareIx, (u64, usize)>,
    /// Whether amounts are counted, and not units.
    by_amount: bool,
}

impl Spares {
    pub(crate) fn of(model: &SlotModel<'_>, classes: &[ClassId], budget: &mut Budget<'_>) -> Result<Self, StopReason> {
        // for each amount, how many channels can spare it
        let mut amounts: BTreeMap<u64, usize> = BTreeMap::new();
        let mut most = 0_u64;
        for channel in model.channels.ids().filter(|_| model.spares_ranks()) {
            let legal = model.legal_loads(channel, classes, budget)?;
            let spared =
                |load: &crate::fill::legal_loads::LegalLoad| held(model, &load.code).saturating_sub(load.facts.usable);
            let mut of_channel: Vec<u64> = legal.loads.iter().map(spared).filter(|&spared| spared > 0).collect();
            of_channel.sort_unstable();
            of_channel.dedup();
            most += of_channel.last().copied().unwrap_or(0);
            of_channel.into_iter().for_each(|amount| *amounts.entry(amount).or_default() += 1);
        }
        let unit = amounts.keys().fold(0, |unit, &amount| gcd(unit, amount));
        let Some(units) = most.checked_div(unit) else {
            return Ok(Self { sorts: Table::default(), by_amount: false });
        };
        let by_amount = amounts
            .values()
            .try_fold(1_u64, |all, &channels| all.checked_mul(u64::try_from(channels).ok()?.checked_add(1)?));
        Ok(match usize::try_from(units) {
            Ok(at_most) if by_amount.is_none_or(|states| states > units) => {
                Self { sorts: [(unit, at_most)].into_iter().collect(), by_amount: false }
            }
            _ => Self { sorts: amounts.into_iter().collect(), by_amount: true },
        })
    }

    /// How many of each sort there are at most.
    pub(crate) fn limits(&self) -> Table<SpareIx, usize> {
        self.sorts.values().iter().map(|&(_, at_most)| at_most).collect()
    }

    /// How many of each sort an amount is that some load spares.
    pub(crate) fn count(&self, spared: u64) -> Option<Table<SpareIx, usize>> {
        let count = |&(mib, _): &(u64, usize)| match self.by_amount {
            true => Some(usize::from(mib == spared)),
            false => usize::try_from(spared / mib).ok(),
        };
        self.sorts.values().iter().map(count).collect::<Option<Vec<_>>>().map(|counts| counts.into_iter().collect())
    }

    /// How much so many of each sort are, in MiB.
    pub(crate) fn amount(&self, count: impl Fn(SpareIx) -> usize) -> u64 {
        let amounts = self.sorts.iter().map(|(sort, &(mib, _))| Some(mib * u64::try_from(count(sort)).ok()?));
        // no state spares more than modules hold
        amounts.flatten().sum()
    }
}
