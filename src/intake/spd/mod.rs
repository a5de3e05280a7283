//! The content of a module's SPD.

mod block;
mod build;
mod error;
mod field;
mod label;
mod length;
mod making;
mod organization;
mod sort;
mod timing;

use core::fmt;

pub use self::block::SpdBlock;
pub use self::error::SpdError;
pub use self::making::ProductionWeek;
pub use self::timing::SpdTimings;
use crate::goods_in::SpdFault;
use crate::intake::spd::field::{Field, Unreadable};
use crate::module::Generation;
use crate::population::{Medium, PlaceState, Remark, Report, SeenModule, SeenPlace};
use crate::unit::Name;

/// The content of the SPD of a DDR3, DDR4 or DDR5 module.
///
/// Facts are read when they are asked for. A wrong checksum does not stop that: [`blocks`](Self::blocks) tells which parts hold. A fact whose field
/// cannot be read is left out, and [`remarks`](Self::remarks) tells why.
///
/// Sources: JESD21-C 4.1.2.L-6 (DDR4), JESD400-5C (DDR5), public decoders (DDR3).
///
/// ```
/// use slotwright::intake::spd::SpdImage;
/// use slotwright::unit::{Capacity, DataRate};
///
/// // the first page of a DDR4 module
/// let mut image = [0; 256];
/// for (at, byte) in [
///     (1, 0x12), (2, 0x0c), (3, 0x01),               // revision 1.2, DDR4, registered
///     (4, 0x85), (11, 0x03), (12, 0x08), (13, 0x0b), // dies of 8 Gb, 1.2 V, two ranks of x4 devices, 72 bits
///     (18, 0x07), (125, 0xd6),                       // a clock period of 833 ps
///     (21, 0x04), (24, 110), (25, 110), (26, 110),   // CL 17; three times of 13.75 ns
///     (128, 0x11), (130, 0x21),                      // 32 mm, raw card B1
/// ] {
///     image[at] = byte;
/// }
/// let image = SpdImage::read(&image)?;
/// assert_eq!(image.capacity(), Some(Capacity::from_gib(32)));
/// assert_eq!(image.grade(), Some(DataRate::DDR4_2400));
/// assert_eq!(image.label().unwrap().to_string(), "32GB 2Rx4 PC4-2400T-RB1-12");
/// assert!(!image.is_sound()); // no checksums are there
/// # Ok::<(), slotwright::intake::spd::SpdError>(())
/// ```
#[derive(Clone, PartialEq, Eq, Hash)]
pub struct SpdImage {
    generation: Generation,
    /// How many bytes were given; of these the first [`KEPT`] are kept, zeros behind the last.
    length: usize,
    bytes: [u8; KEPT],
}

/// How much of an image is kept: no fact is behind it.
const KEPT: usize = 640;

impl SpdImage {
    /// Reads an image: 256 bytes of DDR3, 512 of DDR4, 1024 or 2048 of DDR5. Images of other lengths, cut off or with something behind them, are
    /// read as far as they go, from 128 bytes on, of DDR5 from 512; [`remarks`](Self::remarks) tells the length, and what it leaves out.
    ///
    /// # Errors
    /// When nothing is written in the image, its byte 2 is not that of DDR3, DDR4 or DDR5, or it is too short.
    pub fn read(bytes: &[u8]) -> Result<Self, SpdError> {
        let found = bytes.len();
        let key = *bytes.get(2).ok_or(SpdError::TooShort { found, needed: 128 })?;
        let generation = match key {
            0x00 | 0xff if bytes.iter().all(|&byte| byte == key) => return Err(SpdError::Blank { byte: key }),
            0x0b => Generation::Ddr3,
            0x0c | 0x0e => Generation::Ddr4,
            0x12 => Generation::Ddr5,
            key => return Err(other(key)),
        };
        let needed = if generation == Generation::Ddr5 { 512 } else { 128 };
        if found < needed {
            return Err(SpdError::TooShort { found, needed });
        }
        let mut kept = [0; KEPT];
        kept.iter_mut().zip(bytes).for_each(|(kept, &byte)| *kept = byte);
        Ok(Self { generation, length: found, bytes: kept })
    }

    /// The memory generation. DDR4E counts as DDR4.
    #[must_use]
    pub const fn generation(&self) -> Generation {
        self.generation
    }

    /// Whether it is DDR4E.
    #[must_use]
    pub fn is_ddr4e(&self) -> bool {
        self.byte(2).is_ok_and(|key| key == 0x0e)
    }

