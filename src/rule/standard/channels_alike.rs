use crate::machine::Machine;
use crate::rule::standard::{load_key, mix_bounds};
use crate::rule::{Form, Mix, MixBound, MixOf};
use crate::stated::{Demand, Scope, Stated};

/// The same load in every populated channel of a processor: it should be so, or must where the board says
/// so.
pub(super) fn form() -> Form {
    Form::Mix(Mix { of: MixOf::Loads(Box::new(load_key::of)), bounds: Box::new(bounds) })
}

fn bounds(machine: &Machine) -> Vec<MixBound> {
    let policy = machine.platform().channels_alike.clone().unwrap_or(Stated::assumed(Demand::Advised));
    vec![mix_bounds::one(Scope::Socket, &policy)]
}

#[cfg(test)]
mod tests {
    use crate::finding::{Place, Severity, Verdict};
    use crate::machine::Machine;
    use crate::module::MemoryModule;
    use crate::platform::PlatformDescription;
    use crate::population::Population;
    use crate::stated::{Basis, Demand, Stated};
    use crate::testing::{
        self, board, clean, clean_population, codes, findings, lacking, module, name, plain, population, processor,
        verdicts,
    };

    /// A second module in channel A of both processors.
    fn uneven(machine: &Machine, second: &MemoryModule) -> Population {
        ["1A2", "2A2"].iter().fold(clean_population(machine), |all, slot| all.with(name(slot), second.clone()))
    }

    fn machine(demand: Demand, basis: Basis) -> Machine {
        let channels_alike = Some(Stated::new(demand, basis));
        testing::machine(PlatformDescription { channels_alike, ..board() }, processor())
    }

    #[test]
    fn uneven_channels() {
        let found = |machine: &Machine| verdicts(machine, &uneven(machine, &plain()));
        let broken = |severity| [(severity, Verdict::Violated, "channels-alike".to_owned())];
        assert_eq!(found(&clean()), broken(Severity::Warning));
        assert_eq!(found(&machine(Demand::Advised, Basis::BoardManual)), broken(Severity::Warning));
        assert_eq!(found(&machine(Demand::Required, Basis::BoardManual)), broken(Severity::Error));
        assert_eq!(found(&machine(Demand::Required, Basis::MakersList)), broken(Severity::Warning));
        let findings = findings(&clean(), &uneven(&clean(), &plain()));
        assert_eq!(findings[0].places, [Place::Channel { socket: name("1"), channel: name("A") }]);
        assert_eq!(
            findings[0].to_string(),
            "warning channels-alike: the populated channels of a processor do not hold the same \
             (channel A of processor 1; found 2 x 32 GB 2Rx4; elsewhere 32 GB 2Rx4); \
             put like modules into 1B2, 1C2, 1D2 [assumed]"
        );
    }

    #[test]
    fn empty_channels_and_grades_are_no_matter() {
        let slow = module("32GB 2Rx4 PC4-2133P-RB1-10");
        let two = population(&[("1A1", &plain()), ("1B1", &slow), ("2A1", &plain()), ("2B1", &slow)]);
        assert!(!codes(&clean(), &two).contains(&"channels-alike".to_owned()));
    }

    #[test]
    fn equal_modules_are_alike_whatever_is_not_known_of_them() {
        let bare = lacking(&plain(), &["width"]);
        let machine = machine(Demand::Required, Basis::BoardManual);
        let all = |module: &MemoryModule| testing::in_every_channel(&machine, &[module]);
        assert_eq!(codes(&machine, &all(&bare)), [""; 0]);
    }
}
