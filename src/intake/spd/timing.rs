//! Clock period, rate, latencies and voltages.

use crate::intake::spd::SpdImage;
use crate::intake::spd::field::{Field, bits, no_rate, unfit, unknown};
use crate::module::{Generation, Voltages};
use crate::unit::{DataRate, Voltage};

/// The latencies of a module at its own rate.
///
/// ```
/// use slotwright::intake::spd::SpdImage;
///
/// let mut bytes = [0; 256];
/// for (at, byte) in [(2, 0x0c), (18, 0x06), (21, 0x10), (24, 110), (25, 110), (26, 110)] {
///     bytes[at] = byte;
/// }
/// let timings = SpdImage::read(&bytes)?.timings().unwrap();
/// assert_eq!((timings.clock_ps, timings.taa_ps), (750, 13_750));
/// assert_eq!(timings.clocks, (19, 19, 19));
/// # Ok::<(), slotwright::intake::spd::SpdError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub struct SpdTimings {
    /// The shortest clock period, in picoseconds as stored: 937 or 938 for 2133 MT/s.
    pub clock_ps: u32,
    /// From a column address to data, in picoseconds.
    pub taa_ps: u32,
    /// From a row address to a column address, in picoseconds.
    pub trcd_ps: u32,
    /// Of a precharge, in picoseconds.
    pub trp_ps: u32,
    /// CL, tRCD and tRP in clocks of that period; CL is the least that the module supports.
    pub clocks: (u8, u8, u8),
}

/// Femtoseconds in a picosecond.
const FS: i64 = 1000;

impl SpdImage {
    /// The highest rate that the module is rated for: the standard rate of its generation next to its clock period; where none is within
    /// [`DataRate::SNAP_PER_MILLE`], the rate itself.
    ///
    /// Sources: JESD21-C 4.1.2.L-6 section 8.1.19, JESD400-5C table 72; public decoders for DDR3.
    #[must_use]
    pub fn grade(&self) -> Option<DataRate> {
        self.grade_read().ok()
    }

    /// The supply voltages at which the module may run.
    ///
    /// Sources: JESD21-C 4.1.2.L-6 byte 11, JESD400-5C byte 16; public decoders for DDR3 byte 6, of which bit 0 means *not* at 1.5 V.
    #[must_use]
    pub fn voltages(&self) -> Option<Voltages> {
        Voltages::new(self.voltages_read().ok()?.into_iter().flatten())
    }

    /// Clock period and latencies.
    ///
    /// Clocks by the rounding rules of JESD21-C 4.1.2.L-6 section 8.1.18 (for DDR3 too, from memory) and JESD400-5C section 8.1.20.
    #[must_use]
    pub fn timings(&self) -> Option<SpdTimings> {
        self.timings_read().ok()
    }

    /// The CAS latencies that the module supports, in clocks, the least first.
    pub fn cas_latencies(&self) -> impl Iterator<Item = u8> {
        let (mask, first, step) = self.cas_mask().unwrap_or((0, 0, 1));
        (0_u8..40).filter(move |bit| mask >> bit & 1 == 1).map(move |bit| first + step * bit)
    }

    /// Bits, the latency of the lowest one, and by how much that of the next is more.
    fn cas_mask(&self) -> Field<(u64, u8, u8)> {
        let byte = |at| self.byte(at).map(u64::from);
        Ok(match self.generation() {
            Generation::Ddr3 => (u64::from(self.word(14)? & 0x7fff), 4, 1),
            Generation::Ddr4 => {
                let mask = u64::from(self.word(20)?) | u64::from(self.word(22)?) << 16;
                (mask & 0x3fff_ffff, if mask >> 31 == 1 { 23 } else { 7 }, 1)
            }
            Generation::Ddr5 => (u64::from(self.word(24)?) | u64::from(self.word(26)?) << 16 | byte(28)? << 32, 20, 2),
        })
    }

    /// A time in femtoseconds, of the byte of its coarse part and that of its fine one.
    fn time(&self, field: &'static str, coarse_at: usize, fine_at: usize) -> Field<i64> {
        let fine = i64::from(i8::from_ne_bytes([self.byte(fine_at)?]));
        let coarse = i64::from(self.byte(coarse_at)?);
        let (coarse_fs, fine_fs) = match self.generation() {
            Generation::Ddr3 => {
                let per = |dividend: u8, divisor: u8, at| match divisor {
                    0 => unfit(at, "time base", divisor, "it divides"),
                    _ => Ok((i64::from(dividend), i64::from(divisor))),
                };
                let units = self.byte(9)?;
                let (dividend, divisor) = per(bits(units, 7, 4), bits(units, 3, 0), 9)?;
                let (coarse_dividend, coarse_divisor) = per(self.byte(10)?, self.byte(11)?, 11)?;
                (coarse * coarse_dividend * FS * FS / coarse_divisor, fine * dividend * FS / divisor)
            }
            Generation::Ddr4 if bits(self.byte(17)?, 3, 0) != 0 => return unknown(17, "time base", self.byte(17)?),
            Generation::Ddr4 | Generation::Ddr5 => (coarse * 125 * FS, fine * FS),
        };
        match coarse_fs + fine_fs {
            time @ 1.. if coarse > 0 => Ok(time),
            _ => unfit(coarse_at, field, self.byte(coarse_at)?, "it is no time"),
        }
    }

