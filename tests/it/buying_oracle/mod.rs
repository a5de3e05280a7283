//! The verbs that buy against brute force: every population, every use of what is present, every purchase.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

mod answers;
mod break_even;
mod frontier;
mod market;
mod plans;
mod stages;
mod why;
mod worlds;

