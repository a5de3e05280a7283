//! How the memory is laid out, and what it holds.

use crate::intake::spd::SpdImage;
use crate::intake::spd::field::{Field, bits, unfit, unknown, unread};
use crate::module::{DeviceWidth, Ecc, Generation, Stack};
use crate::unit::{Capacity, Density};

const STACK: &str = "stack";
const DENSITY: &str = "die density";
const WIDTH: &str = "device width";
const CHECK_BITS: &str = "check bits";

/// What a package holds, and by what it multiplies the ranks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Package {
    /// `None` where no stack of this crate is meant; the factor is known all the same.
    stack: Option<Stack>,
    factor: u64,
}

/// The bus of a module.
#[derive(Debug, Clone, Copy)]
struct Bus {
    /// Data bits of all sub-channels together.
    data: u64,
    /// Check bits of one sub-channel.
    check: u8,
    sub_channels: u64,
}

impl SpdImage {
    /// Package ranks, for DDR5 those of one sub-channel; of a module with unlike ranks all of them.
    #[must_use]
    pub fn package_ranks(&self) -> Option<u8> {
        self.ranks_read().ok()
    }

    /// Whether the image says that its ranks are not all alike. Of such a module [`stack`](Self::stack), [`die_density`](Self::die_density) and
    /// [`width`](Self::width) are known only where all ranks have the same.
    #[must_use]
    pub fn is_asymmetric(&self) -> bool {
        let at = match self.generation() {
            Generation::Ddr3 => return false,
            Generation::Ddr4 => 12,
            Generation::Ddr5 => 234,
        };
        self.byte(at).is_ok_and(|byte| byte & 0x40 != 0)
    }

    /// What one package holds. Not known of dual-die packages of DDR5: the standard's formula counts both dies, its tables of ranks do not have them.
    #[must_use]
    pub fn stack(&self) -> Option<Stack> {
        self.stack_read().ok()
    }

    /// Data bits of one device.
    #[must_use]
    pub fn width(&self) -> Option<DeviceWidth> {
        self.width_read().ok()
    }

    /// The density of the dies.
    #[must_use]
    pub fn die_density(&self) -> Option<Density> {
        self.density_read().ok()
    }

    /// What the module holds by the formulas of the standards, check bits not counted.
    ///
    /// Sources: JESD21-C 4.1.2.L-6 after section 8.1.14, with tables 26, 30 and 31 for unlike ranks; JESD400-5C section 11.11; public decoders for DDR3.
    #[must_use]
    pub fn capacity(&self) -> Option<Capacity> {
        self.capacity_read().ok()
    }

    /// What the module holds at least, where it has dual-die packages of DDR5, of which it is not settled whether both dies count.
    #[must_use]
    pub fn capacity_at_least(&self) -> Option<Capacity> {
        let is_open = self.capacity().is_none();
        is_open.then(|| self.capacity_with(|_, at| self.package_or_single(at)).ok()).flatten()
    }

    /// The check bits; not known of a bus that has not 64 data bits, or 32 for each of two sub-channels.
    #[must_use]
    pub fn ecc(&self) -> Option<Ecc> {
        self.ecc_read().ok()
    }

    pub(crate) fn ranks_read(&self) -> Field<u8> {
        let at = match self.generation() {
            Generation::Ddr3 => 7,
            Generation::Ddr4 => 12,
            Generation::Ddr5 => 234,
        };
        let byte = self.byte(at)?;
        match (self.generation(), bits(byte, 5, 3)) {
            (Generation::Ddr3, code @ 0..=3) => Ok(code + 1),
            (Generation::Ddr3, 4) => Ok(8),
            (Generation::Ddr3, _) => unknown(at, "package ranks", byte),
            (Generation::Ddr4 | Generation::Ddr5, code) => Ok(code + 1),
        }
    }

    /// The places of what describes the packages of the ranks: of all, or of ranks 0, 2, .. and of ranks 1, 3, ..
    fn halves(&self) -> (usize, Option<usize>) {
        match self.generation() {
            Generation::Ddr3 => (33, None),
            Generation::Ddr4 => (6, self.is_asymmetric().then_some(10)),
            Generation::Ddr5 => (4, self.is_asymmetric().then_some(8)),
        }
    }

