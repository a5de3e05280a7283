//! One resource of Memory.

use serde_json::Value;

use crate::intake::redfish::device::{Types, no_module, types};
use crate::intake::redfish::property::{Resource, folded};
use crate::intake::redfish::state::Size;
use crate::intake::redfish::system::Processors;
use crate::intake::redfish::{maker, number, rank, state};
use crate::intake::remarks::Remarks;
use crate::module::{Ecc, Generation};
use crate::platform::SlotAddress;
use crate::population::{DeviceSort, PlaceState, Remark, SeenModule, SeenPlace};
use crate::unit::{Capacity, DataRate, Name};

/// What a member is.
pub(crate) enum Part {
    Place(Box<SeenPlace>),
    /// And why.
    NoModule(&'static str),
}

const CAPACITY: &[&str] = &["CapacityMiB"];
const SERVICE_LABEL: &[&str] = &["Location", "PartLocation", "ServiceLabel"];
const PROCESSORS: &[&str] = &["Links", "Processors"];

pub(crate) fn read(
    resource: &Resource<'_>,
    processors: &Processors,
    counted: Option<i64>,
    remarks: &mut Remarks,
) -> Part {
    if let Some(why) = no_module(resource) {
        return Part::NoModule(why);
    }
    let processor = resource.only_link(PROCESSORS).map(Name::lossy);
    if processor.as_ref().is_some_and(|processor| processors.others.contains(processor)) {
        return Part::NoModule("it is tied to a processor that is no CPU");
    }
    // what is said of empty places has no weight
    let mut own = Remarks::default();
    let part = resource.name(&["PartNumber"], &mut own);
    let types = types(resource, &mut own);
    let capacity = capacity(resource, types.device, &mut own);
    let is_zero = |value: &Value| value.is_null() || number::whole(value) == Some(0);
    let size = match (capacity, resource.object.get("CapacityMiB")) {
        (Some(_), _) => Size::Some,
        (None, Some(value)) if is_zero(value) => Size::Nothing,
        (None, _) => Size::NotTold,
    };
    let state = state::read(resource, size, part.is_some(), remarks);
    let service_label = resource.name(SERVICE_LABEL, remarks);
    let locator = resource.name(&["DeviceLocator"], remarks);
    let named = || ["Name", "Id"].into_iter().find_map(|name| resource.value(&[name])?.as_str().map(Name::lossy));
    let locator = locator.or_else(|| if service_label.is_none() { named() } else { None });
    let mut place = SeenPlace::new(Name::lossy(&resource.id), state)
        .service_label(service_label)
        .locator(locator)
        .address(address(resource, remarks))
        .processor(processor);
    if state != PlaceState::Absent {
        remarks.append(own);
        let rated = rated(resource, remarks);
        if state != PlaceState::Failed {
            place.running_rate_mts = running(resource, types.generation, rated, remarks);
        }
        let module = module(resource, types, counted, remarks);
        place.module = Some(module.capacity(capacity).grade(rated).part_number(part));
    }
    Part::Place(Box::new(place))
}

/// What does not depend on the state.
fn module(resource: &Resource<'_>, types: Types, counted: Option<i64>, remarks: &mut Remarks) -> SeenModule {
    SeenModule::new()
        .device(types.device)
        .generation(types.generation)
        .kind(types.kind)
        .form_factor(types.form_factor)
        .ecc(ecc(resource, types.generation, remarks))
        .rank_number(ranks(resource, counted, remarks))
        .maker(resource.name(&["Manufacturer"], remarks))
        .maker_id(maker::read(resource, remarks))
        .serial(resource.name(&["SerialNumber"], remarks))
}

/// The size, of memory that lasts the part that does. `None` for 0.
fn capacity(resource: &Resource<'_>, device: Option<DeviceSort>, remarks: &mut Remarks) -> Option<Capacity> {
    let lasting: &[&str] = &["NonVolatileSizeMiB"];
    let mut paths = vec![CAPACITY, &["VolatileSizeMiB"]];
    if matches!(device, Some(DeviceSort::Persistent | DeviceSort::Hybrid)) {
        paths.insert(0, lasting);
    }
    let mut told = |path: &[&str]| resource.whole(path, remarks).filter(|&size| size > 0);
    let (path, size) = paths.into_iter().find_map(|path| Some((path, told(path)?)))?;
    // decimal units taken for binary ones: 16000 million bytes over 1024 twice is 15625 for 16384 MiB
    if size % 15_625 == 0 {
        let meant = (size / 15_625).saturating_mul(16_384);
        let from = format!("{size}, which counts in decimal units");
        remarks.add(|| Remark::inferred(&resource.at(path), "size in MiB", &meant.to_string(), &from));
        return Some(Capacity::from_mib(meant));
    }
    Some(Capacity::from_mib(size))
}

fn rated(resource: &Resource<'_>, remarks: &mut Remarks) -> Option<DataRate> {
    let path: &[&str] = &["AllowedSpeedsMHz"];
    let value = resource.value(path).or_else(|| resource.value(&["AllowedSpeedsMhz"]))?;
    let speeds = value.as_array().map_or(core::slice::from_ref(value), Vec::as_slice);
    let highest = speeds.iter().filter_map(number::whole).max().filter(|&speed| speed > 0);
    let rate = highest.and_then(|speed| DataRate::from_mts(u32::try_from(speed).ok()?).ok());
    if rate.is_none() && highest.is_some() {
        resource.unread(path, value, "no memory runs at it", remarks);
    }
    rate
}

/// The rate at which it runs, in MT/s; off by a factor of two where a controller gives the clock, or doubles what is a rate already.
fn running(
    resource: &Resource<'_>,
    generation: Option<Generation>,
    rated: Option<DataRate>,
    remarks: &mut Remarks,
) -> Option<DataRate> {
    let name =
        ["OperatingSpeedMhz", "OperatingSpeedMHz"].into_iter().find(|name| resource.value(&[*name]).is_some())?;
    let path: &[&str] = &[name];
    let value = resource.value(path)?;
    let speed = resource.whole(path, remarks)?;
    let Some(rate) = u32::try_from(speed).ok().and_then(|speed| DataRate::from_mts(speed).ok()) else {
        resource.unread(path, value, "no memory runs at it", remarks);
        return None;
    };
    let times = |times: u32, by: u32| {
        let (numerator, denominator) = rate.exact_mts();
        DataRate::from_fraction(numerator.saturating_mul(times), denominator.saturating_mul(by)).ok()
    };
    let rates = generation.map_or(&[][..], Generation::rates);
    let highest = rated.or_else(|| rates.last().copied());
    let is_of_generation = rates.is_empty() || rates.contains(&rate);
    let halved = times(1, 2);
    let is_doubled = rated.is_some() && halved == rated
        || rated.is_none()
            && !is_of_generation
            && highest.is_some_and(|highest| rate > highest)
            && halved.is_some_and(|rate| rates.contains(&rate));
    let is_halved = rated.is_some() && times(2, 1) == rated;
    if is_doubled || is_halved && !is_of_generation {
        resource.unread(path, value, "it is off by a factor of two", remarks);
        return None;
    }
    if is_halved {
        let with = "the rated one: a factor of two";
        remarks.add(|| Remark::contradiction(&resource.at(path), "running rate", &rate.to_string(), with));
    }
    Some(rate)
}

fn ranks(resource: &Resource<'_>, counted: Option<i64>, remarks: &mut Remarks) -> Option<u8> {
    let path: &[&str] = &["RankCount"];
    let value = resource.value(path)?;
    let ranks = resource.whole(path, remarks).filter(|&ranks| ranks > 0)?;
    let why = if counted.is_some() && rank::difference(resource) == counted {
        "the numbers of all members count the members"
    } else if !matches!(ranks, 1 | 2 | 4 | 8 | 16) {
        "no module has so many ranks"
    } else {
        return u8::try_from(ranks).ok();
    };
    resource.unread(path, value, why, remarks);
    None
}

/// The check bits, by the widths of the bus; without these by the sort of correction, where that leaves no choice.
fn ecc(resource: &Resource<'_>, generation: Option<Generation>, remarks: &mut Remarks) -> Option<Ecc> {
    let path: &[&str] = &["ErrorCorrection"];
    let word = resource.word(path, remarks);
    let corrects = match word.map(folded).as_deref() {
        Some("noecc") => Some(false),
        Some("singlebitecc" | "multibitecc") => Some(true),
        None | Some("" | "addressparity" | "unknown") => None,
        Some(_) => {
            resource.unknown(path, word.unwrap_or_default(), remarks);
            None
        }
    };
    let mut width = |name: &str| resource.whole(&[name], remarks).filter(|&bits| bits > 0);
    let ecc = match (generation, width("DataWidthBits"), width("BusWidthBits")) {
        (_, Some(64), Some(64)) | (Some(Generation::Ddr5), Some(32), Some(32)) => Some(Ecc::None),
        (Some(Generation::Ddr3 | Generation::Ddr4), Some(64), Some(72)) => Some(Ecc::Ecc),
        // for each of two sub-channels, or for both: JESD400-5C table 105
        (Some(Generation::Ddr5), Some(32), Some(36)) | (Some(Generation::Ddr5), Some(64), Some(72)) => Some(Ecc::Ec4),
        (Some(Generation::Ddr5), Some(32), Some(40)) | (Some(Generation::Ddr5), Some(64), Some(80)) => Some(Ecc::Ec8),
        (_, Some(data), Some(bus)) => {
            let found = format!("{bus} bits");
            let with = format!("{data} data bits of this generation");
            remarks.add(|| Remark::contradiction(&resource.at(&["BusWidthBits"]), "bus width", &found, &with));
            None
        }
        _ => match (corrects, generation) {
            (Some(false), _) => Some(Ecc::None),
            (Some(true), Some(Generation::Ddr3 | Generation::Ddr4)) => Some(Ecc::Ecc),
            _ => None,
        },
    };
    match (ecc, corrects) {
        (Some(ecc), Some(corrects)) if ecc.corrects() != corrects => {
            let found = word.unwrap_or_default();
            remarks.add(|| Remark::contradiction(&resource.at(path), "check bits", found, "the widths of the bus"));
            None
        }
        (ecc, _) => ecc,
    }
}

/// The numbers of `MemoryLocation`, as they are.
fn address(resource: &Resource<'_>, remarks: &mut Remarks) -> Option<SlotAddress> {
    let mut number = |name: &str| {
        let path: &[&str] = &["MemoryLocation", name];
        let value = resource.value(path)?;
        let number = resource.whole(path, remarks)?;
        let small = u16::try_from(number).ok();
        if small.is_none() {
            resource.unread(path, value, "no board has so many", remarks);
        }
        small
    };
    let address = SlotAddress::new(Name::lossy("redfish"))
        .socket(number("Socket"))
        .controller(number("MemoryController"))
        .channel(number("Channel"))
        .slot(number("Slot"));
    let SlotAddress { socket, controller, channel, slot, .. } = &address;
    let says_something = [socket, controller, channel, slot].into_iter().any(Option::is_some);
    says_something.then_some(address)
}
