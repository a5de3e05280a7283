//! A population judged: its figures and what the rules say of it.

mod assessment;
mod planner;

pub use crate::search::{InternalFault, Progress, SearchSize, StopReason};
pub use assessment::Assessment;
pub use planner::Planner;
