use crate::finding::FactValue;
use crate::machine::Machine;
use crate::platform::UnlikeVoltages;
use crate::population::ModuleSite;
use crate::processor::MissingFact;
use crate::rule::standard::mix_bounds;
use crate::rule::{Form, Mix, MixBound};
use crate::stated::Demand;

/// Modules that differ in the lowest voltage at which they may run, where the board refuses them or advises
/// against them. Otherwise they merely run at a common one.
pub(super) fn form() -> Form {
    let key = |site: &ModuleSite<'_>| {
        let lowest = site.module.voltages().and_then(|voltages| voltages.iter().next());
        Ok(Some(FactValue::VoltageMv(lowest.ok_or(MissingFact::Voltages)?)))
    };
    Form::Mix(Mix { of: mix_bounds::of_modules(key), bounds: Box::new(bounds) })
}

fn bounds(machine: &Machine) -> Vec<MixBound> {
    let Some(policy) = &machine.platform().description().unlike_voltages else { return Vec::new() };
    let demand = match policy.value {
        UnlikeVoltages::Refused => Demand::Required,
        UnlikeVoltages::NotAdvised => Demand::Advised,
        UnlikeVoltages::Common => return Vec::new(),
    };
    vec![mix_bounds::one(mix_bounds::rate_scope(machine), &policy.with(demand))]
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::machine::Machine;
    use crate::module::{MemoryModule, Voltages};
    use crate::platform::{PlatformDescription, RatePolicy, UnlikeVoltages};
    use crate::processor::ProcessorDescription;
    use crate::stated::{Basis, Stated};
    use crate::testing::{self, board, by_socket, codes, in_every_channel, lacking, plain, processor, verdicts};
    use crate::unit::Voltage;

    fn low() -> MemoryModule {
        let voltages = Voltages::new([Voltage::V1_1, Voltage::V1_2]).unwrap();
        plain().to_builder().voltages(voltages).build().unwrap()
    }

    fn machine(policy: UnlikeVoltages, rate_policy: RatePolicy) -> Machine {
        let voltages = Voltages::new([Voltage::V1_1, Voltage::V1_2]).unwrap();
        let voltages_mv = Stated::new(voltages, Basis::DataSheet);
        let unlike_voltages = Some(Stated::new(policy, Basis::BoardManual));
        let board = PlatformDescription { unlike_voltages, rate_policy, ..board() };
        testing::machine(board, ProcessorDescription { voltages_mv, ..processor() })
    }

    #[test]
    fn what_the_board_says_counts() {
        let found = |policy| {
            let machine = machine(policy, RatePolicy::PerMachine);
            assert_eq!(codes(&machine, &in_every_channel(&machine, &[&low(), &low()])), [""; 0]);
            verdicts(&machine, &in_every_channel(&machine, &[&plain(), &low()]))
        };
        let broken = |severity| [(severity, Verdict::Violated, "voltage-mix".to_owned())];
        assert_eq!(found(UnlikeVoltages::Refused), broken(Severity::Error));
        assert_eq!(found(UnlikeVoltages::NotAdvised), broken(Severity::Warning));
        assert_eq!(found(UnlikeVoltages::Common), []);
    }

    #[test]
    fn voltages_meet_where_the_rate_is_one() {
        for (rate_policy, found) in [(RatePolicy::PerMachine, true), (RatePolicy::PerSocket, false)] {
            let machine = machine(UnlikeVoltages::Refused, rate_policy);
            let found_codes = codes(&machine, &by_socket(&machine, &[&plain()], &[&low()]));
            assert_eq!(found_codes == ["voltage-mix"], found, "{found_codes:?}");
            assert_eq!(found_codes.is_empty(), !found);
        }
    }

    #[test]
    fn missing_voltages_leave_it_open() {
        let machine = machine(UnlikeVoltages::Refused, RatePolicy::PerMachine);
        let bare = lacking(&plain(), &["voltages_mv"]);
        let found = verdicts(&machine, &in_every_channel(&machine, &[&plain(), &bare]));
        let open = |code: &str| (Severity::Warning, Verdict::Unknown, code.to_owned());
        assert!(found.contains(&open("voltage-mix")), "{found:?}");
        assert!(
            found.iter().all(|(severity, verdict, _)| *severity == Severity::Warning && *verdict == Verdict::Unknown)
        );
    }
}
