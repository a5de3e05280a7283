//! The forms of documents.

use serde_json::{Map, Value, json};

use crate::intake::redfish::tests::{collection, member, report as read};
use crate::intake::redfish::{self, RedfishError};
use crate::population::{PlaceState, Report};
use crate::unit::Name;

fn ids(report: &Report) -> Vec<&str> {
    report.places.iter().map(|place| place.id.as_str()).collect()
}

#[test]
fn collections() {
    let complete = read(&collection(vec![member(1, json!({})), member(2, json!({}))]));
    assert_eq!((complete.places.len(), complete.is_incomplete), (2, false));
    // one resource, or some, prove no absence
    assert!(read(&member(1, json!({}))).is_incomplete);
    assert!(read(&json!([member(1, json!({})), member(2, json!({}))])).is_incomplete);
    // nor does a collection of which a part is elsewhere
    for (name, value) in
        [("Members@odata.count", json!(3)), ("Members@odata.nextLink", json!("/redfish/v1/Systems/1/Memory?$skip=2"))]
    {
        let mut part = collection(vec![member(1, json!({})), member(2, json!({}))]);
        part[name] = value;
        let part = read(&part);
        assert_eq!((part.places.len(), part.is_incomplete, part.remarks.len()), (2, true, 1));
        assert!(part.remarks[0].at.as_str().ends_with(name));
    }
    let links = collection(vec![json!({ "@odata.id": "/redfish/v1/Systems/1/Memory/DIMM1" })]);
    let alone = read(&links);
    assert_eq!((alone.places.len(), alone.is_incomplete), (0, true));
    // with the member beside it
    assert!(!read(&json!([links, member(1, json!({}))])).is_incomplete);
    let empty = read(&collection(vec![]));
    assert_eq!((empty.places.len(), empty.is_incomplete), (0, false));
    // caches of a processor are a collection of memory too
    let caches = json!({ "@odata.id": "/redfish/v1/Systems/1/Processors/1/CacheMemory", "@odata.type": "#MemoryCollection.MemoryCollection", "Members": [{ "@odata.id": "/x" }] });
    assert!(!read(&json!([collection(vec![member(1, json!({}))]), caches])).is_incomplete);
}

#[test]
fn a_map_from_addresses_to_resources() {
    let mut map = Map::new();
    map.insert(
        "/redfish/v1/Systems/1/Memory".into(),
        collection(vec![json!({ "@odata.id": "/redfish/v1/Systems/1/Memory/DIMM1" })]),
    );
    map.insert("/redfish/v1/Systems/1/Memory/DIMM1".into(), member(1, json!({ "@odata.id": "-" })));
    let report = read(&Value::Object(map));
    assert_eq!(ids(&report), ["/redfish/v1/Systems/1/Memory/DIMM1"]);
    assert!(!report.is_incomplete);
}

#[test]
fn a_tree() {
    let tree = json!({ "Systems": { "Members": [{
        "@odata.id": "/redfish/v1/Systems/1",
        "@odata.type": "#ComputerSystem.v1_20_0.ComputerSystem",
        "Memory": collection(vec![member(1, json!({})), member(2, json!({}))]),
        "Processors": { "Members": [{ "@odata.id": "/p1", "@odata.type": "#Processor.v1_16_0.Processor", "Socket": "CPU 1" }] },
    }] } });
    let report = read(&tree);
    assert_eq!((report.places.len(), report.processors.len(), report.is_incomplete), (2, 1, false));
}

// Without types, by the properties that they have; what makers add is no resource.
#[test]
fn resources_are_known_by_their_shape() {
    let bare = member(
        1,
        json!({ "@odata.type": "-", "@odata.id": "-", "Oem": { "Gale": { "BaseModuleType": "Synchronous", "CapacityMiB": 7 } } }),
    );
    let bare = read(&json!({ "Members": [bare] }));
    assert_eq!((ids(&bare), bare.is_incomplete), (vec!["Members[0]"], false));
    let absent = json!({ "Id": "2", "DeviceLocator": "A2", "Status": { "State": "Absent" } });
    let absent = read(&absent);
    assert_eq!(absent.places[0].state, PlaceState::Absent);
    assert_eq!(absent.places[0].id, "the document");
}

