//! Rate tables in lines, as a manual prints them.

use core::fmt;

use itertools::Itertools;

use serde::de::value::MapAccessDeserializer;
use serde::de::{self, MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};
use thiserror::Error;

use crate::processor::pattern_words::voltage;
use crate::processor::{MixRow, ModulePattern, PatternWordError, RateCell, RateKey, RateRow, RateTable};
use crate::unit::DataRate;

/// Why a line is no row of a rate table.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum RateLineError {
    /// No colon between the modules and the rates.
    #[error("{line:?}: a colon must stand between the modules and the rates, as in RDIMM 2R: 2400 2400 1866")]
    NoColon {
        /// The line.
        line: String,
    },
    /// The modules cannot be read.
    #[error("{line:?}: {problem}")]
    Modules {
        /// The line.
        line: String,
        /// What is wrong with them.
        problem: PatternWordError,
    },
    /// A condition on the channel that there is not.
    #[error(
        "{line:?}: {found:?} is no condition; allowed are a running voltage, as at 1.35 V, and the number of slots, as 3 slots"
    )]
    Condition {
        /// The line.
        line: String,
        /// The condition.
        found: String,
    },
    /// A cell that is no rate.
    #[error("{line:?}: {found:?} is no rate; allowed are whole MT/s, - for not allowed, and ? for not printed")]
    Cell {
        /// The line.
        line: String,
        /// The cell.
        found: String,
    },
    /// Cells for more modules than a channel can have.
    #[error("a row has rates for up to {at_most} modules a channel, this one has {found}")]
    TooManyCells {
        /// How many it has.
        found: usize,
        /// How many it may have.
        at_most: u8,
    },
    /// Another number of cells than one.
    #[error("{line:?}: a row of a mix has one rate, this one has {found}")]
    NotOneCell {
        /// The line.
        line: String,
        /// How many it has.
        found: usize,
    },
}

/// What a line says: modules, the channel, and cells in order.
struct Line {
    modules: Vec<ModulePattern>,
    channel: RateKey,
    cells: Vec<Option<RateCell>>,
}

fn read(line: &str) -> Result<Line, RateLineError> {
    let own = || line.to_owned();
    let (head, rates) = line.rsplit_once(':').ok_or_else(|| RateLineError::NoColon { line: own() })?;
    let mut parts = head.split(',');
    // a sign between blanks parts the modules of a mix; one at a word belongs to it
    let modules = parts.next().unwrap_or_default().split(" + ");
    let modules: Result<Vec<_>, _> = modules.map(str::parse::<ModulePattern>).collect();
    let modules = modules.map_err(|problem| RateLineError::Modules { line: own(), problem })?;
    let mut channel = RateKey::default();
    for condition in parts {
        let words = condition.split_whitespace().collect::<Vec<_>>();
        let known = match words.as_slice() {
            ["at", number, "V"] => voltage(number).map(|voltage| channel.running_voltage_mv = Some(voltage)),
            [number, "slots" | "slot"] => number.parse().ok().map(|slots| channel.slots_wired = Some(slots)),
            _ => None,
        };
        known.ok_or_else(|| RateLineError::Condition { line: own(), found: condition.trim().to_owned() })?;
    }
    let cell = |text: &str| match text {
        "?" => Ok(None),
        "-" => Ok(Some(RateCell::NotAllowed)),
        text => {
            let rate = text.parse().ok().and_then(|mts| DataRate::from_mts(mts).ok());
            rate.map(|rate| Some(RateCell::RateMts(rate)))
                .ok_or_else(|| RateLineError::Cell { line: own(), found: text.to_owned() })
        }
    };
    Ok(Line { modules, channel, cells: rates.split_whitespace().map(cell).collect::<Result<_, _>>()? })
}

