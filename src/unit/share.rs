use core::fmt;

use num_rational::Ratio;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::unit::NoDenominator;
use crate::unit::exact::lowest_terms;

/// How much of a whole something is, an exact rational: `[numerator, denominator]` in documents. It may be more than
/// the whole.
///
/// ```
/// use slotwright::unit::Share;
///
/// let share = Share::new(2, 3).unwrap();
/// assert_eq!(share.to_string(), "66.6 %");
/// assert!(share < Share::WHOLE);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(with = "(u64, core::num::NonZeroU64)"))]
#[serde(try_from = "(u64, u64)", into = "(u64, u64)")]
pub struct Share(Ratio<u64>);

impl Share {
    /// Nothing.
    pub const ZERO: Self = Self(Ratio::new_raw(0, 1));
    /// All of it.
    pub const WHOLE: Self = Self(Ratio::new_raw(1, 1));

    /// `numerator / denominator`, or `None` for a denominator of 0.
    #[must_use]
    pub fn new(numerator: u64, denominator: u64) -> Option<Self> {
        Self::of(numerator.into(), denominator.into())
    }

    /// A part of a whole; `None` of nothing. Rounded down where lowest terms need more than 64 bits.
    pub(crate) fn of(part: u128, whole: u128) -> Option<Self> {
        let (numerator, denominator) = (whole != 0).then(|| lowest_terms(part, whole))?;
        Some(Self(Ratio::new_raw(numerator, denominator)))
    }

    /// Per cent, rounded down.
    #[must_use]
    pub fn floor_percent(self) -> u64 {
        self.per_mille() / 10
    }

    fn per_mille(self) -> u64 {
        let scaled = u128::from(*self.0.numer()) * 1000 / u128::from(*self.0.denom());
        u64::try_from(scaled).unwrap_or(u64::MAX)
    }
}

impl TryFrom<(u64, u64)> for Share {
    type Error = NoDenominator;

    fn try_from((numerator, denominator): (u64, u64)) -> Result<Self, Self::Error> {
        Self::new(numerator, denominator).ok_or(NoDenominator)
    }
}

impl From<Share> for (u64, u64) {
    fn from(share: Share) -> Self {
        (*share.0.numer(), *share.0.denom())
    }
}

/// In per cent, rounded down to one decimal; without decimals where it is whole.
impl fmt::Display for Share {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.per_mille() / 10, self.per_mille() % 10) {
            (whole, 0) => write!(f, "{whole} %"),
            (whole, tenths) => write!(f, "{whole}.{tenths} %"),
        }
    }
}

/// How much of a peak is reached: a factor of 0 to 1 that the caller has measured or assumes, `[numerator, denominator]`
/// in documents.
///
/// ```
/// use slotwright::unit::{DataRate, Efficiency};
///
/// let measured = Efficiency::new(66, 100)?;
/// assert_eq!(DataRate::DDR4_2666.peak_bandwidth().times(16, 1).at(measured).to_string(), "225.2 GB/s");
/// assert!(Efficiency::new(11, 10).is_err());
/// # Ok::<(), slotwright::unit::EfficiencyError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(with = "(u64, core::num::NonZeroU64)"))]
#[serde(try_from = "(u64, u64)", into = "(u64, u64)")]
pub struct Efficiency(Share);

/// Why a fraction is no [`Efficiency`].
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error("an efficiency of {numerator}/{denominator} is outside 0 to 1")]
#[non_exhaustive]
pub struct EfficiencyError {
    /// Numerator of the fraction.
    pub numerator: u64,
    /// Denominator of the fraction.
    pub denominator: u64,
}

impl Efficiency {
    /// `numerator / denominator`.
    ///
    /// # Errors
    /// When that is above 1 (`11/10`), or the denominator is 0.
    pub fn new(numerator: u64, denominator: u64) -> Result<Self, EfficiencyError> {
        let share = Share::new(numerator, denominator).filter(|&share| share <= Share::WHOLE);
        share.map(Self).ok_or(EfficiencyError { numerator, denominator })
    }

    /// As a share of the peak.
    #[must_use]
    pub const fn share(self) -> Share {
        self.0
    }
}

impl TryFrom<(u64, u64)> for Efficiency {
    type Error = EfficiencyError;

    fn try_from((numerator, denominator): (u64, u64)) -> Result<Self, EfficiencyError> {
        Self::new(numerator, denominator)
    }
}

impl From<Efficiency> for (u64, u64) {
    fn from(efficiency: Efficiency) -> Self {
        efficiency.0.into()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn text_is_rounded_down() {
        for (numerator, denominator, text) in
            [(1, 1, "100 %"), (2, 3, "66.6 %"), (1999, 2000, "99.9 %"), (0, 5, "0 %"), (5, 4, "125 %")]
        {
            assert_eq!(Share::new(numerator, denominator).unwrap().to_string(), text);
        }
        assert_eq!(Share::new(2, 3).unwrap().floor_percent(), 66);
        assert_eq!(Share::new(1, 0), None);
        let efficiency = Efficiency::new(6, 8).unwrap();
        assert_eq!((efficiency.share(), <(u64, u64)>::from(efficiency)), (Share::new(3, 4).unwrap(), (3, 4)));
    }

    #[test]
    fn factors_outside_0_to_1_are_refused() {
        for (numerator, denominator) in [(2, 1), (101, 100), (0, 0), (1, 0)] {
            let error = Efficiency::new(numerator, denominator).unwrap_err();
            assert_eq!(error, EfficiencyError { numerator, denominator });
            let document = format!("[{numerator},{denominator}]");
            let refused = serde_json::from_str::<Efficiency>(&document).unwrap_err().to_string();
            assert!(refused.starts_with(&error.to_string()), "{refused}");
        }
        assert_eq!(Efficiency::new(0, 9).unwrap().share(), Share::ZERO);
        assert_eq!(Efficiency::new(9, 9).unwrap().share(), Share::WHOLE);
        assert!(serde_json::from_str::<Share>("[1,0]").is_err());
    }

    proptest! {
        #[test]
        fn documents_read_back(numerator in any::<u64>(), denominator in 1..=u64::MAX) {
            let share = Share::new(numerator, denominator).unwrap();
            let document = serde_json::to_string(&share).unwrap();
            prop_assert_eq!(serde_json::from_str::<Share>(&document).unwrap(), share);
        }
    }
}
