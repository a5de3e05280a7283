use crate::finding::{FactName, FactValue, Remedy};
use crate::population::ModuleSite;
use crate::processor::MissingFact;
use crate::rule::standard::site;
use crate::rule::{Form, Report};

/// A module needs a voltage that its processor's memory can be supplied with. Whether all modules have
/// one in common is another rule's matter.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    let Some(processor) = site::judged_by(site) else { return };
    let limit = &processor.voltages_mv;
    match site.module.voltages() {
        None => report.unknown(MissingFact::Voltages, || vec![site::place(site)]),
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
    use crate::module::{MemoryModule, Voltages};
    use crate::testing::{self, in_every_channel, said};
    use crate::unit::Voltage;

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

    #[test]
    fn unknown_voltages() {
        let machine = testing::clean();
        let mut facts = serde_json::to_value(testing::plain()).unwrap();
        facts.as_object_mut().unwrap().remove("voltages_mv");
        let module: MemoryModule = serde_json::from_value(facts).unwrap();
        assert_eq!(said(&machine, &in_every_channel(&machine, &[&module])), ["warning voltage-accepted unknown"]);
    }
}
