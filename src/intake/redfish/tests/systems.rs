//! Systems and processors: DMTF's schemas of ComputerSystem 1.27 and Processor 1.22.

use serde_json::{Value, json};

use crate::intake::redfish::tests::report;
use crate::population::{SeenTotal, TotalOf};
use crate::unit::{Capacity, Name};

fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

fn system(other: Value) -> Value {
    let mut system = json!({
        "@odata.id": "/redfish/v1/Systems/1",
        "@odata.type": "#ComputerSystem.v1_20_0.ComputerSystem",
        "SystemType": "Physical",
        "Manufacturer": "Gale",
        "Model": "Gale 24",
        "SerialNumber": "GS-7",
        "BiosVersion": "2.10",
        "MemorySummary": { "TotalSystemMemoryGiB": 256, "MemoryMirroring": "None" },
    });
    system.as_object_mut().unwrap().extend(other.as_object().unwrap().clone());
    system
}

fn total(gib: Value) -> Option<u64> {
    let report = report(&system(json!({ "MemorySummary": { "TotalSystemMemoryGiB": gib } })));
    report.totals.first().map(|total| total.capacity_mib.mib())
}

#[test]
fn identity() {
    let report = report(&system(json!({})));
    assert_eq!(report.identity.to_string(), "Gale Gale 24, serial GS-7, firmware 2.10");
    assert_eq!((report.mode, report.virtual_machine), (None, None));
    assert_eq!(report.totals, [SeenTotal::new(TotalOf::Firmware, Capacity::from_gib(256))]);
    assert!(report.is_incomplete && report.remarks.is_empty());
}

// A number of GiB with a fraction, read by its digits: to the nearest MiB.
#[test]
fn totals() {
    assert_eq!(total(json!(0.5)), Some(512));
    assert_eq!(total(json!(255.75)), Some(255 * 1024 + 768));
    assert_eq!(total(json!(31.2)), Some(31_949));
    assert_eq!(total(json!("64")), Some(65_536));
    assert_eq!(total(json!(14.901_161_193_847_656)), Some(15_259));
    for none in [json!(0), json!(-4), json!(1e300), json!(null), json!("much"), json!(true), json!([])] {
        assert_eq!(total(none), None);
    }
    assert_eq!(total(json!(u64::MAX)), None);
}

#[test]
fn modes() {
    for (word, mode) in [("None", None), ("System", Some("mirroring: System")), ("DIMM", Some("mirroring: DIMM"))] {
        let report = report(&system(json!({ "MemorySummary": { "MemoryMirroring": word } })));
        assert_eq!(report.mode.as_ref().map(Name::as_str), mode);
    }
}

#[test]
fn virtual_machines() {
    let reason = |other: Value| report(&system(other)).virtual_machine.map(String::from);
    assert_eq!(reason(json!({ "SystemType": "Virtual" })).as_deref(), Some("SystemType is Virtual"));
    assert_eq!(reason(json!({ "Model": "Gale Virtual Machine" })).as_deref(), Some("Gale Virtual Machine"));
    assert_eq!(reason(json!({ "Manufacturer": "Gale Hypervisor" })).as_deref(), Some("Gale Hypervisor"));
    assert_eq!(reason(json!({ "SystemType": "PhysicallyPartitioned" })), None);
}

// A board of accelerators is a system of its own in some machines.
#[test]
fn of_several_systems_that_with_memory_counts() {
    let board = json!({ "@odata.id": "/redfish/v1/Systems/0", "@odata.type": "#ComputerSystem.v1_20_0.ComputerSystem", "SerialNumber": "B-1" });
    let report = report(&json!([board, system(json!({}))]));
    assert_eq!(report.identity.serial, Some(name("GS-7")));
    let remark = "/redfish/v1/Systems/0: system: a further one does not go with /redfish/v1/Systems/1";
    assert_eq!(report.remarks[0].to_string(), remark);
}

#[test]
fn processors() {
    let processor = |number: u32, other: Value| {
        let mut processor = json!({ "@odata.id": format!("/p{number}"), "@odata.type": "#Processor.v1_16_0.Processor", "Id": format!("{number}") });
        processor.as_object_mut().unwrap().extend(other.as_object().unwrap().clone());
        processor
    };
    let report = report(&json!([
        processor(
            1,
            json!({ "Socket": "CPU 1", "ProcessorType": "CPU", "Model": "Gale 24", "MemorySummary": { "TotalMemorySizeMiB": 131_072 } })
        ),
        processor(2, json!({ "Socket": "CPU 2", "Status": { "State": "Absent" } })),
        processor(3, json!({ "Status": { "State": "Enabled" } })),
        processor(4, json!({ "Name": "a place" })),
        processor(5, json!({ "ProcessorType": "GPU" })),
        processor(6, json!({ "ProcessorType": "Core" })),
    ]));
    let seen: Vec<_> = report
        .processors
        .iter()
        .map(|processor| (processor.socket.as_str(), processor.is_present, processor.id.as_ref().unwrap().as_str()))
        .collect();
    assert_eq!(
        seen,
        [("CPU 1", Some(true), "/p1"), ("CPU 2", Some(false), "/p2"), ("3", Some(true), "/p3"), ("4", None, "/p4")]
    );
    assert_eq!(report.processors[0].text, Some(name("Gale 24")));
    assert_eq!(report.totals, [SeenTotal::new(TotalOf::Domain(name("CPU 1")), Capacity::from_gib(128))]);
}
