//! Rows of a manual in lines: fill rows, numbers of modules, worked rows.

use std::collections::BTreeMap;

use serde::{Deserialize, Deserializer, Serialize};
use thiserror::Error;

use crate::module::{Label, LabelError};
use crate::platform::pattern::lists::words;
use crate::platform::{CountRow, FillRow, FillSlot, WorkedModules, WorkedRow};
use crate::stated::{Basis, Demand, Source};
use crate::unit::{Capacity, DataRate, Name, NameError};

/// Why a line is no row.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum RowLineError {
    /// A number of modules that is not the number of the slots.
    #[error("{line:?}: the row is of {stated} modules and names {found} slots")]
    OtherNumber {
        /// The line.
        line: String,
        /// The number before the colon.
        stated: usize,
        /// How many slots it names.
        found: usize,
    },
    /// Something that is not what should stand there.
    #[error("{line:?}: {found:?} is no {what}; {allowed}")]
    Unreadable {
        /// The line.
        line: String,
        /// What stands there.
        found: String,
        /// What should.
        what: &'static str,
        /// How that is written.
        allowed: &'static str,
    },
    /// A slot's label that is no name.
    #[error("{line:?}: {problem}")]
    Slot {
        /// The line.
        line: String,
        /// What is wrong with it.
        problem: NameError,
    },
    /// A module's label that cannot be read.
    #[error("{line:?}: {problem}")]
    Module {
        /// The line.
        line: String,
        /// What is wrong with it.
        problem: LabelError,
    },
}

fn unreadable(line: &str, found: &str, what: &'static str, allowed: &'static str) -> RowLineError {
    RowLineError::Unreadable { line: line.to_owned(), found: found.trim().to_owned(), what, allowed }
}

/// Names with blanks or commas between.
fn slots(line: &str, text: &str) -> Result<Vec<Name>, RowLineError> {
    words(text)
        .map(|name| Name::new(name).map_err(|problem| RowLineError::Slot { line: line.to_owned(), problem }))
        .collect()
}

impl FillRow {
    /// A row as a manual prints it: `4: A1 B1 C1 D1`. The number may be left out; where it stands, it must be the number of the slots.
    ///
    /// ```
    /// use slotwright::platform::FillRow;
    /// use slotwright::stated::{Basis, Demand};
    ///
    /// let row = FillRow::of_line("4: A1 B1 C1 D1", Demand::Required, Basis::BoardManual)?;
    /// assert_eq!(row.slots.len(), 4);
    /// assert!(FillRow::of_line("4: A1 B1 C1", Demand::Required, Basis::BoardManual).is_err());
    /// # Ok::<(), slotwright::platform::RowLineError>(())
    /// ```
    ///
    /// # Errors
    /// What is not understood of the line.
    pub fn of_line(line: &str, demand: Demand, basis: Basis) -> Result<Self, RowLineError> {
        let (number, text) = line.split_once(':').map_or((None, line), |(number, text)| (Some(number), text));
        let slots = slots(line, text)?;
        if let Some(number) = number {
            let allowed = "it is a whole number, the number of the slots";
            let stated = number.trim().parse().map_err(|_| unreadable(line, number, "number of modules", allowed))?;
            if stated != slots.len() {
                return Err(RowLineError::OtherNumber { line: line.to_owned(), stated, found: slots.len() });
            }
        }
        Ok(Self::new(slots, demand, basis))
    }
}

