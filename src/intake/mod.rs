//! Reads what machines and modules report of themselves into [`Report`](crate::population::Report)s.
//!
//! Bytes, text and values come in; nothing is opened and nothing is run. A reader reads what can be read, keeps what it
//! could not read, with its place, as a
//! [`Remark`](crate::population::Remark), and goes on.
//!
//! | reader | of |
//! |---|---|
//! | [`smbios`] | the table that a machine's firmware leaves (SMBIOS), as bytes |
//! | [`smbios_text`] | the same as a text of its structures, also as pasted in mail |
//! | `redfish` | resources of a management controller (Redfish); with the feature `redfish` |
//! | [`spd`] | the SPD image of one module |
//! | [`rows`] | rows with headings, typed or written by a program |
//! | [`titles`] | sellers' titles; they make [`Lot`]s, no reports |
//!
//! What the reports say together: [`Observed`](crate::population::Observed).

mod firmware_table;
#[cfg(feature = "redfish")]
#[cfg_attr(docsrs, doc(cfg(feature = "redfish")))]
pub mod redfish;
mod remarks;
pub mod rows;
pub mod smbios;
pub mod smbios_text;
pub mod spd;
pub mod titles;
#[cfg(test)]
mod tool;

pub use titles::Lot;
