//! Exact search that knows nothing of memory: sets of count vectors, a node budget, and bounds.

mod budget;
mod states;

pub use budget::Progress;
pub(crate) use budget::{Budget, Spent, Watch};
pub(crate) use states::{Space, StateSet};
