//! What a rule has to say: typed, without text until it is printed.

mod fact;
#[allow(clippy::module_inception)]
mod finding;
mod place;

pub use fact::{Fact, FactName, FactValue};
pub use finding::{Finding, Remedy, Severity, Verdict};
pub use place::Place;