// Id, Name and the end of the address need not agree: the address counts.
#[test]
fn the_address_is_the_key() {
    let members = vec![member(1, json!({ "Id": "3" })), member(2, json!({ "Id": "3" }))];
    assert_eq!(ids(&read(&collection(members))).len(), 2);
}

#[test]
fn a_resource_that_comes_twice_counts_once() {
    let one = member(1, json!({}));
    let twice = read(&json!([one, one]));
    assert_eq!((twice.places.len(), twice.remarks.len()), (1, 0));
    let poorer = member(1, json!({ "PartNumber": "-", "CapacityMiB": 1024 }));
    for pair in [json!([one, poorer]), json!([poorer, one])] {
        let report = read(&pair);
        assert_eq!((report.places.len(), report.remarks.len()), (1, 1));
        assert!(report.places[0].module.as_ref().unwrap().part_number.is_some());
    }
}

#[test]
fn addresses_that_are_one_when_cut() {
    let long = format!("/redfish/v1/{}", "x".repeat(200));
    let two = json!([
        member(1, json!({ "@odata.id": format!("{long}1") })),
        member(2, json!({ "@odata.id": format!("{long}2") }))
    ]);
    let report = read(&two);
    assert_eq!(report.places.len(), 2);
    assert!(crate::population::Observed::of([report]).is_ok());
}

#[test]
fn other_documents_are_refused() {
    for document in [
        json!(null),
        json!(7),
        json!("Memory"),
        json!([]),
        json!({}),
        json!({ "@odata.type": "#Chassis.v1_0_0.Chassis", "CapacityMiB": 4 }),
        json!({ "@odata.type": "#ChassisCollection.ChassisCollection", "Members": [] }),
        json!({ "Oem": member(1, json!({})) }),
    ] {
        assert_eq!(redfish::read(Name::lossy("bmc"), &document), Err(RedfishError::NothingFound), "{document}");
    }
}

#[test]
fn depth_is_bounded() {
    let nested = |levels: usize| (0..levels).fold(member(1, json!({})), |inner, _| json!({ "x": inner }));
    assert_eq!(read(&nested(62)).places.len(), 1);
    let deep = json!([member(2, json!({})), nested(1000)]);
    let report = read(&deep);
    assert_eq!(report.places.len(), 1);
    let remark = "the document: 1 of its parts is not read: they are more than 64 levels deep";
    assert_eq!(report.remarks[0].to_string(), remark);
}

#[test]
fn too_many_remarks_are_counted() {
    let members: Vec<Value> = (0..1500).map(|number| member(number, json!({ "RankCount": 99 }))).collect();
    let report = read(&collection(members));
    assert_eq!((report.places.len(), report.remarks.len()), (1500, 1001));
    assert!(report.remarks[1000].to_string().contains("500 more"));
}

#[test]
fn the_order_of_members_has_no_weight() {
    let members: Vec<Value> = (1..=8)
        .map(|number| match number {
            3 => member(number, json!({ "Status": { "State": "Absent" } })),
            5 => member(number, json!({ "RankCount": 5, "OperatingSpeedMhz": 4800 })),
            6 => member(number, json!({ "MemoryDeviceType": "HBM2" })),
            number => member(number, json!({ "RankCount": number })),
        })
        .collect();
    let set = |mut report: Report| {
        report.places.sort();
        report.remarks.sort();
        report
    };
    let straight = set(read(&collection(members.clone())));
    for turn in 1..members.len() {
        let mut turned = members.clone();
        turned.rotate_left(turn);
        assert_eq!(set(read(&collection(turned.clone()))), straight);
        turned.reverse();
        assert_eq!(set(read(&collection(turned))), straight);
    }
}