impl WorkedRow {
    /// A row as a manual prints it: modules by their labels, the slots where the row names them, and what it says of them. The line is the
    /// row's name, as far as a name may be long.
    ///
    /// `8 x 32GB 2Rx4 PC4-2400T-RB2-11 in A1 B1 C1 D1 E1 F1 G1 H1 -> 2400 MT/s, 256 GB`; further modules after ` + `; after the arrow
    /// a rate, a capacity, a usable capacity as `128 GB usable`, `refused by` a rule's code, or `works`.
    ///
    /// ```
    /// use slotwright::platform::WorkedRow;
    /// use slotwright::stated::Basis;
    /// use slotwright::{DataRate, Name};
    ///
    /// let line = "2 x 32GB 2Rx4 PC4-2400T-RB2-11 in A1 B1 + 2 x 16GB 1Rx4 PC4-2400T-RC1-11 -> 2400 MT/s, 96 GB";
    /// let row = WorkedRow::of_line(line, [(Name::new("1")?, Name::new("later")?)], Basis::BoardManual)?;
    /// assert_eq!((row.modules.len(), row.rate_mts), (2, Some(DataRate::DDR4_2400)));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// What is not understood of the line.
    pub fn of_line(
        line: &str,
        processors: impl IntoIterator<Item = (Name, Name)>,
        basis: Basis,
    ) -> Result<Self, RowLineError> {
        let form = "a row is written as 2 x 32GB 2Rx4 PC4-2400T-RB2-11 in A1 B1 -> 2400 MT/s, 64 GB";
        let (modules, said) = line.split_once("->").ok_or_else(|| unreadable(line, line, "worked row", form))?;
        let own = line.split_whitespace().collect::<Vec<_>>().join(" ");
        let short = own.char_indices().take_while(|(at, char)| at + char.len_utf8() <= Name::MAX_BYTES);
        let short: String = short.map(|(_, char)| char).collect();
        let mut row = Self::new(Name::lossy(short.trim()), processors, basis);
        for modules in modules.split(" + ") {
            row.modules.push(modules_of(line, modules)?);
        }
        for said in said.split(',').map(str::trim) {
            row.say(line, said)?;
        }
        Ok(row)
    }

    fn say(&mut self, line: &str, said: &str) -> Result<(), RowLineError> {
        let allowed = "allowed are a rate as 2400 MT/s, a capacity as 256 GB or 128 GB usable, refused by a rule's code, and works";
        let refused = || unreadable(line, said, "result", allowed);
        let number = |text: &str| text.trim().parse::<u32>().map_err(|_| refused());
        if said == "works" {
        } else if let Some(mts) = said.strip_suffix("MT/s") {
            self.rate_mts = Some(DataRate::from_mts(number(mts)?).map_err(|_| refused())?);
        } else if let Some(gib) = said.strip_suffix("GB usable") {
            self.usable_mib = Some(Capacity::from_gib(number(gib)?));
        } else if let Some(gib) = said.strip_suffix("GB") {
            self.capacity_mib = Some(Capacity::from_gib(number(gib)?));
        } else if let Some(code) = said.strip_prefix("refused by ") {
            self.refused_by = Some(Name::new(code.trim()).map_err(|_| refused())?);
        } else {
            return Err(refused());
        }
        Ok(())
    }
}

fn modules_of(line: &str, text: &str) -> Result<WorkedModules, RowLineError> {
    let form =
        "modules are written as 2 x 32GB 2Rx4 PC4-2400T-RB2-11, with in and slots behind where the row names them";
    let refused = || unreadable(line, text, "number of modules", form);
    let (count, rest) = text.split_once(" x ").ok_or_else(refused)?;
    let count = count.trim().parse().map_err(|_| refused())?;
    let (label, named) = rest.split_once(" in ").unwrap_or((rest, ""));
    let label: Label =
        label.trim().parse().map_err(|problem| RowLineError::Module { line: line.to_owned(), problem })?;
    Ok(WorkedModules::new(label.to_module(), count, slots(line, named)?))
}

/// A fill row of a document, or several that share all but their lines.
#[derive(Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(inline))]
#[serde(deny_unknown_fields)]
pub(crate) struct FillRowEntry {
    /// The slots to fill, and only these; or else lines.
    #[serde(default)]
    slots: Option<Vec<FillSlot>>,
    /// Rows in lines, such as 4: A1 B1 C1 D1.
    #[serde(default)]
    lines: Option<Vec<String>>,
    /// The rows hold when so many processors are present; any number where absent.
    #[serde(default)]
    processors: Option<u8>,
    /// The mode for which they hold; the independent mode where absent.
    #[serde(default)]
    mode: Option<Name>,
    /// Whether they must or should be kept.
    demand: Demand,
    /// What they rest on.
    basis: Basis,
    /// The text that they were copied from.
    #[serde(default)]
    source: Option<Source>,
}

