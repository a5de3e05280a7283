use crate::intake::firmware_table::{Remarks, Said, Size};

/// A field of a structure: where it stands in bytes, and its name in remarks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Field {
    pub(crate) offset: u8,
    pub(crate) name: &'static str,
}

impl Field {
    pub(crate) const ARRAY: Self = Self::of(0x04, "array handle");
    pub(crate) const TOTAL_WIDTH: Self = Self::of(0x08, "total width");
    pub(crate) const DATA_WIDTH: Self = Self::of(0x0a, "data width");
    pub(crate) const SIZE: Self = Self::of(0x0c, "size");
    pub(crate) const FORM: Self = Self::of(0x0e, "form factor");
    pub(crate) const LOCATOR: Self = Self::of(0x10, "locator");
    pub(crate) const BANK: Self = Self::of(0x11, "bank locator");
    pub(crate) const TYPE: Self = Self::of(0x12, "memory type");
    pub(crate) const DETAIL: Self = Self::of(0x13, "type detail");
    pub(crate) const RATED: Self = Self::of(0x15, "speed");
    pub(crate) const MAKER: Self = Self::of(0x17, "manufacturer");
    pub(crate) const SERIAL: Self = Self::of(0x18, "serial number");
    pub(crate) const PART: Self = Self::of(0x1a, "part number");
    pub(crate) const RANK: Self = Self::of(0x1b, "rank");
    pub(crate) const RUNNING: Self = Self::of(0x20, "configured speed");
    pub(crate) const LEAST_VOLTAGE: Self = Self::of(0x22, "minimum voltage");
    pub(crate) const MOST_VOLTAGE: Self = Self::of(0x24, "maximum voltage");
    pub(crate) const RUNNING_VOLTAGE: Self = Self::of(0x26, "configured voltage");
    pub(crate) const TECHNOLOGY: Self = Self::of(0x28, "memory technology");
    pub(crate) const MAKER_ID: Self = Self::of(0x2c, "module manufacturer id");
    pub(crate) const REGISTER_ID: Self = Self::of(0x60, "register manufacturer id");

    pub(crate) const fn of(offset: u8, name: &'static str) -> Self {
        Self { offset, name }
    }
}

/// Where a structure stands: its first byte, or its first line and the lines of its fields by their offsets.
#[derive(Debug, Clone)]
pub(crate) enum Origin {
    Byte(usize),
    Line { first: usize, fields: Vec<(u8, usize)> },
}

impl Origin {
    /// The place of the whole, as remarks write it.
    pub(crate) fn start(&self) -> String {
        match self {
            Self::Byte(at) => format!("byte {at:#x}"),
            Self::Line { first, .. } => format!("line {first}"),
        }
    }

    /// The place of a field.
    pub(crate) fn at(&self, field: Field) -> String {
        match self {
            Self::Byte(at) => format!("byte {:#x}", at.saturating_add(usize::from(field.offset))),
            Self::Line { first, fields } => {
                let line = fields.iter().find(|(offset, _)| *offset == field.offset).map_or(first, |(_, line)| line);
                format!("line {line}")
            }
        }
    }
}

/// A memory device (type 17), its fields as reported. Codes are those of the standard; 0 is a code that is not told.
#[derive(Debug, Clone)]
pub(crate) struct Device<'t> {
    pub(crate) origin: Origin,
    pub(crate) handle: Option<u16>,
    pub(crate) array: Option<u16>,
    /// In bits, check bits counted.
    pub(crate) total_width: Option<u32>,
    /// In bits.
    pub(crate) data_width: Option<u32>,
    pub(crate) size: Size,
    pub(crate) form: u8,
    pub(crate) locator: Said<'t>,
    pub(crate) bank: Said<'t>,
    pub(crate) sort: u8,
    /// The bits of the type detail.
    pub(crate) detail: u16,
    /// Whether the tool that printed it never showed the bit for load-reduced modules.
    pub(crate) hides_load_reduced: bool,
    /// In MT/s.
    pub(crate) rated: Option<u32>,
    /// In MT/s.
    pub(crate) running: Option<u32>,
    pub(crate) maker: Said<'t>,
    pub(crate) serial: Said<'t>,
    pub(crate) part: Said<'t>,
    pub(crate) ranks: Option<u32>,
    /// In millivolts.
    pub(crate) least_voltage: Option<u32>,
    /// In millivolts.
    pub(crate) most_voltage: Option<u32>,
    /// In millivolts.
    pub(crate) running_voltage: Option<u32>,
    pub(crate) technology: u8,
    /// Continuation codes and code of the module's maker, with their parity bits.
    pub(crate) maker_id: Option<(u8, u8)>,
    /// Whether the register's maker is told.
    pub(crate) has_register_id: bool,
}

