//! Work orders: from what is in a machine to what a plan wants there, step by step, and the way back.
//!
//! | verb | answer |
//! |---|---|
//! | [`work_order`](crate::assess::Planner::work_order) | [`WorkOrder`]: what hands do, in order, with halts and the way back from each |
//! | [`way_back`](crate::assess::Planner::way_back) | [`WayBack`]: the way back from a halt where modules were found bad |
//! | [`without`](crate::assess::Planner::without) | [`WithoutAnswer`]: what is left when modules fail |
//!
//! An order is carried out by other code than made it before it is returned ([`WorkOrder::simulate`]): each state on the way is one
//! that hands can bring about, and the last one is what was asked for.
//!
//! Everything that is taken out is kept in a bag under the label of its slot until the work is accepted. The platform maker's manual, local
//! rules and qualified people decide what is done to a machine; the texts of an order say so.

mod assign;
pub(crate) mod before_and_after;
pub(crate) mod bench;
mod caution;
mod check;
mod evened;
mod firmware;
mod going_back;
mod going_without;
mod halt;
mod leg;
mod line;
mod order;
mod problem;
mod request;
mod simulate;
mod state;
mod step;
mod text;
mod trial;
mod way_back;
mod without;
pub(crate) mod wording;
mod write;

#[cfg(test)]
mod tests;

pub use caution::Caution;
pub use check::Check;
pub use halt::{Halt, HaltAt};
pub use line::OrderLine;
pub use order::{StopRule, Supply, WorkOrder};
pub use problem::{OrderError, OrderProblem, Side};
pub use request::OrderRequest;
pub use simulate::{SimulationError, SimulationProblem};
pub use state::WorkState;
pub use step::{Action, PutDown, Step};
pub use trial::{Trial, TrialStart};
pub use way_back::{FoundBad, WayBack, WayBackError};
pub use without::{SlotStandIns, Without, WithoutAnswer, WithoutError, WithoutNote, WithoutWay};
