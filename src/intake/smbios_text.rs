//! The table in which a machine's firmware describes it, as the decoder dmidecode prints it.
//!
//! Text of every version is read: a handle and its type on one line or on two, sizes in kB, MB, GB or TB, rates in MHz or MT/s (the number means
//! the same), keys by their older and newer names, without regard to case. So is text that went through a mail: with marks of quotation, without tabs, with wrapped lines.

use serde::Serialize;
use thiserror::Error;

use crate::intake::firmware_table::{begins_print, reports_of_text};
use crate::population::Report;
use crate::unit::Name;

/// Why a text holds no report.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum SmbiosTextError {
    /// Not one structure is printed in it.
    #[error(
        "no structure is printed in the text: no line such as \"Handle 0x1100, DMI type 17, 84 bytes\" or \"Memory Device\""
    )]
    NoStructure,
}

/// Reads what the tool printed, of one machine or of several.
///
/// What is put right, left out and remarked is the same as for [bytes](crate::intake::smbios::read); remarks name lines. A place is called by its handle, or by its first line (`line 12`) in
/// a print without handles.
///
/// A text begins another machine where it prints the firmware (type 0) or its first handle again, or where the tool's own heading stands once more before a type that there was already. The
/// reports of the second and later machines have their number behind the name: `mail (2)`.
///
/// # Errors
/// When the text prints not one structure.
///
/// ```
/// use slotwright::intake::smbios_text;
/// use slotwright::module::ModuleKind;
/// use slotwright::{Capacity, DataRate, Name};
///
/// let mail = "\
/// > Handle 0x1100, DMI type 17, 84 bytes
/// > Memory Device
/// >   Size: 16 GB
/// >   Locator: DIMM_A1
/// >   Type: DDR4
/// >   Type Detail: Synchronous Registered (Buffered)
/// >   Speed: 2400 MT/s
/// ";
/// let reports = smbios_text::read(Name::new("mail")?, mail)?;
/// let (place, module) = reports[0].modules().next().expect("one module");
/// assert_eq!(place.locator, Some(Name::new("DIMM_A1")?));
/// assert_eq!(module.capacity_mib, Some(Capacity::from_gib(16)));
/// assert_eq!((module.kind, module.grade_mts), (Some(ModuleKind::Registered), Some(DataRate::DDR4_2400)));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn read(name: Name, text: &str) -> Result<Vec<Report>, SmbiosTextError> {
    let reports = reports_of_text(&name, text);
    if reports.is_empty() { Err(SmbiosTextError::NoStructure) } else { Ok(reports) }
}

/// Whether a file holds such a print: one of its first lines is the tool's heading, a handle with its number, or the name of a memory
/// structure. The first 64 KiB are looked at.
///
/// ```
/// use slotwright::intake::smbios_text;
///
/// assert!(smbios_text::looks_like(b"> # dmidecode 3.3\n> Getting SMBIOS data from sysfs.\n"));
/// assert!(!smbios_text::looks_like(b"8 modules, 16 GB each\n"));
/// ```
#[must_use]
pub fn looks_like(bytes: &[u8]) -> bool {
    let first = bytes.get(..64 * 1024).unwrap_or(bytes);
    begins_print(&String::from_utf8_lossy(first))
}
