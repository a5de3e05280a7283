//! Sellers' titles: what a line of free text says of a lot of modules, and what it leaves open.
//!
//! People write "64GB (4x16GB) 2Rx4 PC4-2400T-R ECC REG, used" in as many ways as there are sellers. [`read`] tells which
//! piece of the title says what ([`Claim`]), what it did not understand, all that the whole can mean ([`LotReading`]), and
//! what a careful buyer would ask ([`LotDoubt`]). It does not guess: a title that can mean two things has two readings, and
//! an [`Offer`](crate::purchase::Offer) comes only from a lot that is settled as far as the caller's question needs
//! ([`Lot::offer`]).
//!
//! Words come from a table that callers extend ([`Words`]): other languages, other habits.
//!
//! ```
//! use slotwright::intake::titles::{self, LotFact, Words};
//! use slotwright::population::ModuleFact;
//! use slotwright::{Capacity, Price};
//!
//! let words = Words::standard();
//! let lot = titles::read("64GB (4x16GB) 2Rx4 PC4-2400T-R ECC RDIMM, pulled", &words);
//! assert_eq!(lot.readings.len(), 1);
//! assert_eq!(lot.readings[0].count, Some(4));
//! assert_eq!(lot.claims[0].text, "64GB");
//! let offer = lot.offer("lot 1".parse()?, Price::new(2_500, "EUR".parse()?), &[ModuleFact::Grade])?;
//! assert_eq!((offer.stock, offer.module.capacity()), (4, Capacity::from_gib(16)));
//!
//! // the sum does not come out, and the letter is that of another kind
//! let lot = titles::read("128GB kit 4x16GB PC4-2400T-R unbuffered", &words);
//! assert!(lot.contradictions().eq([LotFact::Amount, LotFact::Kind]));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! Source of the rates, names and labels: the standards behind [`Label`](crate::module::Label); of the habits of sellers:
//! common practice, no source.

mod amounts;
mod asides;
mod claim;
mod fold;
mod helping;
mod lot;
mod numbers;
mod offer;
mod quantities;
mod rates;
mod reader;
#[cfg(test)]
mod tests;
mod tokens;
mod words;

pub use claim::{Aside, Claim, LotCondition, LotFact, Says};
pub use lot::{Lot, LotDoubt, LotReading, Passage};
pub use offer::{LotMatter, LotOpen};
pub use words::{Meaning, Words};

use crate::intake::titles::reader::Reader;

/// Reads a title: one line of a seller's list. Never fails; what is not understood is shown as such.
#[must_use]
pub fn read(title: &str, words: &Words) -> Lot {
    let reader = Reader::read(title, words);
    let mut not_understood: Vec<Passage> = Vec::new();
    for at in 0..reader.tokens.len() {
        if reader.is_claimed.get(at) == Some(&true) || reader.tokens.mark(at).is_some() {
            continue;
        }
        let bytes = reader.tokens.bytes(at, at + 1);
        match not_understood.last_mut() {
            // what is written as one word is one
            Some(last) if last.end == bytes.start => last.end = bytes.end,
            _ => not_understood.push(Passage { start: bytes.start, end: bytes.end, text: String::new() }),
        }
    }
    for passage in &mut not_understood {
        title.get(passage.start..passage.end).unwrap_or_default().clone_into(&mut passage.text);
    }
    let mut lot = Lot {
        title: title.to_owned(),
        claims: reader.claims,
        not_understood,
        confirmed: Vec::new(),
        readings: Vec::new(),
        doubts: Vec::new(),
    };
    fold::judge(&mut lot);
    lot
}
