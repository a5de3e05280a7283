//! Finds out what a file is, and reads it.

use std::fs;
use std::path::Path;

use slotwright::Name;
use slotwright::intake::rows::{self, Headings};
use slotwright::intake::spd::SpdImage;
use slotwright::intake::{smbios, smbios_text};
use slotwright::population::Report;

/// The reports of a file, whatever it is: a table of firmware as bytes or text, the image of an SPD, JSON of a management
/// controller, rows with headings. `None` for a text that is none of these. All files that are read together are taken to be of
/// one start of the machine: nothing was moved between them.
pub(crate) fn reports(file: &Path) -> Result<Option<Vec<Report>>, String> {
    let bytes = fs::read(file).map_err(|error| format!("{}: {error}", file.display()))?;
    let called = Name::lossy(&file.file_name().unwrap_or(file.as_os_str()).to_string_lossy());
    let named = |error: &dyn std::fmt::Display| format!("{}: {error}", file.display());
    let together = |report: Report| report.start(Name::lossy("these files"));
    if let Ok(image) = SpdImage::read(&bytes) {
        // an SPD does not say where its module sat: the file may be named so, "A1.bin"
        let slot = file.file_stem().map(|stem| Name::lossy(&stem.to_string_lossy()));
        return Ok(Some(vec![together(image.report(called, slot))]));
    }
    if smbios::looks_like(&bytes) {
        let report = smbios::read(called, &bytes).map_err(|error| named(&error))?;
        return Ok(Some(vec![together(report)]));
    }
    let text = String::from_utf8_lossy(&bytes);
    if smbios_text::looks_like(&bytes) {
        let reports = smbios_text::read(called, &text).map_err(|error| named(&error))?;
        return Ok(Some(reports.into_iter().map(together).collect()));
    }
    if text.trim_start().starts_with(['{', '[']) {
        return json(called, &text).map(|report| Some(vec![together(report)])).map_err(|error| named(&error));
    }
    let separator = text.lines().find_map(|line| ['\t', ';', ',', '|'].into_iter().find(|sign| line.contains(*sign)));
    let Some(separator) = separator else { return Ok(None) };
    let rows: Vec<Vec<&str>> = text.lines().map(|line| line.split(separator).collect()).collect();
    match rows::read(called, &rows, &Headings::standard()) {
        Ok(report) => Ok(Some(vec![together(report)])),
        Err(_) => Ok(None),
    }
}

#[cfg(feature = "redfish")]
fn json(called: Name, text: &str) -> Result<Report, String> {
    let document = serde_json::from_str(text).map_err(|error| format!("line {}: {error}", error.line()))?;
    slotwright::intake::redfish::read(called, &document).map_err(|error| error.to_string())
}

#[cfg(not(feature = "redfish"))]
fn json(_: Name, _: &str) -> Result<Report, String> {
    Err("JSON of a management controller is read with --features redfish".to_owned())
}
