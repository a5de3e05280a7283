use crate::finding::{FactName, FactValue, Place};
use crate::population::Layout;
use crate::rule::{Detail, Form, Report};
use crate::stated::Demand;

/// A mode may be offered with some processors only.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    let machine = layout.machine();
    let Some(mode) = machine.mode_description() else { return };
    let Some(names) = &mode.processors else { return };
    for (id, processor) in machine.processors().filter(|(_, processor)| !names.contains(processor.name())) {
        report.grounded((mode.basis, mode.source.as_ref()), Demand::Required, || {
            Detail::at(Place::socket(machine.platform(), id))
                .fact(FactName::Found, FactValue::Text(processor.name().clone()))
                .fact(FactName::Allowed, FactValue::list(names.iter().cloned().map(FactValue::Text)))
                .fact(FactName::AskedBy, FactValue::Text(mode.name.clone()))
        });
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use crate::platform::{Mode, PlatformDescription, Redundancy, Settings};
    use crate::stated::Basis;
    use crate::testing::{board, clean_population, codes, machine, name, processor};

    #[test]
    fn a_mode_of_other_processors() {
        let found = |offered: &str| {
            let mut mode = Mode::new(name("spare"), Redundancy::RankSparing { spare_ranks: 1 }, Basis::BoardManual);
            mode.processors = Some(BTreeSet::from([name(offered)]));
            let default_settings = Settings { mode: Some(name("spare")), ..Settings::default() };
            let machine = machine(PlatformDescription { modes: vec![mode], default_settings, ..board() }, processor());
            codes(&machine, &clean_population(&machine))
        };
        assert_eq!(found("proc"), [""; 0]);
        assert_eq!(found("large"), ["mode-not-offered"]);
    }
}
