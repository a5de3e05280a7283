use crate::machine::Machine;
use crate::rule::standard::{load_key, mix_bounds};
use crate::rule::{Form, Mix, MixBound, MixOf};
use crate::stated::{Demand, Scope, Stated};

/// The same memory at every processor: it should be so, or must where the board says so, and then slot by slot. Where it
/// should, which channels hold what is no matter; and processors of unlike wiring hold like modules in each round, as
/// many for their slots as a single move can make them. A processor without memory is spoken of by another rule.
pub(super) fn form() -> Form {
    Form::Mix(Mix { of: MixOf::Processors { fact: Box::new(load_key::of), by_slot: true }, bounds: Box::new(bounds) })
}

fn bounds(machine: &Machine) -> Vec<MixBound> {
    let policy = machine.platform().sockets_alike.clone().unwrap_or(Stated::assumed(Demand::Advised));
    vec![mix_bounds::one(Scope::Machine, &policy)]
}

#[cfg(test)]
mod tests {
    use crate::finding::{Place, Severity, Verdict};
    use crate::machine::Machine;
    use crate::platform::PlatformDescription;
    use crate::stated::{Basis, Demand, Stated};
    use crate::testing::{
        self, board, by_socket, clean, codes, findings, module, name, plain, population, processor, verdicts,
    };

    fn machine(demand: Demand, basis: Basis) -> Machine {
        let sockets_alike = Some(Stated::new(demand, basis));
        testing::machine(PlatformDescription { sockets_alike, ..board() }, processor())
    }

    #[test]
    fn unlike_processors_memory() {
        let found = |machine: &Machine| verdicts(machine, &by_socket(machine, &[&plain()], &[&plain(), &plain()]));
        let broken = |severity| [(severity, Verdict::Violated, "sockets-alike".to_owned())];
        assert_eq!(found(&clean()), broken(Severity::Warning));
        assert_eq!(found(&machine(Demand::Required, Basis::BoardManual)), broken(Severity::Error));
        assert_eq!(found(&machine(Demand::Required, Basis::MakersList)), broken(Severity::Warning));
        let sizes = by_socket(&clean(), &[&plain()], &[&module("16GB 2Rx4 PC4-2400T-RA2-11")]);
        let findings = findings(&clean(), &sizes);
        assert_eq!(findings.len(), 1);
        // of two sorts that are equally frequent, the first in order is the expected one
        assert_eq!(findings[0].places, [Place::Socket { socket: name("1") }]);
    }

    #[test]
    fn which_channels_and_an_empty_processor_are_no_matter() {
        let plain = plain();
        assert_eq!(codes(&clean(), &population(&[("1A1", &plain), ("2D1", &plain)])), [""; 0]);
        assert_eq!(codes(&clean(), &population(&[("1A1", &plain)])), ["socket-minimum"]);
    }
}
