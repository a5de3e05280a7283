use core::fmt;

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// A maker's number in the list of JEDEC (JEP106): a bank, from 1, and a code in it, without parity bits.
///
/// ```
/// use slotwright::population::MakerId;
///
/// // as SPD stores it: the number of continuation codes with its parity bit, then the code with its own (JESD21-C 4.1.2.L-6)
/// let id = MakerId::from_spd(0x80, 0x04).unwrap();
/// assert_eq!(id.to_string(), "1-04");
/// assert_eq!("1-04".parse(), Ok(id));
/// assert_eq!(MakerId::from_spd(0x00, 0x00), None); // nobody said
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(with = "String"))]
#[serde(try_from = "String", into = "String")]
pub struct MakerId {
    bank: u8,
    code: u8,
}

/// A text that is no [`MakerId`].
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error("{found:?} is no maker's number; write its bank and its code in hexadecimal digits, such as 1-04")]
#[non_exhaustive]
pub struct MakerIdError {
    /// The text as given.
    pub found: String,
}

impl MakerId {
    /// The two bytes of an SPD: how many continuation codes, then the code; parity bits are left out. `None` for all zeros
    /// or ones, and for a code that no maker has (00h and 7Fh).
    #[must_use]
    pub const fn from_spd(continuations: u8, code: u8) -> Option<Self> {
        let code = code & 0x7f;
        if continuations & 0x7f == 0x7f || code == 0 || code == 0x7f {
            return None;
        }
        Some(Self { bank: (continuations & 0x7f) + 1, code })
    }

    /// The bank, from 1.
    #[must_use]
    pub const fn bank(self) -> u8 {
        self.bank
    }

    /// The code in its bank, without parity bit.
    #[must_use]
    pub const fn code(self) -> u8 {
        self.code
    }
}

impl core::str::FromStr for MakerId {
    type Err = MakerIdError;

    fn from_str(text: &str) -> Result<Self, MakerIdError> {
        let read = || {
            let (bank, code) = text.split_once('-')?;
            let is_plain = |text: &str| text.bytes().all(|byte| byte.is_ascii_hexdigit());
            let bank = bank.parse::<u8>().ok().filter(|bank| is_plain(code) && (1..=128).contains(bank))?;
            let code = u8::from_str_radix(code, 16).ok()?;
            Self::from_spd(bank - 1, code).filter(|id| id.code == code)
        };
        read().ok_or_else(|| MakerIdError { found: text.to_owned() })
    }
}

impl TryFrom<String> for MakerId {
    type Error = MakerIdError;

    fn try_from(text: String) -> Result<Self, MakerIdError> {
        text.parse()
    }
}

impl From<MakerId> for String {
    fn from(id: MakerId) -> Self {
        id.to_string()
    }
}

impl fmt::Display for MakerId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}-{:02X}", self.bank, self.code)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_number_reads_back() {
        for continuations in 0..=u8::MAX {
            for code in 0..=u8::MAX {
                if let Some(id) = MakerId::from_spd(continuations, code) {
                    assert_eq!(id.to_string().parse(), Ok(id));
                    assert!((1..=127).contains(&id.bank()));
                }
            }
        }
        for bad in ["", "1", "0-04", "1-84", "1-00", "128-+4", "1-+4", "x-04"] {
            assert!(bad.parse::<MakerId>().is_err(), "{bad}");
        }
    }
}
