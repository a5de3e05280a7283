use std::borrow::Cow;

use crate::intake::firmware_table::Said;

/// Type of the structure that ends a table.
const END: u8 = 127;
/// Bytes of a structure's head: type, length, handle.
const HEAD: usize = 4;

/// One structure of a table.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Structure<'b> {
    /// Its first byte in the input.
    pub(crate) at: usize,
    pub(crate) kind: u8,
    pub(crate) handle: u16,
    /// The part of fixed fields, head included.
    formatted: &'b [u8],
    /// Its texts, a zero between two of them.
    texts: &'b [u8],
}

impl<'b> Structure<'b> {
    /// How long the part of fixed fields is.
    pub(crate) const fn len(&self) -> usize {
        self.formatted.len()
    }

    /// A field of one byte, where the structure is long enough to have it.
    pub(crate) fn byte(&self, offset: usize) -> Option<u8> {
        self.formatted.get(offset).copied()
    }

    /// A field of two bytes.
    pub(crate) fn word(&self, offset: usize) -> Option<u16> {
        self.formatted.get(offset..)?.first_chunk().copied().map(u16::from_le_bytes)
    }

    /// A field of four bytes.
    pub(crate) fn double_word(&self, offset: usize) -> Option<u32> {
        self.formatted.get(offset..)?.first_chunk().copied().map(u32::from_le_bytes)
    }

    /// Puts its texts, as many as a field can name, in the place of those of another structure.
    pub(crate) fn split_texts(&self, texts: &mut Vec<&'b [u8]>) {
        texts.clear();
        if !self.texts.is_empty() {
            texts.extend(self.texts.split(|&byte| byte == 0).take(usize::from(u8::MAX)));
        }
    }

    /// The one of its texts whose number, from 1, stands in a field.
    pub(crate) fn text(&self, texts: &[&'b [u8]], offset: usize) -> Said<'b> {
        let Some(before) = self.byte(offset).and_then(|number| number.checked_sub(1)) else { return Said::Nothing };
        let Some(text) = texts.get(usize::from(before)) else { return Said::NoSuchText };
        Said::Text(core::str::from_utf8(text).map_or_else(|_| String::from_utf8_lossy(text), Cow::Borrowed))
    }
}

/// Where the first two zeros in a row stand.
fn two_zeros(bytes: &[u8]) -> Option<usize> {
    let mut from = 0;
    loop {
        from += bytes.get(from..)?.iter().position(|&byte| byte == 0)?;
        if bytes.get(from + 1)? == &0 {
            return Some(from);
        }
        from += 2;
    }
}

/// Why there are no more structures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum End {
    /// The structure that ends a table.
    Mark,
    /// The input ends after a whole structure, or with zeros.
    Data,
    /// A length that no structure has.
    Broken { at: usize },
    /// The input ends inside a structure.
    CutOff { at: usize, needed: usize, found: usize },
}

/// The structures of a table, one after the other. Each step goes on by four bytes at least, so that it ends.
#[derive(Debug)]
pub(crate) struct Walk<'b> {
    bytes: &'b [u8],
    at: usize,
    end: Option<End>,
}

impl<'b> Walk<'b> {
    pub(crate) const fn new(bytes: &'b [u8], at: usize) -> Self {
        Self { bytes, at, end: None }
    }

    /// The first byte after what was read.
    pub(crate) const fn at(&self) -> usize {
        self.at
    }

    /// Why it ended.
    pub(crate) fn end(&self) -> End {
        self.end.unwrap_or(End::Data)
    }

    fn cut_off(&self, length: usize) -> End {
        End::CutOff { at: self.at, needed: self.at.saturating_add(length), found: self.bytes.len() }
    }

    /// The next structure, or why there is none.
    fn step(&mut self) -> Result<Structure<'b>, End> {
        let rest = self.bytes.get(self.at..).unwrap_or_default();
        if rest.is_empty() {
            return Err(End::Data);
        }
        let Some(&[kind, length, low, high]) = rest.first_chunk::<HEAD>() else {
            let is_padding = rest.iter().all(|&byte| byte == 0);
            return Err(if is_padding { End::Data } else { self.cut_off(HEAD) });
        };
        let length = usize::from(length);
        if length < HEAD {
            let is_padding = rest.iter().all(|&byte| byte == 0);
            return Err(if is_padding { End::Data } else { End::Broken { at: self.at } });
        }
        if kind == END {
            // its two zeros may be missing
            self.at = self.at.saturating_add(length + 2).min(self.bytes.len());
            return Err(End::Mark);
        }
        let Some((formatted, after)) = rest.split_at_checked(length) else { return Err(self.cut_off(length)) };
        let at = self.at;
        let texts = match two_zeros(after) {
            Some(end) => {
                self.at = at + length + end + 2;
                after.get(..end)
            }
            None => {
                // the last text has no end, and may be a part of one
                self.end = Some(self.cut_off(length + after.len() + 1));
                self.at = self.bytes.len();
                after.iter().rposition(|&byte| byte == 0).and_then(|end| after.get(..end))
            }
        };
        let handle = u16::from_le_bytes([low, high]);
        Ok(Structure { at, kind, handle, formatted, texts: texts.unwrap_or_default() })
    }
}

impl<'b> Iterator for Walk<'b> {
    type Item = Structure<'b>;

    fn next(&mut self) -> Option<Structure<'b>> {
        if self.end.is_some() {
            return None;
        }
        self.step().inspect_err(|&end| self.end = Some(end)).ok()
    }
}
