use core::cmp::Ordering;
use core::fmt;
use core::hash::{Hash, Hasher};

use num_rational::Ratio;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::unit::Bandwidth;

/// A data rate in MT/s (10^6 transfers a second), an exact rational.
///
/// The standards name most rates by a rounded figure: "2133" is exactly 6400/3 MT/s. A value within
/// [`DataRate::SNAP_PER_MILLE`] thousandths of a standard rate *is* that rate, however it was given;
/// a value far from every standard rate is kept exactly and
/// [says that it is non-standard](DataRate::is_standard). In documents it is a whole number, or a fraction in a text.
///
/// Source: JESD21-C 4.1.2.L-6 section 8.1.19 (DDR4 clock periods), JESD400-5C table 72 (DDR5).
///
/// ```
/// use slotwright::unit::DataRate;
///
/// let rate = DataRate::from_mts(2667)?; // some tools round up
/// assert_eq!(rate, DataRate::DDR4_2666);
/// assert_eq!(rate.exact_mts(), (8000, 3));
/// assert_eq!(rate.to_string(), "2666 MT/s");
/// assert!(!DataRate::from_mts(2500)?.is_standard());
/// # Ok::<(), slotwright::unit::DataRateError>(())
/// ```
#[derive(Debug, Clone, Copy, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(try_from = "Wire", into = "Wire")]
pub struct DataRate(Ratio<u32>);

/// Why a number is no [`DataRate`].
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum DataRateError {
    /// Below 1, or above [`DataRate::MAX_MTS`].
    #[error("a data rate of {numerator}/{denominator} MT/s is outside 1 to {} MT/s", DataRate::MAX_MTS)]
    OutOfRange {
        /// Numerator of the value.
        numerator: u32,
        /// Denominator of the value.
        denominator: u32,
    },
    /// A fraction with a denominator of 0 or above [`DataRate::MAX_DENOMINATOR`].
    #[error("a data rate of {numerator}/{denominator} MT/s has no denominator of 1 to {}", DataRate::MAX_DENOMINATOR)]
    Denominator {
        /// Numerator of the value.
        numerator: u32,
        /// Denominator of the value.
        denominator: u32,
    },
    /// A text that is neither a whole number nor a fraction.
    #[error("the data rate {text:?} is neither a whole number of MT/s nor a fraction such as \"6400/3\"")]
    Unreadable {
        /// The text as given.
        text: String,
    },
}

