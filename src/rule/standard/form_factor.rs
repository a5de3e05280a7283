use crate::finding::{FactName, FactValue, Remedy};
use crate::population::ModuleSite;
use crate::processor::MissingFact;
use crate::rule::standard::site;
use crate::rule::{Form, Report};

/// A module has the form factor of its slot. The first refusal: such a module does not go in at all.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    if !site.is_live() {
        return;
    }
    let allowed = site.slot().description().form_factor;
    match site.module.form_factor() {
        None => {
            let fits = site.runs_in().is_some_and(|there| there.description().form_factor == allowed);
            report.unknown_unless(fits, MissingFact::FormFactor, || vec![site::place(site)]);
        }
        Some(found) if found != allowed => report.violation(|| {
            site::about(site)
                .fact(FactName::Found, FactValue::FormFactor(found))
                .fact(FactName::Allowed, FactValue::FormFactor(allowed))
                .remedy(Remedy::ReplaceModule)
        }),
        Some(_) => {}
    }
}

#[cfg(test)]
mod tests {
    use crate::module::{Ecc, FormFactor, Generation, MemoryModule, ModuleKind};
    use crate::testing::{self, in_every_channel, population, said};
    use crate::unit::{Capacity, DataRate};

    #[test]
    fn a_small_outline_module() {
        let machine = testing::clean();
        let small = testing::plain().to_builder().form_factor(FormFactor::SoDimm).build().unwrap();
        let population = in_every_channel(&machine, &[&small]);
        assert_eq!(testing::codes(&machine, &population), ["form-factor"]);
        let finding = testing::findings(&machine, &population).remove(0).to_string();
        assert!(finding.starts_with("error") && finding.contains("; found SO-DIMM; allowed DIMM)"), "{finding}");

        let mut board = testing::board();
        testing::slots_mut(&mut board).for_each(|slot| slot.form_factor = FormFactor::SoDimm);
        let machine = testing::machine(board, testing::processor());
        assert!(said(&machine, &in_every_channel(&machine, &[&small])).is_empty());
        assert_eq!(testing::codes(&machine, &testing::clean_population(&machine)), ["form-factor"]);
    }

    #[test]
    fn a_module_of_unknown_form() {
        let machine = testing::clean();
        let unknown = testing::plain().to_builder().form_factor(None).build().unwrap();
        let population = in_every_channel(&machine, &[&unknown]);
        assert_eq!(said(&machine, &population), ["warning form-factor unknown"]);
        let finding = testing::findings(&machine, &population).remove(0).to_string();
        assert!(finding.contains("form factor"), "{finding}");
    }

    // what runs is of its slot's form
    #[test]
    fn a_module_of_unknown_form_that_runs() {
        let mut board = testing::board();
        testing::slots_mut(&mut board).find(|slot| slot.label == *"1B1").unwrap().form_factor = FormFactor::SoDimm;
        let machine = testing::machine(board, testing::processor());
        let unknown = testing::plain().to_builder().form_factor(None).build().unwrap();
        let running = population(&[("1A1", &unknown)]).as_it_runs(&machine).unwrap();
        let module = running.modules().next().unwrap().1.module.clone();
        let told = |slot: &str| {
            let mut said = said(&machine, &population(&[(slot, &module)]));
            said.retain(|said| said.contains("form-factor"));
            said
        };
        assert_eq!(told("1A1"), ["note form-factor"]);
        assert_eq!(told("1C1"), ["note form-factor"]);
        assert_eq!(told("1B1"), ["warning form-factor unknown"]);
    }

    // before kind: what does not go in is not judged further
    #[test]
    fn the_first_refusal() {
        let mut processor = testing::processor();
        processor.rank_limits.clear();
        let machine = testing::machine(testing::board(), processor);
        let laptop = MemoryModule::builder(Generation::Ddr4, ModuleKind::Unbuffered, Capacity::from_gib(32));
        let laptop = laptop.form_factor(FormFactor::SoDimm).ecc(Ecc::None).grade(DataRate::DDR4_2400).build().unwrap();
        assert_eq!(said(&machine, &in_every_channel(&machine, &[&laptop])), ["error form-factor"]);
    }
}
