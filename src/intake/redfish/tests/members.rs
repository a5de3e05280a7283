//! One member: what DMTF's schema of Memory 1.23.0 allows, and what controllers make of it.

use serde_json::{Value, json};

use crate::intake::redfish::maker;
use crate::intake::redfish::tests::{collection, member, module, place, report, state};
use crate::module::{Ecc, FormFactor, Generation, ModuleKind};
use crate::platform::SlotAddress;
use crate::population::{DeviceSort, PlaceState, SeenModule};
use crate::unit::{Capacity, DataRate, Name};

fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

#[test]
fn a_member_in_use() {
    let (place, remarks) = place(json!({}));
    assert_eq!(remarks, [] as [&str; 0]);
    assert_eq!(place.id, "/redfish/v1/Systems/1/Memory/DIMM1");
    assert_eq!((place.state, place.running_rate_mts), (PlaceState::InUse, Some(DataRate::DDR4_2400)));
    assert_eq!((place.locator, place.service_label, place.address), (Some(name("A1")), None, None));
    let expected = SeenModule::new()
        .generation(Generation::Ddr4)
        .kind(ModuleKind::Registered)
        .capacity(Capacity::from_gib(32))
        .form_factor(FormFactor::Dimm)
        .ecc(Ecc::Ecc)
        .rank_number(2)
        .grade(DataRate::DDR4_2400)
        .maker(name("Gale Memory"))
        .part_number(name("GW-32-2R4"))
        .serial(name("0000A001"));
    assert_eq!(place.module, Some(expected));
}

// Health is OK on empty places too, and Status may be missing on filled ones.
#[test]
fn states() {
    use PlaceState::{Absent, Failed, InUse, NotInUse, Unknown};
    let status = |state: &str, health: &str| json!({ "State": state, "Health": health });
    let nothing = |status: Value| json!({ "Status": status, "CapacityMiB": 0, "PartNumber": null });
    for (expected, other) in [
        (Absent, json!({ "Status": status("Absent", "OK") })),
        (Absent, nothing(status("Absent", "OK"))),
        (Absent, nothing(status("Enabled", "OK"))),
        (Absent, nothing(Value::Null)),
        (Absent, json!({ "Status": "-", "CapacityMiB": null, "PartNumber": "NO DIMM" })),
        (Absent, json!({ "Status": "-", "CapacityMiB": "-", "PartNumber": "-" })),
        // nothing but a state
        (Unknown, json!({ "CapacityMiB": "-", "PartNumber": "-" })),
        (InUse, json!({ "CapacityMiB": "-" })),
        (InUse, json!({ "Status": "-" })),
        (InUse, json!({ "Status": status("Degraded", "Warning") })),
        (Failed, json!({ "Status": status("Enabled", "Critical") })),
        (NotInUse, json!({ "Enabled": false })),
        (NotInUse, json!({ "Status": status("Disabled", "OK") })),
        (NotInUse, json!({ "Status": status("StandbyOffline", "OK") })),
        (NotInUse, json!({ "Status": status("UnavailableOffline", "OK") })),
        (NotInUse, json!({ "Status": status("StandbySpare", "OK") })),
        (NotInUse, json!({ "Status": status("InTest", "OK") })),
        (Failed, json!({ "Status": status("Disabled", "Critical") })),
        (Failed, json!({ "Status": status("UnavailableOffline", "Critical") })),
        (Failed, json!({ "CapacityMiB": 0 })),
        (Failed, json!({ "CapacityMiB": null, "Status": status("Disabled", "OK") })),
        (Failed, json!({ "CapacityMiB": 0, "PartNumber": "", "Status": status("Enabled", "Critical") })),
        (InUse, json!({ "Status": status("Working", "Fine") })),
    ] {
        assert_eq!(state(other.clone()), expected, "{other}");
    }
    let (_, remarks) = place(json!({ "Status": status("Working", "OK") }));
    assert!(remarks.contains(&"State: Working is not known".to_owned()), "{remarks:?}");
    let (_, remarks) = place(json!({ "Status": status("Absent", "OK") }));
    assert_eq!(remarks, ["state: absent does not go with the size that is told"]);
    let (failed, remarks) = place(json!({ "CapacityMiB": 0 }));
    assert_eq!(remarks, ["state: failed, inferred from a size of 0 beside a part number"]);
    assert_eq!(failed.module.unwrap().capacity_mib, None);
}

