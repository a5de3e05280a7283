//! What sort of resource an object is.

use serde_json::{Map, Value};

/// The sorts of resources that are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sort {
    Memory,
    Processor,
    System,
    /// A collection of Memory.
    MemoryCollection,
    /// A collection of Processor or of ComputerSystem.
    OtherCollection,
}

impl Sort {
    pub(crate) fn of(object: &Map<String, Value>, id: Option<&str>) -> Option<Self> {
        match object.get("@odata.type").and_then(Value::as_str) {
            Some(kind) => Self::by_type(kind, id),
            None => Self::by_shape(object, id),
        }
    }

    /// `#Memory.v1_9_0.Memory`
    fn by_type(kind: &str, id: Option<&str>) -> Option<Self> {
        match kind.rsplit('.').next()?.trim_start_matches('#') {
            "Memory" => Some(Self::Memory),
            "Processor" => Some(Self::Processor),
            "ComputerSystem" => Some(Self::System),
            // caches of a processor are such a collection as well
            "MemoryCollection" if last_segment(id) != Some("CacheMemory") => Some(Self::MemoryCollection),
            "ProcessorCollection" | "ComputerSystemCollection" => Some(Self::OtherCollection),
            _ => None,
        }
    }

    fn by_shape(object: &Map<String, Value>, id: Option<&str>) -> Option<Self> {
        let has = |name: &str| object.contains_key(name);
        let summary = |name: &str| object.get("MemorySummary").and_then(|summary| summary.get(name)).is_some();
        if object.get("Members").is_some_and(Value::is_array) {
            match last_segment(id) {
                Some("Memory") => Some(Self::MemoryCollection),
                Some("Processors" | "Systems") => Some(Self::OtherCollection),
                Some(_) => None,
                None => members_are_memory(object).then_some(Self::MemoryCollection),
            }
        } else if ["SystemType", "BiosVersion", "ProcessorSummary"].into_iter().any(has)
            || summary("TotalSystemMemoryGiB")
        {
            Some(Self::System)
        } else if ["ProcessorType", "ProcessorArchitecture", "TotalCores"].into_iter().any(has) {
            Some(Self::Processor)
        } else if ["CapacityMiB", "MemoryDeviceType", "BaseModuleType", "MemoryLocation"].into_iter().any(has)
            || has("DeviceLocator") && has("Status")
        {
            Some(Self::Memory)
        } else {
            None
        }
    }
}

/// The last part of an address.
fn last_segment(id: Option<&str>) -> Option<&str> {
    id?.trim_end_matches('/').rsplit('/').next()
}

fn members_are_memory(object: &Map<String, Value>) -> bool {
    let first = object.get("Members").and_then(|members| members.get(0)).and_then(Value::as_object);
    let kind = |member: &Map<String, Value>| member.get("@odata.type").and_then(Value::as_str).map(str::to_owned);
    first.is_some_and(|member| match kind(member) {
        Some(kind) => kind.ends_with(".Memory"),
        None => member.contains_key("CapacityMiB") || member.contains_key("MemoryDeviceType"),
    })
}
