//! The crate held against published documents, against other methods, and against itself.

mod arrange_oracle;
mod boards;
mod judge;
mod laws;
mod layers;
mod published;
mod purchase_oracle;