// An empty place says nothing of a module, whatever stands there.
#[test]
fn an_empty_place_has_no_module() {
    let status = json!({ "State": "Absent", "Health": "OK" });
    let other = json!({ "Status": status, "CapacityMiB": 0, "MemoryDeviceType": "Other", "BaseModuleType": "Synchronous", "RankCount": 9, "OperatingSpeedMhz": 0 });
    let (place, remarks) = place(other);
    assert_eq!((place.module, place.running_rate_mts, remarks), (None, None, vec![]));
    assert_eq!(place.locator, Some(name("A1")));
}

// A controller divides decimal units by binary ones. Nothing else is corrected.
#[test]
fn only_the_exact_ratio_is_corrected() {
    for (told, meant) in
        [(15_625, 16_384), (31_250, 32_768), (62_500, 65_536), (15_626, 15_626), (16_000, 16_000), (7812, 7812)]
    {
        let (module, remarks) = module(json!({ "CapacityMiB": told }));
        assert_eq!(module.capacity_mib, Some(Capacity::from_mib(meant)));
        assert_eq!(remarks.len(), usize::from(told != meant), "{remarks:?}");
    }
}

#[test]
fn memory_that_lasts() {
    for (other, device, mib) in [
        (json!({ "MemoryType": "NVDIMM_N" }), DeviceSort::Hybrid, 32_768),
        (json!({ "MemoryType": "NVDIMM_F", "NonVolatileSizeMiB": 1024 }), DeviceSort::Hybrid, 1024),
        (json!({ "MemoryType": "NVDIMM_P", "NonVolatileSizeMiB": 129_408 }), DeviceSort::Persistent, 129_408),
        // a type of a name of its own
        (
            json!({ "MemoryType": "GalePersist", "NonVolatileSizeMiB": 129_408, "CapacityMiB": 131_072 }),
            DeviceSort::Persistent,
            129_408,
        ),
        (json!({ "MemoryType": "GalePersist", "NonVolatileSizeMiB": 0 }), DeviceSort::Persistent, 32_768),
        (json!({ "MemoryType": "-", "NonVolatileSizeMiB": 65_536 }), DeviceSort::Persistent, 65_536),
        (json!({ "CXL": { "LabelStorageSizeBytes": 0 } }), DeviceSort::Expander, 32_768),
    ] {
        let (module, _) = module(other.clone());
        assert_eq!((module.device, module.capacity_mib), (Some(device), Some(Capacity::from_mib(mib))), "{other}");
    }
    for word in ["DRAM", "Other", "DDR4", "", "SDRAM"] {
        assert_eq!(module(json!({ "MemoryType": word, "NonVolatileSizeMiB": 0 })).0.device, None, "{word}");
    }
}

// "hz" of the schema is a small one; people write it large.
#[test]
fn both_spellings_of_the_running_rate() {
    let other = json!({ "OperatingSpeedMhz": "-", "OperatingSpeedMHz": 1866 });
    assert_eq!(place(other).0.running_rate_mts, Some(DataRate::DDR4_1866));
}

#[test]
fn running_rates_that_cannot_be() {
    let rate = |operating: Value, allowed: Value, kind: &str| {
        let other = json!({ "OperatingSpeedMhz": operating, "AllowedSpeedsMHz": allowed, "MemoryDeviceType": kind });
        let (place, remarks) = place(other);
        (
            place.running_rate_mts.map(DataRate::name_mts),
            remarks.iter().filter(|remark| remark.contains("factor of two")).count(),
        )
    };
    assert_eq!(rate(json!(4800), json!([4400, 4800]), "DDR5"), (Some(4800), 0));
    // twice the rated rate; twice any rate of the generation
    assert_eq!(rate(json!(9600), json!([4800]), "DDR5"), (None, 1));
    assert_eq!(rate(json!(6400), json!([3200]), "DDR4"), (None, 1));
    assert_eq!(rate(json!(5866), json!([]), "DDR4"), (None, 1));
    // the clock instead of the rate
    assert_eq!(rate(json!(1200), json!([2400]), "DDR4"), (None, 1));
    assert_eq!(rate(json!(2400), json!([4800]), "DDR5"), (None, 1));
    // half of the rated rate, and a rate all the same
    assert_eq!(rate(json!(1600), json!([3200]), "DDR4"), (Some(1600), 1));
    // nothing to compare with
    assert_eq!(rate(json!(2933), json!(null), "DDR4"), (Some(2933), 0));
    assert_eq!(rate(json!(null), json!([3200]), "DDR4"), (None, 0));
    let (place, remarks) = place(json!({ "OperatingSpeedMhz": 0 }));
    assert_eq!(place.running_rate_mts, None);
    assert_eq!(remarks, ["OperatingSpeedMhz: 0 is left out: no memory runs at it"]);
}