/// A worked row of a document, or several that share all but their lines.
#[derive(Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(inline))]
#[serde(deny_unknown_fields)]
pub(crate) struct WorkedRowEntry {
    /// What the row is called in reports; a line is its own name.
    #[serde(default)]
    name: Option<Name>,
    /// The processor in each socket, by the names of the platform's processors.
    processors: BTreeMap<Name, Name>,
    /// The options fitted.
    #[serde(default)]
    options: Vec<Name>,
    /// The mode; independent where absent.
    #[serde(default)]
    mode: Option<Name>,
    /// The modules; or else lines.
    #[serde(default)]
    modules: Option<Vec<WorkedModules>>,
    /// Rows in lines, such as 2 x 32GB 2Rx4 PC4-2400T-RB2-11 in A1 B1 -> 2400 MT/s, 64 GB.
    #[serde(default)]
    lines: Option<Vec<String>>,
    /// The rate that the row states.
    #[serde(default)]
    rate_mts: Option<DataRate>,
    /// The capacity that the row states.
    #[serde(default)]
    capacity_mib: Option<Capacity>,
    /// The usable capacity that the row states.
    #[serde(default)]
    usable_mib: Option<Capacity>,
    /// The code of the rule that refuses these modules, for a row that says they do not work.
    #[serde(default)]
    refused_by: Option<Name>,
    /// What the row rests on.
    basis: Basis,
    /// The text that it was copied from.
    #[serde(default)]
    source: Option<Source>,
}

/// A row, or several that share all but their lines, for its schema.
#[cfg(feature = "schemars")]
#[derive(schemars::JsonSchema)]
#[schemars(untagged, inline)]
#[expect(dead_code, reason = "only its schema is used")]
pub(crate) enum RowsForm<R, E> {
    Row(R),
    Rows(E),
}

/// Fill rows of a document.
pub(crate) fn fill_rows<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<FillRow>, D::Error> {
    let entries: Vec<Entry<FillRow, FillRowEntry>> = Vec::deserialize(deserializer)?;
    Ok(entries.into_iter().flat_map(|entry| entry.0).collect())
}

/// Worked rows of a document.
pub(crate) fn worked_rows<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<WorkedRow>, D::Error> {
    let entries: Vec<Entry<WorkedRow, WorkedRowEntry>> = Vec::deserialize(deserializer)?;
    Ok(entries.into_iter().flat_map(|entry| entry.0).collect())
}

/// The rows of one entry, so that an error names the entry.
struct Entry<R, E>(Vec<R>, core::marker::PhantomData<E>);

/// What is read as rows.
trait Rows<R> {
    fn rows(self) -> Result<Vec<R>, String>;
}

impl<'de, R, E: Rows<R> + Deserialize<'de>> Deserialize<'de> for Entry<R, E> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let rows = E::deserialize(deserializer)?.rows();
        rows.map(|rows| Self(rows, core::marker::PhantomData)).map_err(serde::de::Error::custom)
    }
}

impl Rows<FillRow> for FillRowEntry {
    fn rows(self) -> Result<Vec<FillRow>, String> {
        let Self { slots, lines, processors, mode, demand, basis, source } = self;
        let whole = |row: FillRow| FillRow { processors, mode: mode.clone(), source: source.clone(), ..row };
        match (slots, lines) {
            (Some(slots), None) => Ok(vec![whole(FillRow { slots, ..FillRow::new([], demand, basis) })]),
            (None, Some(lines)) => {
                let rows = lines.iter().map(|line| FillRow::of_line(line, demand, basis).map(whole));
                rows.collect::<Result<_, _>>().map_err(|error| error.to_string())
            }
            _ => Err("a fill row has slots or lines, one of them".to_owned()),
        }
    }
}

