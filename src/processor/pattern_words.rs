//! Patterns of modules in the words of a manual's table.

use core::fmt;
use core::str::FromStr;

use serde::de::value::MapAccessDeserializer;
use serde::de::{self, MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};
use thiserror::Error;

use crate::module::{DeviceWidth, Ecc, ModuleKind};
use crate::processor::{ModulePattern, PatternFields};
use crate::unit::{Capacity, Density, Voltage};

/// Why a text is no pattern of modules.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum PatternWordError {
    /// A word that says nothing of modules.
    #[error(
        "{word:?} says nothing of modules; allowed are RDIMM, LRDIMM, UDIMM and other kinds, ranks as 2R, 4R+ or 2S4R, a width as x4, a \
         capacity as 32GB or 32GB+, a die as 16Gb, a voltage as 1.35V, and check bits as ECC or non-ECC"
    )]
    Unknown {
        /// The word.
        word: String,
    },
    /// A word that says again what another one said.
    #[error("{word:?} speaks of the same fact as a word before it; in a rate table, 1R/2R stands for either")]
    Again {
        /// The word.
        word: String,
    },
    /// No word at all.
    #[error("the pattern is empty; it needs at least one word, such as RDIMM")]
    Empty,
}

/// Sets a field that was not set.
fn set<T>(field: &mut Option<T>, value: T) -> bool {
    let is_new = field.is_none();
    *field = Some(value);
    is_new
}

/// A whole number with a unit behind it.
fn number(word: &str, unit: &str) -> Option<u32> {
    word.strip_suffix(unit)?.parse().ok().filter(|&number| number > 0)
}

/// A voltage such as 1.35V, in millivolts.
pub(super) fn voltage(text: &str) -> Option<Voltage> {
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    if part.len() > 3 || !part.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let whole: u16 = whole.parse().ok()?;
    let part: u16 = format!("{part:0<3}").parse().ok()?;
    whole.checked_mul(1000)?.checked_add(part).map(Voltage::from_mv)
}

impl ModulePattern {
    /// Adds what a word says; `None` for a word that says nothing, else whether it is new.
    fn add(&mut self, word: &str) -> Option<bool> {
        let kind = match word.to_ascii_uppercase().as_str() {
            "RDIMM" => Some(ModuleKind::Registered),
            "LRDIMM" => Some(ModuleKind::LoadReduced),
            "UDIMM" => Some(ModuleKind::Unbuffered),
            _ => word.to_ascii_lowercase().parse().ok(),
        };
        if let Some(kind) = kind {
            return Some(set(&mut self.kind, kind));
        }
        if let Ok(width) = word.to_ascii_lowercase().parse::<DeviceWidth>() {
            return Some(set(&mut self.width, width));
        }
        let ecc = match word.to_ascii_lowercase().as_str() {
            "non-ecc" => Some(Ecc::None),
            "none" => None,
            word => word.parse().ok(),
        };
        if let Some(ecc) = ecc {
            return Some(set(&mut self.ecc, ecc));
        }
        if let Some(gib) = number(word, "GB") {
            return Some(set(&mut self.capacity_mib, Capacity::from_gib(gib)));
        }
        if let Some(gib) = number(word, "GB+") {
            return Some(set(&mut self.capacity_at_least_mib, Capacity::from_gib(gib)));
        }
        if let Some(gbit) = number(word, "Gb") {
            return Some(set(&mut self.die_density_mbit, Density::from_gbit(gbit)));
        }
        if let Some(voltage) = word.strip_suffix('V').and_then(voltage) {
            return Some(set(&mut self.voltage_mv, voltage));
        }
        let digit = |text: &str| match text.as_bytes() {
            [digit @ b'1'..=b'8'] => Some(digit - b'0'),
            _ => None,
        };
        if let Some(ranks) = word.strip_suffix("R+").and_then(digit) {
            return Some(set(&mut self.package_ranks_at_least, ranks));
        }
        let ranks = word.strip_suffix('R')?;
        let (ranks, height) = match ranks.split_once('S') {
            None => (digit(ranks)?, 1),
            Some((ranks, height)) => (digit(ranks)?, number(height, "").filter(|&height| height > 1)?),
        };
        let is_new = set(&mut self.package_ranks, ranks);
        Some(set(&mut self.stack_height, height) && is_new)
    }
}

