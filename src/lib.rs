//! Plans server memory.

pub mod module;
pub mod unit;
