use crate::intake::firmware_table::printed::lines::hexadecimal;
use crate::intake::firmware_table::printed::record::Record;
use crate::intake::firmware_table::printed::values::{self, Unreadable};
use crate::intake::firmware_table::words::{FORMS, TECHNOLOGIES, TYPES, USES};
use crate::intake::firmware_table::{Array, Device, Field, Origin, Processor, Remarks, Said, Size, Table};
use crate::population::Remark;

/// What every record of a text has in common.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Dialect {
    /// The version of the tool, where the text says it.
    pub(crate) version: Option<(u16, u16)>,
}

/// The version from which load-reduced modules are printed, and rates in MT/s.
const SHOWS_LOAD_REDUCED: (u16, u16) = (3, 1);

/// Puts what a record says into the table.
pub(crate) fn take<'t>(mut record: Record<'t>, dialect: Dialect, table: &mut Table<'t>) {
    fn set<'t>(said: &mut Said<'t>, record: &mut Record<'t>, offset: u8) {
        if *said == Said::Nothing {
            *said = values::said(record.take(offset));
        }
    }
    match record.kind {
        _ if record.is_empty() => {}
        Some(0) => {
            set(&mut table.firmware_maker, &mut record, 0x04);
            set(&mut table.firmware, &mut record, 0x05);
        }
        Some(1) => {
            set(&mut table.maker, &mut record, 0x04);
            set(&mut table.product, &mut record, 0x05);
            set(&mut table.serial, &mut record, 0x07);
        }
        Some(2) => set(&mut table.board, &mut record, 0x05),
        Some(4) if record.value(0x05).is_some_and(|kind| kind.eq_ignore_ascii_case("Central Processor")) => {
            table.add_processor(processor(record));
        }
        Some(16) => {
            let array = array(&record, &mut table.remarks);
            table.add_array(array);
        }
        Some(17) => {
            let device = device(record, dialect, &mut table.remarks);
            table.add_device(device);
        }
        _ => {}
    }
}

fn processor(mut record: Record<'_>) -> Processor<'_> {
    let is_populated = record.value(0x18).and_then(|status| {
        let first = status.split([',', ' ']).next()?;
        let words = [("Populated", true), ("Unpopulated", false)];
        words.into_iter().find(|(word, _)| word.eq_ignore_ascii_case(first)).map(|(_, is_populated)| is_populated)
    });
    Processor {
        origin: record.origin(),
        handle: record.handle,
        socket: values::said(record.take(0x04)),
        is_populated,
        version: values::said(record.take(0x10)),
    }
}

/// The locations of arrays that matter: only the cards that extend memory.
fn location(value: &str) -> u8 {
    let is_expander = value.to_ascii_uppercase().contains("CXL");
    if is_expander { 0xa4 } else { 0 }
}

fn array(record: &Record<'_>, remarks: &mut Remarks) -> Array {
    let origin = record.origin();
    let mut values = Values { record, origin: &origin, remarks };
    let usage = values.read(Field::of(0x05, "use"), |value| values::code(USES, value)).unwrap_or(0);
    let devices = values.read(Field::of(0x0d, "number of devices"), values::whole).flatten();
    Array { handle: record.handle, location: record.value(0x04).map_or(0, location), usage, devices, origin }
}

fn device<'t>(mut record: Record<'t>, dialect: Dialect, remarks: &mut Remarks) -> Device<'t> {
    let origin = record.origin();
    let mut values = Values { record: &record, origin: &origin, remarks };
    let width = |value: &str| Ok(values::whole(value)?.filter(|&bits| bits != 0));
    let rated = values.read(Field::RATED, values::rate).flatten();
    let running = values.read(Field::RUNNING, values::rate).flatten();
    let is_old_unit = rated.or(running).is_some_and(|(_, is_old)| is_old);
    let mut device = Device {
        array: values.read(Field::ARRAY, |value| Ok(hexadecimal(value))).flatten(),
        total_width: values.read(Field::TOTAL_WIDTH, width).flatten(),
        data_width: values.read(Field::DATA_WIDTH, width).flatten(),
        size: values.read(Field::SIZE, values::size).unwrap_or(Size::NotTold),
        form: values.read(Field::FORM, |value| values::code(FORMS, value)).unwrap_or(0),
        sort: values.read(Field::TYPE, |value| values::code(TYPES, value)).unwrap_or(0),
        detail: record.value(Field::DETAIL.offset).map_or(0, values::detail),
        hides_load_reduced: dialect.version.map_or(is_old_unit, |version| version < SHOWS_LOAD_REDUCED),
        rated: rated.map(|(rate, _)| rate),
        running: running.map(|(rate, _)| rate),
        ranks: values.read(Field::RANK, values::whole).flatten(),
        least_voltage: values.read(Field::LEAST_VOLTAGE, values::voltage).flatten(),
        most_voltage: values.read(Field::MOST_VOLTAGE, values::voltage).flatten(),
        running_voltage: values.read(Field::RUNNING_VOLTAGE, values::voltage).flatten(),
        technology: values.read(Field::TECHNOLOGY, technology).unwrap_or(0),
        maker_id: values.read(Field::MAKER_ID, values::maker_id).flatten(),
        has_register_id: values.read(Field::REGISTER_ID, values::maker_id).flatten().is_some(),
        ..Device::new(origin.clone(), record.handle)
    };
    let mut text = |field: Field| values::said(record.take(field.offset));
    device.locator = text(Field::LOCATOR);
    device.bank = text(Field::BANK);
    device.maker = text(Field::MAKER);
    device.serial = text(Field::SERIAL);
    device.part = text(Field::PART);
    device
}

/// The technology; one is printed with its maker's name before its own.
fn technology(value: &str) -> Result<u8, Unreadable> {
    let own = value.len().checked_sub("persistent memory".len()).and_then(|at| value.get(at..));
    let is_persistent = own.is_some_and(|own| own.eq_ignore_ascii_case("persistent memory"));
    values::code(TECHNOLOGIES, if is_persistent { "persistent memory" } else { value })
}

/// The values of a record; what cannot be read is said.
struct Values<'r, 't> {
    record: &'r Record<'t>,
    origin: &'r Origin,
    remarks: &'r mut Remarks,
}

impl Values<'_, '_> {
    fn read<T>(&mut self, field: Field, read: impl Fn(&str) -> Result<T, Unreadable>) -> Option<T> {
        let value = self.record.value(field.offset)?;
        let read = read(value);
        if read.is_err() {
            let Self { origin, remarks, .. } = self;
            remarks.add(|| Remark::unknown_code(&origin.at(field), field.name, value));
        }
        read.ok()
    }
}
