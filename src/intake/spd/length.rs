//! How long an image is, and what is not in it for that.

use crate::intake::spd::SpdImage;
use crate::module::Generation;
use crate::population::{Remark, Remarked};
use crate::unit::Name;

impl SpdImage {
    /// How many bytes the device holds: JESD21-C 4.1.2.L-6 (DDR4), JESD400-5C (DDR5), public decoders (DDR3).
    const fn whole(&self) -> usize {
        match self.generation {
            Generation::Ddr3 => 256,
            Generation::Ddr4 => 512,
            Generation::Ddr5 if self.length > 1024 => 2048,
            Generation::Ddr5 => 1024,
        }
    }

    /// That the length is none that the device has, and what cannot be read for it.
    pub(crate) fn length_remarks(&self) -> Vec<Remark> {
        let (whole, length) = (self.whole(), self.length);
        if length > whole {
            let what = format!("what follows byte {}", whole - 1);
            let why = format!("the image has {length} bytes, and an SPD of {} has {whole}", self.generation);
            return vec![Remark::unread(&format!("byte {whole}"), &what, &why)];
        }
        if length == whole {
            return Vec::new();
        }
        let at = format!("byte {length}");
        let [needed, found] = [whole, length].map(|bytes| u64::try_from(bytes).unwrap_or(u64::MAX));
        let mut remarks = vec![Remark::new(Name::lossy(&at), Remarked::CutOff { needed, found })];
        let making = self.making();
        let mut parts = vec![("maker and serial number", making.unique + 9)];
        parts.push(("part number", making.part + making.part_length));
        if self.generation == Generation::Ddr4 {
            parts.splice(0..0, [("height and raw card", 131), ("the second checksum", 256)]);
        }
        let cut: Vec<&str> = parts.into_iter().filter(|(_, end)| length < *end).map(|(what, _)| what).collect();
        if !cut.is_empty() {
            let what = format!("what lies behind ({})", cut.join(", "));
            remarks.push(Remark::unread(&at, &what, "the image ends before it"));
        }
        remarks
    }
}
