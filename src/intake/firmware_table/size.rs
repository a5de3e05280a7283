use crate::intake::firmware_table::{Device, Field, Remarks};
use crate::population::{PlaceState, Remark, SeenModule};
use crate::unit::Capacity;

/// A size as reported.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Size {
    /// There is no such field.
    NotTold,
    /// 0: nothing that could be used.
    Nothing,
    /// A module is there; its size is not known.
    Unknown,
    /// The code that says "see the extended size", without an extended size.
    TooLargeForField,
    /// So many KiB.
    Kib(u64),
}

impl Size {
    /// What a module has at least whose size does not fit the field.
    const LEAST_BEYOND_FIELD: Capacity = Capacity::from_gib(32);
    /// More than any module has: 4 TiB.
    const MOST_MIB: u64 = 4 << 20;

    /// So many MiB.
    pub(crate) const fn mib(mib: u32) -> Self {
        Self::Kib(mib as u64 * 1024)
    }

    /// The word at 0Ch, and the double word at 1Ch where the structure has it.
    pub(crate) fn of_words(size: u16, extended: Option<u32>) -> Self {
        match (size, extended.map(|extended| extended & 0x7fff_ffff)) {
            (0, _) => Self::Nothing,
            (0xffff, _) => Self::Unknown,
            (0x7fff, None | Some(0)) => Self::TooLargeForField,
            (0x7fff, Some(mib)) => Self::mib(mib),
            (kib, _) if kib & 0x8000 != 0 => Self::Kib(u64::from(kib & 0x7fff)),
            (mib, _) => Self::mib(u32::from(mib)),
        }
    }
}

/// What is in the place: decided by the size alone. The empty ones print types, widths and rates as well; a part or serial
/// number says that something is there that gives no memory.
pub(crate) fn state(device: &Device<'_>, module: &SeenModule, remarks: &mut Remarks) -> PlaceState {
    match device.size {
        Size::NotTold => PlaceState::Unknown,
        Size::Unknown | Size::TooLargeForField | Size::Kib(_) => PlaceState::InUse,
        Size::Nothing => match module.part_number.as_ref().or(module.serial.as_ref()) {
            None => PlaceState::Absent,
            Some(number) => {
                let at = || device.origin.at(Field::SIZE);
                remarks.add(|| Remark::contradiction(&at(), "size", "no module", &format!("its number {number}")));
                PlaceState::Failed
            }
        },
    }
}

/// The size of the module.
pub(crate) fn capacity(device: &Device<'_>, module: &mut SeenModule, remarks: &mut Remarks) {
    let at = || device.origin.at(Field::SIZE);
    match device.size {
        Size::NotTold | Size::Nothing | Size::Unknown => {}
        Size::TooLargeForField => {
            module.capacity_at_least_mib = Some(Size::LEAST_BEYOND_FIELD);
            remarks.add(|| {
                let why = "it only says that the module is too large for the field";
                Remark::unbelievable(&at(), "size", "32767 MiB", why)
            });
        }
        Size::Kib(kib) if kib % 1024 != 0 => {
            remarks.add(|| Remark::unbelievable(&at(), "size", &format!("{kib} KiB"), "it is no whole number of MiB"));
        }
        Size::Kib(kib) if kib / 1024 > Size::MOST_MIB => {
            let why = "no module is as large";
            remarks.add(|| Remark::unbelievable(&at(), "size", &format!("{} MiB", kib / 1024), why));
        }
        Size::Kib(kib) => module.capacity_mib = Some(Capacity::from_mib(kib / 1024)),
    }
}
