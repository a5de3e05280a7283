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
    let policy = machine.platform().description().sockets_alike.clone().unwrap_or(Stated::assumed(Demand::Advised));
    vec![mix_bounds::one(Scope::Machine, &policy)]
}

#[cfg(test)]
mod tests {
    use crate::finding::{Place, Severity, Verdict};
    use crate::machine::Machine;
    use crate::module::MemoryModule;
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

    /// A board whose second processor has one channel less.
    fn uneven_wiring(sockets_alike: Option<Stated<Demand>>) -> Machine {
        let mut board = PlatformDescription { sockets_alike, ..board() };
        board.sockets[1].controllers[0].channels.pop();
        testing::machine(board, processor())
    }

    #[test]
    fn processors_of_unlike_wiring_are_as_full_as_a_move_can_make_them() {
        let machine = uneven_wiring(None);
        let (plain, small) = (plain(), module("16GB 2Rx4 PC4-2400T-RA2-11"));
        let slots = |one: &[&str], two: &[&str], module: &MemoryModule| {
            let one = one.iter().map(|slot| (*slot, &plain));
            let fitted: Vec<_> = one.chain(two.iter().map(|slot| (*slot, module))).collect();
            codes(&machine, &population(&fitted)).contains(&"sockets-alike".to_owned())
        };
        // four and three channels, each with one
        let first = ["1A1", "1B1", "1C1", "1D1"];
        assert!(!slots(&first, &["2A1", "2B1", "2C1"], &plain));
        assert!(slots(&first, &["2A1", "2B1", "2C1"], &small));
        // of five a move would make four and four of twelve and nine slots: nearer
        assert!(slots(&["1A1", "1B1", "1C1", "1D1", "1A2", "1B2"], &["2A1"], &plain));
    }

    #[test]
    fn where_it_is_required_slots_are_compared_one_by_one() {
        let required = Stated::new(Demand::Required, Basis::BoardManual);
        let machine = testing::machine(PlatformDescription { sockets_alike: Some(required), ..board() }, processor());
        let plain = plain();
        let found = |fitted: &[(&str, &MemoryModule)]| {
            codes(&machine, &population(fitted)).contains(&"sockets-alike".to_owned())
        };
        assert!(!found(&[("1A1", &plain), ("2A1", &plain)]));
        assert!(found(&[("1A1", &plain), ("2B1", &plain)]));
        // a processor without memory is none that is exempt
        assert!(found(&[("1A1", &plain)]));
    }

    #[test]
    fn which_channels_and_an_empty_processor_are_no_matter() {
        let plain = plain();
        assert_eq!(codes(&clean(), &population(&[("1A1", &plain), ("2D1", &plain)])), [""; 0]);
        assert_eq!(codes(&clean(), &population(&[("1A1", &plain)])), ["socket-minimum"]);
    }
}