impl Device<'_> {
    /// Of which nothing is told.
    pub(crate) fn new(origin: Origin, handle: Option<u16>) -> Self {
        Self {
            origin,
            handle,
            array: None,
            total_width: None,
            data_width: None,
            size: Size::NotTold,
            form: 0,
            locator: Said::Nothing,
            bank: Said::Nothing,
            sort: 0,
            detail: 0,
            hides_load_reduced: false,
            rated: None,
            running: None,
            maker: Said::Nothing,
            serial: Said::Nothing,
            part: Said::Nothing,
            ranks: None,
            least_voltage: None,
            most_voltage: None,
            running_voltage: None,
            technology: 0,
            maker_id: None,
            has_register_id: false,
        }
    }

    /// Whether a bit of the type detail is set.
    pub(crate) const fn has_detail(&self, bit: u32) -> bool {
        self.detail >> bit & 1 == 1
    }
}

/// A physical memory array (type 16). Its greatest capacity is no limit in real machines, and is not read.
#[derive(Debug, Clone)]
pub(crate) struct Array {
    pub(crate) origin: Origin,
    pub(crate) handle: Option<u16>,
    pub(crate) location: u8,
    pub(crate) usage: u8,
    /// How many devices it is said to have.
    pub(crate) devices: Option<u32>,
}

/// A processor (type 4).
#[derive(Debug, Clone)]
pub(crate) struct Processor<'t> {
    pub(crate) origin: Origin,
    pub(crate) handle: Option<u16>,
    pub(crate) socket: Said<'t>,
    pub(crate) is_populated: Option<bool>,
    pub(crate) version: Said<'t>,
}

/// All that is read of one table.
#[derive(Debug, Default)]
pub(crate) struct Table<'t> {
    /// Type 0: who made the firmware, and its version.
    pub(crate) firmware_maker: Said<'t>,
    pub(crate) firmware: Said<'t>,
    /// Type 1.
    pub(crate) maker: Said<'t>,
    pub(crate) product: Said<'t>,
    pub(crate) serial: Said<'t>,
    /// Type 2, the first that has a name.
    pub(crate) board: Said<'t>,
    pub(crate) processors: Vec<Processor<'t>>,
    pub(crate) arrays: Vec<Array>,
    pub(crate) devices: Vec<Device<'t>>,
    /// Whether structures were lost.
    pub(crate) is_cut: bool,
    /// How many structures were left out because there are more than any machine has.
    pub(crate) too_many: usize,
    pub(crate) remarks: Remarks,
}

impl<'t> Table<'t> {
    /// How many structures of one type are kept: handles are no more.
    const MOST: usize = 65_536;

    pub(crate) fn add_device(&mut self, device: Device<'t>) {
        keep(&mut self.devices, device, &mut self.too_many);
    }

    pub(crate) fn add_array(&mut self, array: Array) {
        keep(&mut self.arrays, array, &mut self.too_many);
    }

    pub(crate) fn add_processor(&mut self, processor: Processor<'t>) {
        keep(&mut self.processors, processor, &mut self.too_many);
    }
}

fn keep<T>(these: &mut Vec<T>, one: T, too_many: &mut usize) {
    if these.len() < Table::MOST {
        these.push(one);
    } else {
        *too_many += 1;
    }
}
