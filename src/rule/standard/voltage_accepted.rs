use crate::finding::{FactName, FactValue, Remedy};
use crate::population::ModuleSite;
use crate::processor::MissingFact;
use crate::rule::standard::site;
use crate::rule::{Form, Report};

/// A module needs a voltage that its processor's memory can be supplied with: the one that is set, where one is. Whether all modules have
/// one in common is another rule's matter.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    let Some(processor) = site::judged_by(site) else { return };
    let (limit, set) = (&processor.description().voltages_mv, site.machine.settings().voltage_mv);
    match site.module.voltages() {
        None => report.unknown(MissingFact::Voltages, || vec![site::place(site)]),
        Some(voltages) if set.is_some_and(|set| !voltages.contains(set)) => report.violation(|| {
            let set = set.map(FactValue::VoltageMv);
            let detail = site::about(site).fact(FactName::Found, FactValue::VoltagesMv(voltages.clone()));
            let detail = set.into_iter().fold(detail, |detail, set| detail.fact(FactName::Allowed, set));
            detail.fact(FactName::AskedBy, FactValue::text("the voltage set")).remedy(Remedy::ReplaceModule)
        }),
        Some(voltages) if !voltages.iter().any(|voltage| limit.value.contains(voltage)) => report.stated(limit, || {
            site::about(site)
                .fact(FactName::Found, FactValue::VoltagesMv(voltages.clone()))
                .fact(FactName::Allowed, FactValue::VoltagesMv(limit.value.clone()))
                .remedy(Remedy::ReplaceModule)
        }),
        Some(_) => {}
    }
}

#[cfg(test)]
mod tests {
    use crate::assess::Planner;
    use crate::figure::RunningRate;
    use crate::machine::{Machine, MachineError};
    use crate::module::{MemoryModule, ModuleKind, Voltages};
    use crate::platform::Settings;
    use crate::population::Layout;
    use crate::processor::{ModulePattern, ProcessorDescription, RateTable};
    use crate::rule::RuleBook;
    use crate::stated::{Basis, Stated};
    use crate::testing::{self, in_every_channel, said};
    use crate::unit::{DataRate, Voltage};

    #[test]
    fn a_module_needs_a_voltage_of_the_processor() {
        let machine = testing::clean();
        let at = |voltages: &[Voltage]| {
            let voltages = Voltages::new(voltages.iter().copied()).unwrap();
            testing::plain().to_builder().voltages(voltages).build().unwrap()
        };
        let both = at(&[Voltage::V1_35, Voltage::V1_2]);
        assert!(said(&machine, &in_every_channel(&machine, &[&both])).is_empty());
        let high = in_every_channel(&machine, &[&at(&[Voltage::V1_35])]);
        assert_eq!(testing::codes(&machine, &high), ["voltage-accepted"]);
        let finding = testing::findings(&machine, &high).remove(0).to_string();
        assert!(finding.starts_with("error") && finding.contains("; found 1.35 V; allowed 1.2 V)"), "{finding}");
    }

    /// The clean machine at a voltage, with a processor that supplies two, the lower one at a lower rate for two a channel
    /// and not at all for three.
    fn set_to(voltage: Option<Voltage>) -> Result<Machine, MachineError> {
        let registered = ModulePattern::kind(ModuleKind::Registered);
        let (fast, slow) = (Some(DataRate::DDR4_2400), Some(DataRate::DDR4_2133));
        let table = RateTable::new(Basis::DataSheet).by_load(&registered, &[fast, fast, fast]);
        let table = table.by_load_at(Voltage::V1_1, &registered, &[fast, slow, None]);
        let voltages = Voltages::new([Voltage::V1_1, Voltage::V1_2]).unwrap();
        let processor = ProcessorDescription {
            voltages_mv: Stated::new(voltages, Basis::DataSheet),
            rate_table: Some(table),
            ..testing::processor()
        };
        let processor = processor.build().unwrap();
        Machine::builder(testing::board().build().unwrap())
            .processor("1", processor.clone())
            .processor("2", processor)
            .settings(Settings { voltage_mv: voltage, ..Settings::default() })
            .build()
    }

