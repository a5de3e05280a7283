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
    let policy = machine.platform().description().channels_alike.clone().unwrap_or(Stated::assumed(Demand::Advised));
    vec![mix_bounds::one(Scope::Socket, &policy)]
}

#[cfg(test)]
mod tests {
    use crate::finding::{Place, Remedy, Severity, Verdict};
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
    fn order_within_a_channel_and_unknown_facts_do_not_make_channels_unlike() {
        let (large, small) = (plain(), module("16GB 1Rx4 PC4-2400T-RC2-11"));
        let pair = |a, b, c, d| {
            let one = population(&[("1A1", a), ("1A2", b), ("1B1", c), ("1B2", d)]);
            let two = population(&[("2A1", a), ("2A2", b), ("2B1", c), ("2B2", d)]);
            let all = one.iter().chain(two.iter()).map(|(slot, occupant)| (slot.clone(), occupant.clone()));
            let found = findings(&clean(), &all.collect());
            found
                .into_iter()
                .filter(|finding| finding.code == "channels-alike")
                .map(|finding| finding.severity)
                .collect()
        };
        let found: Vec<Severity> = pair(&large, &small, &small, &large);
        assert_eq!(found, []);
        let found: Vec<Severity> = pair(&large, &large, &small, &small);
        assert_eq!(found, [Severity::Warning; 2]);
        // a width that is not known may be what makes all alike: a note
        let open = lacking(&large, &["width"]);
        let found: Vec<Severity> = pair(&large, &small, &open, &small);
        assert_eq!(found, [Severity::Note; 2]);
    }

    #[test]
    fn an_exchange_that_helps_is_named() {
        let (large, small) = (plain(), module("16GB 1Rx4 PC4-2400T-RC2-11"));
        let unlike = population(&[("1A1", &large), ("1A2", &large), ("1B1", &small), ("1B2", &small), ("2A1", &large)]);
        let found = findings(&clean(), &unlike);
        let found = found.iter().find(|finding| finding.code == "channels-alike").unwrap();
        let remedy = Remedy::Exchange { slots: vec![name("1A2")], with: vec![name("1B2")] };
        assert!(
            [Some(remedy), Some(Remedy::Exchange { slots: vec![name("1A1")], with: vec![name("1B1")] })]
                .contains(&found.remedy),
            "{found}"
        );
    }

    #[test]
    fn channels_that_the_mode_joins_are_one() {
        let machine = testing::mirrored(crate::platform::Identical::Capacity);
        let (plain, other) = (plain(), module("32GB 1Rx4 PC4-2400T-RC2-11"));
        // A with B, C with D: each pair holds one of both
        let pairs = |socket: char| {
            [("A1", &plain), ("B1", &other), ("C1", &other), ("D1", &plain)]
                .map(|(slot, module)| (format!("{socket}{slot}"), module))
        };
        let fitted = [pairs('1'), pairs('2')].concat();
        let fitted: Vec<_> = fitted.iter().map(|(slot, module)| (slot.as_str(), *module)).collect();
        assert!(!codes(&machine, &population(&fitted)).contains(&"channels-alike".to_owned()));
    }

    #[test]
    fn equal_modules_are_alike_whatever_is_not_known_of_them() {
        let bare = lacking(&plain(), &["width"]);
        let machine = machine(Demand::Required, Basis::BoardManual);
        let all = |module: &MemoryModule| testing::in_every_channel(&machine, &[module]);
        assert_eq!(codes(&machine, &all(&bare)), [""; 0]);
    }
}
