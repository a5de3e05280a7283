//! Whether a machine reports what was planned once hands have done the work; and if not, the least explanations and what to do next.
//!
//! # How it is judged
//! First, is the report of this machine, and later than the work? Only a clear *no* withholds the verdict; what is not said is a condition of it. Then
//! slot by slot: a slot is as planned when its state and size agree and nothing reliable contradicts. Ranks, voltages, makers and the way of
//! buffering, as machines report them, are notes. Totals and rates are held against the slots *as they are reported*: a module that is not seen
//! explains the total that is short by it. Only what the slots do not imply needs a reason of its own.
//!
//! # How causes are found
//! A fault changes a state: what sits where, then how it is read, then how the machine is set, then how it reports ([`WorkFault`]). One function makes the
//! report of a state; [`Planner::expected_report`](crate::assess::Planner::expected_report) hands it out. An explanation is a set of faults whose report
//! agrees with what is seen wherever that tells anything; the least are all found, or the search says that it was stopped. What counts as one fault:
//!
//! - a slot, a channel, a processor, the machine, or all modules of one part that read as empty, as failed or as not in use;
//! - a move that was not done, with what was to come in its place;
//! - a module in another slot, two that are swapped, three or more that are rotated, where the report tells them apart;
//! - another module than planned, or one too many;
//! - everything as before; another mode, power profile or cap; modules of a lower grade, where the report does not tell the
//!   rated rate apart from the running one;
//! - a report that contradicts itself, where nothing else explains it, or a total is short by less than a module.
//!
//! Faults that give one report are one fault; what each may be at bottom, most frequent first, is a list ([`FaultSort`]), and the [next step](NextStep) is the
//! least effort that tells its members apart.

mod cause;
mod check;
mod check_note;
mod compare;
mod error;
mod expected;
mod fault_sort;
mod figures;
mod first;
mod judge;
mod next;
mod noted;
mod parts;
mod pieces;
mod record;
mod request;
mod scene;
mod search;
mod slot_holds;
mod solve;
mod state;
mod step;
mod swap_test;
mod tell;
mod test_outcome;
#[cfg(test)]
mod tests;
mod text;
mod why;
mod work_fault;

pub use cause::{Cause, CauseGroup, Causes, Evidence, Explanation};
pub use check::{AcceptanceCheck, AcceptanceVerdict, Told};
pub use check_note::CheckNote;
pub use error::AcceptanceError;
pub(crate) use expected::sound_report;
pub use fault_sort::FaultSort;
pub use next::{NextOutcome, NextStep};
pub use parts::{
    Condition, MachineCheck, ModeCheck, RateCheck, SlotCheck, SlotVerdict, Strength, TimeCheck, TotalCheck,
};
pub use record::{AcceptanceRecord, RecordedSlot, RecordedTest};
pub use request::{AcceptanceRequest, WorkDone};
pub use slot_holds::SlotHolds;
pub use step::{Effort, Shown, Step};
pub use swap_test::{Expected, SwapRequest, SwapState, SwapTest, SwapVerdict};
pub use test_outcome::TestOutcome;
pub use work_fault::WorkFault;