#[test]
fn the_rated_rate_is_the_highest_one_allowed() {
    let rated = |speeds: Value| module(json!({ "AllowedSpeedsMHz": speeds, "OperatingSpeedMhz": "-" })).0.grade_mts;
    assert_eq!(rated(json!([2133, 2667, 2400])), Some(DataRate::DDR4_2666));
    assert_eq!(rated(json!(3200)), Some(DataRate::DDR4_3200));
    for none in [json!([]), json!(null), json!([0]), json!(["fast"]), json!({})] {
        assert_eq!(rated(none), None);
    }
}

#[test]
fn numbers_of_ranks() {
    for ranks in [1, 2, 4, 8, 16] {
        assert_eq!(module(json!({ "RankCount": ranks })).0.rank_number, Some(ranks));
    }
    for ranks in [3, 5, 6, 7, 9, 12, 17, 32, 400] {
        let (module, remarks) = module(json!({ "RankCount": ranks }));
        assert_eq!(module.rank_number, None);
        assert_eq!(remarks, [format!("RankCount: {ranks} is left out: no module has so many ranks")]);
    }
    assert_eq!(module(json!({ "RankCount": 0 })), module(json!({ "RankCount": "-" })));
    // no claim of what it counts
    assert_eq!(module(json!({})).0.package_ranks, None);
}

// Two generations of controllers count the members there.
#[test]
fn numbers_of_ranks_that_count_the_members() {
    let ranks = |numbers: &[(u32, u32)]| {
        let members = numbers.iter().map(|&(number, ranks)| member(number, json!({ "RankCount": ranks }))).collect();
        let report = report(&collection(members));
        report.modules().map(|(_, module)| module.rank_number).collect::<Vec<_>>()
    };
    assert_eq!(ranks(&[(1, 1), (2, 2), (3, 3), (4, 4)]), [None; 4]);
    assert_eq!(ranks(&[(4, 4), (1, 1), (2, 2)]), [None; 3]);
    assert_eq!(ranks(&[(0, 1), (1, 2), (2, 3), (3, 4)]), [None; 4]);
    // two prove nothing, nor do numbers that do not count
    assert_eq!(ranks(&[(1, 1), (2, 2)]), [Some(1), Some(2)]);
    assert_eq!(ranks(&[(1, 2), (2, 2), (3, 2)]), [Some(2); 3]);
    assert_eq!(ranks(&[(1, 1), (2, 2), (3, 2), (4, 4)]), [Some(1), Some(2), Some(2), Some(4)]);
}

