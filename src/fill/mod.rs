//! Where modules go: the fill order, and the best legal arrangement of given modules.

mod arrange;
mod arrangement;
mod candidate;
mod demand;
mod even;
mod in_force;
mod index;
mod loads;
mod mixing;
mod order;
mod pace;
mod place;
mod reach;
mod repeat;
mod rows;
mod slot_model;
mod split;

pub use arrange::{ArrangeError, ArrangeRequest, Pieces};
pub use arrangement::{Arrangement, Illegal, Legal, NoArrangement, SlotReason, SlotUse};
pub use even::{EvenOut, Evened};
pub use order::FillOrder;

pub(crate) use candidate::{by_turn, judge};
pub(crate) use demand::{Demand, Present, Usable};
pub(crate) use in_force::{MixInForce, RulesInForce};
pub(crate) use index::{ClassId, PlaceId};
pub(crate) use place::{Placed, free_slots, place};
pub(crate) use slot_model::{LoadFacts, NO_RATE, SlotModel, step_under};
