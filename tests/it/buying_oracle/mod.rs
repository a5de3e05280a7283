//! The verbs that buy against brute force: every population, every use of what is present, every purchase.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

mod answers;
mod bad_input;
mod break_even;
mod frontier;
mod kept;
mod market;
mod plans;
mod rules_in_the_way;
mod savings;
mod stages;
mod stand_ins;
mod stops;
mod why;
pub mod wishes;
pub mod worlds;
