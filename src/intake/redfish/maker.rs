//! Makers' numbers, which controllers write in many ways.

use crate::intake::redfish::property::Resource;
use crate::intake::remarks::Remarks;
use crate::population::MakerId;

/// More banks than the standard's list has yet.
const BANKS: u8 = 0x20;

/// The two bytes of a maker's number, in either order: `0x2c80` and `0x802C`, also without the parity bit of the bank (`0x2C00`), or the decimal
/// number of these.
fn bytes(text: &str) -> Option<[u8; 2]> {
    let text = text.trim();
    let number = match text.strip_prefix("0x").or_else(|| text.strip_prefix("0X")) {
        Some(digits) if digits.len() == 4 => u16::from_str_radix(digits, 16).ok()?,
        Some(_) => return None,
        None if text.bytes().all(|byte| byte.is_ascii_digit()) => text.parse().ok()?,
        None => return None,
    };
    Some(number.to_be_bytes())
}

/// Whether a byte can be the code of a maker: it has odd parity.
const fn is_code(byte: u8) -> bool {
    byte.count_ones() % 2 == 1 && byte & 0x7f != 0
}

/// Whether a byte can say how many continuation codes there are: with odd parity, or without a parity bit.
const fn is_bank(byte: u8) -> bool {
    byte & 0x7f < BANKS && (byte & 0x80 == 0 || byte.count_ones() % 2 == 1)
}

/// The maker, where only one order of the bytes makes sense.
pub(crate) fn of_text(text: &str) -> Option<MakerId> {
    let [high, low] = bytes(text)?;
    let of = |bank: u8, code: u8| if is_bank(bank) && is_code(code) { MakerId::from_spd(bank, code) } else { None };
    match (of(low, high), of(high, low)) {
        (Some(one), Some(other)) if one != other => None,
        (one, other) => one.or(other),
    }
}

pub(crate) fn read(resource: &Resource<'_>, remarks: &mut Remarks) -> Option<MakerId> {
    let path = ["ModuleManufacturerID", "VendorID"].into_iter().find(|name| resource.value(&[*name]).is_some())?;
    let value = resource.value(&[path])?;
    let text = value.as_str().map_or_else(|| value.to_string(), str::to_owned);
    let id = of_text(&text);
    // all zeros or ones are said to be unknown
    let says_nothing = bytes(&text).is_some_and(|bytes| bytes == [0, 0] || bytes == [0xff, 0xff]);
    if id.is_none() && !says_nothing && !text.trim().is_empty() {
        resource.unread(&[path], value, "it is no number of a maker, or may be one of two", remarks);
    }
    id
}
