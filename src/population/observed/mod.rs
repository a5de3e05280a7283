//! What reports say of a machine, with everything that they leave open.

mod date;
mod identity;
mod maker_id;
mod merged;
mod place;
mod remark;
mod report;
mod seen_module;

pub use date::{ReportDate, ReportDateError};
pub use identity::MachineIdentity;
pub use maker_id::{MakerId, MakerIdError};
pub use merged::{MergeError, Observed};
pub use place::{PlaceState, SeenPlace};
pub use remark::{Remark, Remarked};
pub use report::{ErrorCounter, Medium, Report, SeenProcessor, SeenTotal, TotalOf};
pub use seen_module::{ModuleFact, SeenModule};