impl Rows<WorkedRow> for WorkedRowEntry {
    fn rows(self) -> Result<Vec<WorkedRow>, String> {
        let Self {
            name,
            processors,
            options,
            mode,
            modules,
            lines,
            rate_mts,
            capacity_mib,
            usable_mib,
            refused_by,
            basis,
            source,
        } = self;
        let states = rate_mts.is_some() || capacity_mib.is_some() || usable_mib.is_some() || refused_by.is_some();
        match (name, modules, lines) {
            (Some(name), Some(modules), None) => Ok(vec![WorkedRow {
                name,
                processors,
                options,
                mode,
                modules,
                rate_mts,
                capacity_mib,
                usable_mib,
                refused_by,
                basis,
                source,
            }]),
            (None, None, Some(lines)) if !states => {
                let row = |line: &String| {
                    let row = WorkedRow::of_line(line, processors.clone(), basis)?;
                    Ok(WorkedRow { options: options.clone(), mode: mode.clone(), source: source.clone(), ..row })
                };
                lines.iter().map(row).collect::<Result<_, RowLineError>>().map_err(|error| error.to_string())
            }
            (None, Some(_), None) => Err("a worked row that is no line needs a name".to_owned()),
            _ => Err("a worked row has a name, modules and results, or lines alone, which say all of these".to_owned()),
        }
    }
}

/// Numbers of a document: a list, or a line such as "1 2 4 6-8".
pub(crate) fn counts<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<u16>, D::Error> {
    struct ListOrLine;

    impl<'de> serde::de::Visitor<'de> for ListOrLine {
        type Value = Vec<u16>;

        fn expecting(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
            f.write_str("numbers in a list, or in a line such as 1 2 4 6-8")
        }

        fn visit_str<E: serde::de::Error>(self, line: &str) -> Result<Vec<u16>, E> {
            counts_of_line(line).map_err(E::custom)
        }

        fn visit_seq<A: serde::de::SeqAccess<'de>>(self, numbers: A) -> Result<Vec<u16>, A::Error> {
            Vec::deserialize(serde::de::value::SeqAccessDeserializer::new(numbers))
        }
    }

    deserializer.deserialize_any(ListOrLine)
}

/// The most numbers that a line may stand for.
const MOST_COUNTS: usize = 4096;

fn counts_of_line(line: &str) -> Result<Vec<u16>, RowLineError> {
    let mut counts = Vec::new();
    for part in words(line) {
        let refused = || {
            unreadable(
                line,
                part,
                "number of modules",
                "allowed are whole numbers and ranges such as 6-8, 4096 numbers in all",
            )
        };
        let (first, last) = part.split_once('-').unwrap_or((part, part));
        let (first, last): (u16, u16) = (first.parse().map_err(|_| refused())?, last.parse().map_err(|_| refused())?);
        if first > last || counts.len() + usize::from(last - first) >= MOST_COUNTS {
            return Err(refused());
        }
        counts.extend(first..=last);
    }
    Ok(counts)
}

impl CountRow {
    /// The numbers of a line as a manual prints it, such as `1 2 4 6-8`.
    ///
    /// ```
    /// use slotwright::platform::CountRow;
    /// use slotwright::stated::{Basis, Demand, Scope};
    ///
    /// let row = CountRow::of_line("1 2 4 6-8", Scope::Socket, Demand::Required, Basis::BoardManual)?;
    /// assert_eq!(row.counts, [1, 2, 4, 6, 7, 8]);
    /// # Ok::<(), slotwright::platform::RowLineError>(())
    /// ```
    ///
    /// # Errors
    /// What is not understood of the line.
    pub fn of_line(
        line: &str,
        within: crate::stated::Scope,
        demand: Demand,
        basis: Basis,
    ) -> Result<Self, RowLineError> {
        Ok(Self::new(within, counts_of_line(line)?, demand, basis))
    }
}

