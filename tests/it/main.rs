//! The crate held against published documents, against other methods, and against itself.

// modules of a test binary: nothing is reached from elsewhere
#![allow(unreachable_pub)]
// a test may stop at what it did not expect
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap)]
// examples are programs by themselves: each has its parts
#![allow(clippy::duplicate_mod)]

mod acceptance;
mod accepted;
mod arrange_oracle;
mod bad_modes;
mod board_patterns;
mod boards;
mod buying_oracle;
mod by_hand;
mod carried_out;
mod cases;
mod describing;
mod evenness;
mod examples;
mod extreme_documents;
mod extremes;
mod found;
mod fuzz;
mod goods_in;
mod goods_in_files;
mod integer_program;
mod interface;
mod interleave_oracle;
mod judge;
mod laws;
mod layers;
mod mapped;
mod money;
mod names;
mod one_truth;
mod own_rules;
mod patterns;
mod published;
mod purchase_oracle;
mod rate_range;
mod reading;
mod reports;
#[cfg(feature = "schemars")]
mod schemas;
mod sheets;
mod signed;
mod threads;
mod titles;
mod unusable;
mod verbs_oracle;
mod work_order;
