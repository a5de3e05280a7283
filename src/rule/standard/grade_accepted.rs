use crate::finding::{FactName, FactValue, Remedy};
use crate::population::ModuleSite;
use crate::processor::MissingFact;
use crate::rule::standard::site;
use crate::rule::{Form, Report};
use crate::stated::Demand;

/// A board may take modules up to a grade only; slower ones than it runs at are no matter.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    let highest = site.machine.platform().description().highest_grade_mts.as_ref();
    let Some(highest) = highest.filter(|_| site::judged_by(site).is_some()) else { return };
    match site.module.grade() {
        None => report.unknown_bound((highest.basis, Demand::Required), MissingFact::Grade, || vec![site::place(site)]),
        Some(grade) if grade > highest.value => report.stated(highest, || {
            site::about(site)
                .fact(FactName::Found, FactValue::RateMts(grade))
                .fact(FactName::AtMost, FactValue::RateMts(highest.value))
                .remedy(Remedy::ReplaceModule)
        }),
        Some(_) => {}
    }
}

#[cfg(test)]
mod tests {
    use crate::assess::Planner;
    use crate::machine::Machine;
    use crate::platform::PlatformDescription;
    use crate::rule::RuleBook;
    use crate::stated::{Basis, Stated};
    use crate::testing::{self, findings, in_every_channel, lacking, module, plain, said};
    use crate::unit::DataRate;

    fn machine(basis: Basis) -> Machine {
        let highest_grade_mts = Some(Stated::new(DataRate::DDR4_2133, basis));
        testing::machine(PlatformDescription { highest_grade_mts, ..testing::board() }, testing::processor())
    }

    #[test]
    fn modules_of_a_higher_grade_are_refused() {
        let strict = machine(Basis::BoardManual);
        let fitting = module("32GB 2Rx4 PC4-2133P-RB1-10");
        assert!(said(&strict, &in_every_channel(&strict, &[&fitting])).is_empty());
        let fast = in_every_channel(&strict, &[&plain()]);
        let text = findings(&strict, &fast)[0].to_string();
        assert!(
            text.starts_with("error grade-accepted: ") && text.contains("found 2400 MT/s; at most 2133 MT/s"),
            "{text}"
        );
        let listed = machine(Basis::MakersList);
        assert_eq!(said(&listed, &in_every_channel(&listed, &[&plain()])), ["warning grade-accepted"]);
    }

    #[test]
    fn an_unknown_grade() {
        let bare = lacking(&plain(), &["grade_mts"]);
        let said = |basis| {
            let machine = machine(basis);
            said(&machine, &in_every_channel(&machine, &[&bare]))
        };
        let rate = "warning rate-fact-missing unknown".to_owned();
        assert_eq!(said(Basis::BoardManual), ["warning grade-accepted unknown".to_owned(), rate.clone()]);
        assert_eq!(said(Basis::MakersList), [rate]);
    }

    #[test]
    fn what_a_board_can_give_is_of_modules_that_it_takes() {
        let machine = machine(Basis::BoardManual);
        let socket = machine.platform().socket_named("1").unwrap();
        assert_eq!(machine.best_rate(socket), Some(DataRate::DDR4_2133));
        let rules = RuleBook::standard();
        let ceiling = Planner::new(&machine, &rules).ceiling();
        assert!(ceiling.rows.iter().any(|row| row.rate_mts == DataRate::DDR4_2133));
        // nobody has tried faster ones, which is no ban
        let listed = super::tests::machine(Basis::MakersList);
        assert_eq!(listed.best_rate(socket), Some(DataRate::DDR4_2400));
    }
}
