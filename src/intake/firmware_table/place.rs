use crate::intake::firmware_table::check_bits::check_bits;
use crate::intake::firmware_table::generation::generation;
use crate::intake::firmware_table::kind::{device_sort, form_and_kind};
use crate::intake::firmware_table::maker::maker;
use crate::intake::firmware_table::rates::rates;
use crate::intake::firmware_table::repeated::Repeated;
use crate::intake::firmware_table::said::{name, name_or_spelled};
use crate::intake::firmware_table::size::{capacity, state};
use crate::intake::firmware_table::voltages::voltages;
use crate::intake::firmware_table::{Device, Field, Remarks, Said};
use crate::population::{DeviceSort, PlaceState, Remark, SeenModule, SeenPlace};
use crate::unit::Name;

/// What firmware says of one place, with its faults put right or said.
///
/// `behind_link`: its array is on a card that extends memory.
pub(crate) fn place<'d>(
    device: &'d Device<'_>,
    id: Name,
    behind_link: bool,
    repeated: &mut Repeated<'d>,
    remarks: &mut Remarks,
) -> SeenPlace {
    missing_texts(device, remarks);
    let mut module = SeenModule::new();
    module.part_number = repeated.part.of(&device.part, |part| part.stated().map(name_or_spelled));
    module.serial = device.serial.stated().map(name);
    let state = state(device, &module, remarks);
    let mut place = SeenPlace::new(id, state);
    place.locator = device.locator.raw();
    place.bank = repeated.bank.of(&device.bank, Said::raw);
    if state == PlaceState::Absent {
        // what an empty place prints of a module is of none
        return place;
    }
    maker(device, repeated, &mut module, remarks);
    device_sort(device, &mut module, remarks);
    if behind_link && module.device.is_none() {
        module.device = Some(DeviceSort::Expander);
    }
    generation(device, &mut module, remarks);
    form_and_kind(device, &mut module, remarks);
    capacity(device, &mut module, remarks);
    check_bits(device, &mut module, remarks);
    ranks(device, &mut module, remarks);
    let running_voltage = voltages(device, &mut module, remarks);
    // a rate of another device is no grade, and nothing that modules are slowed down by
    let running = if module.device.is_none() { rates(device, &mut module, remarks) } else { None };
    if state == PlaceState::InUse {
        place.running_rate_mts = running;
        place.running_voltage_mv = running_voltage;
    }
    if state.is_filled() || module != SeenModule::new() {
        place.module = Some(module);
    }
    place
}

/// What the texts of a structure should be and are not.
fn missing_texts(device: &Device<'_>, remarks: &mut Remarks) {
    let Device { locator, bank, maker, serial, part, .. } = device;
    let texts = [
        (locator, Field::LOCATOR),
        (bank, Field::BANK),
        (maker, Field::MAKER),
        (serial, Field::SERIAL),
        (part, Field::PART),
    ];
    for (_, field) in texts.into_iter().filter(|(said, _)| **said == Said::NoSuchText) {
        remarks.add(|| Remark::unread(&device.origin.at(field), field.name, "the structure has no such text"));
    }
}

/// The number of ranks; 0 is "unknown". Nobody says whether the dies of a stack are counted.
fn ranks(device: &Device<'_>, module: &mut SeenModule, remarks: &mut Remarks) {
    match device.ranks {
        None | Some(0) => {}
        Some(ranks @ 1..=16) => module.rank_number = u8::try_from(ranks).ok(),
        Some(ranks) => {
            let at = || device.origin.at(Field::RANK);
            remarks.add(|| Remark::unbelievable(&at(), Field::RANK.name, &ranks.to_string(), "no module has as many"));
        }
    }
}
