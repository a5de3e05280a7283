use core::fmt;

use serde::{Deserialize, Serialize};

/// How much one memory die holds, in megabits (2^20 bits).
///
/// Sources for the values that exist: JESD21-C 4.1.2.L-6 (DDR4) and JESD400-5C (DDR5), SPD byte 4.
///
/// ```
/// use slotwright::unit::Density;
///
/// assert_eq!(Density::from_gbit(16).to_string(), "16 Gb");
/// assert!(Density::from_mbit(512).is_standard());
/// assert!(!Density::from_gbit(20).is_standard());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(transparent)]
pub struct Density(u32);

impl Density {
    /// Every die density that a DDR3, DDR4 or DDR5 SPD can state, smallest first.
    pub const STANDARD: [Self; 12] = [
        Self(256),
        Self(512),
        Self(1024),
        Self(2048),
        Self(4096),
        Self(8192),
        Self(12288),
        Self(16384),
        Self(24576),
        Self(32768),
        Self(49152),
        Self(65536),
    ];

    /// So many megabits.
    #[must_use]
    pub const fn from_mbit(mbit: u32) -> Self {
        Self(mbit)
    }

    /// So many gigabits; saturates far above any die.
    #[must_use]
    pub const fn from_gbit(gbit: u32) -> Self {
        Self(gbit.saturating_mul(1024))
    }

    /// In megabits.
    #[must_use]
    pub const fn mbit(self) -> u32 {
        self.0
    }

    /// Whether a standard knows a die of this density.
    #[must_use]
    pub fn is_standard(self) -> bool {
        Self::STANDARD.contains(&self)
    }
}

impl fmt::Display for Density {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0 % 1024 == 0 { write!(f, "{} Gb", self.0 / 1024) } else { write!(f, "{} Mb", self.0) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // JESD21-C 4.1.2.L-6, SPD byte 4 (DDR4); JESD400-5C, SPD byte 4 (DDR5); public decoders (DDR3).
    #[test]
    fn densities_of_the_standards() {
        for gbit in [1, 2, 4, 8, 12, 16, 24, 32, 48, 64] {
            assert!(Density::from_gbit(gbit).is_standard(), "{gbit}");
        }
        for mbit in [0, 128, 256 + 1, 3 * 1024, 6 * 1024, 20 * 1024, 128 * 1024, u32::MAX] {
            assert!(!Density::from_mbit(mbit).is_standard(), "{mbit}");
        }
        assert_eq!(Density::from_mbit(512).to_string(), "512 Mb");
        assert_eq!(Density::from_gbit(u32::MAX).mbit(), u32::MAX);
        assert!(Density::STANDARD.windows(2).all(|pair| pair[0] < pair[1]));
    }

    #[test]
    fn documents_read_back() {
        for die in Density::STANDARD {
            let document = serde_json::to_string(&die).unwrap();
            assert_eq!(document, die.mbit().to_string());
            assert_eq!(serde_json::from_str::<Density>(&document).unwrap(), die);
        }
    }
}
