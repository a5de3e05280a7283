//! What is in a place and whether it works.

use crate::intake::redfish::property::{Resource, folded};
use crate::intake::remarks::Remarks;
use crate::population::{PlaceState, Remark};

const STATE: &[&str] = &["Status", "State"];
const HEALTH: &[&str] = &["Status", "Health"];

/// What a member says of its size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Size {
    /// There is no such property.
    NotTold,
    /// 0 or null.
    Nothing,
    Some,
}

/// The state of a place.
pub(crate) fn read(resource: &Resource<'_>, size: Size, has_part: bool, remarks: &mut Remarks) -> PlaceState {
    let told = told(resource, remarks);
    let is_critical = resource.word(HEALTH, remarks).is_some_and(|health| folded(health) == "critical");
    if told == Some(PlaceState::Absent) {
        if size == Size::Some {
            let (found, with) = ("absent", "the size that is told");
            remarks.add(|| Remark::contradiction(&resource.at(STATE), "state", found, with));
        }
        return PlaceState::Absent;
    }
    match (size, told) {
        (Size::Nothing, _) if has_part || is_critical => {
            let beside = if has_part { "a part number" } else { "critical health" };
            let from = format!("a size of 0 beside {beside}");
            remarks.add(|| Remark::inferred(&resource.at(STATE), "state", "failed", &from));
            PlaceState::Failed
        }
        (Size::Nothing, _) => PlaceState::Absent,
        (Size::NotTold, None) if !has_part => PlaceState::Absent,
        // neither a size nor a part: it may be an empty place for which its controller has no other word
        (Size::NotTold, Some(PlaceState::InUse)) if !has_part => PlaceState::Unknown,
        // what its controller calls critical is not to be relied on, in use or not
        (_, Some(PlaceState::InUse)) if is_critical => {
            let (found, with) = ("critical", "a state of being in use");
            remarks.add(|| Remark::contradiction(&resource.at(HEALTH), "health", found, with));
            PlaceState::Failed
        }
        (_, Some(PlaceState::NotInUse)) if is_critical => PlaceState::Failed,
        (_, Some(state)) => state,
        (Size::Some | Size::NotTold, None) => {
            let from = "a module that is told, without a state";
            remarks.add(|| Remark::inferred(&resource.at(STATE), "state", "in use", from));
            PlaceState::InUse
        }
    }
}

/// What `Status.State` says, and `Enabled` of the member.
fn told(resource: &Resource<'_>, remarks: &mut Remarks) -> Option<PlaceState> {
    let word = resource.word(STATE, remarks);
    let state = match word.map(folded).as_deref() {
        None | Some("") => None,
        Some("absent") => Some(PlaceState::Absent),
        Some("enabled" | "degraded") => Some(PlaceState::InUse),
        Some(
            "disabled" | "standbyoffline" | "unavailableoffline" | "standbyspare" | "intest" | "starting" | "deferring"
            | "quiesced" | "updating" | "qualified",
        ) => Some(PlaceState::NotInUse),
        Some(_) => {
            resource.unknown(STATE, word.unwrap_or_default(), remarks);
            None
        }
    };
    let is_off = resource.value(&["Enabled"]).and_then(serde_json::Value::as_bool) == Some(false);
    match state {
        None | Some(PlaceState::InUse) if is_off => Some(PlaceState::NotInUse),
        state => state,
    }
}
