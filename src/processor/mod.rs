//! What a processor's memory controllers allow.
//!
//! A [`Processor`] is a checked [`ProcessorDescription`]; the description is also its document.

mod description;
mod interleave;
mod limits;
mod missing_fact;
mod module_pattern;
pub(crate) mod one_to_one;
mod pattern_problem;
#[cfg(test)]
mod pattern_tests;
mod pattern_text;
mod pattern_words;
mod rate_lines;
mod rate_table;
mod span;
pub(crate) mod specific;

pub use description::{Processor, ProcessorDescription, ProcessorError, ProcessorProblem};
pub use interleave::{InterleaveProblem, InterleaveSet, InterleaveSets, PermittedSet};
pub use limits::{CapacityCap, CountedRanks, MixLimit, MixProperty, RankCounting, RankLimit};
pub use missing_fact::MissingFact;
pub use module_pattern::ModulePattern;
pub(crate) use module_pattern::PatternFields;
pub use pattern_problem::PatternProblem;
pub use pattern_words::PatternWordError;
pub use rate_lines::RateLineError;
pub use rate_table::{MixRow, RateCell, RateKey, RateLookup, RateRow, RateTable, RateTableProblem};

pub(crate) use span::Span;
