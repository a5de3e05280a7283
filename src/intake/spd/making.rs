//! What the maker wrote: no checksum covers it (but in some images of DDR3).

use core::fmt;

use crate::intake::spd::SpdImage;
use crate::intake::spd::field::{Field, unfit};
use crate::module::Generation;
use crate::population::MakerId;
use crate::unit::Name;

/// The week in which a module was made.
///
/// ```
/// use slotwright::intake::spd::SpdImage;
///
/// let mut bytes = [0; 512];
/// (bytes[2], bytes[323], bytes[324]) = (0x0c, 0x25, 0x36);
/// let made = SpdImage::read(&bytes)?.made().unwrap();
/// assert_eq!((made.year, made.week), (2025, 36));
/// # Ok::<(), slotwright::intake::spd::SpdError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub struct ProductionWeek {
    /// The year: 2025.
    pub year: u16,
    /// The week of the year, 1 to 53.
    pub week: u8,
}

/// `2025 week 36`
impl fmt::Display for ProductionWeek {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} week {}", self.year, self.week)
    }
}

/// Where manufacturing data lies.
pub(crate) struct Places {
    /// Maker id (2), place (1), year, week, serial number (4), one behind the other.
    pub(crate) unique: usize,
    pub(crate) part: usize,
    pub(crate) part_length: usize,
    revision: usize,
    dram_maker: usize,
}

impl SpdImage {
    pub(crate) const fn making(&self) -> Places {
        match self.generation() {
            Generation::Ddr3 => Places { unique: 117, part: 128, part_length: 18, revision: 146, dram_maker: 148 },
            Generation::Ddr4 => Places { unique: 320, part: 329, part_length: 20, revision: 349, dram_maker: 350 },
            Generation::Ddr5 => Places { unique: 512, part: 521, part_length: 30, revision: 551, dram_maker: 552 },
        }
    }

    fn maker_at(&self, at: usize) -> Option<MakerId> {
        MakerId::from_spd(self.byte(at).ok()?, self.byte(at + 1).ok()?)
    }

    /// Who made the module.
    #[must_use]
    pub fn maker_id(&self) -> Option<MakerId> {
        self.maker_at(self.making().unique)
    }

    /// Who made its memory devices.
    #[must_use]
    pub fn dram_maker_id(&self) -> Option<MakerId> {
        self.maker_at(self.making().dram_maker)
    }

    /// The maker's revision of the module: a code of its own, for DDR3 of two bytes, the first one high.
    #[must_use]
    pub fn maker_revision(&self) -> Option<u16> {
        let at = self.making().revision;
        let first = self.byte(at).ok()?;
        match self.generation() {
            Generation::Ddr3 => Some(u16::from_be_bytes([first, self.byte(at + 1).ok()?])),
            Generation::Ddr4 | Generation::Ddr5 => Some(first.into()),
        }
    }

    /// Maker id, place, year, week and serial number, as stored.
    fn unique_bytes(&self) -> Option<[u8; 9]> {
        let at = self.making().unique;
        self.kept().get(at..at + 9)?.try_into().ok()
    }

    /// The serial number: four bytes as eight hexadecimal digits, in order. All zeros or ones are none.
    #[must_use]
    pub fn serial(&self) -> Option<Name> {
        let [.., a, b, c, d] = self.unique_bytes()?;
        let number = u32::from_be_bytes([a, b, c, d]);
        (number != 0 && number != u32::MAX).then(|| Name::lossy(&format!("{number:08X}")))
    }

    /// What the two-dimensional code on the label gives as the serial number, 18 hexadecimal digits: maker 4, place 2, year 2, week 2, serial number
    /// 8. No two modules have the same. `None` where there is no serial number.
    ///
    /// Source: JESD21-C 4.19.4.
    #[must_use]
    pub fn unique_id(&self) -> Option<Name> {
        self.serial()?;
        let [maker, bank, rest @ ..] = self.unique_bytes()?;
        let rest = rest.iter().fold(0_u64, |number, &byte| number << 8 | u64::from(byte));
        Some(Name::lossy(&format!("{maker:02X}{bank:02X}{rest:014X}")))
    }

    /// When the module was made.
    #[must_use]
    pub fn made(&self) -> Option<ProductionWeek> {
        self.made_read().ok()
    }

    pub(crate) fn made_read(&self) -> Field<ProductionWeek> {
        let at = self.making().unique + 3;
        let stored @ [year, week] = [self.byte(at)?, self.byte(at + 1)?];
        if stored == [0, 0] || stored == [0xff, 0xff] {
            return Err(None);
        }
        let decimal = |byte: u8| (byte >> 4 < 10 && byte & 15 < 10).then_some((byte >> 4) * 10 + (byte & 15));
        match (decimal(year), decimal(week)) {
            (Some(year), Some(week @ 1..=53)) => Ok(ProductionWeek { year: 2000 + u16::from(year), week }),
            _ => unfit(at, "date", u16::from_be_bytes(stored), "it is no year and week in decimal digits"),
        }
    }

    /// The part number, without what pads it: blanks, or zeros.
    #[must_use]
    pub fn part_number(&self) -> Option<&str> {
        self.part_read().ok()
    }

    pub(crate) fn part_read(&self) -> Field<&str> {
        let Places { part: at, part_length, .. } = self.making();
        let bytes = self.kept().get(at..at + part_length).ok_or(None)?;
        if bytes.iter().all(|&byte| byte == 0xff) {
            return Err(None);
        }
        let is_padding = |byte: &u8| matches!(byte, 0 | b' ');
        let first = bytes.iter().position(|byte| !is_padding(byte)).ok_or(None)?;
        let last = bytes.iter().rposition(|byte| !is_padding(byte)).ok_or(None)?;
        let text = bytes.get(first..=last).ok_or(None)?;
        if let Some(place) = text.iter().position(|byte| !matches!(byte, b' '..=b'~')) {
            let bad = at + first + place;
            return unfit(bad, "part number", self.byte(bad)?, "it is no printable character");
        }
        core::str::from_utf8(text).map_err(|_| None)
    }
}
