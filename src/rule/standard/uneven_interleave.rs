use crate::figure::{Filled, filled_socket};
use crate::finding::{FactName, FactValue, Place, Severity};
use crate::machine::Machine;
use crate::population::{Content, SocketLoad, UnitLoad};
use crate::rule::{Cause, Detail, Form, Hint, ModuleFact, Report, even, unlike_channels};
use crate::stated::{Basis, Demand};

/// The memory of a processor, or of each of its domains, should be interleaved as one region. It is not
/// where channels hold unlike capacities, or where the populated ones are no set that the processor permits. Of a
/// processor whose last slot is filled it is a note.
pub(super) fn form() -> Form {
    Form::Socket(Box::new(check))
}

pub(super) fn hints(_: &Machine) -> Vec<Hint> {
    vec![Hint::one_region().on(Basis::Assumed, Demand::Advised)]
}

fn check(load: &SocketLoad<'_>, report: &mut Report<'_>) {
    let Some(filled) = filled_socket(load) else { return };
    if filled.domains.iter().all(|domain| domain.regions.len() <= 1) {
        return;
    }
    if is_full(load) {
        return report.violation_up_to(Severity::Note, || detail(load, &filled));
    }
    let units: Vec<UnitLoad<'_>> = load.units().collect();
    let size: ModuleFact = Box::new(|module| FactValue::CapacityMib(module.capacity()));
    let held: Vec<even::Held> = units.iter().map(|unit| even::held(&size, unit)).collect();
    let cause = if unlike_channels::unlike_in_a_round(&held) { Cause::Modules } else { Cause::Slots };
    let layout = units.first().map(UnitLoad::layout);
    report.uneven(layout, &[load.id()], cause, (Basis::Assumed, None), Demand::Advised, || {
        detail(load, &filled).remedy(unlike_channels::remedy(&units, &held, cause))
    });
}

/// Whether every live slot of a processor that a module could sit in holds one.
pub(crate) fn is_full(load: &SocketLoad<'_>) -> bool {
    load.channels().all(|channel| {
        let usable = channel.contents().filter(|(slot, _)| load.machine().is_live(*slot));
        usable.into_iter().all(|(_, content)| matches!(content, Content::Module(_) | Content::Other(_)))
    })
}

fn detail(load: &SocketLoad<'_>, filled: &Filled<'_>) -> Detail {
    let machine = load.machine();
    let regions = filled.domains.iter().flat_map(|domain| &domain.regions);
    let region = |&level| FactValue::text(&filled.region(machine, level).brief());
    Detail::at(Place::socket(machine.platform(), load.id()))
        .fact(FactName::Found, FactValue::list(regions.map(region)))
        .fact(FactName::Expected, FactValue::text("one region"))
}

#[cfg(test)]
mod tests {
    use crate::machine::Machine;
    use crate::population::Population;
    use crate::processor::{InterleaveSet, InterleaveSets, PermittedSet};
    use crate::stated::{Basis, Stated};
    use crate::testing::{self, board, by_socket, clean, name, plain, population, processor};

    fn is_uneven(machine: &Machine, population: &Population) -> bool {
        testing::all_findings(machine, population).iter().any(|finding| finding.code == "uneven-interleave")
    }

    #[test]
    fn unlike_capacities() {
        let machine = clean();
        let plain = plain();
        let uneven = testing::clean_population(&machine).with(name("1A2"), plain.clone());
        let found = testing::all_findings(&machine, &uneven);
        let text: Vec<_> = found.iter().map(ToString::to_string).filter(|text| text.contains("uneven")).collect();
        assert_eq!(
            text,
            ["warning uneven-interleave: the memory of a processor is interleaved in unlike regions (processor 1; \
              found 128 GB at 4 ways, 32 GB not interleaved; expected one region); put like modules into 1B2, 1C2, 1D2 [assumed]"]
        );
        // processors may differ: that is another rule's
        assert!(!is_uneven(&machine, &by_socket(&machine, &[&plain], &[&plain, &plain])));
    }

    #[test]
    fn sets_that_the_processor_does_not_permit() {
        let mut described = processor();
        let channels = ["A", "B", "C", "D"].map(name).to_vec();
        let pair = |a: &str, b: &str| PermittedSet::of(InterleaveSet::Channels(vec![name(a), name(b)]));
        let permitted = vec![PermittedSet::of(InterleaveSet::Ways(4)), pair("A", "B"), pair("C", "D")];
        described.interleave = Some(Stated::new(InterleaveSets { channels, permitted }, Basis::DataSheet));
        let machine = testing::machine(board(), described);
        let found = |first: &str, second: &str| {
            let slots = [first, second].map(|channel| [format!("1{channel}1"), format!("2{channel}1")]).concat();
            let plain = plain();
            let fitted: Vec<_> = slots.iter().map(|slot| (slot.as_str(), &plain)).collect();
            is_uneven(&machine, &population(&fitted))
        };
        assert!(!found("A", "B") && !found("C", "D"));
        assert!(found("B", "C") && found("A", "D"));
    }
}
