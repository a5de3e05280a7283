//! What the module is built on: revisions of the content, raw card, height, temperatures.

use crate::intake::spd::SpdImage;
use crate::intake::spd::field::{Field, bits, unknown};
use crate::module::{Generation, RawCard, SpdRevision, TemperatureRange};
use crate::unit::Height;

const CARD: &str = "raw card";

impl SpdImage {
    fn revision_at(&self, at: usize) -> Option<SpdRevision> {
        let byte = self.byte(at).ok()?;
        Some(SpdRevision { major: byte >> 4, minor: byte & 15 })
    }

    /// The revision of the content, for DDR5 that of the base section.
    #[must_use]
    pub fn revision(&self) -> Option<SpdRevision> {
        self.revision_at(1)
    }

    /// The revision of a DDR5 module's own section.
    #[must_use]
    pub fn module_revision(&self) -> Option<SpdRevision> {
        if self.generation() == Generation::Ddr5 { self.revision_at(192) } else { None }
    }

    const fn height_at(&self) -> usize {
        match self.generation() {
            Generation::Ddr3 => 60,
            Generation::Ddr4 => 128,
            Generation::Ddr5 => 230,
        }
    }

    /// How tall the module is at most: whole millimetres from 15 on.
    #[must_use]
    pub fn height(&self) -> Option<Height> {
        let byte = self.byte(self.height_at()).ok()?;
        Some(Height::from_um(1000 * (15 + u32::from(bits(byte, 4, 0)))))
    }

    /// The raw card that the module is built on.
    ///
    /// Sources: JESD21-C 4.1.2.L-6 tables 97, 98, 105 and 106; JESD400-5C table 99. DDR3 as DDR4 (public decoders).
    #[must_use]
    pub fn raw_card(&self) -> Option<RawCard> {
        self.card_read().ok()
    }

    pub(crate) fn card_read(&self) -> Field<RawCard> {
        let at = match self.generation() {
            Generation::Ddr3 => 62,
            Generation::Ddr4 => 130,
            Generation::Ddr5 => 232,
        };
        let byte = self.byte(at)?;
        let code = bits(byte, 4, 0);
        let (card, revision) = if self.generation() == Generation::Ddr5 {
            let revision = bits(byte, 7, 5);
            if revision == 7 || code == 30 {
                return unknown(at, CARD, byte);
            }
            (code, revision)
        } else {
            let extension = bits(self.byte(self.height_at())?, 7, 5);
            let revision = bits(byte, 6, 5);
            if extension > 0 && revision != 3 {
                return unknown(at, CARD, byte);
            }
            (if byte & 0x80 == 0 { code } else { code + 31 }, revision + extension)
        };
        let card = if code == 31 { Some(RawCard::without_design()) } else { RawCard::of_code(card, revision) };
        card.map_or_else(|| unknown(at, CARD, byte), Ok)
    }

    /// The temperatures at which a DDR5 module may run.
    #[must_use]
    pub fn temperature_range(&self) -> Option<TemperatureRange> {
        self.temperatures_read().ok()
    }

    pub(crate) fn temperatures_read(&self) -> Field<TemperatureRange> {
        use TemperatureRange::{A1t, A2t, A3t, Et, It, Nt, Rt, St, Xt};
        if self.generation() != Generation::Ddr5 {
            return Err(None);
        }
        let byte = self.byte(233)?;
        let ranges = [A1t, A2t, A3t, It, St, Et, Rt, Nt, Xt];
        let range = ranges.get(usize::from(bits(byte, 7, 4))).copied();
        range.map_or_else(|| unknown(233, "temperature range", byte), Ok)
    }
}
