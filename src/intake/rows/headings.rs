use std::collections::BTreeMap;

use crate::unit::{Name, Names};

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Column {
    /// Which slot.
    Slot,
    /// In which bank.
    Bank,
    /// What is there and whether it works.
    State,
    /// The text on the label.
    Label,
    /// How much it holds, with its unit, or with that of the heading.
    Size,
    /// Generation, kind and form in words: "DDR4 RDIMM".
    Type,
    /// The rate that it is rated for, in MT/s or by name: "2400", "DDR4-2400", "PC4-2400T", "PC3-12800".
    Rate,
    /// The rate at which it runs.
    RunningRate,
    /// A number of ranks, or ranks and width: "2", "2Rx4".
    Ranks,
    /// Data bits of a device: "x4".
    Width,
    /// Who made it.
    Maker,
    /// Its part number.
    PartNumber,
    /// Its serial number.
    Serial,
}

/// The words by which headings are known. Case, blanks and separators are no matter, nor what stands in brackets.
///
/// ```
/// use slotwright::intake::rows::{Column, Headings};
///
/// let headings = Headings::standard().with("Fach", Column::Slot);
/// assert_eq!(headings.column("FACH"), Some(Column::Slot));
/// assert_eq!(headings.column("Part No."), Some(Column::PartNumber));
/// assert_eq!(headings.column("Capacity (GB)"), Some(Column::Size));
/// assert_eq!(headings.column("colour"), None);
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Headings(BTreeMap<String, Column>);

/// Usual headings: common practice, no source.
const STANDARD: [(Column, &[&str]); 13] = [
    (Column::Slot, &["slot", "locator", "device locator", "dimm", "dimm slot", "position", "place", "location"]),
    (Column::Bank, &["bank", "bank locator"]),
    (Column::State, &["state", "status", "health"]),
    (Column::Label, &["label", "module", "label text", "description"]),
    (
        Column::Size,
        &[
            "size",
            "capacity",
            "size gb",
            "capacity gb",
            "gb",
            "size mb",
            "capacity mb",
            "mb",
            "size mib",
            "capacity mib",
            "size gib",
            "capacity gib",
        ],
    ),
    (
        Column::Type,
        &["type", "kind", "generation", "technology", "module type", "memory type", "form factor", "buffering"],
    ),
    (
        Column::Rate,
        &[
            "rate",
            "speed",
            "rated",
            "rated speed",
            "max speed",
            "speed mts",
            "speed mhz",
            "rate mts",
            "data rate",
            "grade",
        ],
    ),
    (
        Column::RunningRate,
        &[
            "running",
            "running rate",
            "running speed",
            "configured speed",
            "configured memory speed",
            "configured clock speed",
            "current speed",
            "operating speed",
        ],
    ),
    (Column::Ranks, &["rank", "ranks", "organization", "organisation", "ranks x width"]),
    (Column::Width, &["width", "device width"]),
    (Column::Maker, &["maker", "manufacturer", "vendor", "make", "brand"]),
    (Column::PartNumber, &["part", "part number", "part no", "part nr", "partnumber", "pn", "mpn", "model"]),
    (Column::Serial, &["serial", "serial number", "serial no", "serial nr", "serialnumber", "sn"]),
];

impl Headings {
    /// Usual English headings.
    #[must_use]
    pub fn standard() -> Self {
        let words = STANDARD.iter().flat_map(|(column, words)| words.iter().map(|word| (folded(word), *column)));
        Self(words.collect())
    }

    /// The same with a further heading, in place of another of this text.
    #[must_use]
    pub fn with(mut self, heading: &str, column: Column) -> Self {
        self.0.insert(folded(heading), column);
        self
    }

    /// What a heading stands for.
    #[must_use]
    pub fn column(&self, heading: &str) -> Option<Column> {
        let bare = heading.split(['(', '[']).next().unwrap_or_default();
        self.0.get(&folded(heading)).or_else(|| self.0.get(&folded(bare))).copied()
    }

    /// A heading for each sort of column.
    pub(crate) fn names(&self) -> Names {
        let names: Vec<Name> =
            STANDARD.iter().filter_map(|(_, words)| words.first()).map(|word| Name::lossy(word)).collect();
        names.iter().collect()
    }
}

fn folded(heading: &str) -> String {
    heading.chars().filter(|letter| letter.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}
