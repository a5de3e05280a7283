use core::fmt;

use serde::{Deserialize, Serialize};

use crate::module::{DeviceWidth, Stack};
use crate::unit::{Capacity, Density};

/// How a module's memory is laid out: package ranks, stack, device width.
///
/// For DDR5 the package ranks are those of one sub-channel, as the label and the SPD count them.
///
/// ```
/// use slotwright::module::{DeviceWidth, Organization, Stack};
/// use slotwright::unit::{Capacity, Density};
///
/// // JESD21-C 4.1.2.L-6: 2S4Rx4 of 8 Gb dies is 128 GB.
/// let organization = Organization { package_ranks: 2, stack: Stack::Stacked4, width: DeviceWidth::X4 };
/// assert_eq!(organization.capacity(Density::from_gbit(8)), Capacity::from_gib(128));
/// assert_eq!(organization.density(Capacity::from_gib(128)), Some(Density::from_gbit(8)));
/// assert_eq!(organization.density(Capacity::from_gib(100)), None);
/// assert_eq!(organization.to_string(), "2S4Rx4");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Organization {
    /// Chip selects of the module.
    pub package_ranks: u8,
    /// What one package holds.
    pub stack: Stack,
    /// Data bits of one device.
    pub width: DeviceWidth,
}

impl Organization {
    /// Data bits of a module, check bits not counted: 64, or twice 32 for DDR5.
    const DATA_BITS: u64 = 64;

    /// Package ranks times the height of the stack.
    #[must_use]
    pub const fn stacked_ranks(self) -> u32 {
        self.package_ranks as u32 * self.stack.height()
    }

    /// What a module so laid out holds with dies of this density; check bits are not counted.
    ///
    /// Source: the capacity formulas of JESD21-C 4.1.2.L-6 (after section 8.1.14) and JESD400-5C
    /// section 11.11: die / 8 x 64 / width x package ranks x stack height. Rounded down to whole MiB.
    #[must_use]
    pub fn capacity(self, die: Density) -> Capacity {
        let mbit = u64::from(die.mbit()) * (Self::DATA_BITS / u64::from(self.width.bits()));
        Capacity::from_mib(mbit * u64::from(self.stacked_ranks()) / 8)
    }

    /// The die density that gives `capacity`, or `None` where no standard density does.
    #[must_use]
    pub fn density(self, capacity: Capacity) -> Option<Density> {
        Density::STANDARD.into_iter().find(|&die| self.capacity(die) == capacity)
    }
}

/// As a label writes it: `2Rx4`, `4DRx4`, `2S4Rx4`.
impl fmt::Display for Organization {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let stack = match self.stack {
            Stack::Single => "",
            Stack::DualDie => "D",
            Stack::QuadDie => "Q",
            Stack::Stacked2 => "S2",
            Stack::Stacked4 => "S4",
            Stack::Stacked8 => "S8",
            Stack::Stacked16 => "S16",
        };
        write!(f, "{}{stack}R{}", self.package_ranks, self.width)
    }
}
