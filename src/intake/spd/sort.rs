//! What sort of module it is: byte 3.

use crate::intake::spd::SpdImage;
use crate::intake::spd::field::{Field, bits, unknown, unread};
use crate::module::{FormFactor, Generation, ModuleKind};
use crate::population::DeviceSort;

impl SpdImage {
    /// How the module buffers its signals.
    ///
    /// Sources: JESD21-C 4.1.2.L-6 (DDR4), JESD400-5C (DDR5), public decoders (DDR3; its clocked modules from memory).
    #[must_use]
    pub fn kind(&self) -> Option<ModuleKind> {
        self.sort_read().ok().map(|(kind, _)| kind)
    }

    /// The module's mechanical form.
    #[must_use]
    pub fn form_factor(&self) -> Option<FormFactor> {
        self.sort_read().ok().map(|(_, form)| form)
    }

    /// What the module is where it is no plain memory: one with storage beside its memory, or one that keeps its content.
    #[must_use]
    pub fn device(&self) -> Option<DeviceSort> {
        let byte = self.byte(3).ok().filter(|byte| byte & 0x80 != 0)?;
        let is_persistent = bits(byte, 6, 4) == 2;
        Some(if is_persistent { DeviceSort::Persistent } else { DeviceSort::Hybrid })
    }

    pub(crate) fn sort_read(&self) -> Field<(ModuleKind, FormFactor)> {
        use FormFactor::{Dimm, MiniDimm, Other, SoDimm};
        use Generation::{Ddr3, Ddr4, Ddr5};
        use ModuleKind::{
            ClockedUnbuffered, CompressionAttached, LoadReduced, MultiplexedRank, Registered, Soldered, Unbuffered,
        };
        let byte = self.byte(3)?;
        Ok(match (self.generation(), bits(byte, 3, 0)) {
            (Ddr3 | Ddr4 | Ddr5, 1) => (Registered, Dimm),
            (Ddr3 | Ddr4 | Ddr5, 2) => (Unbuffered, Dimm),
            (Ddr3 | Ddr4 | Ddr5, 3) => (Unbuffered, SoDimm),
            (Ddr3, 4) => (Unbuffered, Other),
            (Ddr4 | Ddr5, 4) => (LoadReduced, Dimm),
            (Ddr3 | Ddr4, 5) => (Registered, MiniDimm),
            (Ddr3 | Ddr4, 6) => (Unbuffered, MiniDimm),
            (Ddr3, 7) => (ClockedUnbuffered, MiniDimm),
            // DDR3 and DDR4 have 8 and 9 the other way round
            (Ddr3, 8) | (Ddr4, 9) => (Unbuffered, SoDimm),
            (Ddr3, 9) | (Ddr4, 8) => (Registered, SoDimm),
            (Ddr3, 10) => (ClockedUnbuffered, SoDimm),
            (Ddr3, 11) => (LoadReduced, Dimm),
            (Ddr3 | Ddr4, 12 | 13) => (Unbuffered, SoDimm),
            (Ddr5, 5) => (ClockedUnbuffered, Dimm),
            (Ddr5, 6) => (ClockedUnbuffered, SoDimm),
            (Ddr5, 7) => (MultiplexedRank, Dimm),
            (Ddr5, 8) => (CompressionAttached, Other),
            (Ddr5, 11) => (Soldered, Other),
            _ => return unknown(3, "kind", byte),
        })
    }

    /// What is to be said of a module with storage.
    pub(crate) fn device_read(&self) -> Field<()> {
        let byte = self.byte(3)?;
        let (is_hybrid, media) = (byte & 0x80 != 0, bits(byte, 6, 4));
        match (self.generation(), media) {
            // DDR3 has no such modules
            (Generation::Ddr3, _) if is_hybrid => unknown(3, "sort of device", byte),
            (Generation::Ddr4, 1..=3) | (Generation::Ddr5, 1 | 2) if is_hybrid => {
                unread(3, "what is beside the memory", "the module is no plain memory")
            }
            (_, 0) if !is_hybrid => Ok(()),
            _ => unknown(3, "sort of device", byte),
        }
    }
}