impl RateTable {
    /// Adds a line as a manual prints it: the modules in [words](ModulePattern#impl-FromStr-for-ModulePattern), `1R/2R` for either, in one word of the line; conditions on the
    /// channel after commas, a colon, and the rates of one module a channel, two and so on; `-` is "not allowed", `?` "not printed".
    ///
    /// ```
    /// use slotwright::processor::{RateCell, RateTable};
    /// use slotwright::stated::Basis;
    ///
    /// let table = RateTable::new(Basis::BoardManual)
    ///     .line("RDIMM 2R: 2400 2400 1866")?
    ///     .line("RDIMM 4R: 2133 1866 -")?
    ///     .line("RDIMM, at 1.35 V, 3 slots: ? 1333")?;
    /// assert_eq!(table.rows.len(), 7);
    /// assert_eq!(table.rows[5].cell, RateCell::NotAllowed);
    /// assert_eq!(table.rows[6].channel.slots_wired, Some(3));
    /// # Ok::<(), slotwright::processor::RateLineError>(())
    /// ```
    ///
    /// # Errors
    /// What is not understood of the line.
    pub fn line(mut self, line: &str) -> Result<Self, RateLineError> {
        self.rows.extend(rows_of(line)?);
        Ok(self)
    }

    /// Adds a line for a channel that holds just these modules, with ` + ` between them: `RDIMM 1R + RDIMM 2R: 2133`.
    ///
    /// # Errors
    /// What is not understood of the line.
    pub fn mix_line(mut self, line: &str) -> Result<Self, RateLineError> {
        self.mixes.push(mix_of(line)?);
        Ok(self)
    }
}

/// How many alternatives one word may have, 1R/2R/4R.
const MOST_ALTERNATIVES: usize = 8;

fn rows_of(line: &str) -> Result<Vec<RateRow>, RateLineError> {
    let head = line.split_once(':').map_or(line, |(head, _)| head);
    // a word with alternatives is a row for each; a second one is left for the reader to refuse
    let Some(word) = head.split([' ', ',']).find(|word| word.contains('/')) else { return one_row_each(line) };
    let alternatives: Vec<&str> = word.split('/').collect();
    if alternatives.len() > MOST_ALTERNATIVES {
        return Err(unknown_word(line, word));
    }
    let rows = alternatives.iter().map(|one| one_row_each(&line.replacen(word, one, 1)));
    rows.flatten_ok().collect()
}

/// A row for each number of modules.
fn one_row_each(line: &str) -> Result<Vec<RateRow>, RateLineError> {
    let Line { modules, channel, cells } = read(line)?;
    let [module] = modules.as_slice() else { return Err(unknown_word(line, "+")) };
    if cells.len() > usize::from(u8::MAX) {
        return Err(RateLineError::TooManyCells { found: cells.len(), at_most: u8::MAX });
    }
    let cells = (1..=u8::MAX).zip(cells).filter_map(|(count, cell)| Some((count, cell?)));
    Ok(cells.map(|(count, cell)| RateRow::new(module.clone(), count, cell).channel(channel)).collect())
}

fn unknown_word(line: &str, word: &str) -> RateLineError {
    let problem = PatternWordError::Unknown { word: word.to_owned() };
    RateLineError::Modules { line: line.to_owned(), problem }
}

fn mix_of(line: &str) -> Result<MixRow, RateLineError> {
    let Line { modules, channel, cells } = read(line)?;
    match cells.as_slice() {
        [Some(cell)] => Ok(MixRow::new(modules, *cell).channel(channel)),
        cells => Err(RateLineError::NotOneCell { line: line.to_owned(), found: cells.len() }),
    }
}

/// Rows of a document: each in fields, or as a line.
pub(super) fn rows<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<RateRow>, D::Error> {
    let rows: Vec<FieldsOrLine<RateRow>> = Vec::deserialize(deserializer)?;
    Ok(rows.into_iter().flat_map(|row| row.0).collect())
}

/// Rows of mixes of a document: each in fields, or as a line.
pub(super) fn mixes<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<MixRow>, D::Error> {
    let rows: Vec<FieldsOrLine<MixRow>> = Vec::deserialize(deserializer)?;
    Ok(rows.into_iter().flat_map(|row| row.0).collect())
}

/// A row in its fields, or those of a line; for its schema too.
#[cfg(feature = "schemars")]
#[derive(schemars::JsonSchema)]
#[schemars(untagged, inline)]
#[expect(dead_code, reason = "only its schema is used")]
pub(super) enum RowForm<T> {
    Fields(T),
    Line(String),
}

struct FieldsOrLine<T>(Vec<T>);

/// What is read of a line.
trait OfLine: Sized {
    fn of_line(line: &str) -> Result<Vec<Self>, RateLineError>;
}

impl OfLine for RateRow {
    fn of_line(line: &str) -> Result<Vec<Self>, RateLineError> {
        rows_of(line)
    }
}

