//! What the values of a printed table say.

use std::borrow::Cow;

use crate::intake::firmware_table::words::{DETAILS, Words};
use crate::intake::firmware_table::{Said, Size};

/// What tools print in the place of a code that they do not know.
pub(crate) const OUT_OF_SPEC: &str = "<OUT OF SPEC>";
/// What tools print in the place of a text that the structure does not have.
pub(crate) const BAD_INDEX: &str = "<BAD INDEX>";

/// A value that is there and cannot be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Unreadable;

/// Whether a value says that there is none.
pub(crate) fn is_nothing(value: &str) -> bool {
    ["", "Unknown", "None", "Not Specified", "Not Provided", OUT_OF_SPEC, BAD_INDEX]
        .iter()
        .any(|nothing| nothing.eq_ignore_ascii_case(value))
}

/// A text.
pub(crate) fn said(value: Cow<'_, str>) -> Said<'_> {
    match value.as_ref() {
        "" | "Not Specified" => Said::Nothing,
        BAD_INDEX => Said::NoSuchText,
        _ => Said::Text(value),
    }
}

/// The number at the beginning, and the unit after it.
fn number(value: &str) -> Option<(u32, &str)> {
    let end = value.find(|letter: char| !letter.is_ascii_digit()).unwrap_or(value.len());
    let (digits, unit) = value.split_at_checked(end)?;
    Some((digits.parse().ok()?, unit.trim_start()))
}

/// `72 bits`, `2`.
pub(crate) fn whole(value: &str) -> Result<Option<u32>, Unreadable> {
    if is_nothing(value) {
        return Ok(None);
    }
    number(value).map(|(number, _)| Some(number)).ok_or(Unreadable)
}

/// `2400 MT/s`, `667 MHz (1.5 ns)`: the number is in MT/s under either unit. With it, whether the unit is the older one.
pub(crate) fn rate(value: &str) -> Result<Option<(u32, bool)>, Unreadable> {
    if is_nothing(value) {
        return Ok(None);
    }
    let (rate, unit) = number(value).ok_or(Unreadable)?;
    let is_old = unit.get(..3).is_some_and(|unit| unit.eq_ignore_ascii_case("MHz"));
    Ok(Some((rate, is_old)).filter(|(rate, _)| *rate != 0))
}

/// `1.2 V`, `1.200 V`, in millivolts.
pub(crate) fn voltage(value: &str) -> Result<Option<u32>, Unreadable> {
    if is_nothing(value) {
        return Ok(None);
    }
    let (volts, rest) = number(value).ok_or(Unreadable)?;
    let digits = rest.strip_prefix('.').unwrap_or_default().bytes().take_while(u8::is_ascii_digit);
    let places = digits.map(|digit| u32::from(digit - b'0')).chain(core::iter::repeat(0)).take(3);
    let millivolts = places.fold(volts, |value, digit| value.saturating_mul(10).saturating_add(digit));
    Ok(Some(millivolts).filter(|&millivolts| millivolts != 0))
}

/// `16384 MB`, `16 GB`, `256 kB`, `No Module Installed`.
pub(crate) fn size(value: &str) -> Result<Size, Unreadable> {
    if ["No Module Installed", "Not Installed"].iter().any(|empty| empty.eq_ignore_ascii_case(value)) {
        return Ok(Size::Nothing);
    }
    if is_nothing(value) {
        return Ok(if value.is_empty() { Size::NotTold } else { Size::Unknown });
    }
    let (number, unit) = number(value).ok_or(Unreadable)?;
    let kib: u64 = match unit.bytes().next().map(|letter| letter.to_ascii_lowercase()) {
        Some(b'k') => 1,
        Some(b'm') => 1 << 10,
        Some(b'g') => 1 << 20,
        Some(b't') => 1 << 30,
        _ => return Err(Unreadable),
    };
    Ok(match u64::from(number).saturating_mul(kib) {
        // what the extended size gives where it is not filled in; an empty place is not printed so
        0 if kib == 1 << 30 => Size::TooLargeForField,
        0 => Size::Nothing,
        LARGEST_OF_FIELD => Size::TooLargeForField,
        kib => Size::Kib(kib),
    })
}

/// 32767 MiB: no size, but the code for "too large for the field".
const LARGEST_OF_FIELD: u64 = 0x7fff << 10;

/// A code by its word; 0 where it is not told.
pub(crate) fn code(words: Words, value: &str) -> Result<u8, Unreadable> {
    match words.code(value) {
        Some(code) => Ok(code),
        None if value.is_empty() || value.eq_ignore_ascii_case(OUT_OF_SPEC) => Ok(0),
        None => Err(Unreadable),
    }
}

/// `Synchronous Registered (Buffered)`, as bits. What stands in brackets only explains the word before it.
pub(crate) fn detail(value: &str) -> u16 {
    let bit = |word: &str| DETAILS.iter().find(|(name, _)| name.eq_ignore_ascii_case(word)).map(|(_, bit)| 1 << bit);
    value.split_whitespace().filter_map(bit).fold(0, |bits: u16, bit: u16| bits | bit)
}

/// `Bank 1, Hex 0xCE`: the number of continuation codes, and the code.
pub(crate) fn maker_id(value: &str) -> Result<Option<(u8, u8)>, Unreadable> {
    if is_nothing(value) {
        return Ok(None);
    }
    let read = || {
        let (bank, code) = value.split_once(',')?;
        let bank: u8 = bank.trim().strip_prefix("Bank")?.trim().parse().ok()?;
        let code = code.trim().strip_prefix("Hex")?.trim().strip_prefix("0x")?;
        Some((bank.checked_sub(1)?, u8::from_str_radix(code, 16).ok()?))
    };
    read().map(Some).ok_or(Unreadable)
}
