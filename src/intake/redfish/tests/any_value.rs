//! What holds for all documents.

use proptest::prelude::*;
use proptest::sample::select;
use serde_json::{Map, Value, json};

use crate::intake::redfish;
use crate::intake::redfish::number::{scaled, whole};
use crate::intake::redfish::tests::member;
use crate::population::{Observed, Report};
use crate::unit::Name;

/// Names of properties that are looked at.
#[rustfmt::skip]
const NAMES: [&str; 44] = [
    "@odata.id", "@odata.type", "Id", "Name", "Members", "Members@odata.count", "Members@odata.nextLink", "CapacityMiB",
    "VolatileSizeMiB", "NonVolatileSizeMiB", "MemoryType", "MemoryDeviceType", "BaseModuleType", "RankCount",
    "OperatingSpeedMhz", "OperatingSpeedMHz", "AllowedSpeedsMHz", "ErrorCorrection", "DataWidthBits", "BusWidthBits",
    "MemoryLocation", "Socket", "MemoryController", "Channel", "Slot", "DeviceLocator", "Location", "PartLocation",
    "ServiceLabel", "Status", "State", "Health", "Enabled", "Links", "Processors", "ModuleManufacturerID", "Manufacturer",
    "PartNumber", "SerialNumber", "MemorySummary", "TotalSystemMemoryGiB", "ProcessorType", "SystemType", "Oem",
];

#[rustfmt::skip]
const WORDS: [&str; 16] = [
    "#Memory.v1_9_0.Memory", "#MemoryCollection.MemoryCollection", "#Processor.v1_0_0.Processor",
    "#ComputerSystem.v1_0_0.ComputerSystem", "Memory", "DDR4", "DDR5", "RDIMM", "Absent", "Enabled", "Critical", "/a", "/b",
    "0x2c80", "18446744073709551616", "\u{1}",
];

fn value() -> impl Strategy<Value = Value> {
    let number = prop_oneof![
        any::<u64>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<f64>().prop_map(Value::from),
        select(&[0_u64, 1, 2, 3, 15_625, 16_384, 2400, 4800, 64, 72, 80][..]).prop_map(Value::from),
    ];
    let text = prop_oneof![select(&WORDS[..]).prop_map(Value::from), any::<String>().prop_map(Value::from)];
    let leaf = prop_oneof![Just(Value::Null), any::<bool>().prop_map(Value::from), number, text];
    leaf.prop_recursive(5, 48, 8, |inner| {
        let key = prop_oneof![9 => select(&NAMES[..]).prop_map(str::to_owned), 1 => any::<String>()];
        prop_oneof![
            proptest::collection::vec(inner.clone(), 0..5).prop_map(Value::from),
            proptest::collection::vec((key, inner), 0..8).prop_map(|pairs| Value::Object(pairs.into_iter().collect())),
        ]
    })
}

fn ask(document: &Value) {
    let Ok(report) = redfish::read(Name::lossy("bmc"), document) else { return };
    assert!(report.remarks.len() <= 1001);
    let text = serde_json::to_string(&report).unwrap();
    assert_eq!(serde_json::from_str::<Report>(&text).unwrap(), report);
    assert!(Observed::of([report.clone()]).is_ok(), "{report}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn any_document(document in value()) {
        ask(&document);
    }

    // a member with any values in its properties
    #[test]
    fn any_member(values in proptest::collection::vec((select(&NAMES[..]), value()), 1..12)) {
        let other: Map<String, Value> = values.into_iter().map(|(name, value)| (name.to_owned(), value)).collect();
        ask(&json!([member(1, json!({})), member(2, Value::Object(other))]));
    }

    #[test]
    fn numbers_are_read_by_their_digits(number in any::<u32>(), thousandths in 0_u64..1000) {
        prop_assert_eq!(whole(&json!(number)), Some(number.into()));
        prop_assert_eq!(whole(&json!(format!("{number}.0"))), Some(number.into()));
        let text = json!(format!("{number}.{thousandths:03}"));
        let exact = (u64::from(number) * 1000 + thousandths) * 1024;
        prop_assert_eq!(scaled(&text, 1024), Some((exact + 500) / 1000));
    }
}

#[test]
fn absurd_numbers() {
    for number in [
        json!(u64::MAX),
        json!(i64::MIN),
        json!(f64::MAX),
        json!(-0.0),
        json!("1".repeat(500)),
        json!("0.".to_owned() + &"9".repeat(500)),
    ] {
        for name in NAMES {
            ask(&member(1, json!({ name: number })));
        }
    }
}
