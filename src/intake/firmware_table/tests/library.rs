//! Held against another reader of such tables, the crate smbios-lib: field by field, for every length of a structure.
//!
//! What it tells otherwise, and why:
//!
//! | field | it tells | we tell |
//! |---|---|---|
//! | widths | 0 | nothing: some firmware writes 0 for "unknown" |
//! | voltages, module's maker, register's maker | 0, and of a register FFFFh | nothing, by the standard |
//! | rates, size | that another field tells more | the value of that field, or that it is not there |
//! | texts | an empty text where there is none | nothing |
//! | structures shorter than the standard's shortest | their fields | nothing, with a remark |

use proptest::prelude::*;
use smbioslib::{
    MemorySize, MemorySizeExtended, MemorySpeed, MemorySpeedExtended, SMBiosData, SMBiosMemoryDevice,
    SMBiosPhysicalMemoryArray, SMBiosProcessorInformation, SMBiosString, SMBiosStringError, SMBiosStruct as _,
};

use crate::intake::firmware_table::tests::encoder::{DEVICE_LENGTHS, Structure, end};
use crate::intake::firmware_table::{Said, Size, table_of_bytes};

/// A structure with any bytes in its fields, and any texts.
#[derive(Debug, Clone)]
struct Any {
    fixed: Vec<u8>,
    texts: Vec<Vec<u8>>,
}

impl Any {
    fn bytes(&self) -> Vec<u8> {
        let mut bytes = self.fixed.clone();
        for text in &self.texts {
            bytes.extend_from_slice(text);
            bytes.push(0);
        }
        bytes.extend(if self.texts.is_empty() { &[0, 0][..] } else { &[0] });
        bytes
    }
}

/// A byte of a field: mostly small or an edge, since texts, codes and sentinels are.
fn byte() -> impl Strategy<Value = u8> {
    prop_oneof![4 => 0..8_u8, 2 => prop::sample::select(vec![0_u8, 0x7f, 0x80, 0xff]), 1 => any::<u8>()]
}

fn any_structure(kind: u8, lengths: Vec<usize>) -> impl Strategy<Value = Any> {
    let text = prop_oneof![
        4 => "[ -~]{1,24}".prop_map(String::into_bytes),
        1 => prop::collection::vec(1..=0xff_u8, 1..12),
    ];
    let fixed = prop::sample::select(lengths).prop_flat_map(|length| prop::collection::vec(byte(), length));
    (fixed, prop::collection::vec(text, 0..7)).prop_map(move |(mut fixed, texts)| {
        (fixed[0], fixed[1]) = (kind, u8::try_from(fixed.len()).unwrap());
        Any { fixed, texts }
    })
}

/// Any of the structures that are read, of any length that a version gave them, of some in between, and of other types.
fn any_table() -> impl Strategy<Value = Vec<u8>> {
    let lengths = DEVICE_LENGTHS.into_iter().chain(0x15..0x70).collect();
    let one = prop_oneof![
        6 => any_structure(17, lengths),
        1 => any_structure(16, vec![0x0f, 0x17, 0x12]),
        1 => any_structure(4, vec![0x1a, 0x20, 0x23, 0x28, 0x2a, 0x30, 0x32, 0x33]),
        1 => any_structure(7, vec![0x0f, 0x13, 0x1b]),
    ];
    prop::collection::vec(one, 1..12).prop_map(|structures| {
        let mut bytes: Vec<u8> = structures.iter().flat_map(Any::bytes).collect();
        bytes.extend(end().bytes());
        bytes
    })
}

fn text(theirs: &SMBiosString) -> Said<'static> {
    match theirs.as_ref() {
        Ok(text) if text.is_empty() => Said::Nothing,
        Err(SMBiosStringError::FieldOutOfBounds) => Said::Nothing,
        Err(SMBiosStringError::InvalidStringNumber(_)) => Said::NoSuchText,
        Ok(_) | Err(SMBiosStringError::Utf8(_)) => Said::Text(theirs.to_utf8_lossy().unwrap().into()),
    }
}

fn number(theirs: Option<u16>, nothing: &[u16]) -> Option<u32> {
    theirs.filter(|value| !nothing.contains(value)).map(u32::from)
}

fn rate(theirs: Option<MemorySpeed>, extended: Option<MemorySpeedExtended>) -> Option<u32> {
    match (theirs?, extended) {
        (MemorySpeed::MTs(rate), _) => Some(rate.into()),
        (MemorySpeed::SeeExtendedSpeed, Some(MemorySpeedExtended::MTs(rate))) => Some(rate),
        (MemorySpeed::SeeExtendedSpeed | MemorySpeed::Unknown, _) => None,
    }
}

