//! The table in which a machine's firmware describes it (SMBIOS, the standard DSP0134), in bytes.
//!
//! The form is found out from the bytes:
//!
//! | form | known by |
//! |---|---|
//! | a dump file | `_SM_`, `_SM3_` or `_DMI_` at its beginning |
//! | the reply to a request for firmware tables | a head of 8 bytes: the version, and the length of the rest |
//! | a bare table, or single structures one after the other | anything else |

use serde::Serialize;
use thiserror::Error;

use crate::intake::firmware_table::{begins_table, report, table_of_bytes};
use crate::population::Report;
use crate::unit::Name;

/// Why bytes are no table.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum SmbiosError {
    /// There is not one structure where the table should begin.
    #[error("no structure of a firmware's table begins at byte {at:#x} of {bytes}")]
    NoTable {
        /// Where the table should begin.
        at: usize,
        /// How many bytes there are.
        bytes: usize,
    },
}

/// Reads a table: the machine's name and firmware, its places for processors, and those for memory modules.
///
/// Firmware gets much wrong: what is known of that is put right or left out. Each case has a remark in the report, with the byte
/// at which it stands; of more than 1,000 remarks the rest are only counted. Texts are read as UTF-8, and what is none is replaced. A place is called by its
/// handle, such as `0x1100`; places stand in the order of the table, which is no order of slots.
///
/// [`is_incomplete`](Report#structfield.is_incomplete) says that places may be missing: there is no memory device or no memory array in the table, an array has fewer devices than it says, or the table is cut off.
///
/// Memory of another use than system memory is left out, with a remark. What address ranges add up to is no source for an amount of memory, and is not read.
///
/// # Errors
/// When not one structure can be read: no bytes, an entry point without a table, bytes of anything else.
///
/// ```
/// use slotwright::intake::smbios;
/// use slotwright::population::PlaceState;
/// use slotwright::{Capacity, Name};
///
/// // one memory device: 23 bytes of fields, of which the size is 8192 MiB, then its one text
/// let mut bytes = vec![17, 23, 0x00, 0x11, 0, 0x10, 0, 0, 72, 0, 64, 0, 0, 0x20, 9, 0, 1, 0, 0x18, 0x80, 0x20, 0x40, 6];
/// bytes.extend(b"DIMM_A1\0\0");
/// let report = smbios::read(Name::new("dump")?, &bytes)?;
///
/// let [place] = report.places.as_slice() else { panic!("one place") };
/// assert_eq!((place.id.as_str(), place.state), ("0x1100", PlaceState::InUse));
/// assert_eq!(place.locator, Some(Name::new("DIMM_A1")?));
/// assert_eq!(place.module.as_ref().and_then(|module| module.capacity_mib), Some(Capacity::from_gib(8)));
/// assert!(report.is_incomplete, "one structure is no table");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn read(name: Name, bytes: &[u8]) -> Result<Report, SmbiosError> {
    let table = table_of_bytes(bytes).map_err(|at| SmbiosError::NoTable { at, bytes: bytes.len() })?;
    Ok(report(name, table))
}

/// Whether bytes are such a table: they begin with an entry point or with the head of a reply whose length is right, or they are structures from end to end.
///
/// Damaged bytes may be read all the same, where a caller knows what they are.
///
/// ```
/// use slotwright::intake::smbios;
///
/// assert!(smbios::looks_like(&[17, 4, 0x00, 0x11, 0, 0]));
/// assert!(!smbios::looks_like(b"Handle 0x1100, DMI type 17, 84 bytes"));
/// ```
#[must_use]
pub fn looks_like(bytes: &[u8]) -> bool {
    begins_table(bytes)
}
