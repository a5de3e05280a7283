use crate::finding::{FactName, FactValue, Place};
use crate::population::Layout;
use crate::rule::{Detail, Form, Report};
use crate::stated::{Demand, Stated};

/// All processors alike: they should be, or must where the board says so. A fact of the machine, whatever
/// memory it holds.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    let machine = layout.machine();
    let mut processors = machine.processors().map(|(_, processor)| processor);
    let Some(first) = processors.next() else { return };
    if processors.all(|processor| processor == first) {
        return;
    }
    let demand = machine.platform().description().processors_alike.clone().unwrap_or(Stated::assumed(Demand::Advised));
    report.demand(&demand, || {
        let names = machine.processors().map(|(_, processor)| FactValue::Text(processor.name().clone()));
        Detail::at_all(machine.processors().map(|(socket, _)| Place::socket(machine.platform(), socket)))
            .fact(FactName::Found, FactValue::list(names))
    });
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::machine::Machine;
    use crate::platform::PlatformDescription;
    use crate::processor::ProcessorDescription;
    use crate::stated::{Basis, Demand, Stated};
    use crate::testing::{board, clean_population, name, processor, verdicts};

    fn found(stated: Option<Stated<Demand>>, other: ProcessorDescription) -> Vec<(Severity, Verdict, String)> {
        let board = PlatformDescription { processors_alike: stated, ..board() }.build().unwrap();
        let machine = Machine::builder(board)
            .processor("1", processor().build().unwrap())
            .processor("2", other.build().unwrap())
            .build()
            .unwrap();
        verdicts(&machine, &clean_population(&machine))
    }

    #[test]
    fn unlike_processors() {
        let other = || ProcessorDescription { name: name("other"), ..processor() };
        let broken = |severity| [(severity, Verdict::Violated, "processors-alike".to_owned())];
        let demand = |demand, basis| Some(Stated::new(demand, basis));
        assert_eq!(found(None, processor()), []);
        assert_eq!(found(None, other()), broken(Severity::Warning));
        assert_eq!(found(demand(Demand::Advised, Basis::BoardManual), other()), broken(Severity::Warning));
        assert_eq!(found(demand(Demand::Required, Basis::BoardManual), other()), broken(Severity::Error));
        assert_eq!(found(demand(Demand::Required, Basis::MakersList), other()), broken(Severity::Warning));
    }
}