    fn package(&self, at: usize) -> Field<Package> {
        let byte = self.byte(at)?;
        let multiplied = |stack, factor| Package { stack, factor };
        let single = multiplied(Some(Stack::Single), 1);
        let (is_one_die, dies, loads) = (byte & 0x80 == 0, bits(byte, 6, 4), bits(byte, 1, 0));
        Ok(match self.generation() {
            Generation::Ddr3 if is_one_die => single,
            // what the die counts stand for: from memory; DDR3 labels and the formula know no stacks
            Generation::Ddr3 => match (dies, loads) {
                (2, 0 | 1) => multiplied(Some(Stack::DualDie), 1),
                (3, 0 | 1) => multiplied(Some(Stack::QuadDie), 1),
                _ => multiplied(None, 1),
            },
            Generation::Ddr4 => match (is_one_die, dies, loads) {
                (true, 0, 0) => single,
                (false, 1, 1) => multiplied(Some(Stack::DualDie), 1),
                (false, 3, 1) => multiplied(Some(Stack::QuadDie), 1),
                (false, 1, 2) => multiplied(Some(Stack::Stacked2), 2),
                (false, 3, 2) => multiplied(Some(Stack::Stacked4), 4),
                (false, 7, 2) => multiplied(Some(Stack::Stacked8), 8),
                (_, dies, 2) => multiplied(None, u64::from(dies) + 1),
                (_, _, 0 | 1) => multiplied(None, 1),
                _ => return unknown(at, STACK, byte),
            },
            Generation::Ddr5 => match bits(byte, 7, 5) {
                0 => single,
                1 => return unfit(at, STACK, byte, "whether both dies of a dual-die package count is not settled"),
                2 => multiplied(Some(Stack::Stacked2), 2),
                3 => multiplied(Some(Stack::Stacked4), 4),
                4 => multiplied(Some(Stack::Stacked8), 8),
                5 => multiplied(Some(Stack::Stacked16), 16),
                _ => return unknown(at, STACK, byte),
            },
        })
    }

    /// As if of a dual-die package of DDR5 one die counted.
    fn package_or_single(&self, at: usize) -> Field<Package> {
        let is_dual_die = self.generation() == Generation::Ddr5 && bits(self.byte(at)?, 7, 5) == 1;
        if is_dual_die { Ok(Package { stack: None, factor: 1 }) } else { self.package(at) }
    }

    pub(crate) fn stack_read(&self) -> Field<Stack> {
        let (at, other) = self.halves();
        let stack = self.package(at)?.stack.map_or_else(|| unknown(at, STACK, self.byte(at)?), Ok)?;
        match other.map(|other| self.package(other)).transpose()? {
            Some(package) if package.stack != Some(stack) => Err(None),
            _ => Ok(stack),
        }
    }

    fn density_at(&self, at: usize) -> Field<Density> {
        let byte = self.byte(at)?;
        let code = usize::from(if self.generation() == Generation::Ddr5 { bits(byte, 4, 0) } else { bits(byte, 3, 0) });
        let mbit: &[u32] = match self.generation() {
            // the last two of DDR3 in late revisions only
            Generation::Ddr3 | Generation::Ddr4 => &[256, 512, 1024, 2048, 4096, 8192, 16_384, 32_768, 12_288, 24_576],
            Generation::Ddr5 => &[0, 4096, 8192, 12_288, 16_384, 24_576, 32_768, 49_152, 65_536],
        };
        match mbit.get(code) {
            Some(&mbit) if mbit > 0 => Ok(Density::from_mbit(mbit)),
            _ => unknown(at, DENSITY, byte),
        }
    }

    /// The densities of ranks 0, 2, .. and of ranks 1, 3, ..
    fn densities(&self) -> Field<(Density, Density)> {
        let first = self.density_at(4)?;
        match (self.generation(), self.is_asymmetric()) {
            (_, false) | (Generation::Ddr3, _) => Ok((first, first)),
            (Generation::Ddr5, true) => Ok((first, self.density_at(8)?)),
            // JESD21-C 4.1.2.L-6 table 26: so many steps smaller
            (Generation::Ddr4, true) => {
                let byte = self.byte(10)?;
                let steps = usize::from(bits(byte, 3, 2));
                let place = Density::STANDARD.iter().position(|&density| density == first);
                let smaller = place.and_then(|place| Density::STANDARD.get(place.checked_sub(steps)?));
                match smaller {
                    Some(&smaller) if steps < 3 => Ok((first, smaller)),
                    _ => unknown(10, DENSITY, byte),
                }
            }
        }
    }

    pub(crate) fn density_read(&self) -> Field<Density> {
        let (first, second) = self.densities()?;
        if first == second { Ok(first) } else { Err(None) }
    }

    /// Bits of a device, which may be more than this crate has a width for.
    fn device_bits(&self, at: usize) -> Field<u64> {
        let byte = self.byte(at)?;
        let code = if self.generation() == Generation::Ddr5 { bits(byte, 7, 5) } else { bits(byte, 2, 0) };
        if code < 4 { Ok(4 << code) } else { unknown(at, WIDTH, byte) }
    }