// DDR4 and DDR4_SDRAM are one, DDR5 has a type of its own for multiplexed ranks.
#[test]
fn generations_and_kinds() {
    for (word, generation) in [
        ("DDR3", Generation::Ddr3),
        ("DDR3_SDRAM", Generation::Ddr3),
        ("DDR4", Generation::Ddr4),
        ("DDR4_SDRAM", Generation::Ddr4),
        ("DDR4E_SDRAM", Generation::Ddr4),
        ("ddr4", Generation::Ddr4),
        ("DDR5", Generation::Ddr5),
    ] {
        let other = json!({ "MemoryDeviceType": word, "DataWidthBits": "-", "BusWidthBits": "-" });
        let (module, remarks) = module(other);
        assert_eq!((module.generation, remarks), (Some(generation), vec![]));
        assert_eq!(module.kind, Some(ModuleKind::Registered));
    }
    let (multiplexed, _) = module(json!({ "MemoryDeviceType": "DDR5_MRDIMM", "BaseModuleType": null }));
    assert_eq!((multiplexed.generation, multiplexed.kind), (Some(Generation::Ddr5), Some(ModuleKind::MultiplexedRank)));
    let (old, remarks) = module(json!({ "MemoryDeviceType": "DDR2" }));
    assert_eq!(old.generation, None);
    assert!(remarks.contains(&"MemoryDeviceType: DDR2 is not known".to_owned()));
    for (word, kind, form) in [
        ("RDIMM", ModuleKind::Registered, FormFactor::Dimm),
        ("UDIMM", ModuleKind::Unbuffered, FormFactor::Dimm),
        ("LRDIMM", ModuleKind::LoadReduced, FormFactor::Dimm),
        ("SO_DIMM", ModuleKind::Unbuffered, FormFactor::SoDimm),
        ("SODIMM", ModuleKind::Unbuffered, FormFactor::SoDimm),
        ("SO_RDIMM_72b", ModuleKind::Registered, FormFactor::SoDimm),
        ("SO_UDIMM_72b", ModuleKind::Unbuffered, FormFactor::SoDimm),
        ("SO_DIMM_16b", ModuleKind::Unbuffered, FormFactor::SoDimm),
        ("Mini_RDIMM", ModuleKind::Registered, FormFactor::MiniDimm),
        ("Mini_UDIMM", ModuleKind::Unbuffered, FormFactor::MiniDimm),
        ("CAMM", ModuleKind::CompressionAttached, FormFactor::Other),
    ] {
        let (module, remarks) = module(json!({ "BaseModuleType": word }));
        assert_eq!((module.kind, module.form_factor, remarks), (Some(kind), Some(form), vec![]));
    }
    for word in [json!(null), json!("Synchronous"), json!(7)] {
        assert_eq!(module(json!({ "BaseModuleType": word })).0.kind, None);
    }
}

// Memory of graphics processors and soldered memory stand in the same collection, and may be said to be registered.
#[test]
fn members_that_are_no_modules() {
    for other in [
        json!({ "BaseModuleType": "Die" }),
        json!({ "MemoryDeviceType": "HBM3" }),
        json!({ "MemoryDeviceType": "GDDR6" }),
        json!({ "MemoryDeviceType": "LPDDR5_SDRAM" }),
        json!({ "MemoryDeviceType": "LPDDR5X", "BaseModuleType": "RDIMM" }),
        json!({ "MemoryType": "Cache" }),
        json!({ "MemoryDeviceType": "Logical" }),
    ] {
        let report = report(&member(1, other.clone()));
        assert!(report.places.is_empty(), "{other}");
        let remark = report.remarks[0].to_string();
        let begin = "/redfish/v1/Systems/1/Memory/DIMM1: a member that is no module is not read: it";
        assert!(report.remarks.len() == 1 && remark.starts_with(begin), "{remark}");
    }
    let accelerator =
        json!({ "@odata.id": "/gpu", "@odata.type": "#Processor.v1_16_0.Processor", "ProcessorType": "GPU" });
    let tied = member(1, json!({ "Links": { "Processors": [{ "@odata.id": "/gpu" }] } }));
    assert!(report(&json!([tied, accelerator])).places.is_empty());
}

// JESD400-5C table 105 for DDR5: 4 or 8 check bits for each of two sub-channels.
#[test]
fn check_bits() {
    for (kind, data, bus, correction, ecc) in [
        ("DDR4", json!(64), json!(72), "MultiBitECC", Some(Ecc::Ecc)),
        ("DDR4", json!(64), json!(64), "NoECC", Some(Ecc::None)),
        ("DDR5", json!(64), json!(80), "MultiBitECC", Some(Ecc::Ec8)),
        ("DDR5", json!(64), json!(72), "Multi-bit ECC", Some(Ecc::Ec4)),
        ("DDR5", json!(32), json!(40), "AddressParity", Some(Ecc::Ec8)),
        ("DDR4", json!(null), json!(null), "NoECC", Some(Ecc::None)),
        ("DDR4", json!(null), json!(null), "SingleBitECC", Some(Ecc::Ecc)),
        ("DDR5", json!(null), json!(null), "MultiBitECC", None),
        // these contradict each other
        ("DDR4", json!(64), json!(72), "NoECC", None),
        ("DDR4", json!(64), json!(64), "MultiBitECC", None),
        ("DDR4", json!(72), json!(64), "MultiBitECC", None),
        ("DDR4", json!(64), json!(80), "MultiBitECC", None),
    ] {
        let other = json!({ "MemoryDeviceType": kind, "DataWidthBits": data, "BusWidthBits": bus, "ErrorCorrection": correction });
        let (module, remarks) = module(other.clone());
        assert_eq!(module.ecc, ecc, "{other}");
        let contradicts = remarks.iter().any(|remark| remark.contains("does not go with"));
        assert_eq!(contradicts, ecc.is_none() && !data.is_null(), "{other}");
    }
}

