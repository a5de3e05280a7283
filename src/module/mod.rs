//! A memory module: its facts, the capacity formula that ties them together, and its standard label.

mod facts;
mod individual;
mod memory_module;
mod organization;

pub use facts::{DeviceWidth, Ecc, FormFactor, Generation, ModuleKind, Stack, UnknownWord, Voltages};
pub use individual::Individual;
pub use memory_module::{MemoryModule, MemoryModuleBuilder, ModuleError};
pub use organization::Organization;
