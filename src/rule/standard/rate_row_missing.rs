use crate::figure::RateObstacle;
use crate::population::Layout;
use crate::rule::standard::rate_tables;
use crate::rule::{Form, Report};

/// A load for which a rate table of the board or the processor has no row: its rate is not known.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    let rate = report.running_rate(layout);
    for obstacle in rate.domains.iter().flat_map(|domain| &domain.obstacles) {
        if let RateObstacle::NoRow { table, load, places } = obstacle {
            let grounds = rate_tables::grounds(layout.machine(), table);
            report.unjudged(grounds, || rate_tables::about(table, load, places));
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::module::ModuleKind;
    use crate::population::Layout;
    use crate::processor::{ModulePattern, ProcessorDescription, RateTable};
    use crate::rule::{RuleBook, RuleSettings};
    use crate::stated::Basis;
    use crate::testing::{board, codes, in_every_channel, machine, plain, processor, verdicts};
    use crate::unit::DataRate;

    #[test]
    fn a_load_without_a_row() {
        let registered = ModulePattern::kind(ModuleKind::Registered).ranks(2);
        let rate_table = Some(RateTable::new(Basis::DataSheet).by_load(&registered, &[Some(DataRate::DDR4_2400)]));
        let machine = machine(board(), ProcessorDescription { rate_table, ..processor() });
        assert_eq!(codes(&machine, &in_every_channel(&machine, &[&plain()])), [""; 0]);
        let two = in_every_channel(&machine, &[&plain(), &plain()]);
        assert_eq!(verdicts(&machine, &two), [(Severity::Warning, Verdict::Unknown, "rate-row-missing".to_owned())]);

        // an error on request
        let settings = RuleSettings { unknown_is_error: true, ..RuleSettings::default() };
        let strict = RuleBook::standard().with_settings(&settings).unwrap();
        let found = strict.check(&Layout::new(&machine, &two).unwrap());
        assert_eq!(
            found.iter().map(|f| (f.severity, f.verdict)).collect::<Vec<_>>(),
            [(Severity::Error, Verdict::Unknown)]
        );
        let text = found[0].to_string();
        assert!(text.contains("cannot be judged: ") && text.ends_with("[data sheet]"), "{text}");
    }
}
