//! Systems and processors.

use std::collections::BTreeSet;

use serde_json::Value;

use crate::intake::redfish::number;
use crate::intake::redfish::property::{Resource, folded};
use crate::intake::remarks::Remarks;
use crate::population::{MachineIdentity, Remark, Report, SeenProcessor, SeenTotal, TotalOf};
use crate::unit::{Capacity, Name};

/// What members of memory may be tied to.
#[derive(Debug, Default)]
pub(crate) struct Processors {
    /// Those that are no CPU, by address.
    pub(crate) others: BTreeSet<Name>,
}

/// Parts of texts by which virtual machines name themselves, in small letters.
const VIRTUAL: [&str; 4] = ["virtualmachine", "virtualplatform", "hypervisor", "virtualhardware"];

const STATE: &[&str] = &["Status", "State"];
const GIB: &[&str] = &["MemorySummary", "TotalSystemMemoryGiB"];
const MIB: &[&str] = &["MemorySummary", "TotalMemorySizeMiB"];

/// Adds the processors to the report.
pub(crate) fn processors(found: &[Resource<'_>], report: &mut Report, remarks: &mut Remarks) -> Processors {
    let mut processors = Processors::default();
    for resource in found {
        let id = Name::lossy(&resource.id);
        let kind = resource.word(&["ProcessorType"], remarks).map(folded);
        if kind.is_some_and(|kind| kind != "cpu") {
            processors.others.insert(id);
            continue;
        }
        let named = |name: &str| resource.value(&[name])?.as_str().map(Name::lossy);
        let socket = resource.name(&["Socket"], remarks).or_else(|| named("Id")).or_else(|| named("Name"));
        let socket = socket.unwrap_or_else(|| id.clone());
        let text = resource.name(&["Model"], remarks);
        let is_told = text.is_some() || resource.value(&["TotalCores"]).is_some();
        let is_present = match resource.word(STATE, remarks).map(folded).as_deref() {
            Some("absent") => Some(false),
            Some(_) => Some(true),
            None => is_told.then_some(true),
        };
        if let Some(size) = resource.whole(MIB, remarks).filter(|&size| size > 0) {
            report.totals.push(SeenTotal::new(TotalOf::Domain(socket.clone()), Capacity::from_mib(size)));
        }
        report.processors.push(SeenProcessor::new(socket).is_present(is_present).text(text).id(id));
    }
    processors
}

/// Adds what is said of the system as a whole. Of several, that which tells how much memory it has counts, and of these the one whose address comes first.
pub(crate) fn systems(found: &[Resource<'_>], report: &mut Report, remarks: &mut Remarks) {
    let told = |resource: &Resource<'_>| resource.value(GIB).is_none();
    let Some(system) = found.iter().min_by_key(|resource| (told(resource), resource.id.as_str())) else { return };
    for other in found.iter().filter(|other| other.id != system.id) {
        remarks.add(|| Remark::contradiction(&other.id, "system", "a further one", &system.id));
    }
    report.identity = MachineIdentity::new()
        .maker(system.name(&["Manufacturer"], remarks))
        .product(system.name(&["Model"], remarks))
        .serial(system.name(&["SerialNumber"], remarks))
        .firmware(system.name(&["BiosVersion"], remarks));
    if let Some(value) = system.value(GIB) {
        // GiB with a fraction: the nearest whole MiB
        match number::scaled(value, 1024) {
            Some(0) => {}
            Some(mib) => report.totals.push(SeenTotal::new(TotalOf::Firmware, Capacity::from_mib(mib))),
            None => system.unread(GIB, value, "it is no amount of memory", remarks),
        }
    }
    let mirroring = system.name(&["MemorySummary", "MemoryMirroring"], remarks);
    report.mode = mirroring.map(|mode| Name::lossy(&format!("mirroring: {mode}")));
    let is_virtual = |text: &str| VIRTUAL.iter().any(|part| folded(text).contains(part));
    let kind = system.value(&["SystemType"]).and_then(Value::as_str);
    report.virtual_machine = if kind.is_some_and(|kind| folded(kind) == "virtual") {
        Some(Name::lossy("SystemType is Virtual"))
    } else {
        let mut texts = ["Manufacturer", "Model"].into_iter().filter_map(|name| system.value(&[name])?.as_str());
        texts.find(|text| is_virtual(text)).map(Name::lossy)
    };
}
