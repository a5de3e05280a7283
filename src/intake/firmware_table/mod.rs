//! What the table of a machine's firmware says, in whichever form it comes: both forms are brought to one [`Table`], and one
//! place makes a report of that.
//!
//! Source: DSP0134 (SMBIOS) by its public implementations: offsets, lengths, codes. What firmware gets wrong is noted where it is put right.

mod bytes;
mod check_bits;
mod fields;
mod generation;
mod kind;
mod maker;
mod place;
mod printed;
mod rates;
mod repeated;
mod report;
mod said;
mod size;
#[cfg(test)]
mod tests;
mod virtual_machine;
mod voltages;
mod words;

pub(crate) use crate::intake::remarks::Remarks;
pub(crate) use bytes::{begins_table, table_of_bytes};
pub(crate) use fields::{Array, Device, Field, Origin, Processor, Table};
pub(crate) use printed::{begins_print, reports_of_text};
pub(crate) use report::report;
pub(crate) use said::Said;
pub(crate) use size::Size;
