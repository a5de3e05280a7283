mod any_value;
mod demo;
mod documents;
mod members;
mod systems;

use serde_json::{Value, json};

use crate::intake::redfish;
use crate::population::{PlaceState, Report, SeenModule, SeenPlace};
use crate::unit::Name;

fn report(document: &Value) -> Report {
    redfish::read(Name::lossy("bmc"), document).unwrap()
}

/// A member in use, with other properties instead of its own; `null` as text "-" takes one away.
fn member(number: u32, other: Value) -> Value {
    let mut member = json!({
        "@odata.id": format!("/redfish/v1/Systems/1/Memory/DIMM{number}"),
        "@odata.type": "#Memory.v1_9_0.Memory",
        "Id": format!("DIMM{number}"),
        "Name": "Memory module",
        "CapacityMiB": 32768,
        "MemoryType": "DRAM",
        "MemoryDeviceType": "DDR4",
        "BaseModuleType": "RDIMM",
        "DeviceLocator": format!("A{number}"),
        "RankCount": 2,
        "OperatingSpeedMhz": 2400,
        "AllowedSpeedsMHz": [2400],
        "ErrorCorrection": "MultiBitECC",
        "DataWidthBits": 64,
        "BusWidthBits": 72,
        "Manufacturer": "Gale Memory",
        "PartNumber": "GW-32-2R4",
        "SerialNumber": format!("0000A00{number}"),
        "Status": { "State": "Enabled", "Health": "OK" },
    });
    let properties = member.as_object_mut().unwrap();
    for (name, value) in other.as_object().unwrap() {
        if value == "-" {
            properties.remove(name);
        } else {
            properties.insert(name.clone(), value.clone());
        }
    }
    member
}

fn collection(members: Vec<Value>) -> Value {
    json!({
        "@odata.id": "/redfish/v1/Systems/1/Memory",
        "@odata.type": "#MemoryCollection.MemoryCollection",
        "Members@odata.count": members.len(),
        "Members": members,
    })
}

/// The only place of a document with this one member, and what is remarked.
fn place(other: Value) -> (SeenPlace, Vec<String>) {
    let report = report(&member(1, other));
    assert_eq!(report.places.len(), 1);
    let remarks = report.remarks.iter().map(|remark| remark.says.to_string()).collect();
    (report.places[0].clone(), remarks)
}

fn module(other: Value) -> (SeenModule, Vec<String>) {
    let (place, remarks) = place(other);
    (place.module.unwrap(), remarks)
}

fn state(other: Value) -> PlaceState {
    place(other).0.state
}
