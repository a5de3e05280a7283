//! Goods in: the modules that have come, piece by piece, against what was ordered; or, without an order, into bins.
//!
//! A [`Delivery`] has [`Piece`]s, each with what its SPD, its label and typed rows say of it, tied by a piece number,
//! and [`OrderLine`]s. [`Delivery::judge`] says of every piece whether it is right, wrong, not known or surplus;
//! [`Delivery::bins`] sorts the pieces by what they are.
//!
//! Of the facts of a piece the best source decides (the caller, SPD, label, a machine's report, rows). A piece is
//! *right* for a line if nothing that the line states is contradicted by the piece, or was read nowhere. A line states
//! what was bought, to the letter: a module of a higher grade than the line's contradicts it. The answer names the
//! fact, so that a person can accept the piece all the same.
//!
//! Pieces are put to lines so that as many as can be are right, and then as many as can be are not known. Of ways that
//! are as good, pieces that are better known go first: whose SPD was read, then whose label was, then with the fewest
//! open facts. A line never takes more pieces than it orders.
//!
//! An SPD of which a checksum fails is no source ([`SpdFault`]).

mod answer;
mod bins;
mod compare;
mod delivery;
mod facts;
mod judge;
mod matching;
mod order_line;
mod piece;
mod problem;
mod serials;
mod spd_fault;
#[cfg(test)]
mod tests;
mod text;
mod verdict;

pub use answer::{GoodsIn, JudgedLine, JudgedPiece};
pub use bins::{Bin, Bins, PieceAside};
pub use delivery::Delivery;
pub use order_line::OrderLine;
pub use piece::{Piece, PieceSource};
pub use problem::{DeliveryError, DeliveryProblem};
pub use serials::DoubledSerial;
pub use spd_fault::SpdFault;
pub use verdict::{FactDiffers, PieceVerdict};
