use core::fmt;

use num_rational::Ratio;
use serde::{Deserialize, Serialize};

/// A bandwidth in decimal MB/s (10^6 bytes a second), an exact rational.
///
/// ```
/// use slotwright::unit::DataRate;
///
/// // JESD21-C 4.1.2.L-6 timing: 2133 is exactly 6400/3 MT/s, 8 bytes a transfer.
/// assert_eq!(DataRate::DDR4_2133.peak_bandwidth().to_string(), "17.0 GB/s");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "(u64, u64)", into = "(u64, u64)")]
pub struct Bandwidth(Ratio<u64>);

impl Bandwidth {
    /// Nothing.
    pub const ZERO: Self = Self(Ratio::new_raw(0, 1));

    /// `numerator / denominator` MB/s, or `None` for a denominator of 0.
    #[must_use]
    pub fn from_mbps(numerator: u64, denominator: u64) -> Option<Self> {
        (denominator != 0).then(|| Self(Ratio::new(numerator, denominator)))
    }

    /// Whole MB/s, rounded down.
    #[must_use]
    pub fn floor_mbps(self) -> u64 {
        self.0.to_integer()
    }
}

impl TryFrom<(u64, u64)> for Bandwidth {
    type Error = &'static str;

    fn try_from((numerator, denominator): (u64, u64)) -> Result<Self, Self::Error> {
        Self::from_mbps(numerator, denominator).ok_or("the denominator of a bandwidth is 0; it must be 1 or more")
    }
}

impl From<Bandwidth> for (u64, u64) {
    fn from(bandwidth: Bandwidth) -> Self {
        (*bandwidth.0.numer(), *bandwidth.0.denom())
    }
}

/// In GB/s, rounded down to one decimal.
impl fmt::Display for Bandwidth {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tenths = self.floor_mbps() / 100;
        write!(f, "{}.{} GB/s", tenths / 10, tenths % 10)
    }
}
