use std::borrow::Cow;

use crate::intake::firmware_table::Origin;

/// The keys of a type that is read, with the offsets of their fields. The first key of a field is today's, the others are older.
const fn keys(kind: u8) -> &'static [(&'static str, u8)] {
    match kind {
        0 => &[("Vendor", 0x04), ("Version", 0x05)],
        1 => &[("Manufacturer", 0x04), ("Product Name", 0x05), ("Product", 0x05), ("Serial Number", 0x07)],
        2 => &[("Product Name", 0x05), ("Product", 0x05)],
        4 => &[("Socket Designation", 0x04), ("Type", 0x05), ("Version", 0x10), ("Status", 0x18)],
        16 => &[("Location", 0x04), ("Use", 0x05), ("Number Of Devices", 0x0d)],
        17 => &[
            ("Array Handle", 0x04),
            ("Total Width", 0x08),
            ("Data Width", 0x0a),
            ("Size", 0x0c),
            ("Form Factor", 0x0e),
            ("Locator", 0x10),
            ("Bank Locator", 0x11),
            ("Type", 0x12),
            ("Type Detail", 0x13),
            ("Speed", 0x15),
            ("Manufacturer", 0x17),
            ("Serial Number", 0x18),
            ("Part Number", 0x1a),
            ("Rank", 0x1b),
            ("Configured Memory Speed", 0x20),
            ("Configured Clock Speed", 0x20),
            ("Minimum Voltage", 0x22),
            ("Maximum Voltage", 0x24),
            ("Configured Voltage", 0x26),
            ("Memory Technology", 0x28),
            ("Module Manufacturer ID", 0x2c),
            ("RCD Manufacturer ID", 0x60),
        ],
        _ => &[],
    }
}

/// The lines of one structure.
#[derive(Debug)]
pub(crate) struct Record<'t> {
    pub(crate) line: usize,
    pub(crate) handle: Option<u16>,
    /// Its type, once a line has told it.
    pub(crate) kind: Option<u8>,
    fields: Vec<(u8, usize, Cow<'t, str>)>,
    /// Whether the line before was an entry that may go on, how long it was, and which of the fields it is.
    open: Option<(usize, Option<usize>)>,
}

impl<'t> Record<'t> {
    pub(crate) const fn new(line: usize, handle: Option<u16>, kind: Option<u8>) -> Self {
        Self { line, handle, kind, fields: Vec::new(), open: None }
    }

    /// An entry; the first of a key counts.
    pub(crate) fn entry(&mut self, line: usize, key: &str, value: &'t str) {
        let known = self.kind.map_or(&[][..], keys).iter().find(|(known, _)| known.eq_ignore_ascii_case(key));
        let offset = known.map(|(_, offset)| *offset);
        let offset = offset.filter(|offset| self.fields.iter().all(|(other, ..)| other != offset));
        let index = offset.map(|offset| {
            self.fields.push((offset, line, Cow::Borrowed(value)));
            self.fields.len() - 1
        });
        self.open = Some((key.len() + ": ".len() + value.len(), index));
    }

    /// The rest of a line that was wrapped. Lines are wrapped where the next word does not fit, and no mail is so narrow that 40 letters do not.
    pub(crate) fn rest(&mut self, text: &str) {
        let Some((length, index)) = self.open.take() else { return };
        let word = text.split_whitespace().next().map_or(0, str::len);
        let Some((_, _, value)) = index.and_then(|index| self.fields.get_mut(index)) else { return };
        if value.is_empty() {
            *value = Cow::Owned(text.to_owned());
        } else if length + 1 + word > NARROWEST {
            let value = value.to_mut();
            value.push(' ');
            value.push_str(text);
        } else {
            return;
        }
        self.open = Some((text.len(), index));
    }

    /// After this, no line goes on.
    pub(crate) fn close(&mut self) {
        self.open = None;
    }

    /// Whether any of its fields is known.
    pub(crate) fn is_empty(&self) -> bool {
        self.fields.is_empty()
    }

    /// The value of a field.
    pub(crate) fn value(&self, offset: u8) -> Option<&str> {
        self.fields.iter().find(|(other, ..)| *other == offset).map(|(.., value)| value.as_ref())
    }

    /// The value of a field, to keep.
    pub(crate) fn take(&mut self, offset: u8) -> Cow<'t, str> {
        let found = self.fields.iter_mut().find(|(other, ..)| *other == offset);
        found.map(|(.., value)| core::mem::take(value)).unwrap_or_default()
    }

    /// Where it stands.
    pub(crate) fn origin(&self) -> Origin {
        let fields = self.fields.iter().map(|(offset, line, _)| (*offset, *line)).collect();
        Origin::Line { first: self.line, fields }
    }
}

/// No line is wrapped before this many letters.
const NARROWEST: usize = 40;
