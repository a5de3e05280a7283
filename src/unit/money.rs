use core::fmt;
use core::str::FromStr;

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// A currency as three capital letters, in the manner of ISO 4217 ("EUR").
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Currency([u8; 3]);

/// Why an amount of money cannot be made or added.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum MoneyError {
    /// A currency code of another shape.
    #[error("{code:?} is no currency code; three capital letters are, \"EUR\" for example")]
    BadCode {
        /// The text as given.
        code: String,
    },
    /// Two currencies in one sum.
    #[error("{left} and {right} cannot be added; amounts of one sum must be in one currency")]
    TwoCurrencies {
        /// The first currency.
        left: Currency,
        /// The other one.
        right: Currency,
    },
    /// The sum is beyond what the type holds.
    #[error("a sum of money is too large")]
    TooLarge,
}

impl Currency {
    /// The three letters.
    #[must_use]
    pub fn code(&self) -> &str {
        core::str::from_utf8(&self.0).unwrap_or("???")
    }
}

impl FromStr for Currency {
    type Err = MoneyError;

    fn from_str(code: &str) -> Result<Self, MoneyError> {
        match code.as_bytes() {
            &[a, b, c] if [a, b, c].iter().all(u8::is_ascii_uppercase) => Ok(Self([a, b, c])),
            _ => Err(MoneyError::BadCode { code: code.to_owned() }),
        }
    }
}

impl TryFrom<String> for Currency {
    type Error = MoneyError;

    fn try_from(code: String) -> Result<Self, MoneyError> {
        code.parse()
    }
}

impl From<Currency> for String {
    fn from(currency: Currency) -> Self {
        currency.code().to_owned()
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

impl fmt::Debug for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

/// A price that is not negative, in whole minor units (cents) of a currency.
///
/// How many minor units make a major one is the currency's own affair and never needed here; text
/// prints two decimals.
///
/// ```
/// use slotwright::unit::Price;
///
/// let euros = Price::new(12_950, "EUR".parse()?);
/// assert_eq!(euros.times(4)?.to_string(), "518.00 EUR");
/// assert!(euros.plus(Price::new(1, "USD".parse()?)).is_err());
/// # Ok::<(), slotwright::unit::MoneyError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Price {
    amount_minor: u64,
    currency: Currency,
}

impl Price {
    /// So many minor units.
    #[must_use]
    pub const fn new(amount_minor: u64, currency: Currency) -> Self {
        Self { amount_minor, currency }
    }

    /// The amount in minor units.
    #[must_use]
    pub const fn amount_minor(self) -> u64 {
        self.amount_minor
    }

    /// The currency.
    #[must_use]
    pub const fn currency(self) -> Currency {
        self.currency
    }

    /// The sum.
    ///
    /// # Errors
    /// When the currencies differ or the sum is too large.
    pub fn plus(self, other: Self) -> Result<Self, MoneyError> {
        same_currency(self.currency, other.currency)?;
        let amount_minor = self.amount_minor.checked_add(other.amount_minor).ok_or(MoneyError::TooLarge)?;
        Ok(Self { amount_minor, ..self })
    }

    /// `count` times the price.
    ///
    /// # Errors
    /// When the product is too large.
    pub fn times(self, count: u64) -> Result<Self, MoneyError> {
        let amount_minor = self.amount_minor.checked_mul(count).ok_or(MoneyError::TooLarge)?;
        Ok(Self { amount_minor, ..self })
    }
}

impl fmt::Display for Price {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}.{:02} {}", self.amount_minor / 100, self.amount_minor % 100, self.currency)
    }
}

/// What something costs in all; negative where credit exceeds expense.
///
/// ```
/// use slotwright::unit::{Cost, Price};
///
/// let currency = "EUR".parse()?;
/// let cost = Cost::from(Price::new(1_000, currency)).plus(Cost::new(-2_550, currency))?;
/// assert_eq!(cost.to_string(), "-15.50 EUR");
/// # Ok::<(), slotwright::unit::MoneyError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cost {
    amount_minor: i64,
    currency: Currency,
}

impl Cost {
    /// So many minor units.
    #[must_use]
    pub const fn new(amount_minor: i64, currency: Currency) -> Self {
        Self { amount_minor, currency }
    }

    /// The amount in minor units.
    #[must_use]
    pub const fn amount_minor(self) -> i64 {
        self.amount_minor
    }

    /// The currency.
    #[must_use]
    pub const fn currency(self) -> Currency {
        self.currency
    }

    /// The sum.
    ///
    /// # Errors
    /// When the currencies differ or the sum is too large.
    pub fn plus(self, other: Self) -> Result<Self, MoneyError> {
        same_currency(self.currency, other.currency)?;
        let amount_minor = self.amount_minor.checked_add(other.amount_minor).ok_or(MoneyError::TooLarge)?;
        Ok(Self { amount_minor, ..self })
    }
}

/// Saturates above `i64::MAX` minor units.
impl From<Price> for Cost {
    fn from(price: Price) -> Self {
        Self { amount_minor: i64::try_from(price.amount_minor).unwrap_or(i64::MAX), currency: price.currency }
    }
}

impl fmt::Display for Cost {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.amount_minor < 0 { "-" } else { "" };
        let amount = self.amount_minor.unsigned_abs();
        write!(f, "{sign}{}.{:02} {}", amount / 100, amount % 100, self.currency)
    }
}

fn same_currency(left: Currency, right: Currency) -> Result<(), MoneyError> {
    if left == right { Ok(()) } else { Err(MoneyError::TwoCurrencies { left, right }) }
}
