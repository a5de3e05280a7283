use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::Layout;
use crate::rule::{Detail, Form, Report};

/// A device that is no plain memory may hold data, and planning with it is not offered. It is said of
/// devices in slots that are not live as well: they hold data all the same.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    for (slot, device) in layout.other_devices() {
        report.unjudgeable(|| {
            Detail::at(Place::slot(layout.machine().platform(), slot))
                .fact(FactName::Found, FactValue::Text(device.text.clone()))
                .fact(FactName::Found, FactValue::CapacityMib(device.capacity_mib))
                .remedy(Remedy::SecureData)
        });
    }
}

#[cfg(test)]
mod tests {
    use crate::machine::Machine;
    use crate::population::Occupant;
    use crate::testing::{self, name, said};

    #[test]
    fn a_device_may_hold_data() {
        let machine = testing::clean();
        let mut population = testing::clean_population(&machine);
        population.put(name("1A2"), Occupant::OtherDevice(testing::other_device()));
        assert_eq!(testing::codes(&machine, &population), ["other-device"]);
        assert_eq!(
            testing::findings(&machine, &population)[0].to_string(),
            "note other-device: cannot be judged: a device other than plain memory is fitted; planning with such devices is not offered \
             (slot 1A2; found persistent module; found 128 GB); it holds data: secure them first, and follow the \
             platform maker's manual"
        );
    }

    #[test]
    fn also_where_the_processor_is_absent() {
        let processor = testing::processor().build().unwrap();
        let machine = Machine::builder(testing::board().build().unwrap()).processor("1", processor).build().unwrap();
        let mut population = testing::clean_population(&machine);
        population.put(name("2A1"), Occupant::OtherDevice(testing::other_device()));
        assert_eq!(said(&machine, &population), ["note other-device unknown"]);
    }
}