fn size(theirs: &SMBiosMemoryDevice<'_>) -> Size {
    match (theirs.size(), theirs.extended_size()) {
        (None, _) => Size::NotTold,
        (Some(MemorySize::NotInstalled), _) => Size::Nothing,
        (Some(MemorySize::Unknown), _) => Size::Unknown,
        (Some(MemorySize::Kilobytes(kib)), _) => Size::Kib(kib.into()),
        (Some(MemorySize::Megabytes(mib)), _) => Size::mib(mib.into()),
        (Some(MemorySize::SeeExtendedSize), Some(MemorySizeExtended::Megabytes(mib))) => Size::mib(mib),
        (Some(MemorySize::SeeExtendedSize), _) => Size::TooLargeForField,
    }
}

fn holds(bytes: &[u8]) {
    let ours = table_of_bytes(bytes).unwrap();
    let theirs = SMBiosData::from_vec_and_version(bytes.to_vec(), None);

    let devices: Vec<SMBiosMemoryDevice<'_>> = theirs.collect();
    assert_eq!(ours.devices.len(), devices.len());
    for (our, their) in ours.devices.iter().zip(&devices) {
        assert_eq!(our.handle, Some(*their.parts().header.handle()));
        assert_eq!(our.array, their.physical_memory_array_handle().map(|handle| *handle));
        assert_eq!(our.total_width, number(their.total_width(), &[0, 0xffff]));
        assert_eq!(our.data_width, number(their.data_width(), &[0, 0xffff]));
        assert_eq!(our.size, size(their));
        assert_eq!(our.form, their.form_factor().map_or(0, |form| form.raw));
        assert_eq!(our.sort, their.memory_type().map_or(0, |sort| sort.raw));
        assert_eq!(our.detail, their.type_detail().map_or(0, |detail| detail.raw));
        assert_eq!(our.rated, rate(their.speed(), their.extended_speed()));
        assert_eq!(our.running, rate(their.configured_memory_speed(), their.extended_configured_memory_speed()));
        assert_eq!(our.locator, text(&their.device_locator()));
        assert_eq!(our.bank, text(&their.bank_locator()));
        assert_eq!(our.maker, text(&their.manufacturer()));
        assert_eq!(our.serial, text(&their.serial_number()));
        assert_eq!(our.part, text(&their.part_number()));
        assert_eq!(our.ranks, their.attributes().map(|attributes| u32::from(attributes & 0x0f)));
        assert_eq!(our.least_voltage, number(their.minimum_voltage(), &[0]));
        assert_eq!(our.most_voltage, number(their.maximum_voltage(), &[0]));
        assert_eq!(our.running_voltage, number(their.configured_voltage(), &[0]));
        assert_eq!(our.technology, their.memory_technology().map_or(0, |technology| technology.raw));
        let maker = number(their.module_manufacturer_id(), &[0]);
        assert_eq!(our.maker_id.map(|(low, high)| u32::from(high) << 8 | u32::from(low)), maker);
        assert_eq!(our.has_register_id, number(their.rcd_manufacturer_id(), &[0, 0xffff]).is_some());
    }

    let arrays: Vec<SMBiosPhysicalMemoryArray<'_>> = theirs.collect();
    assert_eq!(ours.arrays.len(), arrays.len());
    for (our, their) in ours.arrays.iter().zip(&arrays) {
        assert_eq!(our.location, their.location().unwrap().raw);
        assert_eq!(our.usage, their.usage().unwrap().raw);
        assert_eq!(our.devices, their.number_of_memory_devices().map(u32::from));
    }

    let processors = theirs.defined_struct_iter::<SMBiosProcessorInformation<'_>>();
    let central: Vec<_> = processors.filter(|their| their.processor_type().unwrap().raw == 3).collect();
    assert_eq!(ours.processors.len(), central.len());
    for (our, their) in ours.processors.iter().zip(&central) {
        assert_eq!(our.socket, text(&their.socket_designation()));
        assert_eq!(our.version, text(&their.processor_version()));
        assert_eq!(our.is_populated, their.status().map(|status| status.socket_populated()));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn every_field_is_theirs(bytes in any_table()) {
        holds(&bytes);
    }
}

/// Every value of the bytes that hold sentinels, at every length that a version gave.
#[test]
fn every_sentinel_is_theirs() {
    for length in DEVICE_LENGTHS {
        for at in 4..length {
            for value in [0, 1, 0x7f, 0x80, 0xff] {
                let mut device = Structure::new(17, 0x1100, length).text(0x10, "A1").text(0x11, "B");
                device.fixed[at] = value;
                // and its neighbour: words
                if let Some(next) = device.fixed.get_mut(at + 1) {
                    *next = 0xff;
                }
                let mut bytes = device.bytes();
                bytes.extend(end().bytes());
                holds(&bytes);
            }
        }
    }
}