/// A standard rate is written as its name; any other as an integer or a fraction in a text.
#[derive(Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(untagged, expecting = "a data rate is a whole number of MT/s, or a fraction in a text such as \"6400/3\"")]
enum Wire {
    Whole(#[cfg_attr(feature = "schemars", schemars(range(min = 1, max = DataRate::MAX_MTS)))] u32),
    Fraction(#[cfg_attr(feature = "schemars", schemars(regex(pattern = "^[0-9]+(/[0-9]+)?$")))] String),
}

macro_rules! rates {
    ($($name:ident = $numerator:literal / $denominator:literal, $text:literal;)*) => {
        $(
            #[doc = concat!($text, " MT/s, exactly ", stringify!($numerator), "/", stringify!($denominator), ".")]
            pub const $name: Self = Self(Ratio::new_raw($numerator, $denominator));
        )*
    };
}

impl DataRate {
    rates! {
        DDR3_800 = 800 / 1, "800";
        DDR3_1066 = 3200 / 3, "1066";
        DDR3_1333 = 4000 / 3, "1333";
        DDR3_1600 = 1600 / 1, "1600";
        DDR3_1866 = 5600 / 3, "1866";
        DDR3_2133 = 6400 / 3, "2133";
        DDR4_1333 = 4000 / 3, "1333";
        DDR4_1600 = 1600 / 1, "1600";
        DDR4_1866 = 5600 / 3, "1866";
        DDR4_2133 = 6400 / 3, "2133";
        DDR4_2400 = 2400 / 1, "2400";
        DDR4_2666 = 8000 / 3, "2666";
        DDR4_2933 = 8800 / 3, "2933";
        DDR4_3200 = 3200 / 1, "3200";
        DDR5_3200 = 3200 / 1, "3200";
        DDR5_3600 = 3600 / 1, "3600";
        DDR5_4000 = 4000 / 1, "4000";
        DDR5_4400 = 4400 / 1, "4400";
        DDR5_4800 = 4800 / 1, "4800";
        DDR5_5200 = 5200 / 1, "5200";
        DDR5_5600 = 5600 / 1, "5600";
        DDR5_6000 = 6000 / 1, "6000";
        DDR5_6400 = 6400 / 1, "6400";
        DDR5_6800 = 6800 / 1, "6800";
        DDR5_7200 = 7200 / 1, "7200";
        DDR5_7600 = 7600 / 1, "7600";
        DDR5_8000 = 8000 / 1, "8000";
        DDR5_8400 = 8400 / 1, "8400";
        DDR5_8800 = 8800 / 1, "8800";
        DDR5_9200 = 9200 / 1, "9200";
    }

    /// The standard rates of DDR3, lowest first.
    pub const DDR3: [Self; 6] =
        [Self::DDR3_800, Self::DDR3_1066, Self::DDR3_1333, Self::DDR3_1600, Self::DDR3_1866, Self::DDR3_2133];
    /// The standard rates of DDR4, lowest first. 1333 is no label grade, but slow settings of real
    /// machines reach it (common practice, no source).
    pub const DDR4: [Self; 8] = [
        Self::DDR4_1333,
        Self::DDR4_1600,
        Self::DDR4_1866,
        Self::DDR4_2133,
        Self::DDR4_2400,
        Self::DDR4_2666,
        Self::DDR4_2933,
        Self::DDR4_3200,
    ];
    /// The standard rates of DDR5, lowest first.
    pub const DDR5: [Self; 16] = [
        Self::DDR5_3200,
        Self::DDR5_3600,
        Self::DDR5_4000,
        Self::DDR5_4400,
        Self::DDR5_4800,
        Self::DDR5_5200,
        Self::DDR5_5600,
        Self::DDR5_6000,
        Self::DDR5_6400,
        Self::DDR5_6800,
        Self::DDR5_7200,
        Self::DDR5_7600,
        Self::DDR5_8000,
        Self::DDR5_8400,
        Self::DDR5_8800,
        Self::DDR5_9200,
    ];

    /// How close to a standard rate a value must be, in thousandths of that rate, to be taken for it: 3.
    /// The widest miss of a rate worked out from a stored clock period is 2.8 thousandths (DDR5-7200, stored
    /// as 277 ps, JESD400-5C table 72); neighbouring standard rates lie more than 40 apart.
    pub const SNAP_PER_MILLE: u32 = 3;

    /// The highest value accepted, in MT/s.
    pub const MAX_MTS: u32 = 100_000;

    /// The highest denominator accepted: enough for 2,000,000 over any clock period in picoseconds.
    pub const MAX_DENOMINATOR: u32 = 10_000;

    /// A rate of so many MT/s, snapped to the standard rate that it names.
    ///
    /// # Errors
    /// When `mts` is 0 or above [`DataRate::MAX_MTS`].
    pub fn from_mts(mts: u32) -> Result<Self, DataRateError> {
        Self::from_fraction(mts, 1)
    }

    /// A rate of `numerator / denominator` MT/s, snapped to a standard rate within the tolerance. A clock
    /// period of so many picoseconds is 2,000,000 over it.
    ///
    /// # Errors
    /// When the denominator is 0 or above [`DataRate::MAX_DENOMINATOR`], or the value is below 1 (`1/2`) or
    /// above [`DataRate::MAX_MTS`] (`100001/1`).
    pub fn from_fraction(numerator: u32, denominator: u32) -> Result<Self, DataRateError> {
        if denominator == 0 || denominator > Self::MAX_DENOMINATOR {
            return Err(DataRateError::Denominator { numerator, denominator });
        }
        let exact = Ratio::new(numerator, denominator);
        if exact < Ratio::ONE || exact > Ratio::from_integer(Self::MAX_MTS) {
            return Err(DataRateError::OutOfRange { numerator, denominator });
        }
        Ok(Self::nearest_standard(exact).unwrap_or(Self(exact)))
    }

    fn nearest_standard(exact: Ratio<u32>) -> Option<Self> {
        let (numerator, denominator) = (u64::from(*exact.numer()), u64::from(*exact.denom()));
        Self::DDR3.iter().chain(&Self::DDR4).chain(&Self::DDR5).copied().find(|standard| {
            let (n, d) = (u64::from(*standard.0.numer()), u64::from(*standard.0.denom()));
            // |exact - standard| <= standard * tolerance / 1000, in whole numbers
            (numerator * d).abs_diff(n * denominator) * 1000 <= n * denominator * u64::from(Self::SNAP_PER_MILLE)
        })
    }

    /// Numerator and denominator of the exact value in MT/s, in lowest terms.
    #[must_use]
    pub fn exact_mts(self) -> (u32, u32) {
        (*self.0.numer(), *self.0.denom())
    }

    /// The name: the exact value rounded down to whole MT/s, as the standards do.
    #[must_use]
    pub fn name_mts(self) -> u32 {
        self.0.to_integer()
    }

    /// Whether DDR3, DDR4 or DDR5 has this rate.
    #[must_use]
    pub fn is_standard(self) -> bool {
        Self::DDR3.contains(&self) || Self::DDR4.contains(&self) || Self::DDR5.contains(&self)
    }

    /// What one module channel of 64 data bits moves at most: 8 bytes a transfer.
    #[must_use]
    pub fn peak_bandwidth(self) -> Bandwidth {
        let (numerator, denominator) = self.exact_mts();
        Bandwidth::from_mbps(u64::from(numerator) * 8, u64::from(denominator)).unwrap_or(Bandwidth::ZERO)
    }

    /// The figure in a module's bandwidth name: MB/s rounded down to hundreds, 12800 for 1600 MT/s.
    #[must_use]
    pub fn bandwidth_name(self) -> u64 {
        self.peak_bandwidth().floor_mbps() / 100 * 100
    }
}

// ratios are kept in lowest terms
impl PartialEq for DataRate {
    fn eq(&self, other: &Self) -> bool {
        (self.0.numer(), self.0.denom()) == (other.0.numer(), other.0.denom())
    }
}

impl Hash for DataRate {
    fn hash<H: Hasher>(&self, state: &mut H) {
        (self.0.numer(), self.0.denom()).hash(state);
    }
}

impl Ord for DataRate {
    fn cmp(&self, other: &Self) -> Ordering {
        let cross = |a: &Ratio<u32>, b: &Ratio<u32>| u64::from(*a.numer()) * u64::from(*b.denom());
        cross(&self.0, &other.0).cmp(&cross(&other.0, &self.0))
    }
}

impl PartialOrd for DataRate {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl fmt::Display for DataRate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_standard() {
            write!(f, "{} MT/s", self.name_mts())
        } else {
            write!(f, "{} MT/s (non-standard)", self.0)
        }
    }
}

impl TryFrom<Wire> for DataRate {
    type Error = DataRateError;

