use serde::Serialize;
use thiserror::Error;

/// Why a document is none that is read.
///
/// ```
/// use slotwright::intake::redfish::{self, RedfishError};
/// use slotwright::unit::Name;
///
/// let read = redfish::read(Name::new("bmc")?, &serde_json::json!({ "Name": "Root Service" }));
/// assert_eq!(read, Err(RedfishError::NothingFound));
/// # Ok::<(), slotwright::unit::NameError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum RedfishError {
    /// None of the resources that are read.
    #[error("the document has no Memory, Processor or ComputerSystem, nor a collection of one")]
    NothingFound,
}
