use crate::intake::firmware_table::bytes::walk::Structure;
use crate::intake::firmware_table::{Array, Device, Field, Origin, Processor, Said, Size, Table};
use crate::population::Remark;

/// Puts what a structure says into the table. Which fields it has is decided by its own length.
/// `texts` is room for its texts.
pub(crate) fn take<'b>(structure: &Structure<'b>, texts: &mut Vec<&'b [u8]>, table: &mut Table<'b>) {
    if matches!(structure.kind, 0 | 1 | 2 | 4 | 17) {
        structure.split_texts(texts);
    }
    let set = |said: &mut Said<'b>, offset: usize| {
        if *said == Said::Nothing {
            *said = structure.text(texts, offset);
        }
    };
    match structure.kind {
        0 => {
            set(&mut table.firmware_maker, 0x04);
            set(&mut table.firmware, 0x05);
        }
        1 => {
            set(&mut table.maker, 0x04);
            set(&mut table.product, 0x05);
            set(&mut table.serial, 0x07);
        }
        2 => set(&mut table.board, 0x05),
        4 if structure.byte(0x05) == Some(CENTRAL) => table.add_processor(processor(structure, texts)),
        16 => table.add_array(array(structure)),
        17 if structure.len() < LEAST_DEVICE => {
            table.is_cut = true;
            table.remarks.add(|| {
                let why = format!("it has {} bytes; the shortest of its type has {LEAST_DEVICE}", structure.len());
                Remark::unread(&Origin::Byte(structure.at).start(), "a memory device", &why)
            });
        }
        17 => table.add_device(device(structure, texts)),
        // type 19 (ranges of addresses) does not tell how much there is, and 126 is "inactive"
        _ => {}
    }
}

/// The shortest memory device, of version 2.1.
const LEAST_DEVICE: usize = 0x15;

/// Central processor.
const CENTRAL: u8 = 3;

fn processor<'b>(structure: &Structure<'b>, texts: &[&'b [u8]]) -> Processor<'b> {
    Processor {
        origin: Origin::Byte(structure.at),
        handle: Some(structure.handle),
        socket: structure.text(texts, 0x04),
        is_populated: structure.byte(0x18).map(|status| status & 0x40 != 0),
        version: structure.text(texts, 0x10),
    }
}

fn array(structure: &Structure<'_>) -> Array {
    Array {
        origin: Origin::Byte(structure.at),
        handle: Some(structure.handle),
        location: structure.byte(0x04).unwrap_or(0),
        usage: structure.byte(0x05).unwrap_or(0),
        devices: structure.word(0x0d).map(u32::from),
    }
}

fn device<'b>(structure: &Structure<'b>, texts: &[&'b [u8]]) -> Device<'b> {
    let byte = |field: Field| structure.byte(usize::from(field.offset));
    let word = |field: Field| structure.word(usize::from(field.offset));
    let text = |field: Field| structure.text(texts, usize::from(field.offset));
    let width = |field| word(field).filter(|&bits| !matches!(bits, 0 | 0xffff)).map(u32::from);
    let voltage = |field| word(field).filter(|&mv| mv != 0).map(u32::from);
    // what does not fit two bytes stands in four at the end
    let rate = |field, extended: usize| match word(field)? {
        0 => None,
        0xffff => structure.double_word(extended).map(|mts| mts & 0x7fff_ffff).filter(|&mts| mts != 0),
        mts => Some(u32::from(mts)),
    };
    Device {
        array: word(Field::ARRAY),
        total_width: width(Field::TOTAL_WIDTH),
        data_width: width(Field::DATA_WIDTH),
        size: word(Field::SIZE)
            .map_or(Size::NotTold, |size| Size::of_words(size, structure.double_word(EXTENDED_SIZE))),
        form: byte(Field::FORM).unwrap_or(0),
        locator: text(Field::LOCATOR),
        bank: text(Field::BANK),
        sort: byte(Field::TYPE).unwrap_or(0),
        detail: word(Field::DETAIL).unwrap_or(0),
        rated: rate(Field::RATED, EXTENDED_RATED),
        running: rate(Field::RUNNING, EXTENDED_RUNNING),
        maker: text(Field::MAKER),
        serial: text(Field::SERIAL),
        part: text(Field::PART),
        ranks: byte(Field::RANK).map(|attributes| u32::from(attributes & 0x0f)),
        least_voltage: voltage(Field::LEAST_VOLTAGE),
        most_voltage: voltage(Field::MOST_VOLTAGE),
        running_voltage: voltage(Field::RUNNING_VOLTAGE),
        technology: byte(Field::TECHNOLOGY).unwrap_or(0),
        maker_id: word(Field::MAKER_ID).filter(|&id| id != 0).map(|id| id.to_le_bytes().into()),
        has_register_id: word(Field::REGISTER_ID).is_some_and(|id| !matches!(id, 0 | 0xffff)),
        ..Device::new(Origin::Byte(structure.at), Some(structure.handle))
    }
}

const EXTENDED_SIZE: usize = 0x1c;
const EXTENDED_RATED: usize = 0x54;
const EXTENDED_RUNNING: usize = 0x58;
