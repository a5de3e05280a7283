//! A platform with what is fitted to it and how it is set.

mod best_rate;
mod description;
mod fitted;
mod identity;
mod printed;
mod units;
mod wiring;

pub use description::{FittedProcessor, MachineDescription, MachineError, MachineProblem};
pub use fitted::{Machine, RateCap, SlotState};

pub(crate) use printed::{PrintedLayout, Wanted};
pub(crate) use units::Unit;
pub(crate) use wiring::{WiredChannels, WiredSet, Wiring};