/// Numbers as they may stand in a document, for their schema.
#[cfg(feature = "schemars")]
#[derive(schemars::JsonSchema)]
#[schemars(untagged, inline)]
#[expect(dead_code, reason = "only its schema is used")]
pub(crate) enum CountsForm {
    List(Vec<u16>),
    Line(String),
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::platform::PlatformDescription;

    #[test]
    fn rows_in_lines_are_rows() {
        let text = r#"{
            "schema": 1, "name": "board", "generation": "ddr4", "rate_policy": "per-machine", "fill_priority": "ranks-first",
            "fill_rows": [
                { "lines": ["1: A1", "A1, B1"], "processors": 1, "demand": "required", "basis": "board-manual" },
                { "slots": [{ "slot": "C1" }], "demand": "advised", "basis": "assumed" }
            ],
            "count_rows": [{ "within": "socket", "counts": "1 2 4-6", "demand": "required", "basis": "board-manual" }],
            "worked_rows": [{
                "lines": ["2 x 32GB 2Rx4 PC4-2400T-RB2-11 in A1 B1 -> 2400 MT/s, 64 GB", "9 x 32GB 2Rx4 PC4-2400T-RB2-11 -> refused by slot-live"],
                "processors": { "1": "own" }, "mode": "independent", "basis": "board-manual"
            }]
        }"#;
        let read: PlatformDescription = serde_json::from_str(text).unwrap();
        let slots = |row: &FillRow| row.slots.iter().map(|slot| slot.slot.to_string()).collect::<Vec<_>>().join(" ");
        assert_eq!(read.fill_rows.iter().map(slots).collect::<Vec<_>>(), ["A1", "A1 B1", "C1"]);
        assert_eq!(read.fill_rows.iter().map(|row| row.processors).collect::<Vec<_>>(), [Some(1), Some(1), None]);
        assert_eq!(read.count_rows[0].counts, [1, 2, 4, 5, 6]);
        let [first, second] = read.worked_rows.as_slice() else { panic!("{:?}", read.worked_rows) };
        assert_eq!((first.rate_mts, first.capacity_mib), (Some(DataRate::DDR4_2400), Some(Capacity::from_gib(64))));
        assert_eq!(first.name, *"2 x 32GB 2Rx4 PC4-2400T-RB2-11 in A1 B1 -> 2400 MT/s, 64 GB");
        assert_eq!(second.refused_by, Some(Name::lossy("slot-live")));
        // written back in the long form
        let written = serde_json::to_string(&read).unwrap();
        assert!(!written.contains("lines"), "{written}");
        assert_eq!(serde_json::from_str::<PlatformDescription>(&written).unwrap(), read);
    }

    #[test]
    fn lines_that_say_nothing() {
        let fill = |line| FillRow::of_line(line, Demand::Required, Basis::BoardManual).unwrap_err().to_string();
        assert_eq!(fill("3: A1 B1"), "\"3: A1 B1\": the row is of 3 modules and names 2 slots");
        assert!(fill("three: A1").contains("\"three\" is no number of modules"));
        let worked = |line: &str| WorkedRow::of_line(line, [], Basis::BoardManual).unwrap_err().to_string();
        let label = "32GB 2Rx4 PC4-2400T-RB2-11";
        assert!(worked("8 modules at 2400").contains("is no worked row"));
        assert!(worked(&format!("many x {label} -> works")).contains("is no number of modules"));
        assert!(worked("8 x 32GB fast -> works").contains("32GB fast"));
        assert!(worked(&format!("8 x {label} -> fast")).contains("\"fast\" is no result"));
        let counts = |line| counts_of_line(line).unwrap_err().to_string();
        for line in ["1 two", "8-6", "0-60000", "0-3000 0-3000", "-1", "1-", "70000"] {
            assert!(counts(line).contains("is no number of modules"), "{line}");
        }
    }
}