#[test]
fn unknown_words_are_remarked() {
    let (module, remarks) = module(json!({ "ErrorCorrection": "Other" }));
    assert_eq!(module.ecc, Some(Ecc::Ecc));
    assert_eq!(remarks, ["ErrorCorrection: Other is not known"]);
}

// What the numbers count is the maker's business.
#[test]
fn places() {
    let location = json!({ "Socket": 0, "MemoryController": 3, "Channel": 3, "Slot": null });
    let label = json!({ "PartLocation": { "ServiceLabel": "PROC 1 DIMM 3", "LocationType": "Slot" } });
    let links = json!({ "Processors": [{ "@odata.id": "/redfish/v1/Systems/1/Processors/1" }] });
    let (seen, _) = place(json!({ "MemoryLocation": location, "Location": label, "Links": links }));
    assert_eq!(seen.address, Some(SlotAddress::new(name("redfish")).socket(0).controller(3).channel(3)));
    assert_eq!(seen.service_label, Some(name("PROC 1 DIMM 3")));
    assert_eq!(seen.locator, Some(name("A1")));
    assert_eq!(seen.processor, Some(name("/redfish/v1/Systems/1/Processors/1")));
    // without another text the name
    assert_eq!(place(json!({ "DeviceLocator": null, "Name": "DIMM B1" })).0.locator, Some(name("DIMM B1")));
    // numbers that no board has
    let (seen, remarks) = place(json!({ "MemoryLocation": { "Socket": 70000, "Channel": -1, "Slot": "2" } }));
    assert_eq!(seen.address, Some(SlotAddress::new(name("redfish")).slot(2)));
    assert_eq!(remarks.len(), 2);
    let (seen, _) = place(json!({ "MemoryLocation": { "Socket": null } }));
    assert_eq!(seen.address, None);
}

// The forms that controllers write: both orders, with and without the parity bit of the bank, in decimal digits.
#[test]
fn numbers_of_makers() {
    for (text, id) in [
        ("0x0480", Some("1-04")),
        ("0x8004", Some("1-04")),
        ("0x2C00", Some("1-2C")),
        ("0x2c80", Some("1-2C")),
        ("11392", Some("1-2C")),
        ("0xA804", Some("5-28")),
        ("0x04A8", Some("5-28")),
        // either order makes sense
        ("0x0104", None),
        ("0x0000", None),
        ("0xFFFF", None),
        ("0x80", None),
        ("0x2c80ff", None),
        ("Gale", None),
        ("-5", None),
        ("", None),
        ("999999", None),
        ("0x+c80", None),
    ] {
        assert_eq!(maker::of_text(text).map(|id| id.to_string()).as_deref(), id, "{text}");
    }
    assert_eq!(module(json!({ "VendorID": 11_392 })).0.maker_id, maker::of_text("0x2c80"));
    assert_eq!(module(json!({ "ModuleManufacturerID": "0x0000" })).1, [] as [&str; 0]);
    assert_eq!(module(json!({ "ModuleManufacturerID": "Gale" })).1.len(), 1);
}

#[test]
fn placeholders_name_nothing() {
    for text in ["", "  ", "N/A", "NOT AVAILABLE", "Unknown", "Not Specified", "NO DIMM", "[Empty]", "null"] {
        let (module, _) = module(json!({ "Manufacturer": text, "SerialNumber": text }));
        assert_eq!((module.maker, module.serial), (None, None), "{text}");
    }
}
