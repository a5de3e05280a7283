//! What a processor's memory controllers allow.
//!
//! A [`Processor`] is a checked [`ProcessorDescription`]; the description is also its document.

mod description;
mod interleave;
mod limits;
mod module_pattern;
pub(crate) mod one_to_one;
mod rate_table;

pub use description::{Processor, ProcessorDescription, ProcessorError, ProcessorProblem};
pub use interleave::{InterleaveProblem, InterleaveSet, InterleaveSets, PermittedSet};
pub use limits::{CapacityCap, CountedRanks, MixLimit, MixProperty, RankCounting, RankLimit};
pub use module_pattern::{MissingFact, ModulePattern};
pub use rate_table::{MixRow, RateCell, RateKey, RateLookup, RateRow, RateTable, RateTableProblem};
