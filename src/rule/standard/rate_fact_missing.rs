use crate::figure::RateObstacle;
use crate::finding::Place;
use crate::population::{Layout, ModuleSite};
use crate::processor::MissingFact;
use crate::rule::{Form, Report};

/// A fact that the running rate needs and a module lacks: its grade, or what tells which row of a rate
/// table speaks of it. Missing voltages are spoken of by the rule on the voltages of a module.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    let rate = report.running_rate(layout);
    for obstacle in rate.domains.iter().flat_map(|domain| &domain.obstacles) {
        match obstacle {
            RateObstacle::MissingFact { fact, places } if *fact != MissingFact::Voltages => {
                let platform = layout.machine().platform();
                let lacks = |site: &ModuleSite<'_>| places.contains(&Place::slot(platform, site.slot));
                report.look_at(layout.modules().filter(lacks)).unknown(*fact, || places.clone());
            }
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::module::{MemoryModule, ModuleKind};
    use crate::processor::{ModulePattern, ProcessorDescription, RateTable};
    use crate::stated::Basis;
    use crate::testing::{board, clean, codes, in_every_channel, lacking, machine, plain, processor, verdicts};
    use crate::unit::DataRate;

    fn open() -> [(Severity, Verdict, String); 1] {
        [(Severity::Warning, Verdict::Unknown, "rate-fact-missing".to_owned())]
    }

    #[test]
    fn no_grade() {
        let bare = lacking(&plain(), &["grade_mts"]);
        assert_eq!(verdicts(&clean(), &in_every_channel(&clean(), &[&bare])), open());
    }

    #[test]
    fn no_fact_that_tells_the_row() {
        let narrow = ModulePattern { width: plain().width(), ..ModulePattern::kind(ModuleKind::Registered) };
        let rate_table = Some(RateTable::new(Basis::DataSheet).by_load(&narrow, &[Some(DataRate::DDR4_2400)]));
        let machine = machine(board(), ProcessorDescription { rate_table, ..processor() });
        let all = |module: &MemoryModule| in_every_channel(&machine, &[module]);
        assert_eq!(codes(&machine, &all(&plain())), [""; 0]);
        assert_eq!(verdicts(&machine, &all(&lacking(&plain(), &["width"]))), open());
    }
}
