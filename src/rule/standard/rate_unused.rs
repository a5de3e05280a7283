use crate::finding::{FactName, FactValue, Place};
use crate::population::Layout;
use crate::rule::standard::scopes;
use crate::rule::{Detail, Form, Report};

/// Modules of a higher grade than they run at: rate that was paid for and is not used.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    for domain in &report.running_rate(layout).domains {
        let Some(rate) = domain.rate_mts else { continue };
        let idle =
            || scopes::domain(layout, domain).filter(|site| site.module.grade().is_some_and(|grade| grade > rate));
        if idle().next().is_none() {
            continue;
        }
        report.violation(|| {
            let mut grades: Vec<_> = idle().filter_map(|site| site.module.grade()).collect();
            grades.sort_unstable();
            grades.dedup();
            let causes = domain.binding().map(|limit| FactValue::text(&limit.cause.to_string()));
            Detail::at_all(idle().map(|site| Place::slot(site.machine.platform(), site.slot)))
                .fact(FactName::Found, FactValue::list(grades.into_iter().map(FactValue::RateMts)))
                .fact(FactName::AtMost, FactValue::RateMts(rate))
                .fact(FactName::AskedBy, FactValue::list(causes))
        });
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::platform::{PlatformDescription, RatePolicy};
    use crate::testing::{
        board, by_socket, clean, codes, findings, in_every_channel, machine, module, plain, processor, verdicts,
    };

    #[test]
    fn grades_above_the_running_rate() {
        let fast = module("32GB 2Rx4 PC4-2666V-RB2-11");
        let all = in_every_channel(&clean(), &[&fast]);
        assert_eq!(verdicts(&clean(), &all), [(Severity::Note, Verdict::Violated, "rate-unused".to_owned())]);
        let found = findings(&clean(), &all);
        assert_eq!((found.len(), found[0].places.len()), (1, 8));
        let text = found[0].to_string();
        assert!(
            text.contains("found 2666 MT/s; at most 2400 MT/s; asked by the highest rate of processor proc"),
            "{text}"
        );
    }

    #[test]
    fn each_processor_may_have_its_own_rate() {
        let slow = module("32GB 2Rx4 PC4-2133P-RB1-10");
        let found = |rate_policy| {
            let machine = machine(PlatformDescription { rate_policy, ..board() }, processor());
            codes(&machine, &by_socket(&machine, &[&slow], &[&plain()]))
        };
        assert_eq!(found(RatePolicy::PerMachine), ["rate-unused"]);
        assert_eq!(found(RatePolicy::PerSocket), [""; 0]);
    }
}
