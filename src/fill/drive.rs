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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assess::Planner;
    use crate::fill::ArrangeRequest;
    use crate::module::{Generation, ModuleKind};
    use crate::platform::{PlatformDescription, UnlikeGrades};
    use crate::processor::{ModulePattern, ProcessorDescription, RateTable};
    use crate::reference;
    use crate::rule::RuleBook;
    use crate::stated::{Basis, Stated};
    use crate::testing::{board_of, machine, module};
    use crate::unit::DataRate;

    /// A machine of two processors with one channel of three slots each, slower at the lower voltage, which bars a third module.
    fn barred_lower(unlike_grades: Option<UnlikeGrades>) -> crate::machine::Machine {
        let (fast, slow) = (Some(DataRate::DDR3_1866), Some(DataRate::DDR3_1600));
        let registered = ModulePattern::kind(ModuleKind::Registered);
        let table = RateTable::new(Basis::BoardManual);
        let table = table.by_load_at(Voltage::V1_5, &registered, &[fast; 3]);
        let table = table.by_load_at(Voltage::V1_35, &registered, &[slow, slow, None]);
        let (kinds, max) = ([ModuleKind::Registered], DataRate::DDR3_1866);
        let plain =
            ProcessorDescription::new(crate::testing::name("proc"), Generation::Ddr3, kinds, max, Basis::BoardManual);
        let voltages = Voltages::new([Voltage::V1_35, Voltage::V1_5]).unwrap();
        let processor = ProcessorDescription {
            voltages_mv: Stated::new(voltages, Basis::BoardManual),
            rate_table: Some(table),
            ..plain
        };
        let board = PlatformDescription {
            generation: Generation::Ddr3,
            unlike_grades: unlike_grades.map(|policy| Stated::new(policy, Basis::BoardManual)),
            ..board_of(2, 1, 3)
        };
        machine(board, processor)
    }

    fn filled(machine: &crate::machine::Machine, pieces: &[(&str, usize)]) -> (Vec<String>, Option<DataRate>) {
        let rules = RuleBook::standard();
        let planner = Planner::new(machine, &rules);
        let found = planner.arrange(pieces.iter().map(|&(label, count)| (module(label), count))).unwrap();
        let legal = found.best().unwrap();
        (legal.population.modules().map(|(slot, _)| slot.to_string()).collect(), legal.running_rate())
    }

    const SMALL: &str = "8GB 2Rx4 PC3L-14900R-13-13-E2";
    const LARGE: &str = "16GB 2Rx4 PC3L-12800R-11-13-E2";

    /// Three modules in a channel take the whole to the higher voltage, which is faster: that comes before balance.
    #[test]
    fn a_barred_load_takes_the_whole_to_the_higher_voltage() {
        let found = filled(&barred_lower(None), &[(SMALL, 4)]);
        let slots = ["1A1", "1A2", "1A3", "2A1"];
        assert_eq!(found, (slots.map(str::to_owned).to_vec(), Some(DataRate::DDR3_1866)));
    }

    /// At either voltage the policy for unlike grades lowers the whole to one rate: then fill order decides between them.
    #[test]
    fn placings_at_unlike_voltages_compare() {
        let found =
            filled(&barred_lower(Some(UnlikeGrades::LowerToMts(DataRate::DDR3_1066))), &[(SMALL, 3), (LARGE, 1)]);
        let slots = ["1A1", "1A2", "2A1", "2A2"];
        assert_eq!(found, (slots.map(str::to_owned).to_vec(), Some(DataRate::DDR3_1066)));
    }

    /// A million nodes were not enough where loads were judged at the voltage that suits each best.
    #[test]
    fn a_third_module_in_a_channel_takes_few_nodes() {
        let machine = crate::machine::Machine::builder(reference::ddr3_2s_4ch_3spc());
        let machine = machine.processor_named("1", "later").processor_named("2", "later").build().unwrap();
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let sorts = ["8GB 2Rx4 PC3L-12800R-11-11-A0", "16GB 2Rx4 PC3L-12800R-11-11-A0"].map(module);
        for small in 1..17 {
            let pieces = sorts.iter().cloned().zip([small, 17 - small]);
            let request = pieces
                .fold(ArrangeRequest::new().nodes(3_000), |request, (module, count)| request.piece(module, count));
            let found = planner.arrange_with(&request).unwrap();
            assert_eq!(found.best().unwrap().running_rate(), Some(DataRate::DDR3_1066), "{small}");
        }
    }
}
