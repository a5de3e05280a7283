use crate::intake::firmware_table::repeated::Repeated;
use crate::intake::firmware_table::said::name_or_spelled;
use crate::intake::firmware_table::{Device, Field, Remarks};
use crate::population::{MakerId, Remark, SeenModule};

/// The maker's name and number.
pub(crate) fn maker<'d>(
    device: &'d Device<'_>,
    repeated: &mut Repeated<'d>,
    module: &mut SeenModule,
    remarks: &mut Remarks,
) {
    let (stated, by_text) = repeated.maker.of(&device.maker, |maker| {
        let stated = maker.stated();
        (stated.map(name_or_spelled), stated.and_then(number))
    });
    module.maker = stated;
    let by_word = device.maker_id.and_then(|(continuations, code)| MakerId::from_spd(continuations, code));
    if let (Some(text), Some(word)) = (by_text, by_word) {
        if text != word {
            let at = || device.origin.at(Field::MAKER_ID);
            remarks.add(|| {
                let with = format!("{text} by the text");
                Remark::contradiction(&at(), Field::MAKER_ID.name, &word.to_string(), &with)
            });
        }
    }
    module.maker_id = by_word.or(by_text);
}

/// The number of a maker that is written as a code, where it is clear which is meant: `80CE`, `0x80CE`, `0198`,
/// `00CE00B300CE` (the module's maker first, then those of its parts), `CE00000000000000`, `7F7F980000000000`.
pub(crate) fn number(text: &str) -> Option<MakerId> {
    let digits = text.strip_prefix("0x").or_else(|| text.strip_prefix("0X")).unwrap_or(text);
    if !matches!(digits.len(), 4 | 8 | 12 | 16) || !digits.is_ascii() {
        return None;
    }
    let pair = |pair: &[u8]| u8::from_str_radix(core::str::from_utf8(pair).ok()?, 16).ok();
    let is_plain = digits.bytes().all(|byte| byte.is_ascii_hexdigit());
    let bytes: Vec<u8> = digits.as_bytes().chunks_exact(2).map(pair).collect::<Option<_>>().filter(|_| is_plain)?;
    match *bytes.as_slice() {
        [first, second] => of_pair(first, second),
        // words for the module, its register and its devices
        [first, second, _, _, _, _] => of_pair(first, second),
        [first, second, ref rest @ ..] if rest.iter().all(|&byte| byte == 0) && second != 0 && first != CONTINUES => {
            of_pair(first, second)
        }
        ref all => of_run(all),
    }
}

/// The byte that says "the next bank".
const CONTINUES: u8 = 0x7f;

/// Continuation codes one by one, then the code, then zeros.
fn of_run(bytes: &[u8]) -> Option<MakerId> {
    let continuations = bytes.iter().take_while(|&&byte| byte == CONTINUES).count();
    let (code, rest) = bytes.get(continuations..)?.split_first()?;
    let is_clear = is_code(*code) && rest.iter().all(|&byte| byte == 0);
    MakerId::from_spd(u8::try_from(continuations).ok()?, *code).filter(|_| is_clear)
}

/// The number of continuation codes and a code, or the other way round, where only one of these can be.
fn of_pair(first: u8, second: u8) -> Option<MakerId> {
    let read = |continuations: u8, code: u8| {
        let is_clear = is_count(continuations) && is_code(code);
        MakerId::from_spd(continuations, code).filter(|_| is_clear)
    };
    match (read(first, second), read(second, first)) {
        (Some(one), None) | (None, Some(one)) => Some(one),
        (Some(one), Some(other)) if one == other => Some(one),
        _ => None,
    }
}

/// A code of the list has an odd number of ones, its parity bit counted.
const fn is_code(byte: u8) -> bool {
    byte.count_ones() % 2 == 1
}

/// A number of continuation codes, with its parity bit or without; the list has fewer than 24 banks.
const fn is_count(byte: u8) -> bool {
    byte & 0x7f < 24 && (byte & 0x80 == 0 || byte.count_ones() % 2 == 1)
}