    fn try_from(wire: Wire) -> Result<Self, DataRateError> {
        match wire {
            Wire::Whole(mts) => Self::from_mts(mts),
            Wire::Fraction(text) => {
                let parts = text.split_once('/').unwrap_or((&text, "1"));
                match (parts.0.parse(), parts.1.parse()) {
                    (Ok(numerator), Ok(denominator)) => Self::from_fraction(numerator, denominator),
                    _ => Err(DataRateError::Unreadable { text }),
                }
            }
        }
    }
}

impl From<DataRate> for Wire {
    fn from(rate: DataRate) -> Self {
        if rate.is_standard() || rate.0.is_integer() {
            Self::Whole(rate.name_mts())
        } else {
            Self::Fraction(rate.0.to_string())
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn read_back(rate: DataRate) -> DataRate {
        serde_json::from_str(&serde_json::to_string(&rate).unwrap()).unwrap()
    }

    /// Name; exact rate; clock period as SPD stores it, in ps; bandwidth name.
    type Row = (u32, (u32, u32), u32, u64);

    fn check(rates: &[DataRate], rows: &[Row]) {
        assert_eq!(rates.len(), rows.len());
        for (&rate, &(name, exact, period, bandwidth_name)) in rates.iter().zip(rows) {
            assert_eq!((rate.name_mts(), rate.exact_mts()), (name, exact));
            assert!(rate.is_standard());
            assert_eq!(rate.to_string(), format!("{name} MT/s"));
            assert_eq!(rate.bandwidth_name(), bandwidth_name, "{name}");
            assert_eq!(DataRate::from_mts(name), Ok(rate));
            assert_eq!(DataRate::from_fraction(exact.0, exact.1), Ok(rate));
            assert_eq!(DataRate::from_fraction(2_000_000, period), Ok(rate), "{name} from {period} ps");
            assert_eq!(DataRate::from_mts(2_000_000 / period), Ok(rate), "{name} from {period} ps, cut off");
            assert_eq!(read_back(rate), rate);
            assert_eq!(serde_json::to_string(&rate).unwrap(), name.to_string());
        }
        assert!(rates.windows(2).all(|pair| pair[0] < pair[1]));
    }

    // DDR3 SPD bytes 12 and 34, seen in modules for 1333 to 1866; 938 ps is from memory.
    #[test]
    fn ddr3() {
        let rows = [
            (800, (800, 1), 2500, 6400),
            (1066, (3200, 3), 1875, 8500),
            (1333, (4000, 3), 1500, 10600),
            (1600, (1600, 1), 1250, 12800),
            (1866, (5600, 3), 1071, 14900),
            (2133, (6400, 3), 938, 17000),
        ];
        check(&DataRate::DDR3, &rows);
    }

    // JESD21-C 4.1.2.L-6 section 8.1.19, table 42. 1333 is no grade; its period is DDR3's.
    #[test]
    fn ddr4() {
        let rows = [
            (1333, (4000, 3), 1500, 10600),
            (1600, (1600, 1), 1250, 12800),
            (1866, (5600, 3), 1071, 14900),
            (2133, (6400, 3), 937, 17000),
            (2400, (2400, 1), 833, 19200),
            (2666, (8000, 3), 750, 21300),
            (2933, (8800, 3), 682, 23400),
            (3200, (3200, 1), 625, 25600),
        ];
        check(&DataRate::DDR4, &rows);
        // Real modules also store 938 ps for 2133.
        assert_eq!(DataRate::from_fraction(2_000_000, 938), Ok(DataRate::DDR4_2133));
    }

    // JESD400-5C tables 72 to 77.
    #[test]
    fn ddr5() {
        let rows = [
            (3200, (3200, 1), 625, 25600),
            (3600, (3600, 1), 555, 28800),
            (4000, (4000, 1), 500, 32000),
            (4400, (4400, 1), 454, 35200),
            (4800, (4800, 1), 416, 38400),
            (5200, (5200, 1), 384, 41600),
            (5600, (5600, 1), 357, 44800),
            (6000, (6000, 1), 333, 48000),
            (6400, (6400, 1), 312, 51200),
            (6800, (6800, 1), 294, 54400),
            (7200, (7200, 1), 277, 57600),
            (7600, (7600, 1), 263, 60800),
            (8000, (8000, 1), 250, 64000),
            (8400, (8400, 1), 238, 67200),
            (8800, (8800, 1), 227, 70400),
            (9200, (9200, 1), 217, 73600),
        ];
        check(&DataRate::DDR5, &rows);
    }

    // Texts that round up instead of down; common practice, no source.
    #[test]
    fn other_roundings_of_a_rate_are_that_rate() {
        for (mts, rate) in [
            (1067, DataRate::DDR3_1066),
            (1867, DataRate::DDR3_1866),
            (2134, DataRate::DDR4_2133),
            (2667, DataRate::DDR4_2666),
            (2932, DataRate::DDR4_2933),
            (2934, DataRate::DDR4_2933),
        ] {
            assert_eq!(DataRate::from_mts(mts), Ok(rate));
        }
    }

    #[test]
    fn the_tolerance_ends_at_three_thousandths() {
        for rate in DataRate::DDR3.into_iter().chain(DataRate::DDR4).chain(DataRate::DDR5) {
            let (numerator, denominator) = rate.exact_mts();
            for (parts, of) in [(1003, 1000), (997, 1000), (401, 400), (399, 400)] {
                assert_eq!(DataRate::from_fraction(numerator * parts, denominator * of), Ok(rate));
            }
            for (parts, of) in [(1004, 1000), (996, 1000), (1020, 1000), (980, 1000)] {
                let other = DataRate::from_fraction(numerator * parts, denominator * of).unwrap();
                assert!(!other.is_standard(), "{other}");
                assert_eq!(read_back(other), other);
            }
        }
    }

    #[test]
    fn bad_rates_are_refused_with_their_numbers() {
        use DataRateError::{Denominator, OutOfRange, Unreadable};
        assert_eq!(DataRate::from_mts(0), Err(OutOfRange { numerator: 0, denominator: 1 }));
        assert_eq!(DataRate::from_fraction(1, 2), Err(OutOfRange { numerator: 1, denominator: 2 }));
        assert_eq!(DataRate::from_mts(100_001), Err(OutOfRange { numerator: 100_001, denominator: 1 }));
        assert!(DataRate::from_mts(1).is_ok() && DataRate::from_mts(100_000).is_ok());
        assert_eq!(DataRate::from_fraction(1, 0), Err(Denominator { numerator: 1, denominator: 0 }));
        assert!(DataRate::from_fraction(20_000_000, 10_000).is_ok());
        let error = DataRate::from_fraction(20_002_000, 10_001).unwrap_err();
        assert_eq!(error.to_string(), "a data rate of 20002000/10001 MT/s has no denominator of 1 to 10000");
        let error = DataRate::try_from(Wire::Fraction("6400/".to_owned())).unwrap_err();
        assert_eq!(error, Unreadable { text: "6400/".to_owned() });
    }

    #[test]
    fn documents_hold_a_number_or_a_fraction() {
        let read = |document: &str| serde_json::from_str::<DataRate>(document);
        assert_eq!(read("2133").unwrap(), DataRate::DDR4_2133);
        assert_eq!(read("\"6400/3\"").unwrap(), DataRate::DDR4_2133);
        assert_eq!(read("\"2400\"").unwrap(), DataRate::DDR4_2400);
        assert_eq!(serde_json::to_string(&read("\"5001/2\"").unwrap()).unwrap(), "\"5001/2\"");
        assert_eq!(serde_json::to_string(&read("2500").unwrap()).unwrap(), "2500");
        for (document, text) in [
            ("0", "outside 1 to 100000"),
            ("\"fast\"", "neither a whole number of MT/s nor a fraction"),
            ("\"6400/0\"", "no denominator"),
            ("-1", "a data rate is a whole number of MT/s, or a fraction"),
            ("2133.5", "a data rate is a whole number of MT/s, or a fraction"),
            ("99999999999", "a data rate is a whole number of MT/s, or a fraction"),
            ("null", "a data rate is a whole number of MT/s, or a fraction"),
        ] {
            let error = read(document).unwrap_err().to_string();
            assert!(error.contains(text), "{document}: {error}");
        }
    }

    fn rate() -> impl Strategy<Value = DataRate> {
        let any = (1_u32..=10_000, any::<u32>()).prop_map(|(denominator, numerator)| (numerator, denominator));
        let close = (0..30_usize, -30_i32..=30, 1_u32..=100).prop_map(|(index, off, denominator)| {
            let rates: Vec<_> = DataRate::DDR3.into_iter().chain(DataRate::DDR4).chain(DataRate::DDR5).collect();
            (rates[index].name_mts().saturating_add_signed(off) * denominator + denominator / 2, denominator)
        });
        prop_oneof![any, close]
            .prop_filter_map("no rate", |(numerator, denominator)| DataRate::from_fraction(numerator, denominator).ok())
    }

    proptest! {
        #[test]
        fn order_is_that_of_the_exact_values(left in rate(), right in rate()) {
            let ((a, b), (c, d)) = (left.exact_mts(), right.exact_mts());
            let cross = (u128::from(a) * u128::from(d)).cmp(&(u128::from(c) * u128::from(b)));
            prop_assert_eq!(left.cmp(&right), cross);
            prop_assert_eq!(left == right, cross == Ordering::Equal);
        }

        #[test]
        fn snapping_again_changes_nothing(rate in rate()) {
            let (numerator, denominator) = rate.exact_mts();
            prop_assert_eq!(DataRate::from_fraction(numerator, denominator), Ok(rate));
            prop_assert_eq!(rate.name_mts(), numerator / denominator);
        }

        #[test]
        fn snapping_moves_a_value_by_little(numerator in any::<u32>(), denominator in 1_u32..=10_000) {
            if let Ok(rate) = DataRate::from_fraction(numerator, denominator) {
                let (a, b) = rate.exact_mts();
                let (given, kept) = (u128::from(numerator) * u128::from(b), u128::from(a) * u128::from(denominator));
                prop_assert!(given.abs_diff(kept) * 1000 <= kept * 3);
                prop_assert!(given == kept || rate.is_standard());
            }
        }

        #[test]
        fn documents_read_back(rate in rate()) {
            prop_assert_eq!(read_back(rate), rate);
        }
    }
}
