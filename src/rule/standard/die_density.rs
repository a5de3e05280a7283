use crate::finding::FactValue;
use crate::population::ModuleSite;
use crate::processor::MissingFact;
use crate::rule::standard::site;
use crate::rule::{Form, Report};

/// A processor addresses dies up to some density only.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    let Some(processor) = site::judged_by(site) else { return };
    let found = (site.module.die_density(), MissingFact::DieDensity);
    site::hold(site, processor.description().die_densities_mbit.as_ref(), found, FactValue::DensityMbit, report);
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use crate::module::{Ecc, FormFactor, Generation, MemoryModule, ModuleKind, Stack, Voltages};
    use crate::stated::{Basis, Stated};
    use crate::testing::{self, in_every_channel, said};
    use crate::unit::{Capacity, DataRate, Density, Voltage};

    fn machine(basis: Basis) -> crate::machine::Machine {
        let mut processor = testing::processor();
        processor.die_densities_mbit =
            Some(Stated::new(BTreeSet::from([Density::from_gbit(4), Density::from_gbit(8)]), basis));
        processor.rank_limits.clear();
        testing::machine(testing::board(), processor)
    }

    fn unmeasured() -> MemoryModule {
        let module = MemoryModule::builder(Generation::Ddr4, ModuleKind::Registered, Capacity::from_gib(32));
        let module = module.form_factor(FormFactor::Dimm).voltages(Voltages::only(Voltage::V1_2));
        module.grade(DataRate::DDR4_2400).stack(Stack::Single).ecc(Ecc::Ecc).build().unwrap()
    }

    #[test]
    fn dies_of_16_gigabits() {
        let machine = machine(Basis::DataSheet);
        assert!(said(&machine, &in_every_channel(&machine, &[&testing::plain()])).is_empty());
        assert_eq!(
            testing::codes(&machine, &in_every_channel(&machine, &[&testing::module("64GB 2Rx4 PC4-2400T-RB2-11")])),
            ["die-density"]
        );
        assert_eq!(
            said(&machine, &in_every_channel(&machine, &[&testing::module("64GB 2Rx4 PC4-2400T-RB2-11")])),
            ["error die-density"]
        );
        assert_eq!(said(&machine, &in_every_channel(&machine, &[&unmeasured()])), ["warning die-density unknown"]);
    }

    #[test]
    fn a_list_of_what_was_tried_warns() {
        let machine = machine(Basis::MakersList);
        assert_eq!(
            said(&machine, &in_every_channel(&machine, &[&testing::module("64GB 2Rx4 PC4-2400T-RB2-11")])),
            ["warning die-density"]
        );
    }
}
