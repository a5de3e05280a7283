//! Exact search that knows nothing of memory: sets of count vectors, a node budget, why it ends, and typed indices.

mod budget;
mod index;
mod prices;
mod states;
mod stop;

pub use budget::Progress;
pub use stop::{InternalFault, SearchSize, StopReason};

pub(crate) use budget::{Budget, Watch};
pub(crate) use index::{Index, Table, index_types, wide};
pub(crate) use prices::{Column, Prices};
pub(crate) use states::{DigitIx, Space, StateIx, StateSet};
