//! Holds a platform's worked rows against its own description: a description proves itself.
//!
//! ```
//! use slotwright::{reference, worked};
//!
//! let results = worked::check(&reference::ddr4_2s_4ch_3spc());
//! let first = results.first().expect("the platform has worked rows");
//! assert_eq!(first.to_string(), "8 registered: holds");
//! ```

mod check;
mod coverage;
mod difference;
mod loosen;
mod result;

pub use check::check;
use check::{check_row, machine_of};
pub use coverage::{Coverage, CoveredLimit, Held, PROBES, ProbeQuestion, coverage};
pub use difference::Difference;
pub use result::{NotJudged, WorkedOutcome, WorkedResult};
