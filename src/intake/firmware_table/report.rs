use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use crate::intake::firmware_table::generation::MemoryType;
use crate::intake::firmware_table::place::place;
use crate::intake::firmware_table::repeated::Repeated;
use crate::intake::firmware_table::said::name;
use crate::intake::firmware_table::virtual_machine::virtual_machine;
use crate::intake::firmware_table::words::{TYPES, USES};
use crate::intake::firmware_table::{Array, Device, Field, Processor, Remarks, Table};
use crate::population::{MachineIdentity, Medium, Remark, Report, SeenPlace, SeenProcessor};
use crate::unit::Name;

/// Use of an array: system memory.
const SYSTEM_MEMORY: u8 = 3;
/// Location of an array: a card that extends memory.
const EXPANDER_CARD: u8 = 0xa4;

/// What a table says, as a report.
pub(crate) fn report(name: Name, table: Table<'_>) -> Report {
    let mut report = Report::new(name, Medium::Machine);
    report.identity = identity(&table);
    report.virtual_machine = virtual_machine(&table);
    let Table { processors, arrays, devices, is_cut, too_many, mut remarks, .. } = table;
    report.processors = processors.iter().map(processor).collect();
    report.is_incomplete = is_cut || too_many > 0 || arrays.is_empty() || devices.is_empty();
    if too_many > 0 {
        let what = format!("{too_many} structures");
        remarks.add(|| Remark::unread("the whole", &what, "no machine has as many"));
    }

    let arrays = Arrays::new(&arrays);
    report.is_incomplete |= arrays.count(&devices, &mut remarks);
    let (mut ids, mut repeated) = (Ids::default(), Repeated::default());
    let mut kept: Vec<&Device<'_>> = Vec::with_capacity(devices.len());
    report.places.reserve_exact(devices.len());
    for device in &devices {
        let id = ids.of(device, &mut remarks);
        match arrays.left_out(device) {
            Some(why) => remarks.add(|| Remark::unread(&device.origin.start(), &format!("device {id}"), &why)),
            None => {
                arrays.note(device, &mut remarks);
                let behind_link = arrays.of(device).is_some_and(|array| array.location == EXPANDER_CARD);
                report.places.push(place(device, id, behind_link, &mut repeated, &mut remarks));
                kept.push(device);
            }
        }
    }
    doubled_serials(&report.places, &kept, &mut remarks);
    report.remarks = remarks.finish();
    report
}

fn identity(table: &Table<'_>) -> MachineIdentity {
    let stated = |said: &crate::intake::firmware_table::Said<'_>| said.stated().map(name);
    MachineIdentity::new()
        .maker(stated(&table.maker))
        .product(stated(&table.product))
        .serial(stated(&table.serial))
        .board(stated(&table.board))
        .firmware(stated(&table.firmware))
}

fn processor(processor: &Processor<'_>) -> SeenProcessor {
    let id = processor.handle.map_or_else(|| processor.origin.start(), handle_text);
    let socket = processor.socket.raw().unwrap_or_else(|| name(&id));
    let text = processor.version.stated().map(name);
    SeenProcessor::new(socket).is_present(processor.is_populated).text(text).id(name(&id))
}

/// A handle, as tools print it.
fn handle_text(handle: u16) -> String {
    let digits = [12, 8, 4, 0].map(|shift| char::from_digit(u32::from(handle >> shift & 0xf), 16));
    let mut text = String::with_capacity(6);
    text.push_str("0x");
    text.extend(digits.into_iter().flatten().map(|digit| digit.to_ascii_uppercase()));
    text
}

/// What the places of a report are called, no two alike.
#[derive(Default)]
struct Ids {
    given: BTreeMap<u16, usize>,
}

impl Ids {
    fn of(&mut self, device: &Device<'_>, remarks: &mut Remarks) -> Name {
        let Some(handle) = device.handle else { return name(&device.origin.start()) };
        let count = self.given.entry(handle).or_default();
        *count += 1;
        let text = handle_text(handle);
        if *count == 1 {
            return name(&text);
        }
        let at = || device.origin.start();
        remarks.add(|| Remark::contradiction(&at(), "handle", &text, "another structure with this handle"));
        name(&format!("{text} ({count})"))
    }
}

/// The arrays of a table: which devices are memory of the system.
struct Arrays<'a> {
    by_handle: BTreeMap<u16, &'a Array>,
    /// Whether the use of one is stated to be system memory.
    any_of_system: bool,
}

