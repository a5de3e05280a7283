use crate::finding::{FactName, FactValue, Place};
use crate::population::Layout;
use crate::rule::{Detail, Form, Report};

/// The board accepts the processors that it names. A fact of the machine, whatever memory it holds.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    let machine = layout.machine();
    let Some(accepted) = &machine.platform().description().accepted_processors else { return };
    for (socket, processor) in machine.processors().filter(|(_, processor)| !accepted.value.contains(processor.name()))
    {
        report.stated(accepted, || {
            Detail::at(Place::socket(machine.platform(), socket))
                .fact(FactName::Found, FactValue::Text(processor.name().clone()))
                .fact(FactName::Allowed, FactValue::list(accepted.value.iter().cloned().map(FactValue::Text)))
        });
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::platform::PlatformDescription;
    use crate::stated::{Basis, Stated};
    use crate::testing::{board, clean_population, machine, name, processor, verdicts};

    #[test]
    fn a_processor_that_is_not_named() {
        let found = |names: &[&str], basis| {
            let names = names.iter().map(|text| name(text)).collect();
            let accepted_processors = Some(Stated::new(names, basis));
            let machine = machine(PlatformDescription { accepted_processors, ..board() }, processor());
            verdicts(&machine, &clean_population(&machine))
        };
        let broken = |severity| [(severity, Verdict::Violated, "processor-accepted".to_owned())];
        assert_eq!(found(&["other", "proc"], Basis::BoardManual), []);
        assert_eq!(found(&["other"], Basis::BoardManual), broken(Severity::Error));
        assert_eq!(found(&["other"], Basis::MakersList), broken(Severity::Warning));
    }
}
