//! Machines from reports: places on slots, what sources say together, what is open.

mod laws;
mod merged;
mod placed;

use slotwright::module::MemoryModule;
use slotwright::population::{Medium, Occupant, PlaceState, Population, Report, SeenModule, SeenPlace};
use slotwright::unit::Name;
use slotwright::{Machine, Platform};

use crate::boards::name;

/// What a machine reports that holds a population: a place for each slot, by its label.
pub fn report(platform: &Platform, population: &Population) -> Report {
    let mut report = Report::new(name("dump"), Medium::Machine);
    for (at, slot) in platform.slots().iter().enumerate() {
        let place =
            |state| SeenPlace::new(name(&format!("0x{:04X}", 0x1100 + at)), state).locator(slot.label().clone());
        let place = match population.get(slot.label().as_str()) {
            Some(Occupant::Module(fitted)) => place(PlaceState::InUse).module(SeenModule::of(&fitted.module)),
            Some(Occupant::OtherDevice(device)) => {
                let seen = SeenModule::new().device(device.sort).capacity(device.capacity_mib);
                place(PlaceState::InUse).module(seen)
            }
            _ => place(PlaceState::Absent),
        };
        report = report.place(place);
    }
    report
}

/// The same with other texts: of each slot its number in the order of the description.
pub fn with_texts(mut report: Report, text: impl Fn(usize) -> (Option<Name>, Option<Name>)) -> Report {
    for (at, place) in report.places.iter_mut().enumerate() {
        (place.locator, place.bank) = text(at);
    }
    report
}

/// A module in some slots of a machine.
pub fn some(machine: &Machine, module: &MemoryModule, slots: &str) -> Population {
    let mut population = Population::new();
    for slot in slots.split_whitespace() {
        assert!(machine.platform().slot_named(slot).is_some(), "{slot}");
        population = population.with(name(slot), module.clone());
    }
    population
}
