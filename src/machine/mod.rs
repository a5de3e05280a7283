//! A platform with what is fitted to it and how it is set.

mod description;
mod fitted;

pub use description::{FittedProcessor, MachineDescription, MachineError, MachineProblem};
pub use fitted::{Machine, RateCap, SlotState};
