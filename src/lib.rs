//! Plans server memory.

// In the order of the layers: a module uses only what stands above it.
#[rustfmt::skip]
mod layers {}
pub mod unit;

mod search;

pub mod stated;

pub mod module;

pub mod processor;

pub mod platform;

pub mod machine;

pub mod population;

pub mod finding;

pub mod figure;

pub mod rule;

pub mod assess;

pub mod fill;

pub mod worked;

pub mod reference;

#[cfg(test)]
mod testing;
