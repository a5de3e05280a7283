//! Which modules fit, how many, at what rate; and how much memory a machine takes at most.

mod accepts;
mod limited;
mod most;
mod sorts;
mod text;

pub use accepts::{Acceptance, LoadRate, Refusal};
pub use most::{Binds, Ceiling, CeilingRow};
