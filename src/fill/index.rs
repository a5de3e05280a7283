//! Indices into a slot model.

use crate::search::index_types;

index_types! {
    /// A class of modules.
    ClassId;
    /// A usable slot, in fill order.
    PlaceId;
}
