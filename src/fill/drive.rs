//! The voltage that all memory is driven at: decided before any load, so that what each load comes to is exact.

use itertools::Itertools;

use crate::fill::load_facts::LoadFacts;
use crate::fill::{ClassId, Level, LowerIx, SlotModel};
use crate::module::Voltages;
use crate::platform::RatePolicy;
use crate::search::Table;
use crate::unit::Voltage;

/// What the memory of a placing is driven at.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Drive<'v> {
    /// Not decided: each load counts at the voltage that suits it best.
    Hoped,
    /// The last of these voltages, which suit all modules and processors. At each lower one a table must bar some load, or
    /// that would be taken.
    At(&'v [Voltage]),
}

impl<'v> Drive<'v> {
    /// The voltages below that which is driven at.
    pub(crate) fn lower(self) -> &'v [Voltage] {
        match self {
            Self::Hoped => &[],
            Self::At(voltages) => voltages.split_last().map_or(&[], |(_, lower)| lower),
        }
    }

    /// The highest step of a load; `None` where it cannot be driven so.
    pub(crate) fn level(self, load: &LoadFacts) -> Option<Level> {
        let Self::At(&[.., voltage]) = self else { return Some(load.level) };
        if load.driven.is_empty() {
            return Some(load.level);
        }
        let driven = load.driven_at(voltage).filter(|driven| !driven.is_refused)?;
        // where every voltage is barred for some load the lowest is taken, and there is no rate
        (self.lower().is_empty() || !driven.is_barred).then_some(driven.level)
    }

    /// Whether a table bars a load at the voltage that is driven at.
    pub(crate) fn is_barred(self, load: &LoadFacts) -> bool {
        match self {
            Self::At(&[.., voltage]) => is_barred(load, voltage),
            _ => false,
        }
    }

    /// Every way to count at which of the lower voltages a load is barred: at some of those at which it is.
    pub(crate) fn barred_lower(self, load: &LoadFacts) -> Vec<Table<LowerIx, usize>> {
        let lower = self.lower().iter().map(|&voltage| 0..=usize::from(is_barred(load, voltage)));
        lower.multi_cartesian_product().map(|barred| barred.into_iter().collect()).collect()
    }
}

fn is_barred(load: &LoadFacts, voltage: Voltage) -> bool {
    load.driven_at(voltage).is_some_and(|driven| driven.is_barred)
}

impl SlotModel<'_> {
    /// The voltages, the lowest first, one of which all modules of these classes are driven at together; `None` where it is
    /// not known that there is one.
    pub(crate) fn common_voltages(&self, classes: &[ClassId]) -> Option<Vec<Voltage>> {
        let mut known = classes.iter().map(|&class| self.classes.get(class)?.voltages());
        let first = known.next()??;
        let others: Vec<&Voltages> = known.collect::<Option<_>>()?;
        let supplied = |voltage: &Voltage| {
            self.machine.processors().all(|(_, processor)| self.machine.supplies(processor, *voltage))
        };
        let suits = |voltage: &Voltage| others.iter().all(|own| own.contains(*voltage)) && supplied(voltage);
        let voltages: Vec<Voltage> = first.iter().filter(suits).collect();
        let is_one = || first.iter().count() == 1 && others.iter().all(|own| *own == first);
        let is_common = match self.machine.platform().description().rate_policy {
            RatePolicy::PerMachine => !voltages.is_empty(),
            // a processor's modules alone may have more in common
            RatePolicy::PerSocket => !voltages.is_empty() && is_one(),
        };
        is_common.then_some(voltages)
    }
}
