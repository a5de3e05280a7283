//! The crate held against published documents, against other methods, and against itself.

mod layers;
mod published;
