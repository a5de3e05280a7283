use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::{ModuleSite, SocketLoad};
use crate::rule::{Detail, Form, Report};
use crate::stated::Demand;
use crate::unit::Capacity;

/// A processor takes so much memory at most, and an option that is fitted may lower that. The
/// processor's cap counts other devices where its description says so.
pub(super) fn form() -> Form {
    Form::Socket(Box::new(check))
}

fn check(load: &SocketLoad<'_>, report: &mut Report<'_>) {
    let machine = load.machine();
    let modules: Capacity = load.modules().filter(ModuleSite::is_live).map(|site| site.module.capacity()).sum();
    let detail = |found: Capacity, at_most: Capacity, counting: &str| {
        Detail::at(Place::socket(machine.platform(), load.id()))
            .fact(FactName::Found, FactValue::CapacityMib(found))
            .fact(FactName::AtMost, FactValue::CapacityMib(at_most))
            .fact(FactName::Counting, FactValue::text(counting))
            .remedy(Remedy::RemoveModule)
    };
    if let Some(cap) = load.processor().and_then(|processor| processor.description().capacity_cap.as_ref()) {
        let others = load.other_devices().filter(|&(slot, _)| machine.is_live(slot)).map(|(_, d)| d.capacity_mib);
        let (found, counting) = if cap.value.counts_other_devices {
            ([modules].into_iter().chain(others).sum(), "modules and other devices")
        } else {
            (modules, "modules")
        };
        if found > cap.value.capacity_mib {
            report.stated(cap, || detail(found, cap.value.capacity_mib, counting));
        }
    }
    for option in machine.options() {
        if let Some(cap) = option.capacity_cap_mib.filter(|&cap| modules > cap) {
            report.grounded((option.basis, option.source.as_ref()), Demand::Required, || {
                detail(modules, cap, "modules").fact(FactName::AskedBy, FactValue::Text(option.name.clone()))
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::Machine;
    use crate::platform::PlatformOption;
    use crate::population::{Occupant, Population};
    use crate::processor::CapacityCap;
    use crate::stated::{Basis, Stated};
    use crate::testing::{self, in_every_channel, name, said};

    fn capped(gib: u32, counts_other_devices: bool, basis: Basis) -> Machine {
        let mut processor = testing::processor();
        let cap = CapacityCap { capacity_mib: Capacity::from_gib(gib), counts_other_devices };
        processor.capacity_cap = Some(Stated::new(cap, basis));
        testing::machine(testing::board(), processor)
    }

    fn two_each(machine: &Machine) -> Population {
        in_every_channel(machine, &[&testing::plain(), &testing::plain()])
    }

    #[test]
    fn the_cap_of_the_processor() {
        let machine = capped(128, false, Basis::DataSheet);
        assert!(said(&machine, &testing::clean_population(&machine)).is_empty());
        assert_eq!(testing::codes(&machine, &two_each(&machine)), ["socket-capacity"]);
        assert_eq!(
            testing::findings(&machine, &two_each(&machine))[0].to_string(),
            "error socket-capacity: the processor has more memory than it takes (processor 1; found 256 GB; at most 128 \
             GB; counted in modules); take a module out [data sheet]"
        );
        let tried = capped(128, false, Basis::MakersList);
        assert_eq!(said(&tried, &two_each(&tried)), ["warning socket-capacity"]);
    }

    // 128 GB of modules and a device of 128 GB at each processor
    #[test]
    fn other_devices_count_where_the_processor_says_so() {
        let with_devices = |machine: &Machine| {
            let mut population = testing::clean_population(machine);
            for slot in ["1A2", "2A2"] {
                population.put(name(slot), Occupant::OtherDevice(testing::other_device()));
            }
            said(machine, &population)
        };
        assert_eq!(with_devices(&capped(255, false, Basis::DataSheet)), ["note other-device unknown"]);
        assert_eq!(with_devices(&capped(256, true, Basis::DataSheet)), ["note other-device unknown"]);
        assert_eq!(
            with_devices(&capped(255, true, Basis::DataSheet)),
            ["error socket-capacity", "note other-device unknown"]
        );
    }

    #[test]
    fn the_cap_of_an_option() {
        let mut board = testing::board();
        let option = testing::mask(&testing::board(), "small heat sink", u8::MAX);
        board.options.push(PlatformOption { capacity_cap_mib: Some(Capacity::from_gib(128)), ..option });
        let board = board.build().unwrap();
        let processor = testing::processor().build().unwrap();
        let bare = Machine::builder(board).processor("1", processor.clone()).processor("2", processor);
        let fitted = bare.clone().option("small heat sink").build().unwrap();
        let bare = bare.build().unwrap();
        assert!(said(&bare, &two_each(&bare)).is_empty());
        assert!(said(&fitted, &testing::clean_population(&fitted)).is_empty());
        assert_eq!(testing::codes(&fitted, &two_each(&fitted)), ["socket-capacity"]);
        let finding = testing::findings(&fitted, &two_each(&fitted)).remove(0).to_string();
        assert!(finding.starts_with("error") && finding.contains("asked by small heat sink"), "{finding}");
    }
}
