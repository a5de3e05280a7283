//! What sits in each slot.
//!
//! A [`Population`] is plain data by slot label. A [`Layout`] is a population laid on one machine: the
//! form on which figures and rules work, a channel or a processor at a time.

mod fault;
mod layout;
mod load;
mod observed;
mod occupant;
#[allow(clippy::module_inception)]
mod population;
mod text;
mod unit_load;

pub use fault::Fault;
pub use layout::{Content, Layout, PopulationError, PopulationProblem};
pub use load::{ChannelLoad, ModuleSite, SocketLoad};
pub use observed::{
    About, Answer, AnswerError, Assumed, ChangeOf, Disagreement, ErrorCounter, LeansOn, MachineIdentity, MakerId,
    MakerIdError, Medium, MergeError, ModuleFact, NamedSlots, Observed, Open, OpenError, OpenMatter, OpenProcessor,
    PartFacts, PlaceState, PlacedBy, Placement, RecogniseError, Recognised, Recognition, Remark, Remarked, Report,
    ReportDate, ReportDateError, Said, SeenChange, SeenChanges, SeenModule, SeenMove, SeenPlace, SeenProcessor,
    SeenTotal, Sited, SitedModule, SitedProcessor, SitedSlot, SitingError, SlotNameError, TotalOf, UnplacedPlace,
};
pub(crate) use observed::{combine, folded, serial};
pub(crate) use observed::{common_of, open_facts_of, readings_of};
pub(crate) use occupant::FittedFields;
pub use occupant::{DeviceSort, Fitted, Occupant, OtherDevice};
pub use population::{Change, Population, SlotGivenTwice};
pub use text::Changes;

pub(crate) use unit_load::UnitLoad;
