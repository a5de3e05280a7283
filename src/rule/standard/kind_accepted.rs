use crate::finding::{FactName, FactValue, Remedy};
use crate::population::ModuleSite;
use crate::rule::standard::site;
use crate::rule::{Form, Report};

/// A processor takes the kinds of module that its description lists. Kinds that no description lists are
/// refused by name all the same.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    let Some(processor) = site::judged_by(site) else { return };
    let (kinds, kind) = (&processor.description().kinds, site.module.kind());
    if !kinds.value.contains(&kind) {
        report.stated(kinds, || {
            site::about(site)
                .fact(FactName::Found, FactValue::Kind(kind))
                .fact(FactName::Allowed, FactValue::list(kinds.value.iter().map(|&kind| FactValue::Kind(kind))))
                .remedy(Remedy::ReplaceModule)
        });
    }
}

#[cfg(test)]
mod tests {
    use crate::module::ModuleKind;
    use crate::stated::Basis;
    use crate::testing::{self, in_every_channel, said};

    #[test]
    fn other_kinds_are_refused_by_name() {
        let machine = testing::clean();
        for &kind in ModuleKind::ALL {
            let facts = serde_json::to_value(testing::plain()).unwrap();
            let mut facts = facts.as_object().unwrap().clone();
            facts.insert("kind".to_owned(), kind.word().into());
            let module = serde_json::from_value(facts.into()).unwrap();
            let population = in_every_channel(&machine, &[&module]);
            if [ModuleKind::Registered, ModuleKind::LoadReduced].contains(&kind) {
                assert!(said(&machine, &population).is_empty());
            } else {
                assert_eq!(testing::codes(&machine, &population), ["kind-accepted"]);
                let finding = testing::findings(&machine, &population).remove(0).to_string();
                let text = format!(
                    "; found {kind}; allowed registered, load-reduced); take a module of another sort [data sheet]"
                );
                assert!(finding.starts_with("error") && finding.ends_with(&text), "{finding}");
            }
        }
    }

    #[test]
    fn a_list_of_what_was_tried_warns() {
        let mut processor = testing::processor();
        processor.kinds.value.remove(&ModuleKind::Registered);
        processor.kinds.basis = Basis::MakersList;
        let machine = testing::machine(testing::board(), processor);
        assert_eq!(said(&machine, &testing::clean_population(&machine)), ["warning kind-accepted"]);
    }
}
