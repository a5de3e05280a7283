//! Tables in bytes.

mod container;
mod fields;
mod walk;

use crate::intake::firmware_table::Table;
use crate::intake::firmware_table::bytes::container::Container;
use crate::intake::firmware_table::bytes::walk::{End, Walk};
use crate::population::Remark;

/// What a table of bytes says, or the byte at which it should begin and does not.
pub(crate) fn table_of_bytes(bytes: &[u8]) -> Result<Table<'_>, usize> {
    let mut table = Table::default();
    let container = Container::find(bytes, &mut table.remarks);
    let mut walk = Walk::new(bytes, container.table_at);
    let (mut count, mut texts) = (0_u64, Vec::new());
    for structure in walk.by_ref() {
        count += 1;
        fields::take(&structure, &mut texts, &mut table);
    }
    if count == 0 {
        return Err(container.table_at);
    }
    match walk.end() {
        End::Mark => count += 1,
        End::Data => {}
        End::Broken { at } => {
            table.is_cut = true;
            let at = format!("byte {at:#x}");
            let why = "the structure there has a length below that of its head";
            table.remarks.add(|| Remark::unread(&at, "the rest of the table", why));
        }
        End::CutOff { at, needed, found } => {
            table.is_cut = true;
            table.remarks.add(|| container::cut_off(at, needed, found));
        }
    }
    let length = walk.at().saturating_sub(container.table_at);
    container.compare(count, length, &mut table.remarks);
    Ok(table)
}

/// Whether bytes are a table in one of its forms: an anchor, a head of the right length, or structures from end to end.
pub(crate) fn begins_table(bytes: &[u8]) -> bool {
    let is_whole = |at: usize| {
        let mut walk = Walk::new(bytes, at);
        let is_any = walk.by_ref().next().is_some();
        walk.by_ref().for_each(drop);
        is_any && matches!(walk.end(), End::Mark | End::Data)
    };
    container::has_anchor(bytes) || (container::has_reply_head(bytes) && is_whole(8)) || is_whole(0)
}
