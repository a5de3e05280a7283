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
/// let organization = Organization::new(2, Stack::Stacked4, DeviceWidth::X4);
/// assert_eq!(organization.capacity(Density::from_gbit(8)), Capacity::from_gib(128));
/// assert_eq!(organization.density(Capacity::from_gib(128)), Some(Density::from_gbit(8)));
/// assert_eq!(organization.density(Capacity::from_gib(100)), None);
/// assert_eq!(organization.to_string(), "2S4Rx4");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
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

    /// So many package ranks of devices of a width.
    #[must_use]
    pub const fn new(package_ranks: u8, stack: Stack, width: DeviceWidth) -> Self {
        Self { package_ranks, stack, width }
    }

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

#[cfg(test)]
mod tests {
    use super::*;

    fn organization(package_ranks: u8, stack: Stack, width: DeviceWidth) -> Organization {
        Organization { package_ranks, stack, width }
    }

    // The worked examples of JESD21-C 4.1.2.L-6 and JESD305-R8, and the SPD content of real modules. The others
    // are worked out with the formulas of JESD21-C 4.1.2.L-6 and JESD400-5C section 11.11.
    #[test]
    fn capacities_of_real_modules() {
        use DeviceWidth::{X4, X8, X16};
        use Stack::{DualDie, Single, Stacked2, Stacked4, Stacked8};
        for (ranks, stack, width, gbit, gib, text) in [
            // JESD21-C 4.1.2.L-6
            (2, Single, X4, 2, 8, "2Rx4"),
            (2, DualDie, X4, 4, 16, "2DRx4"),
            (2, Stacked4, X8, 2, 16, "2S4Rx8"),
            // Real modules
            (2, Single, X4, 16, 64, "2Rx4"),
            (4, DualDie, X4, 16, 128, "4DRx4"),
            (2, Stacked4, X4, 8, 128, "2S4Rx4"),
            (1, Single, X16, 8, 4, "1Rx16"),
            (1, Single, X8, 16, 16, "1Rx8"),
            (1, Single, X16, 16, 8, "1Rx16"),
            (4, Single, X4, 4, 32, "4Rx4"),
            (4, Single, X8, 4, 16, "4Rx8"),
            // JESD305-R8, table 2
            (1, Single, X4, 24, 48, "1Rx4"),
            (1, Stacked2, X4, 16, 64, "1S2Rx4"),
            (1, Stacked8, X4, 16, 256, "1S8Rx4"),
            (1, Stacked2, X4, 24, 96, "1S2Rx4"),
            (1, Stacked8, X4, 24, 384, "1S8Rx4"),
            // By formula
            (2, Stacked4, X4, 16, 256, "2S4Rx4"),
            (2, Stacked8, X4, 16, 512, "2S8Rx4"),
            (2, Single, X4, 24, 96, "2Rx4"),
            (2, Stacked2, X4, 16, 128, "2S2Rx4"),
            (2, Stacked4, X4, 24, 384, "2S4Rx4"),
            // Three equal ranks; JESD21-C 4.1.2.L-6 table 31
            (3, Single, X4, 8, 48, "3Rx4"),
        ] {
            let organization = organization(ranks, stack, width);
            let (die, capacity) = (Density::from_gbit(gbit), Capacity::from_gib(gib));
            assert_eq!(organization.capacity(die), capacity, "{text} of {die}");
            assert_eq!(organization.density(capacity), Some(die), "{text} of {capacity}");
            assert_eq!(organization.to_string(), text);
        }
    }

    // The largest modules of each die, by the formulas of the standards: x4 and x8 in GB, by 1 to 16 ranks.
    #[test]
    fn largest_modules() {
        use Stack::{Single, Stacked2, Stacked4, Stacked8, Stacked16};
        let rows = [
            (4, [8, 16, 32, 64, 128], [4, 8, 16, 32, 64]),
            (8, [16, 32, 64, 128, 256], [8, 16, 32, 64, 128]),
            (16, [32, 64, 128, 256, 512], [16, 32, 64, 128, 256]),
            (24, [48, 96, 192, 384, 768], [24, 48, 96, 192, 384]),
            (32, [64, 128, 256, 512, 1024], [32, 64, 128, 256, 512]),
            (64, [128, 256, 512, 1024, 2048], [64, 128, 256, 512, 1024]),
        ];
        let by_stack = [Single, Stacked2, Stacked4, Stacked8, Stacked16];
        for (gbit, x4, x8) in rows {
            for (width, sizes) in [(DeviceWidth::X4, x4), (DeviceWidth::X8, x8)] {
                for (index, gib) in sizes.into_iter().enumerate() {
                    let one_package_rank = organization(1, by_stack[index], width);
                    assert_eq!(one_package_rank.capacity(Density::from_gbit(gbit)), Capacity::from_gib(gib));
                    if index > 0 {
                        let two_package_ranks = organization(2, by_stack[index - 1], width);
                        assert_eq!(two_package_ranks.capacity(Density::from_gbit(gbit)), Capacity::from_gib(gib));
                        assert_eq!(two_package_ranks.stacked_ranks(), one_package_rank.stacked_ranks());
                    }
                }
            }
        }
    }

    #[test]
    fn every_density_is_found_again() {
        for &stack in Stack::ALL {
            for &width in DeviceWidth::ALL {
                for ranks in 1..=8 {
                    let organization = organization(ranks, stack, width);
                    for die in Density::STANDARD {
                        assert_eq!(organization.density(organization.capacity(die)), Some(die));
                    }
                    assert_eq!(organization.density(Capacity::ZERO), None);
                    assert_eq!(organization.density(Capacity::from_mib(u64::MAX)), None);
                }
            }
        }
        let most = Density::from_mbit(u32::MAX);
        assert!(organization(u8::MAX, Stack::Stacked16, DeviceWidth::X4).capacity(most) > Capacity::from_gib(1024));
    }

    #[test]
    fn documents_with_other_fields_are_refused() {
        let good = r#"{"package_ranks":2,"stack":"3ds-4h","width":"x4"}"#;
        let expected = organization(2, Stack::Stacked4, DeviceWidth::X4);
        assert_eq!(serde_json::from_str::<Organization>(good).unwrap(), expected);
        assert_eq!(serde_json::to_string(&expected).unwrap(), good);
        for bad in [
            r#"{"package_ranks":2,"stack":"3ds-4h","width":"x4","dies":4}"#,
            r#"{"package_ranks":2,"stack":"3ds-3h","width":"x4"}"#,
            r#"{"package_ranks":256,"stack":"3ds-4h","width":"x4"}"#,
        ] {
            assert!(serde_json::from_str::<Organization>(bad).is_err(), "{bad}");
        }
    }
}
