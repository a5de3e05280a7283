use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::{Content, Layout};
use crate::rule::{Detail, Form, Report};

/// A module that has failed, or is suspect, counts for nothing; it is to be pulled.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    let platform = layout.machine().platform();
    for slot in platform.slot_ids() {
        let Content::Faulty(module, fault) = layout.get(slot) else { continue };
        report.violation(|| {
            Detail::at(Place::slot(platform, slot))
                .fact(FactName::Module, FactValue::text(&module.to_string()))
                .fact(FactName::Found, FactValue::text(&fault.to_string()))
                .remedy(Remedy::RemoveModule)
        });
    }
}

#[cfg(test)]
mod tests {
    use crate::population::{Fault, Fitted, Layout, Occupant};
    use crate::testing::{self, name};

    #[test]
    fn a_faulty_module_counts_for_nothing() {
        let machine = testing::clean();
        let clean = testing::clean_population(&machine);
        let counted = |population: &_| Layout::new(&machine, population).unwrap().modules().count();
        for (fault, text) in [(Fault::Failed, "failed"), (Fault::Suspect, "suspect")] {
            let mut population = clean.clone();
            population.put(name("1A2"), Occupant::Module(Fitted::new(testing::quad()).fault(fault)));
            // its ranks and its size are no matter
            assert_eq!(testing::codes(&machine, &population), ["faulty-module"]);
            assert_eq!(counted(&population), counted(&clean));
            let finding = testing::findings(&machine, &population).remove(0).to_string();
            assert!(finding.starts_with("error faulty-module: the module is faulty (slot 1A2; "), "{finding}");
            assert!(finding.contains(text), "{finding}");
        }
    }
}
