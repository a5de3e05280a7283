//! Rows that a person has typed, or that another program has written: a heading, then a module a row.
//!
//! ```
//! use slotwright::intake::rows::{self, Column, Headings};
//! use slotwright::Name;
//!
//! let headings = Headings::standard().with("Steckplatz", Column::Slot);
//! let rows = [
//!     vec!["Steckplatz", "Size", "Type", "Speed (MT/s)", "Remarks"],
//!     vec!["A1", "16 GB", "DDR4 RDIMM", "2400", "blue tape"],
//!     vec!["A2", "-", "", "", ""],
//! ];
//! let report = rows::read(Name::new("walk round")?, &rows, &headings)?;
//! assert_eq!(report.places[0].module.as_ref().unwrap().to_string(), "16 GB DDR4 registered, rated 2400 MT/s");
//! assert_eq!(report.filled().count() + report.places.len(), 2); // nobody said whether the first works
//! assert_eq!(report.remarks[0].to_string(), "row 1, column 5: Remarks is not read: the heading is not known");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod cells;
mod headings;

pub use headings::{Column, Headings};

use serde::Serialize;
use thiserror::Error;

use crate::intake::remarks::Remarks;
use crate::population::{Medium, PlaceState, Remark, Report, SeenModule, SeenPlace};
use crate::unit::{Name, Names};

/// Why rows make no report.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum RowsError {
    /// There is no row.
    #[error("there are no rows; the first is to hold headings")]
    Empty,
    /// No heading is known.
    #[error("no heading of {found} is known; known are {known}")]
    NoHeading {
        /// What the first row holds.
        found: Names,
        /// Some headings that are known.
        known: Names,
    },
}

/// Reads rows of cells; the first row holds the headings. How cells are told apart is the caller's: by commas, tabs, or
/// a program's own table.
///
/// Cells that are not understood, and columns without a known heading, are [`remarks`](Report::remarks) with row and
/// column from 1. A row without a slot is kept: its module may be known by its serial number.
///
/// # Errors
/// Where there is no row, or no heading is known.
pub fn read<R: AsRef<[C]>, C: AsRef<str>>(name: Name, rows: &[R], headings: &Headings) -> Result<Report, RowsError> {
    let mut rows =
        rows.iter().enumerate().filter(|(_, row)| row.as_ref().iter().any(|cell| !cell.as_ref().trim().is_empty()));
    let (_, head) = rows.next().ok_or(RowsError::Empty)?;
    let head: Vec<&str> = head.as_ref().iter().map(|cell| cell.as_ref().trim()).collect();
    let columns: Vec<Option<Column>> = head.iter().map(|heading| headings.column(heading)).collect();
    if columns.iter().all(Option::is_none) {
        let found: Vec<Name> =
            head.iter().filter(|heading| !heading.is_empty()).map(|text| Name::lossy(text)).collect();
        return Err(RowsError::NoHeading { found: found.iter().collect(), known: headings.names() });
    }
    let (mut report, mut remarks) = (Report::new(name, Medium::Rows), Remarks::default());
    for (at, (heading, column)) in head.iter().zip(&columns).enumerate() {
        if column.is_none() && !heading.is_empty() {
            remarks.add(|| Remark::unread(&place(0, at), heading, "the heading is not known"));
        }
    }
    for (row, cells) in rows {
        let mut seen = SeenPlace::new(Name::lossy(&format!("row {}", row + 1)), PlaceState::Unknown);
        let mut module = SeenModule::new();
        for (at, cell) in cells.as_ref().iter().enumerate() {
            let cell = cell.as_ref().trim();
            let (Some(heading), Some(Some(column))) = (head.get(at), columns.get(at)) else { continue };
            if let Err(remark) = cells::read(*column, heading, cell, &mut seen, &mut module) {
                remarks.add(|| Remark::unknown_code(&place(row, at), heading, &remark));
            }
        }
        if seen.state != PlaceState::Absent && module != SeenModule::new() {
            seen.module = Some(module);
        }
        report.places.push(seen);
    }
    report.remarks = remarks.finish();
    Ok(report)
}

fn place(row: usize, column: usize) -> String {
    format!("row {}, column {}", row + 1, column + 1)
}
