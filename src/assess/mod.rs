//! A population judged: its figures and what the rules say of it.

mod assessment;
mod modes;
mod planner;
mod shared;

pub use crate::search::{InternalFault, Progress, SearchSize, StopReason};
pub use assessment::{Assessment, Legality};
pub use modes::ModeLeft;
pub use planner::Planner;
pub use shared::SharedPlanner;
