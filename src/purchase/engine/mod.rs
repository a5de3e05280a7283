//! The search for the best plan.

mod alike;
mod author;
pub(crate) mod classes;
pub(crate) mod context;
mod demand;
pub(crate) mod desk;
mod loose;
pub(crate) mod solve;
pub(crate) mod sources;
pub(crate) mod sourcing;
pub(crate) mod stock;
