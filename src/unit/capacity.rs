use core::fmt;
use core::iter::Sum;
use core::ops::Add;

use serde::{Deserialize, Serialize};

/// An amount of memory in whole MiB (2^20 bytes).
///
/// "GB" on a module label and in this crate's text means GiB (2^30 bytes), as the trade and the
/// standards write it. Sums saturate at `u64::MAX` MiB, far beyond any machine.
///
/// ```
/// use slotwright::unit::Capacity;
///
/// let sum: Capacity = [Capacity::from_gib(32); 24].into_iter().sum();
/// assert_eq!(sum, Capacity::from_gib(768));
/// assert_eq!(sum.to_string(), "768 GB");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(transparent)]
pub struct Capacity(u64);

impl Capacity {
    /// Nothing.
    pub const ZERO: Self = Self(0);

    /// So many MiB.
    #[must_use]
    pub const fn from_mib(mib: u64) -> Self {
        Self(mib)
    }

    /// So many GiB, the "GB" of a module label.
    #[must_use]
    pub const fn from_gib(gib: u32) -> Self {
        Self(gib as u64 * 1024)
    }

    /// In MiB, exactly.
    #[must_use]
    pub const fn mib(self) -> u64 {
        self.0
    }

    /// In GiB, or `None` where it is no whole number of GiB.
    #[must_use]
    pub const fn whole_gib(self) -> Option<u64> {
        if self.0 % 1024 == 0 { Some(self.0 / 1024) } else { None }
    }

    /// Whether it is zero.
    #[must_use]
    pub const fn is_zero(self) -> bool {
        self.0 == 0
    }

    /// `count` times this much; saturates.
    #[must_use]
    pub const fn times(self, count: u64) -> Self {
        Self(self.0.saturating_mul(count))
    }

    /// The difference, or zero where `other` is larger.
    #[must_use]
    pub const fn saturating_sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl Add for Capacity {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sum for Capacity {
    fn sum<I: Iterator<Item = Self>>(amounts: I) -> Self {
        amounts.fold(Self::ZERO, Add::add)
    }
}

impl fmt::Display for Capacity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.whole_gib() {
            Some(gib) => write!(f, "{gib} GB"),
            None => write!(f, "{} MB", self.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn text_is_in_whole_units() {
        for (mib, text) in [(0, "0 GB"), (512, "512 MB"), (1024, "1 GB"), (1536, "1536 MB"), (786_432, "768 GB")] {
            assert_eq!(Capacity::from_mib(mib).to_string(), text);
        }
        assert_eq!(Capacity::from_mib(1536).whole_gib(), None);
        assert_eq!(Capacity::from_mib(2048).whole_gib(), Some(2));
    }

    #[test]
    fn sums_and_products_saturate() {
        let most = Capacity::from_mib(u64::MAX);
        assert_eq!(most + Capacity::from_mib(1), most);
        assert_eq!([most, most].into_iter().sum::<Capacity>(), most);
        assert_eq!(most.times(2), most);
        assert_eq!(Capacity::from_gib(1).saturating_sub(most), Capacity::ZERO);
        assert_eq!(Capacity::from_gib(u32::MAX).whole_gib(), Some(u32::MAX.into()));
    }

    proptest! {
        #[test]
        fn documents_read_back(mib in any::<u64>()) {
            let document = serde_json::to_string(&Capacity::from_mib(mib)).unwrap();
            prop_assert_eq!(&document, &mib.to_string());
            prop_assert_eq!(serde_json::from_str::<Capacity>(&document).unwrap(), Capacity::from_mib(mib));
        }

        #[test]
        fn sums_are_of_mib(amounts in proptest::collection::vec(0..1_u64 << 40, 0..50)) {
            let sum: Capacity = amounts.iter().copied().map(Capacity::from_mib).sum();
            prop_assert_eq!(sum.mib(), amounts.iter().sum::<u64>());
        }
    }

    #[test]
    fn documents_hold_whole_mib() {
        for document in ["-1", "1.5", "\"1\"", "null"] {
            assert!(serde_json::from_str::<Capacity>(document).is_err(), "{document}");
        }
    }
}
