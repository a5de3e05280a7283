//! Reads what machines and modules report of themselves into [`Report`](crate::population::Report)s.
//!
//! Bytes, text and values come in; nothing is opened and nothing is run. A reader reads what can be read, keeps what it could not read, with its place, as a
//! [`Remark`](crate::population::Remark), and goes on.

#[cfg(feature = "redfish")]
#[cfg_attr(docsrs, doc(cfg(feature = "redfish")))]
pub mod redfish;
#[cfg(feature = "redfish")]
mod remarks;
pub mod spd;
