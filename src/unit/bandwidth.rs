use core::fmt;
use core::iter::Sum;
use core::ops::Add;

use num_rational::Ratio;
use serde::{Deserialize, Serialize};

use crate::unit::exact::lowest_terms;
use crate::unit::{Efficiency, NoDenominator, Share};

/// A bandwidth in decimal MB/s (10^6 bytes a second), an exact rational: `[numerator, denominator]` in documents.
///
/// Sums and products are exact while their lowest terms fit 64 bits, as they do for any memory that the
/// standards describe; beyond that they are rounded down.
///
/// ```
/// use slotwright::unit::DataRate;
///
/// // JESD21-C 4.1.2.L-6 timing: 2133 is exactly 6400/3 MT/s, 8 bytes a transfer.
/// assert_eq!(DataRate::DDR4_2133.peak_bandwidth().to_string(), "17.0 GB/s");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(with = "(u64, core::num::NonZeroU64)"))]
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

    /// `numerator / denominator` times this much; nothing for a denominator of 0.
    ///
    /// ```
    /// use slotwright::unit::DataRate;
    ///
    /// // twelve channels of 4800 MT/s
    /// assert_eq!(DataRate::DDR5_4800.peak_bandwidth().times(12, 1).to_string(), "460.8 GB/s");
    /// ```
    #[must_use]
    pub fn times(self, numerator: u64, denominator: u64) -> Self {
        if denominator == 0 {
            return Self::ZERO;
        }
        let (n, d) = self.into();
        Self::of(u128::from(n) * u128::from(numerator), u128::from(d) * u128::from(denominator))
    }

    /// What is left of it at an efficiency. The factor is the caller's: what comes out is an estimate.
    #[must_use]
    pub fn at(self, efficiency: Efficiency) -> Self {
        let (numerator, denominator) = efficiency.share().into();
        self.times(numerator, denominator)
    }

    /// How much of `whole` it is; `None` of nothing.
    #[must_use]
    pub fn share_of(self, whole: Self) -> Option<Share> {
        let ((n, d), (whole_n, whole_d)) = (<(u64, u64)>::from(self), <(u64, u64)>::from(whole));
        Share::of(u128::from(n) * u128::from(whole_d), u128::from(d) * u128::from(whole_n))
    }

    pub(crate) fn of(numerator: u128, denominator: u128) -> Self {
        let (numerator, denominator) = lowest_terms(numerator, denominator);
        Self(Ratio::new_raw(numerator, denominator))
    }
}

impl Add for Bandwidth {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        let ((a, b), (c, d)) = (<(u64, u64)>::from(self), <(u64, u64)>::from(other));
        let product = |a: u64, b: u64| u128::from(a) * u128::from(b);
        match product(a, d).checked_add(product(c, b)) {
            Some(sum) => Self::of(sum, product(b, d)),
            None => Self(Ratio::from_integer(u64::MAX)),
        }
    }
}

impl Sum for Bandwidth {
    fn sum<I: Iterator<Item = Self>>(parts: I) -> Self {
        parts.fold(Self::ZERO, Add::add)
    }
}

impl TryFrom<(u64, u64)> for Bandwidth {
    type Error = NoDenominator;

    fn try_from((numerator, denominator): (u64, u64)) -> Result<Self, Self::Error> {
        Self::from_mbps(numerator, denominator).ok_or(NoDenominator)
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
        assert!(error.starts_with("the denominator of a fraction is 0"), "{error}");
        assert_eq!(Bandwidth::from_mbps(0, 7), Some(Bandwidth::ZERO));
    }

    #[test]
    fn shares_and_estimates() {
        let peak = DataRate::DDR4_3200.peak_bandwidth();
        let six = peak.times(6, 1);
        assert_eq!(six.share_of(peak.times(8, 1)), Share::new(3, 4));
        assert_eq!(six.share_of(Bandwidth::ZERO), None);
        assert_eq!(six.at(Efficiency::new(2, 3).unwrap()), peak.times(4, 1));
        assert_eq!([peak, peak, peak].into_iter().sum::<Bandwidth>(), peak.times(3, 1));
        assert_eq!(peak.times(1, 0), Bandwidth::ZERO);
        let huge = Bandwidth::from_mbps(u64::MAX, 1).unwrap();
        assert_eq!(huge + huge, huge);
    }

    proptest! {
        #[test]
        fn sums_are_the_same_in_any_order(parts in proptest::collection::vec((0..1_u64 << 20, 1..64_u64), 0..6)) {
            let sum = |parts: &[(u64, u64)]| -> Bandwidth {
                parts.iter().map(|&(n, d)| Bandwidth::from_mbps(n, d).unwrap()).sum()
            };
            let backwards: Vec<_> = parts.iter().rev().copied().collect();
            prop_assert_eq!(sum(&parts), sum(&backwards));
        }

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
