//! Machines from reports: places on slots, what sources say together, what is open.

mod laws;
mod merged;
mod placed;

use slotwright::module::MemoryModule;
use slotwright::population::{
    ErrorCounter, MachineIdentity, MakerId, Medium, ModuleFact, Occupant, PlaceState, Population, Remark, Report,
    SeenModule, SeenPlace, SeenProcessor, SeenTotal, TotalOf,
};
use slotwright::unit::{Capacity, DataRate, Name};
use slotwright::{Machine, Platform};

use crate::boards::{Source, name};

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

/// The same where some facts are not told, some are inferred, and some of the rest of a report is there.
pub fn report_in_part(source: &mut Source<'_>, machine: &Machine, population: &Population) -> Report {
    let mut report = report(machine.platform(), population);
    for place in &mut report.places {
        if let Some(module) = &mut place.module {
            if source.once_in(2) {
                (module.width, module.die_density_mbit, module.stack) = (None, None, None);
            }
            if source.once_in(3) {
                module.rank_number = module.package_ranks.take();
            }
            if source.once_in(4) {
                module.inferred.insert(ModuleFact::Generation);
                module.serial = Some(name("7A0012"));
                module.maker_id = MakerId::from_spd(0x80, 0x04);
            }
        }
        if source.once_in(3) && place.state.is_filled() {
            place.state = source.pick(&[PlaceState::NotInUse, PlaceState::Failed, PlaceState::Unknown]);
            place.running_rate_mts = Some(DataRate::DDR4_2133);
        }
    }
    let remark = Remark::unbelievable("byte 0x10", "size", "1", "too small");
    report
        .remarks([remark, Remark::unread("line 3", "a part", "a reason")])
        .processor(SeenProcessor::new(name("CPU1")).is_present(true).text(name("made up")))
        .totals([SeenTotal::new(TotalOf::Firmware, Capacity::from_gib(8))])
        .counters([ErrorCounter::new(name("A1")).corrected(3)])
        .date("2026-11-27".parse().ok())
        .identity(MachineIdentity::new().product(name("Gale 24")))
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