/// In the words of a table, in any order: `RDIMM`, `LRDIMM`, `UDIMM` or another [kind](ModuleKind); package ranks as on a label, `2R`
/// for two that are not stacked, `2S4R` for two of stacks of four, `4R+` for four or more; `x4`; `32GB`, `32GB+` for that or more; a
/// die density, `16Gb`; a voltage at which the modules may run, `1.35V`; `ECC`, `EC4`, `EC8`, `non-ECC`.
///
/// ```
/// use slotwright::module::ModuleKind;
/// use slotwright::processor::ModulePattern;
///
/// let pattern: ModulePattern = "LRDIMM 4R x4".parse()?;
/// assert_eq!(pattern.to_string(), "load-reduced 4-rank x4 modules");
/// assert_eq!(pattern.stack_height, Some(1));
/// assert!("LRDIMM 4Q".parse::<ModulePattern>().unwrap_err().to_string().starts_with("\"4Q\" says nothing"));
/// # Ok::<(), slotwright::processor::PatternWordError>(())
/// ```
impl FromStr for ModulePattern {
    type Err = PatternWordError;

    fn from_str(text: &str) -> Result<Self, PatternWordError> {
        let mut pattern = Self::default();
        for word in text.split_whitespace() {
            match pattern.add(word) {
                Some(true) => {}
                Some(false) => return Err(PatternWordError::Again { word: word.to_owned() }),
                None => return Err(PatternWordError::Unknown { word: word.to_owned() }),
            }
        }
        if pattern == Self::default() { Err(PatternWordError::Empty) } else { Ok(pattern) }
    }
}

impl<'de> Deserialize<'de> for ModulePattern {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct FieldsOrWords;

        impl<'de> Visitor<'de> for FieldsOrWords {
            type Value = ModulePattern;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("the facts of modules, or words such as RDIMM 2R x4")
            }

            fn visit_newtype_struct<D: Deserializer<'de>>(self, inner: D) -> Result<ModulePattern, D::Error> {
                inner.deserialize_any(self)
            }

            fn visit_str<E: de::Error>(self, words: &str) -> Result<ModulePattern, E> {
                words.parse().map_err(E::custom)
            }

            fn visit_map<A: MapAccess<'de>>(self, fields: A) -> Result<ModulePattern, A::Error> {
                PatternFields::deserialize(MapAccessDeserializer::new(fields)).map(ModulePattern::from)
            }
        }

        // the name tells a reader which fields there are
        deserializer.deserialize_newtype_struct("ModulePattern", FieldsOrWords)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_say_what_fields_say() {
        let cases = [
            ("RDIMM", r#"{"kind":"registered"}"#),
            ("lrdimm 2S4R", r#"{"kind":"load-reduced","package_ranks":2,"stack_height":4}"#),
            ("4R+ x8 64GB", r#"{"package_ranks_at_least":4,"width":"x8","capacity_mib":65536}"#),
            (
                "16GB+ 8Gb 1.35V non-ECC",
                r#"{"capacity_at_least_mib":16384,"die_density_mbit":8192,"voltage_mv":1350,"ecc":"none"}"#,
            ),
            ("EC8 multiplexed-rank", r#"{"ecc":"ec8","kind":"multiplexed-rank"}"#),
        ];
        for (words, fields) in cases {
            let read: ModulePattern = words.parse().unwrap();
            assert_eq!(read, serde_json::from_str(fields).unwrap(), "{words}");
            // and are written back in the long form
            let written = serde_json::to_string(&read).unwrap();
            assert_eq!(serde_json::from_str::<ModulePattern>(&written).unwrap(), read);
            assert_eq!(serde_json::from_str::<ModulePattern>(&format!("{words:?}")).unwrap(), read);
        }
    }

    #[test]
    fn words_that_say_nothing() {
        for word in ["4Q", "0R", "9R", "x5", "GB", "0GB", "1.2345V", "V", "none", "2S1R", "RDIMM,", "99999999999GB"] {
            let error = word.parse::<ModulePattern>().unwrap_err();
            assert_eq!(error, PatternWordError::Unknown { word: word.to_owned() });
        }
        assert_eq!("2R 4R".parse::<ModulePattern>(), Err(PatternWordError::Again { word: "4R".to_owned() }));
        assert_eq!(" ".parse::<ModulePattern>(), Err(PatternWordError::Empty));
    }
}
