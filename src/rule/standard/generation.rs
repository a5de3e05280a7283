use crate::finding::{FactName, FactValue, Remedy};
use crate::population::ModuleSite;
use crate::rule::standard::site;
use crate::rule::{Form, Report};

/// A module is of the board's generation: the keys of others differ.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    let (found, allowed) = (site.module.generation(), site.machine.platform().generation());
    if site.is_live() && found != allowed {
        report.violation(|| {
            site::about(site)
                .fact(FactName::Found, FactValue::Generation(found))
                .fact(FactName::Allowed, FactValue::Generation(allowed))
                .remedy(Remedy::ReplaceModule)
        });
    }
}

#[cfg(test)]
mod tests {
    use crate::module::{DeviceWidth, FormFactor, Generation, MemoryModule, ModuleKind};
    use crate::testing::{self, in_every_channel, said};
    use crate::unit::{Capacity, DataRate};

    // an unbuffered one, of a voltage and a density that the processor does not take either
    #[test]
    fn a_module_of_another_generation_is_refused_for_that_alone() {
        let machine = testing::clean();
        let of = |generation: Generation, grade: DataRate| {
            let module = MemoryModule::builder(generation, ModuleKind::Unbuffered, Capacity::from_gib(16));
            module.form_factor(FormFactor::Dimm).package_ranks(1).width(DeviceWidth::X8).grade(grade).build().unwrap()
        };
        for (generation, grade) in [(Generation::Ddr3, DataRate::DDR3_1600), (Generation::Ddr5, DataRate::DDR5_4800)] {
            let population = in_every_channel(&machine, &[&of(generation, grade)]);
            assert_eq!(testing::codes(&machine, &population), ["generation"]);
            assert_eq!(said(&machine, &population), ["error generation"]);
            let finding = testing::findings(&machine, &population).remove(0).to_string();
            assert!(finding.contains(&format!("; found {generation}; allowed DDR4)")), "{finding}");
        }
    }
}
