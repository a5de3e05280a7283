use crate::rule::{CountBound, CountSet, Form};
use crate::stated::{Demand, Scope, Stated};

/// Each processor needs a module of its own: it should have one, or must where the board says so.
pub(super) fn form() -> Form {
    Form::Count(Box::new(|machine| {
        let stated =
            machine.platform().description().memory_per_processor.clone().unwrap_or(Stated::assumed(Demand::Advised));
        let bound = CountBound::new(Scope::Socket, CountSet::AtLeast(1));
        vec![CountBound { demand: stated.value, basis: stated.basis, source: stated.source, ..bound }]
    }))
}

#[cfg(test)]
mod tests {
    use crate::finding::{Place, Severity, Verdict};
    use crate::machine::Machine;
    use crate::platform::PlatformDescription;
    use crate::stated::{Basis, Demand, Stated};
    use crate::testing::{self, board, clean, codes, findings, name, plain, population, processor, verdicts};

    fn machine(demand: Demand, basis: Basis) -> Machine {
        let memory_per_processor = Some(Stated::new(demand, basis));
        testing::machine(PlatformDescription { memory_per_processor, ..board() }, processor())
    }

    #[test]
    fn a_processor_without_memory() {
        let one = population(&[("1A1", &plain())]);
        let broken = |severity| [(severity, Verdict::Violated, "socket-minimum".to_owned())];
        assert_eq!(verdicts(&clean(), &one), broken(Severity::Warning));
        assert_eq!(verdicts(&machine(Demand::Required, Basis::BoardManual), &one), broken(Severity::Error));
        assert_eq!(verdicts(&machine(Demand::Required, Basis::MakersList), &one), broken(Severity::Warning));
        assert_eq!(findings(&clean(), &one)[0].places, [Place::Socket { socket: name("2") }]);
    }

    #[test]
    fn a_socket_without_a_processor_needs_none() {
        let machine = Machine::builder(board().build().unwrap()).processor("1", processor().build().unwrap());
        assert_eq!(codes(&machine.build().unwrap(), &population(&[("1A1", &plain())])), [""; 0]);
    }
}