    /// A time in whole picoseconds.
    fn picoseconds(&self, field: &'static str, coarse_at: usize, fine_at: usize) -> Field<u32> {
        if self.generation() == Generation::Ddr5 {
            let time = self.word(coarse_at)?;
            return if time == 0 { unfit(coarse_at, field, time, "it is no time") } else { Ok(time.into()) };
        }
        let rounded = (self.time(field, coarse_at, fine_at)? + FS / 2) / FS;
        match u32::try_from(rounded) {
            // by an odd time base of DDR3, one may be too short to be counted
            Ok(time @ 1..) => Ok(time),
            _ => unfit(coarse_at, field, self.byte(coarse_at)?, "it is no time"),
        }
    }

    fn clock_at(&self) -> (usize, usize) {
        match self.generation() {
            Generation::Ddr3 => (12, 34),
            Generation::Ddr4 => (18, 125),
            Generation::Ddr5 => (20, 20),
        }
    }

    fn clock_read(&self) -> Field<u32> {
        let (coarse_at, fine_at) = self.clock_at();
        self.picoseconds("clock period", coarse_at, fine_at)
    }

    pub(crate) fn grade_read(&self) -> Field<DataRate> {
        let (at, _) = self.clock_at();
        let clock = self.clock_read()?;
        DataRate::from_fraction(2_000_000, clock).or_else(|_| unfit(at, "clock period", clock, "no memory runs at it"))
    }

    /// What is to be said of a rate that the standard does not have.
    pub(crate) fn standard_rate_read(&self) -> Field<()> {
        let is_standard = self.generation().rates().contains(&self.grade_read()?);
        let (at, _) = self.clock_at();
        if is_standard { Ok(()) } else { no_rate(at, self.clock_read()?) }
    }

    pub(crate) fn timings_read(&self) -> Field<SpdTimings> {
        let places = match self.generation() {
            Generation::Ddr3 => [(16, 35), (18, 36), (20, 37)],
            Generation::Ddr4 => [(24, 123), (25, 122), (26, 121)],
            Generation::Ddr5 => [(30, 30), (32, 32), (34, 34)],
        };
        let clock_ps = self.clock_read()?;
        let [taa, trcd, trp] = places;
        let taa_ps = self.picoseconds("tAA", taa.0, taa.1)?;
        let trcd_ps = self.picoseconds("tRCD", trcd.0, trcd.1)?;
        let trp_ps = self.picoseconds("tRP", trp.0, trp.1)?;
        let clocks = |time: u32, at: usize, field: &'static str| {
            let (time, clock) = (u64::from(time), u64::from(clock_ps));
            let clocks = if self.generation() == Generation::Ddr5 {
                (time * 997 / clock + 1000) / 1000
            } else {
                (time * 1000 / clock + 974) / 1000
            };
            u8::try_from(clocks).or_else(|_| unfit(at, field, self.byte(at)?, "it is too many clocks"))
        };
        let least = clocks(taa_ps, taa.0, "tAA")?;
        // the supported ones of DDR5 are even
        let cas = self.cas_latencies().find(|&latency| latency >= least);
        let cas = cas.map_or_else(|| unfit(taa.0, "CAS latency", least, "the module supports none as high"), Ok)?;
        let clocks = (cas, clocks(trcd_ps, trcd.0, "tRCD")?, clocks(trp_ps, trp.0, "tRP")?);
        Ok(SpdTimings { clock_ps, taa_ps, trcd_ps, trp_ps, clocks })
    }

    pub(crate) fn voltages_read(&self) -> Field<[Option<Voltage>; 3]> {
        let (at, voltages) = match self.generation() {
            Generation::Ddr3 => {
                let byte = self.byte(6)?;
                let low = |bit: u8, voltage| (byte & bit != 0).then_some(voltage);
                let usual = (byte & 1 == 0).then_some(Voltage::V1_5);
                (6, [usual, low(2, Voltage::V1_35), low(4, Voltage::V1_25)])
            }
            Generation::Ddr4 => (11, [(self.byte(11)? & 1 == 1).then_some(Voltage::V1_2), None, None]),
            Generation::Ddr5 => (16, [(self.byte(16)? == 0).then_some(Voltage::V1_1), None, None]),
        };
        if voltages.iter().all(Option::is_none) { unknown(at, "voltages", self.byte(at)?) } else { Ok(voltages) }
    }
}
