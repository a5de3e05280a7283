//! The crate held against published documents, against other methods, and against itself.

// modules of a test binary: nothing is reached from elsewhere
#![allow(unreachable_pub)]

mod arrange_oracle;
mod boards;
mod judge;
mod laws;
mod layers;
mod published;
mod purchase_oracle;
