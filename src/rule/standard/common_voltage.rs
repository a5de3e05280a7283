use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::module::Voltages;
use crate::population::{Layout, ModuleSite};
use crate::rule::standard::{mix_bounds, scopes};
use crate::rule::{Detail, Form, Report};
use crate::stated::Scope;
use crate::unit::Voltage;

/// One voltage that suits all modules and processors that run at one rate. Modules that their own processor
/// drives at no voltage at all, or whose voltages are not known, are spoken of by another rule and left out
/// here.
pub(super) fn form() -> Form {
    Form::Population(Box::new(|layout: &Layout<'_>, report: &mut Report<'_>| {
        let within = mix_bounds::rate_scope(layout.machine());
        scopes::each(layout, within, |sites| check(layout, within, sites, report));
    }))
}

fn check(layout: &Layout<'_>, within: Scope, sites: &[ModuleSite<'_>], report: &mut Report<'_>) {
    let known: Vec<_> = sites.iter().filter_map(|site| Some((site, driven(site)?))).collect();
    let Some((_, first)) = known.first() else { return };
    let here = |socket| within == Scope::Machine || sites.iter().any(|site| site.slot().socket == socket);
    let processors: Vec<_> = layout.machine().processors().filter(|&(socket, _)| here(socket)).collect();
    let suits = |voltage: Voltage| {
        known.iter().all(|(_, voltages)| voltages.contains(voltage))
            && processors.iter().all(|(_, processor)| layout.machine().supplies(processor, voltage))
    };
    let place = |site: &ModuleSite<'_>| Place::slot(site.machine.platform(), site.slot);
    // what suits all suits the first
    if !first.iter().any(suits) {
        report.violation(|| {
            let wanted = wanted(known.iter().map(|&(_, voltages)| voltages));
            let reasons = wanted.iter().flat_map(|&voltage| {
                let module = known.iter().any(|(_, voltages)| !voltages.contains(voltage));
                let modules = module.then(|| format!("{voltage} by modules"));
                let supplies = move |processor| layout.machine().supplies(processor, voltage);
                let against = processors.iter().filter(move |&&(_, processor)| !supplies(processor));
                let names = against.map(move |(_, processor)| format!("{voltage} by processor {}", processor.name()));
                modules.into_iter().chain(names)
            });
            let mut reasons: Vec<_> = reasons.collect();
            reasons.dedup();
            Detail::at_all(known.iter().map(|(site, _)| place(site)))
                .fact(FactName::RuledOut, FactValue::list(reasons.iter().map(|reason| FactValue::text(reason))))
                .remedy(Remedy::UseLikeModules)
        });
    }
}

/// The voltages of a module, where its own processor supplies any of them as the machine is set.
fn driven<'a>(site: &ModuleSite<'a>) -> Option<&'a Voltages> {
    let (voltages, processor) = (site.module.voltages()?, site.processor()?);
    voltages.iter().any(|voltage| site.machine.supplies(processor, voltage)).then_some(voltages)
}

/// The voltages at which any of the modules may run, lowest first.
fn wanted<'a>(modules: impl Iterator<Item = &'a Voltages>) -> Vec<Voltage> {
    let mut wanted: Vec<_> = modules.flat_map(Voltages::iter).collect();
    wanted.sort_unstable();
    wanted.dedup();
    wanted
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
    fn missing_voltages_do_not_hide_a_conflict() {
        let bare = lacking(&plain(), &["voltages_mv"]);
        let machine = of(RatePolicy::PerMachine, &[LOW, HIGH]);
        let found = |modules: &[&MemoryModule]| verdicts(&machine, &in_every_channel(&machine, modules));
        let unknown = found(&[&plain(), &bare]);
        assert_eq!(unknown, [(Severity::Warning, Verdict::Unknown, "voltage-accepted".to_owned())]);
        let broken = (Severity::Error, Verdict::Violated, "common-voltage".to_owned());
        assert!(found(&[&at(&[LOW]), &at(&[HIGH]), &bare]).contains(&broken));
    }
}
