use crate::figure::{DomainRate, RuledOut, VoltageCause};
use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::{Layout, ModuleSite};
use crate::processor::MissingFact;
use crate::rule::standard::scopes;
use crate::rule::{Detail, Form, Report};
use crate::unit::Voltage;

/// One voltage that suits all modules and processors that run at one rate. Modules that their own processor
/// drives at no voltage at all are spoken of by another rule and left out here.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    for domain in &report.running_rate(layout).domains {
        let sites = || scopes::domain(layout, domain);
        let wanted = wanted(sites().filter(is_driven));
        if !wanted.is_empty() && !wanted.iter().any(|&voltage| suits(layout, domain, voltage)) {
            report.violation(|| conflict(domain, &wanted));
        } else if !domain.voltage.unknown.is_empty() {
            report.unknown(MissingFact::Voltages, || domain.voltage.unknown.clone());
        }
    }
}

/// The voltages at which any of the modules may run.
fn wanted<'a>(sites: impl Iterator<Item = ModuleSite<'a>>) -> Vec<Voltage> {
    let mut wanted: Vec<_> =
        sites.filter_map(|site| site.module.voltages()).flat_map(|voltages| voltages.iter()).collect();
    wanted.sort_unstable();
    wanted.dedup();
    wanted
}

/// Whether the module's own processor supplies some voltage at which it may run.
fn is_driven(site: &ModuleSite<'_>) -> bool {
    let (Some(voltages), Some(processor)) = (site.module.voltages(), site.processor()) else { return false };
    voltages.iter().any(|voltage| processor.voltages_mv.value.contains(voltage))
}

fn suits(layout: &Layout<'_>, domain: &DomainRate, voltage: Voltage) -> bool {
    let machine = layout.machine();
    let mut processors =
        machine.processors().filter(|(socket, _)| domain.sockets.contains(&machine.platform().socket(*socket).label));
    let mut modules = scopes::domain(layout, domain).filter(is_driven).filter_map(|site| site.module.voltages());
    processors.all(|(_, processor)| processor.voltages_mv.value.contains(voltage))
        && modules.all(|known| known.contains(voltage))
}

fn conflict(domain: &DomainRate, wanted: &[Voltage]) -> Detail {
    let out = || domain.voltage.ruled_out.iter().filter(|out| wanted.contains(&out.voltage_mv));
    let mut places: Vec<Place> = Vec::new();
    for place in out().flat_map(|out| &out.places) {
        if !places.contains(place) {
            places.push(place.clone());
        }
    }
    Detail::at_all(places).fact(FactName::RuledOut, FactValue::list(out().map(reason))).remedy(Remedy::UseLikeModules)
}

/// "1.35 V by processor P".
fn reason(out: &RuledOut) -> FactValue {
    FactValue::text(&match &out.cause {
        VoltageCause::Modules => format!("{} by modules", out.voltage_mv),
        VoltageCause::Processor { processor } => format!("{} by processor {processor}", out.voltage_mv),
        VoltageCause::Load => format!("{} by the load", out.voltage_mv),
    })
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::machine::Machine;
    use crate::module::{MemoryModule, Voltages};
    use crate::platform::{PlatformDescription, RatePolicy};
    use crate::processor::ProcessorDescription;
    use crate::stated::{Basis, Stated};
    use crate::testing::{
        board, by_socket, clean, codes, findings, in_every_channel, lacking, machine, plain, processor, verdicts,
    };
    use crate::unit::Voltage;

    const LOW: Voltage = Voltage::V1_1;
    const HIGH: Voltage = Voltage::V1_2;

    fn at(voltages: &[Voltage]) -> MemoryModule {
        plain().to_builder().voltages(Voltages::new(voltages.iter().copied()).unwrap()).build().unwrap()
    }

    fn supplying(voltages: &[Voltage]) -> ProcessorDescription {
        let voltages_mv = Stated::new(Voltages::new(voltages.iter().copied()).unwrap(), Basis::DataSheet);
        ProcessorDescription { voltages_mv, ..processor() }
    }

    fn of(rate_policy: RatePolicy, voltages: &[Voltage]) -> Machine {
        machine(PlatformDescription { rate_policy, ..board() }, supplying(voltages))
    }

    #[test]
    fn modules_that_share_no_voltage() {
        let machine = of(RatePolicy::PerMachine, &[LOW, HIGH]);
        let mixed = in_every_channel(&machine, &[&at(&[LOW]), &at(&[HIGH])]);
        assert_eq!(verdicts(&machine, &mixed), [(Severity::Error, Verdict::Violated, "common-voltage".to_owned())]);
        let found = findings(&machine, &mixed);
        assert_eq!((found.len(), found[0].places.len()), (1, 16));
        let text = found[0].to_string();
        assert!(text.contains("ruled out 1.1 V by modules, 1.2 V by modules"), "{text}");
        for second in [at(&[LOW]), at(&[LOW, HIGH])] {
            assert_eq!(codes(&machine, &in_every_channel(&machine, &[&at(&[LOW]), &second])), [""; 0]);
        }
    }

    #[test]
    fn modules_that_another_processor_does_not_drive() {
        let (both, high) = (at(&[LOW, HIGH]), at(&[HIGH]));
        for (rate_policy, conflict) in [(RatePolicy::PerMachine, true), (RatePolicy::PerSocket, false)] {
            let machine = Machine::builder(PlatformDescription { rate_policy, ..board() }.build().unwrap())
                .processor("1", supplying(&[LOW]).build().unwrap())
                .processor("2", supplying(&[HIGH]).build().unwrap())
                .build()
                .unwrap();
            let found = codes(&machine, &by_socket(&machine, &[&both], &[&high]));
            assert_eq!(found.contains(&"common-voltage".to_owned()), conflict, "{found:?}");
        }
    }

    #[test]
    fn a_module_that_its_own_processor_does_not_drive_is_left_out() {
        let found = codes(&clean(), &in_every_channel(&clean(), &[&plain(), &at(&[LOW])]));
        assert!(!found.contains(&"common-voltage".to_owned()), "{found:?}");
    }

    #[test]
    fn missing_voltages_leave_it_open_and_do_not_hide_a_conflict() {
        let bare = lacking(&plain(), &["voltages_mv"]);
        let machine = of(RatePolicy::PerMachine, &[LOW, HIGH]);
        let found = |modules: &[&MemoryModule]| verdicts(&machine, &in_every_channel(&machine, modules));
        let open = (Severity::Warning, Verdict::Unknown, "common-voltage".to_owned());
        assert!(found(&[&plain(), &bare]).contains(&open));
        let broken = (Severity::Error, Verdict::Violated, "common-voltage".to_owned());
        assert!(found(&[&at(&[LOW]), &at(&[HIGH]), &bare]).contains(&broken));
    }
}
