//! A memory module: its facts, the capacity formula that ties them together, and its standard label.

mod facts;
mod individual;
mod label;
mod memory_module;
mod organization;
mod telling;

pub use facts::{
    DeviceWidth, Ecc, FormFactor, Generation, ModuleKind, NoVoltages, Stack, TemperatureRange, UnknownWord, Voltages,
};
pub use individual::Individual;
pub(crate) use label::is_dash;
pub use label::{
    CardRevision, CorrectionSort, Ddr4Bin, Ddr5Bin, FoundLabel, FoundLabelError, Label, LabelCorrection, LabelError,
    LabelField, ModuleType, RawCard, SpdRevision, SpeedBin, VariantLetter,
};
pub use memory_module::{MemoryModule, MemoryModuleBuilder, ModuleError};
pub use organization::Organization;
pub use telling::Telling;
