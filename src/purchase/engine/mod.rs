//! The engine: the search for the best plan. Each file is one step of the method (`purchase::method`).

mod alike;
mod choose;
mod classes;
mod completions;
mod context;
mod cost;
mod crowding;
mod demand;
#[cfg(test)]
mod effort;
#[allow(clippy::module_inception)]
mod engine;
mod goal;
mod hope;
mod ideal;
mod joint;
mod key;
#[cfg(test)]
mod lemmas;
mod loose;
mod needs;
mod possible;
mod search;
mod sequel;
mod sourcing;
mod spares;
mod stock;
mod suppliers;
mod table;
mod ties;
mod write;

pub(crate) use classes::Class;
pub(crate) use context::SearchContext;
pub(crate) use cost::Amount;
pub(crate) use engine::{Engine, RequestRules};
pub(crate) use goal::{Counts, Follows, Goal};
pub(crate) use needs::{Bounds, Needs, Terms};
pub(crate) use search::Found;
pub(crate) use sequel::Sequel;
pub(crate) use stock::{Lines, Stock, StockFilter};