    #[test]
    fn memory_runs_at_the_voltage_that_is_set() {
        let both = Voltages::new([Voltage::V1_1, Voltage::V1_2]).unwrap();
        let both = testing::plain().to_builder().voltages(both).build().unwrap();
        let runs = |voltage, modules: &[&MemoryModule]| {
            let machine = set_to(voltage).unwrap();
            let population = in_every_channel(&machine, modules);
            let found = said(&machine, &population);
            let rate = RunningRate::of(&Layout::new(&machine, &population).unwrap()).domains.remove(0);
            (rate.voltage.voltage_mv, rate.rate_mts, found, rate.to_string())
        };
        let two = [&both, &both];
        // the lowest by itself, the higher one and its rate where that is set
        let (voltage, rate, found, text) = runs(None, &two);
        assert_eq!((voltage, rate), (Some(Voltage::V1_1), Some(DataRate::DDR4_2133)));
        assert_eq!(found, ["note rate-unused"]);
        assert!(text.contains("registered modules, 2 a channel at 1.1 V, by the table of processor proc"), "{text}");
        let (voltage, rate, found, _) = runs(Some(Voltage::V1_2), &two);
        assert_eq!((voltage, rate, found.len()), (Some(Voltage::V1_2), Some(DataRate::DDR4_2400), 0));
        // three a channel go up by themselves, and are barred where they may not
        let three = [&both, &both, &both];
        assert_eq!(runs(None, &three).0, Some(Voltage::V1_2));
        let (voltage, rate, found, _) = runs(Some(Voltage::V1_1), &three);
        assert_eq!((voltage, rate), (Some(Voltage::V1_1), None));
        assert_eq!(found, ["error rate-not-allowed"]);
        // a module that does not run at it
        let (voltage, rate, found, _) = runs(Some(Voltage::V1_1), &[&testing::plain()]);
        assert_eq!((voltage, rate), (None, None));
        assert_eq!(found, ["error voltage-accepted"]);
        let machine = set_to(Some(Voltage::V1_1)).unwrap();
        let text = testing::findings(&machine, &in_every_channel(&machine, &[&testing::plain()]))[0].to_string();
        assert!(text.contains("found 1.2 V; allowed 1.1 V; asked by the voltage set"), "{text}");
    }

    #[test]
    fn a_search_fills_no_more_than_runs_at_the_voltage_that_is_set() {
        let both = Voltages::new([Voltage::V1_1, Voltage::V1_2]).unwrap();
        let both = testing::plain().to_builder().voltages(both).build().unwrap();
        let rules = RuleBook::standard();
        let most =
            |voltage, module: &MemoryModule| Planner::new(&set_to(voltage).unwrap(), &rules).accepts(module).at_most;
        assert_eq!(most(None, &both), 24);
        assert_eq!(most(Some(Voltage::V1_1), &both), 16);
        assert_eq!(most(Some(Voltage::V1_2), &both), 24);
        assert_eq!(most(Some(Voltage::V1_1), &testing::plain()), 0);
    }

    #[test]
    fn a_processor_supplies_the_voltage_that_is_set() {
        let problems = set_to(Some(Voltage::V1_35)).unwrap_err().problems;
        assert_eq!(
            problems[0].to_string(),
            "the machine is set to 1.35 V, which processor proc in socket 1 does not supply; it supplies 1.1 V or 1.2 V"
        );
        assert_eq!(problems.len(), 2);
    }

    #[test]
    fn unknown_voltages() {
        let machine = testing::clean();
        let mut facts = serde_json::to_value(testing::plain()).unwrap();
        facts.as_object_mut().unwrap().remove("voltages_mv");
        let module: MemoryModule = serde_json::from_value(facts).unwrap();
        assert_eq!(said(&machine, &in_every_channel(&machine, &[&module])), ["warning voltage-accepted unknown"]);
    }
}
