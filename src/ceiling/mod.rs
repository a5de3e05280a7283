//! Which modules fit, how many, at what rate; and how much memory a machine takes at most.

mod accepts;
mod limited;
mod most;
mod sorts;
mod text;

pub use accepts::{Acceptance, LoadRate, Refusal};
pub(crate) use limited::one_of_each;
pub use most::{Binds, Ceiling, CeilingRow};