impl OfLine for MixRow {
    fn of_line(line: &str) -> Result<Vec<Self>, RateLineError> {
        mix_of(line).map(|row| vec![row])
    }
}

impl<'de, T: OfLine + Deserialize<'de>> Deserialize<'de> for FieldsOrLine<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Row<T>(core::marker::PhantomData<T>);

        impl<'de, T: OfLine + Deserialize<'de>> Visitor<'de> for Row<T> {
            type Value = Vec<T>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a row in its fields, or a line such as RDIMM 2R: 2400 2400 1866")
            }

            fn visit_str<E: de::Error>(self, line: &str) -> Result<Vec<T>, E> {
                T::of_line(line).map_err(E::custom)
            }

            fn visit_map<A: MapAccess<'de>>(self, fields: A) -> Result<Vec<T>, A::Error> {
                T::deserialize(MapAccessDeserializer::new(fields)).map(|row| vec![row])
            }
        }

        deserializer.deserialize_any(Row(core::marker::PhantomData)).map(Self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stated::Basis;

    #[test]
    fn lines_say_what_rows_say() {
        let registered: ModulePattern = "RDIMM".parse().unwrap();
        let long = RateTable::new(Basis::BoardManual)
            .by_load(&registered, &[Some(DataRate::DDR4_2400), Some(DataRate::DDR4_2133), None]);
        assert_eq!(RateTable::new(Basis::BoardManual).line("RDIMM: 2400 2133 -").unwrap(), long);
        let read =
            r#"{"basis":"board-manual","rows":["RDIMM: 2400 2133 -"],"mixes":["RDIMM 4R+ + RDIMM 2R, 3 slots: 2133"]}"#;
        let read: RateTable = serde_json::from_str(read).unwrap();
        assert_eq!(read.rows, long.rows);
        let either = RateTable::new(Basis::BoardManual).line("RDIMM 1R/2R, 3 slots: 2400 -").unwrap();
        let both = RateTable::new(Basis::BoardManual)
            .line("RDIMM 1R, 3 slots: 2400 -")
            .unwrap()
            .line("RDIMM 2R, 3 slots: 2400 -")
            .unwrap();
        assert_eq!(either, both);
        let [mix] = read.mixes.as_slice() else { panic!("{:?}", read.mixes) };
        assert_eq!(mix.modules, ["RDIMM 4R+", "RDIMM 2R"].map(|words| words.parse().unwrap()));
        assert_eq!(mix.channel.slots_wired, Some(3));
        // written back in the long form
        assert_eq!(serde_json::from_str::<RateTable>(&serde_json::to_string(&read).unwrap()).unwrap(), read);
    }

    #[test]
    fn lines_that_say_nothing() {
        let said = |line: &str| RateTable::new(Basis::BoardManual).line(line).unwrap_err().to_string();
        assert!(said("RDIMM 2400").starts_with("\"RDIMM 2400\": a colon must stand"));
        assert!(said("RDIMM 4Q: 2400").contains("\"4Q\" says nothing of modules"));
        assert!(said("RDIMM, hot: 2400").contains("\"hot\" is no condition"));
        assert!(said("RDIMM: 2400 fast").contains("\"fast\" is no rate"));
        assert!(said("RDIMM 1R + RDIMM 2R: 2400").contains("\"+\" says nothing"));
        assert!(said(": 2400").contains("the pattern is empty"));
        // a short line may not ask for many rows
        assert!(said("RDIMM 1R/2R x4/x8: 2400").contains("\"x4/x8\" says nothing"));
        assert!(said(&format!("RDIMM {}: 2400", ["2R"; 9].join("/"))).contains("says nothing"));
        assert!(
            said(&format!("RDIMM:{}", " ?".repeat(256))).ends_with("up to 255 modules a channel, this one has 256")
        );
        let full = RateTable::new(Basis::BoardManual).line(&format!("RDIMM:{}", " 2400".repeat(255))).unwrap();
        assert_eq!(full.rows.last().unwrap().modules_in_channel, 255);
        let mix = RateTable::new(Basis::BoardManual).mix_line("RDIMM 1R + RDIMM 2R: 2400 2133").unwrap_err();
        assert!(mix.to_string().ends_with("a row of a mix has one rate, this one has 2"));
    }
}
