//! One truth: whatever the search refuses the rule book refuses, and the other way round.
//!
//! Boards are drawn in which every limit may stand, on any basis, required or advised, under any settings of
//! the rules. They are so small that every population can be held against the rule book; what the
//! searches answer must follow from that alone.

mod asked;
mod board;
pub mod case;
pub mod draw;
mod law;
mod limits;
mod modes;
mod modules;
mod named;
mod processor;
mod reduce;
mod rows;
mod statistics;
mod survey;