impl<'a> Arrays<'a> {
    fn new(arrays: &'a [Array]) -> Self {
        let mut by_handle = BTreeMap::new();
        for array in arrays {
            if let Some(handle) = array.handle {
                by_handle.entry(handle).or_insert(array);
            }
        }
        Self { by_handle, any_of_system: arrays.iter().any(|array| array.usage == SYSTEM_MEMORY) }
    }

    fn of(&self, device: &Device<'_>) -> Option<&'a Array> {
        self.by_handle.get(&device.array?).copied()
    }

    /// Why a device is no memory of the system; an array that is not in the report, or does not say what it is for, leaves this open.
    fn left_out(&self, device: &Device<'_>) -> Option<String> {
        let usage = self.of(device).map(|array| array.usage);
        match usage {
            Some(SYSTEM_MEMORY) | None => {}
            Some(0 | 2) if !self.any_of_system => {}
            Some(other) => return Some(format!("the use of its array is {}", USES.text(other))),
        }
        if MemoryType::of(device.sort) == MemoryType::Storage {
            return Some(format!("its type is {}", TYPES.text(device.sort)));
        }
        let locator = device.locator.text().filter(|text| is_storage(text))?;
        Some(format!("it is at {locator}"))
    }

    /// Says that the array of a device is not in a report that has arrays.
    fn note(&self, device: &Device<'_>, remarks: &mut Remarks) {
        let Some(handle) = device.array.filter(|_| !self.by_handle.is_empty() && self.of(device).is_none()) else {
            return;
        };
        let (at, found) = (|| device.origin.at(Field::ARRAY), handle_text(handle));
        remarks.add(|| Remark::contradiction(&at(), Field::ARRAY.name, &found, "the arrays of this report"));
    }

    /// Holds the arrays' counts of devices against the devices; whether any has fewer than it says.
    fn count(&self, devices: &[Device<'_>], remarks: &mut Remarks) -> bool {
        let mut found: BTreeMap<u16, u32> = BTreeMap::new();
        devices.iter().filter_map(|device| device.array).for_each(|array| *found.entry(array).or_default() += 1);
        let mut any_fewer = false;
        for (handle, array) in self.by_handle.iter().filter(|_| !devices.is_empty()) {
            let listed = found.get(handle).copied().unwrap_or(0);
            let Some(said) = array.devices.filter(|&said| said != listed && array.usage == SYSTEM_MEMORY) else {
                continue;
            };
            any_fewer |= listed < said;
            let (at, said) = (|| array.origin.start(), said.to_string());
            let with = format!("{listed} that are listed");
            remarks.add(|| Remark::contradiction(&at(), "number of devices", &said, &with));
        }
        any_fewer
    }
}

/// Whether a locator names storage for firmware.
fn is_storage(locator: &str) -> bool {
    let mut words = locator.split(|letter: char| !letter.is_ascii_alphanumeric()).filter(|word| !word.is_empty());
    let is_one_of = |word: &str, these: &[&str]| these.iter().any(|one| one.eq_ignore_ascii_case(word));
    match (words.next(), words.next(), words.next()) {
        (Some(word), None, _) => is_one_of(word, &["bios", "spirom", "systemrom", "flash", "rom"]),
        (Some(first), Some(second), None) => {
            is_one_of(first, &["bios", "spi", "system", "flash", "boot"]) && is_one_of(second, &["rom", "flash"])
        }
        _ => false,
    }
}

/// Says which serial numbers stand in more than one place.
fn doubled_serials(places: &[SeenPlace], devices: &[&Device<'_>], remarks: &mut Remarks) {
    let mut seen: BTreeSet<Cow<'_, str>> = BTreeSet::new();
    for (place, device) in places.iter().zip(devices) {
        let Some(serial) = place.module.as_ref().and_then(|module| module.serial.as_ref()) else { continue };
        let is_upper = !serial.as_str().bytes().any(|byte| byte.is_ascii_lowercase());
        let upper = if is_upper { serial.as_str().into() } else { serial.as_str().to_ascii_uppercase().into() };
        if !seen.insert(upper) {
            let at = || device.origin.at(Field::SERIAL);
            let (found, with) = (serial.as_str(), "a module before it with this number");
            remarks.add(|| Remark::contradiction(&at(), Field::SERIAL.name, found, with));
        }
    }
}
