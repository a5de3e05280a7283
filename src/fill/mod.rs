//! Where modules go: the fill order, and the best legal arrangement of given modules.

mod active;
mod arrange;
mod arrangement;
mod demand;
mod even;
mod grid;
mod loads;
mod mixing;
mod order;
mod pace;
mod place;
mod reach;
mod repeat;
mod rows;
mod split;

pub use arrange::{ArrangeError, ArrangeRequest, Pieces};
pub use arrangement::{Arrangement, Illegal, Legal, NoArrangement, SlotReason, SlotUse};
pub use even::{EvenOut, Evened};
pub use order::FillOrder;

pub(crate) use active::{Active, ActiveMix};
pub(crate) use demand::{Demand, Present, Usable};
pub(crate) use grid::{Grid, LoadFacts, NO_RATE, step_under};
pub(crate) use place::{Placed, free_slots, place};