    /// The bits of the devices of ranks 0, 2, .. and of ranks 1, 3, ..
    fn widths(&self) -> Field<(u64, u64)> {
        let at = match self.generation() {
            Generation::Ddr3 => 7,
            Generation::Ddr4 => 12,
            Generation::Ddr5 => 6,
        };
        let first = self.device_bits(at)?;
        let is_told_twice = self.generation() == Generation::Ddr5 && self.is_asymmetric();
        Ok((first, if is_told_twice { self.device_bits(10)? } else { first }))
    }

    pub(crate) fn width_read(&self) -> Field<DeviceWidth> {
        let at = match self.generation() {
            Generation::Ddr3 => 7,
            Generation::Ddr4 => 12,
            Generation::Ddr5 => 6,
        };
        match self.widths()? {
            (first, second) if first != second => Err(None),
            (4, _) => Ok(DeviceWidth::X4),
            (8, _) => Ok(DeviceWidth::X8),
            (16, _) => Ok(DeviceWidth::X16),
            _ => unfit(at, WIDTH, self.byte(at)?, "modules of devices with 32 bits are not planned with"),
        }
    }

    fn bus(&self) -> Field<Bus> {
        let at = match self.generation() {
            Generation::Ddr3 => 8,
            Generation::Ddr4 => 13,
            Generation::Ddr5 => 235,
        };
        let byte = self.byte(at)?;
        let (check, width) = (bits(byte, 4, 3), bits(byte, 2, 0));
        let sub_channels = if self.generation() == Generation::Ddr5 { bits(byte, 7, 5) } else { 0 };
        if width > 3 || sub_channels > 3 {
            return unknown(at, "bus width", byte);
        }
        let sub_channels = 1 << sub_channels;
        let check = match (self.generation(), check) {
            (_, 0) => 0,
            (Generation::Ddr3 | Generation::Ddr4, 1) | (Generation::Ddr5, 2) => 8,
            (Generation::Ddr5, 1) => 4,
            _ => u8::MAX,
        };
        Ok(Bus { data: sub_channels * (8 << width), check, sub_channels })
    }

    pub(crate) fn ecc_read(&self) -> Field<Ecc> {
        let at = match self.generation() {
            Generation::Ddr3 => 8,
            Generation::Ddr4 => 13,
            Generation::Ddr5 => 235,
        };
        let Bus { data, check, sub_channels } = self.bus()?;
        let is_usual = data == 64 && sub_channels == if self.generation() == Generation::Ddr5 { 2 } else { 1 };
        match check {
            _ if !is_usual => unfit(at, CHECK_BITS, self.byte(at)?, "the bus has not the usual 64 data bits"),
            0 => Ok(Ecc::None),
            4 => Ok(Ecc::Ec4),
            8 if self.generation() == Generation::Ddr5 => Ok(Ecc::Ec8),
            8 => Ok(Ecc::Ecc),
            _ => unknown(at, CHECK_BITS, self.byte(at)?),
        }
    }

    pub(crate) fn capacity_read(&self) -> Field<Capacity> {
        self.capacity_with(Self::package)
    }

    fn capacity_with(&self, package: impl Fn(&Self, usize) -> Field<Package>) -> Field<Capacity> {
        let ranks = u64::from(self.ranks_read()?);
        let (first_density, second_density) = self.densities()?;
        let (first_width, second_width) = self.widths()?;
        let (at, other) = self.halves();
        let bus = self.bus()?.data;
        let half = |ranks: u64, at: usize, density: Density, width: u64| -> Field<u64> {
            Ok(u64::from(density.mbit()) * bus * ranks * package(self, at)?.factor / (8 * width))
        };
        let mib = match other {
            None => half(ranks, at, first_density, first_width)?,
            Some(other) => {
                half(ranks.div_ceil(2), at, first_density, first_width)?
                    + half(ranks / 2, other, second_density, second_width)?
            }
        };
        Ok(Capacity::from_mib(mib))
    }

    /// What is to be said of the ranks as a whole.
    pub(crate) fn evenness_read(&self) -> Field<()> {
        let at = if self.generation() == Generation::Ddr5 { 234 } else { 12 };
        if self.is_asymmetric() {
            self.byte(at)?;
            return unread(at, "what differs between ranks", "the ranks are not alike");
        }
        match self.generation() {
            Generation::Ddr4 if self.byte(10)? != 0 => {
                unfit(10, "second package", self.byte(10)?, "the image says that all ranks are alike")
            }
            _ => Ok(()),
        }
    }
}
