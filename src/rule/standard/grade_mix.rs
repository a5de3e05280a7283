use crate::finding::FactValue;
use crate::machine::Machine;
use crate::platform::UnlikeGrades;
use crate::population::ModuleSite;
use crate::processor::MissingFact;
use crate::rule::standard::mix_bounds;
use crate::rule::{Form, Mix, MixBound};
use crate::stated::Demand;

/// Mixed grades where the board refuses them, or where nobody has tried them. Otherwise they merely run
/// at the lowest.
pub(super) fn form() -> Form {
    let key = |site: &ModuleSite<'_>| {
        let grade = site.module.grade().ok_or(MissingFact::Grade)?;
        Ok(Some(FactValue::RateMts(grade)))
    };
    Form::Mix(Mix { of: mix_bounds::of_modules(key), bounds: Box::new(bounds) })
}

fn bounds(machine: &Machine) -> Vec<MixBound> {
    let Some(policy) = &machine.platform().description().unlike_grades else { return Vec::new() };
    let demand = match policy.value {
        UnlikeGrades::Refused => Demand::Required,
        UnlikeGrades::NotValidated => Demand::Advised,
        UnlikeGrades::Lowest | UnlikeGrades::LowerToMts(_) => return Vec::new(),
    };
    vec![mix_bounds::one(mix_bounds::rate_scope(machine), &policy.with(demand))]
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::machine::Machine;
    use crate::platform::{PlatformDescription, RatePolicy, UnlikeGrades};
    use crate::processor::ProcessorDescription;
    use crate::stated::{Basis, Stated};
    use crate::testing::{
        self, board, by_socket, codes, in_every_channel, lacking, module, plain, processor, verdicts,
    };
    use crate::unit::DataRate;

    fn machine(policy: UnlikeGrades, basis: Basis, rate_policy: RatePolicy) -> Machine {
        let unlike_grades = Some(Stated::new(policy, basis));
        // no grade here is above what the processor runs at, so that none is paid for in vain
        let slow = Stated::new(DataRate::DDR4_2133, Basis::DataSheet);
        let processor = ProcessorDescription { max_rate_mts: slow, ..processor() };
        testing::machine(PlatformDescription { unlike_grades, rate_policy, ..board() }, processor)
    }

    fn severity(policy: UnlikeGrades, basis: Basis) -> Option<Severity> {
        let machine = machine(policy, basis, RatePolicy::PerMachine);
        let mixed = in_every_channel(&machine, &[&plain(), &module("32GB 2Rx4 PC4-2133P-RB1-10")]);
        let verdicts = verdicts(&machine, &mixed);
        assert!(
            verdicts.iter().all(|(_, _, code)| ["grade-mix", "rate-unused"].contains(&code.as_str())),
            "{verdicts:?}"
        );
        verdicts.into_iter().find(|(_, _, code)| code == "grade-mix").map(|(severity, _, _)| severity)
    }

    #[test]
    fn what_the_board_says_counts() {
        let lower = UnlikeGrades::LowerToMts(DataRate::DDR4_1866);
        assert_eq!(severity(UnlikeGrades::Refused, Basis::BoardManual), Some(Severity::Error));
        assert_eq!(severity(UnlikeGrades::Refused, Basis::MakersList), Some(Severity::Warning));
        assert_eq!(severity(UnlikeGrades::NotValidated, Basis::BoardManual), Some(Severity::Warning));
        assert_eq!(severity(UnlikeGrades::Lowest, Basis::BoardManual), None);
        assert_eq!(severity(lower, Basis::BoardManual), None);
    }

    #[test]
    fn grades_meet_where_the_rate_is_one() {
        let slow = module("32GB 2Rx4 PC4-2133P-RB1-10");
        for (rate_policy, found) in [(RatePolicy::PerMachine, true), (RatePolicy::PerSocket, false)] {
            let machine = machine(UnlikeGrades::Refused, Basis::BoardManual, rate_policy);
            let apart = by_socket(&machine, &[&plain()], &[&slow]);
            assert_eq!(codes(&machine, &apart).contains(&"grade-mix".to_owned()), found);
        }
    }

    #[test]
    fn a_missing_grade_leaves_it_open() {
        let bare = lacking(&plain(), &["grade_mts"]);
        let unknown = |policy| {
            let machine = machine(policy, Basis::BoardManual, RatePolicy::PerMachine);
            verdicts(&machine, &in_every_channel(&machine, &[&plain(), &bare]))
        };
        let open = |code: &str| (Severity::Warning, Verdict::Unknown, code.to_owned());
        // the rate needs the grade as well
        assert_eq!(unknown(UnlikeGrades::Refused), [open("grade-mix"), open("rate-fact-missing")]);
        assert_eq!(unknown(UnlikeGrades::NotValidated), [open("rate-fact-missing")]);
    }
}
