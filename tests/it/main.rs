//! Tests of the crate as a caller sees it.

mod arrange_oracle;
mod boards;
mod judge;
mod laws;
mod purchase_oracle;