    /// The bytes that are kept.
    fn kept(&self) -> &[u8] {
        self.bytes.get(..self.length).unwrap_or(&self.bytes)
    }

    fn byte(&self, at: usize) -> Field<u8> {
        self.kept().get(at).copied().ok_or(None)
    }

    /// Two bytes, the low one first.
    fn word(&self, at: usize) -> Field<u16> {
        Ok(u16::from_le_bytes([self.byte(at)?, self.byte(at + 1)?]))
    }

    /// All that the image tells of the module. What is left out where the ranks are unlike, or the bus has not 64 data bits: facts
    /// that would not give the capacity by the usual formula. Where a checksum fails, only who made it is told.
    #[must_use]
    pub fn module(&self) -> SeenModule {
        // of what fails its checksum nothing is believed; who made it stands outside all checksums
        if !self.is_sound() {
            let part = self.part_number().map(Name::lossy);
            return SeenModule::new().maker_id(self.maker_id()).part_number(part).serial(self.serial());
        }
        let has_usual_bus = self.ecc_read().is_ok();
        SeenModule::new()
            .device(self.device())
            .generation(self.generation)
            .kind(self.kind())
            .capacity(self.capacity())
            .capacity_at_least(self.capacity_at_least())
            .form_factor(self.form_factor())
            .height(self.height())
            .ecc(self.ecc())
            .package_ranks(self.package_ranks().filter(|_| has_usual_bus))
            .stack(self.stack().filter(|_| has_usual_bus))
            .width(self.width().filter(|_| has_usual_bus))
            .die_density(self.die_density().filter(|_| has_usual_bus))
            .grade(self.grade())
            .voltages(self.voltages())
            .maker_id(self.maker_id())
            .part_number(self.part_number().map(Name::lossy))
            .serial(self.serial())
    }

    /// The same, or why it does not count where a checksum fails: as a source of a piece in a delivery.
    ///
    /// # Errors
    /// When a checksum fails. Not even who made the module is told then.
    pub fn sound_module(&self) -> Result<SeenModule, SpdFault> {
        if self.is_sound() { Ok(self.module()) } else { Err(SpdFault::Damaged) }
    }

    /// What could not be read, is doubtful, or is not usual.
    #[must_use]
    pub fn remarks(&self) -> Vec<Remark> {
        fn of<T>(field: Field<T>) -> Option<Unreadable> {
            field.err().flatten()
        }
        let mut remarks: Vec<Remark> = self.length_remarks();
        remarks.extend(self.blocks().iter().filter_map(SpdBlock::remark));
        let fields = [
            of(self.sort_read()),
            of(self.device_read()),
            of(self.evenness_read()),
            of(self.ranks_read()),
            of(self.stack_read()),
            of(self.width_read()),
            of(self.density_read()),
            of(self.capacity_read()),
            of(self.ecc_read()),
            of(self.grade_read()),
            of(self.standard_rate_read()),
            of(self.timings_read()),
            of(self.voltages_read()),
            of(self.card_read()),
            of(self.temperatures_read()),
            of(self.made_read()),
            of(self.part_read()),
        ];
        for remark in fields.into_iter().flatten().map(Unreadable::remark) {
            // one field may stand in the way of two facts
            if !remarks.contains(&remark) {
                remarks.push(remark);
            }
        }
        remarks
    }

    /// A report of this one module: its place is `spd`, located by the caller's word where it sat.
    #[must_use]
    pub fn report(&self, name: Name, place: Option<Name>) -> Report {
        let place = SeenPlace::new(Name::lossy("spd"), PlaceState::Unknown).locator(place).module(self.module());
        Report::new(name, Medium::Spd).place(place).remarks(self.remarks())
    }
}

/// What a byte 2 stands for that is not read: JESD21-C 4.1.2.L-6 table 16, JESD400-5C table 20.
fn other(key: u8) -> SpdError {
    let name = match key {
        0x07 => "DDR",
        0x08 => "DDR2",
        0x0f => "LPDDR3",
        0x10 => "LPDDR4",
        0x11 => "LPDDR4X",
        0x13 => "LPDDR5",
        0x14 => "DDR5 NVDIMM-P",
        0x15 => "LPDDR5X",
        key => return SpdError::UnknownKey { key },
    };
    SpdError::OtherGeneration { key, name }
}

impl fmt::Debug for SpdImage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "SpdImage({}, {} bytes)", self.generation, self.length)
    }
}

#[cfg(test)]
mod tests;
