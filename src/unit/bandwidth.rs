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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::unit::DataRate;

    // Rates of JESD21-C 4.1.2.L-6 table 42 and JESD400-5C table 72, 8 bytes a transfer.
    #[test]
    fn peaks_of_the_standard_rates() {
        for (rate, exact, text) in [
            (DataRate::DDR3_1066, (25_600, 3), "8.5 GB/s"),
            (DataRate::DDR3_1333, (32_000, 3), "10.6 GB/s"),
            (DataRate::DDR4_1866, (44_800, 3), "14.9 GB/s"),
            (DataRate::DDR4_2133, (51_200, 3), "17.0 GB/s"),
            (DataRate::DDR4_2400, (19_200, 1), "19.2 GB/s"),
            (DataRate::DDR4_2666, (64_000, 3), "21.3 GB/s"),
            (DataRate::DDR4_2933, (70_400, 3), "23.4 GB/s"),
            (DataRate::DDR4_3200, (25_600, 1), "25.6 GB/s"),
            (DataRate::DDR5_4800, (38_400, 1), "38.4 GB/s"),
            (DataRate::DDR5_9200, (73_600, 1), "73.6 GB/s"),
        ] {
            let peak = rate.peak_bandwidth();
            assert_eq!(<(u64, u64)>::from(peak), exact);
            assert_eq!(peak.to_string(), text);
        }
    }

    #[test]
    fn a_denominator_of_nothing_is_refused() {
        assert_eq!(Bandwidth::from_mbps(1, 0), None);
        let error = serde_json::from_str::<Bandwidth>("[1,0]").unwrap_err().to_string();
        assert!(error.starts_with("the denominator of a bandwidth is 0"), "{error}");
        assert_eq!(Bandwidth::from_mbps(0, 7), Some(Bandwidth::ZERO));
    }

    proptest! {
        #[test]
        fn documents_read_back(numerator in any::<u64>(), denominator in 1..=u64::MAX) {
            let bandwidth = Bandwidth::from_mbps(numerator, denominator).unwrap();
            let document = serde_json::to_string(&bandwidth).unwrap();
            prop_assert_eq!(serde_json::from_str::<Bandwidth>(&document).unwrap(), bandwidth);
        }

        #[test]
        fn order_is_that_of_the_exact_values(
            left in (any::<u64>(), 1..=u64::MAX),
            right in (any::<u64>(), 1..=u64::MAX),
        ) {
            let cross = (u128::from(left.0) * u128::from(right.1)).cmp(&(u128::from(right.0) * u128::from(left.1)));
            let (left, right) = (Bandwidth::from_mbps(left.0, left.1), Bandwidth::from_mbps(right.0, right.1));
            prop_assert_eq!(left.cmp(&right), cross);
        }
    }
}
