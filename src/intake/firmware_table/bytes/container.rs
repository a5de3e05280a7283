use crate::intake::firmware_table::Remarks;
use crate::intake::firmware_table::bytes::walk::{End, Walk};
use crate::population::{Remark, Remarked};
use crate::unit::Name;

/// What a table comes in: where it begins, and what is said of it there.
#[derive(Debug, Default)]
pub(crate) struct Container {
    pub(crate) table_at: usize,
    /// How long the table is said to be, and how many structures it is said to have, where either is exact.
    length: Option<u64>,
    count: Option<u64>,
}

/// Where a dump file has its table, whatever its entry point was called.
const DUMPED_AT: usize = 32;
/// Bytes before the table in the reply to a request for firmware tables.
const REPLY_HEAD: usize = 8;

const LONG_ANCHOR: &[u8] = b"_SM3_";
const ANCHOR: &[u8] = b"_SM_";
const OLD_ANCHOR: &[u8] = b"_DMI_";

/// Whether bytes begin with an entry point.
pub(crate) fn has_anchor(bytes: &[u8]) -> bool {
    [LONG_ANCHOR, ANCHOR, OLD_ANCHOR].iter().any(|anchor| bytes.starts_with(anchor))
}

/// Whether bytes begin with the head of a reply whose length is right.
pub(crate) fn has_reply_head(bytes: &[u8]) -> bool {
    is_reply(bytes) && double_word(bytes, 4) == u64::try_from(bytes.len() - REPLY_HEAD).ok()
}

/// The second byte of a reply is a major version, 2 or 3; that of a structure is its length, 4 at least.
fn is_reply(bytes: &[u8]) -> bool {
    bytes.len() > REPLY_HEAD && matches!(bytes.get(1), Some(2 | 3))
}

impl Container {
    /// Finds out which form the bytes have.
    pub(crate) fn find(bytes: &[u8], remarks: &mut Remarks) -> Self {
        if bytes.starts_with(LONG_ANCHOR) {
            let length = entry_length(bytes, 0x06, 0x18);
            checksum(bytes.get(..length), 0x05, "the entry point", remarks);
            let at = bytes.get(0x10..).and_then(|bytes| bytes.first_chunk()).copied().map(u64::from_le_bytes);
            // the length of this form is the most that the table may have, and structures are not counted
            return Self { table_at: table_at(bytes, at, length), ..Self::default() };
        }
        if bytes.starts_with(ANCHOR) {
            let length = entry_length(bytes, 0x05, 0x1f);
            // version 2.1 prints a length that is one too small
            checksum(bytes.get(..length.max(0x1f)), 0x04, "the entry point", remarks);
            checksum(bytes.get(0x10..0x1f), 0x05, "the inner entry point", remarks);
            return Self {
                table_at: table_at(bytes, double_word(bytes, 0x18), length.max(0x1f)),
                length: word(bytes, 0x16),
                count: word(bytes, 0x1c),
            };
        }
        if bytes.starts_with(OLD_ANCHOR) {
            checksum(bytes.get(..0x0f), 0x05, "the entry point", remarks);
            return Self {
                table_at: table_at(bytes, double_word(bytes, 0x08), 0x0f),
                length: word(bytes, 0x06),
                count: word(bytes, 0x0c),
            };
        }
        if is_reply(bytes) {
            return Self { table_at: REPLY_HEAD, length: double_word(bytes, 4), count: None };
        }
        Self::default()
    }

    /// Says what the entry point has wrong; the structures themselves are right.
    pub(crate) fn compare(&self, count: u64, length: usize, remarks: &mut Remarks) {
        let length = u64::try_from(length).unwrap_or(u64::MAX);
        for (what, said, found) in
            [("length of the table", self.length, length), ("number of structures", self.count, count)]
        {
            if let Some(said) = said.filter(|&said| said != found) {
                let with = format!("{found} that were found");
                remarks.add(|| Remark::contradiction("byte 0x0", what, &said.to_string(), &with));
            }
        }
    }
}

/// Says that the input ends inside a structure.
pub(crate) fn cut_off(at: usize, needed: usize, found: usize) -> Remark {
    let [needed, found] = [needed, found].map(|bytes| u64::try_from(bytes).unwrap_or(u64::MAX));
    Remark::new(Name::lossy(&format!("byte {at:#x}")), Remarked::CutOff { needed, found })
}

fn word(bytes: &[u8], at: usize) -> Option<u64> {
    bytes.get(at..)?.first_chunk().copied().map(u16::from_le_bytes).map(u64::from)
}

fn double_word(bytes: &[u8], at: usize) -> Option<u64> {
    bytes.get(at..)?.first_chunk().copied().map(u32::from_le_bytes).map(u64::from)
}

/// How long an entry point says that it is, within reason.
fn entry_length(bytes: &[u8], at: usize, usual: usize) -> usize {
    bytes.get(at).map(|&length| usize::from(length)).filter(|length| (0x10..=0x40).contains(length)).unwrap_or(usual)
}

/// Where the table begins: at its address, if that lies in the input; else where dump files have it, or right behind the entry point. Of the last
/// two the one counts from which structures follow each other to the end.
fn table_at(bytes: &[u8], address: Option<u64>, entry_length: usize) -> usize {
    let inside = |at: &usize| *at >= entry_length && *at < bytes.len();
    if let Some(at) = address.and_then(|at| usize::try_from(at).ok()).filter(inside) {
        return at;
    }
    let is_whole = |at: &usize| {
        let mut walk = Walk::new(bytes, *at);
        let count = walk.by_ref().count();
        count > 0 && matches!(walk.end(), End::Mark | End::Data)
    };
    [DUMPED_AT, entry_length].into_iter().find(is_whole).unwrap_or(DUMPED_AT)
}

/// All bytes of an entry point add up to zero.
fn checksum(bytes: Option<&[u8]>, stored_at: usize, what: &str, remarks: &mut Remarks) {
    let Some(bytes) = bytes else { return };
    let sum = bytes.iter().fold(0_u8, |sum, &byte| sum.wrapping_add(byte));
    let Some(&stored) = bytes.get(stored_at).filter(|_| sum != 0) else { return };
    let [what, at] = [what.to_owned(), format!("byte {stored_at:#x}")].map(|text| Name::lossy(&text));
    let (stored, computed) = (u32::from(stored), u32::from(stored.wrapping_sub(sum)));
    remarks.add(|| Remark::new(at, Remarked::Checksum { what, stored, computed }));
}
