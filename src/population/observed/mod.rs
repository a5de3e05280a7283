//! What reports say of a machine, with everything that they leave open.

pub(crate) mod combine;
mod compared;
mod date;
mod identity;
mod laying;
mod locator;
mod maker_id;
mod merged;
mod named_slots;
mod place;
mod placement;
mod readings;
mod recognise;
mod remark;
mod report;
mod seen_module;
mod settle;
mod sited;
mod siting;
mod sockets;
mod text;

pub(crate) use combine::serial;
pub use compared::{ChangeOf, SeenChange, SeenChanges, SeenMove};
pub use date::{ReportDate, ReportDateError};
pub use identity::MachineIdentity;
pub(crate) use locator::folded;
pub use maker_id::{MakerId, MakerIdError};
pub use merged::{MergeError, Observed};
pub use named_slots::{NamedSlots, SlotNameError};
pub use place::{PlaceState, SeenPlace};
pub use placement::{PlacedBy, Placement};
pub(crate) use readings::readings_of;
pub use recognise::{OpenProcessor, RecogniseError, Recognised, Recognition};
pub use remark::{Remark, Remarked};
pub use report::{ErrorCounter, Medium, Report, SeenProcessor, SeenTotal, TotalOf};
pub use seen_module::{ModuleFact, SeenModule};
pub use settle::{Answer, AnswerError, Open, OpenError, OpenMatter, PartFacts};
pub use sited::{
    About, Assumed, Disagreement, LeansOn, Said, Sited, SitedModule, SitedProcessor, SitedSlot, UnplacedPlace,
};
pub(crate) use sited::{common_of, open_facts_of};
pub use siting::SitingError;
