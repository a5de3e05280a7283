//! What management controllers answer by DMTF's Redfish: Memory, Processor and ComputerSystem.

mod device;
mod error;
mod found;
mod maker;
mod memory;
mod number;
mod property;
mod rank;
mod resources;
mod state;
mod system;

use std::collections::BTreeSet;

use serde_json::Value;

pub use self::error::RedfishError;
use crate::intake::redfish::found::Found;
use crate::intake::redfish::memory::Part;
use crate::intake::remarks::Remarks;
use crate::population::{Medium, Remark, Report};
use crate::unit::Name;

/// Reads a document of Redfish: one resource, a collection whose members stand in it, an array of such, a map from addresses to resources, or a whole
/// tree, in which resources are found by their `@odata.type`, or where there is none by the properties that they have. Read are Memory, Processor and
/// ComputerSystem as of DMTF's schemas of 2025.4 (Memory 1.23.0). What makers add under `Oem` is not.
///
/// - **Places.** A member of which `Status.State` is `Absent` is empty, and so is one without size, part number and any other state. A size of 0 beside a
///   part number means a module that is dead. `Enabled` is in use, `Degraded` too; a spare (`StandbySpare`) is there and not in use, as is whatever is
///   disabled, off line, starting, in test or quiesced. Critical health of one that is not in use means that it has failed. Dies, soldered and on-package memory, caches and what hangs at another processor than a CPU
///   are no modules; they are left out with a remark.
/// - **Numbers.** Numbers of `MemoryLocation` are kept as they are, as an address of the scheme `redfish`: what they count is the maker's business. A size is corrected in one case,
///   where it is a multiple of 15625 MiB for one of 16384, with a remark. A running rate that is 0, or off by a factor of two so that no memory can run at it, is left out with a remark. So is a number of ranks that
///   is none, or that counts the members.
/// - **Completeness.** Absence proves nothing unless a collection of Memory is there with all of its members.
/// - Two resources of one `@odata.id` are one; of unlike ones that with more properties is kept, with a remark.
///
/// ```
/// use slotwright::intake::redfish;
/// use slotwright::population::PlaceState;
/// use slotwright::unit::{Capacity, Name};
///
/// let document = serde_json::json!({
///     "@odata.id": "/redfish/v1/Systems/1/Memory",
///     "@odata.type": "#MemoryCollection.MemoryCollection",
///     "Members@odata.count": 2,
///     "Members": [
///         { "@odata.id": "/redfish/v1/Systems/1/Memory/1", "@odata.type": "#Memory.v1_9_0.Memory", "DeviceLocator": "A1",
///           "CapacityMiB": 16384, "MemoryDeviceType": "DDR4", "BaseModuleType": "RDIMM", "Status": { "State": "Enabled" } },
///         { "@odata.id": "/redfish/v1/Systems/1/Memory/2", "@odata.type": "#Memory.v1_9_0.Memory", "DeviceLocator": "A2",
///           "Status": { "State": "Absent", "Health": "OK" } },
///     ],
/// });
/// let report = redfish::read(Name::new("bmc")?, &document)?;
/// assert_eq!(report.places[0].state, PlaceState::InUse);
/// assert_eq!(report.places[0].module.as_ref().unwrap().capacity_mib, Some(Capacity::from_gib(16)));
/// assert_eq!(report.places[1].state, PlaceState::Absent);
/// assert!(!report.is_incomplete && report.remarks.is_empty());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When none of these resources is in the document, nor a collection of one.
pub fn read(name: Name, document: &Value) -> Result<Report, RedfishError> {
    let mut remarks = Remarks::default();
    let found = Found::search(document, &mut remarks);
    if found.is_empty() {
        return Err(RedfishError::NothingFound);
    }
    let mut report = Report::new(name, Medium::Machine);
    let processors = system::processors(&found.processors, &mut report, &mut remarks);
    system::systems(&found.systems, &mut report, &mut remarks);
    let counted = rank::that_count_members(&found.memory);
    let (mut ids, mut spare) = (BTreeSet::new(), 0_u64);
    for resource in &found.memory {
        match memory::read(resource, &processors, counted, &mut remarks) {
            Part::Place(mut place) => {
                // cut to the length of a name, two addresses may be one
                while !ids.insert(place.id.clone()) {
                    spare += 1;
                    place.id = Name::lossy(&format!("member {spare}"));
                }
                report.places.push(*place);
            }
            Part::NoModule(why) => remarks.add(|| Remark::unread(&resource.id, "a member that is no module", why)),
        }
    }
    report.is_incomplete = !found.is_complete;
    report.remarks = remarks.finish();
    Ok(report)
}

#[cfg(test)]
mod tests;
