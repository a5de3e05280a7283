//! Characters of a label that were read as others that look like them.

use core::ops::Range;
use std::collections::BTreeMap;

use crate::module::label::parse::whole_or_cut;
use crate::module::{LabelError, LabelField};

/// How many characters are read otherwise at most.
const MOST: u8 = 4;
/// The longest word of a label, ranks to width of a tall stack, and some more.
const WORD: usize = 12;

/// What a character may be that was taken for this one.
const fn looks_like(letter: u8) -> &'static [u8] {
    match letter {
        b'O' => b"0",
        b'0' => b"O",
        b'I' => b"1L",
        b'L' => b"1I",
        b'1' => b"IL",
        b'S' => b"5",
        b'5' => b"S",
        b'B' => b"8",
        b'8' => b"B",
        b'Z' => b"2",
        b'2' => b"Z",
        _ => b"",
    }
}

/// Whether a field decides nothing of what a module is, nor how fast.
const fn decides_nothing(field: LabelField) -> bool {
    use LabelField::{CardRevision, ModuleSpdRevision, RawCard, SpdRevision, TemperatureRange};
    matches!(field, RawCard | CardRevision | SpdRevision | ModuleSpdRevision | TemperatureRange)
}

/// The labels, whole or cut off, that a text may be meant as where characters look like others; with the first error at
/// a field that decides something, if such a one was changed.
pub(crate) fn misread(text: &str) -> BTreeMap<String, Option<LabelError>> {
    let mut found = BTreeMap::new();
    if let Err(error) = whole_or_cut(text) {
        read_otherwise(text, &error, (0, MOST), None, &mut found);
    }
    found
}

fn read_otherwise(
    text: &str,
    error: &LabelError,
    (first, left): (usize, u8),
    decides: Option<&LabelError>,
    found: &mut BTreeMap<String, Option<LabelError>>,
) {
    let Some(left) = left.checked_sub(1) else { return };
    let is_free = decides_nothing(error.field());
    let decides = decides.or((!is_free).then_some(error));
    // of a field that decides something, the whole word: an error says where reading it ended
    let places = if is_free { error.span() } else { word(text, error.span().start) };
    // each set of places is tried once, from the left
    for at in places.filter(|at| *at >= first).take(WORD) {
        let Some(&letter) = text.as_bytes().get(at) else { continue };
        for &other in looks_like(letter) {
            let mut read = text.to_owned();
            read.replace_range(at..=at, char::from(other).encode_utf8(&mut [0; 4]));
            match whole_or_cut(&read) {
                Ok(_) => {
                    // a way that changes nothing of weight goes before one that does
                    let known = found.entry(read).or_insert_with(|| decides.cloned());
                    if decides.is_none() {
                        *known = None;
                    }
                }
                Err(next) if next.span().start >= error.span().start => {
                    read_otherwise(&read, &next, (at + 1, left), decides, found);
                }
                Err(_) => {}
            }
        }
    }
}

/// The letters and digits around a place.
fn word(text: &str, at: usize) -> Range<usize> {
    let bytes = text.as_bytes();
    let is_word = |byte: &&u8| byte.is_ascii_alphanumeric();
    let (before, behind) = bytes.split_at_checked(at).unwrap_or((bytes, &[]));
    let start = before.iter().rev().take_while(is_word).count();
    let end = behind.iter().take_while(is_word).count();
    (before.len() - start)..(before.len() + end)
}
