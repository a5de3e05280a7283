use core::cmp::Ordering;
use core::fmt;
use core::str::FromStr;

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// A currency as three capital letters, in the manner of ISO 4217 ("EUR"), or none.
///
/// ```
/// use slotwright::Currency;
///
/// let euro: Currency = "EUR".parse()?;
/// assert_eq!(euro.to_string(), "EUR");
/// assert!("eur".parse::<Currency>().is_err());
/// # Ok::<(), slotwright::unit::MoneyError>(())
/// ```
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(extend("pattern" = "^[A-Z]{3}$")))]
#[serde(try_from = "String", into = "String")]
pub struct Currency([u8; 3]);

/// Why an amount of money cannot be made or added.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
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
    /// No currency, for sums of nothing: the amounts of an answer to a request that names none. Texts print such an amount
    /// without a currency, and documents leave it out; the code that the standard has for it, "XXX", is read as well.
    pub const NONE: Self = Self(*b"XXX");

    /// Whether it is none.
    #[must_use]
    // serde hands over a reference
    #[allow(clippy::trivially_copy_pass_by_ref)]
    pub fn is_none(&self) -> bool {
        *self == Self::NONE
    }

    /// The three letters; of none those that the standard has for it.
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

impl Default for Currency {
    /// None.
    fn default() -> Self {
        Self::NONE
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.is_none() { "no currency" } else { self.code() })
    }
}

impl fmt::Debug for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

/// The amount with two decimals, then its currency, if it has one.
fn with_currency(f: &mut fmt::Formatter<'_>, sign: &str, minor: u64, currency: Currency) -> fmt::Result {
    write!(f, "{sign}{}.{:02}", minor / 100, minor % 100)?;
    if currency.is_none() { Ok(()) } else { write!(f, " {currency}") }
}

/// A price that is not negative, in whole minor units (cents) of a currency.
///
/// How many minor units make a major one is the currency's own affair and never needed here; text
/// prints two decimals. A document that names no currency is in none, and so are all other amounts beside it.
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
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Price {
    amount_minor: u64,
    #[serde(default, skip_serializing_if = "Currency::is_none")]
    currency: Currency,
}

/// Prices of one currency by their amount; of two currencies neither is less.
impl PartialOrd for Price {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        (self.currency == other.currency).then(|| self.amount_minor.cmp(&other.amount_minor))
    }
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
        with_currency(f, "", self.amount_minor, self.currency)
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
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Cost {
    amount_minor: i64,
    #[serde(default, skip_serializing_if = "Currency::is_none")]
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
        with_currency(f, sign, self.amount_minor.unsigned_abs(), self.currency)
    }
}

fn same_currency(left: Currency, right: Currency) -> Result<(), MoneyError> {
    if left == right { Ok(()) } else { Err(MoneyError::TwoCurrencies { left, right }) }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde::de::DeserializeOwned;

    use super::*;

    fn eur() -> Currency {
        "EUR".parse().unwrap()
    }

    fn usd() -> Currency {
        "USD".parse().unwrap()
    }

    fn read_back<T: Serialize + DeserializeOwned>(value: &T) -> T {
        serde_json::from_str(&serde_json::to_string(value).unwrap()).unwrap()
    }

    #[test]
    fn amounts_of_two_currencies_do_not_add() {
        let error = MoneyError::TwoCurrencies { left: eur(), right: usd() };
        assert_eq!(Price::new(1, eur()).plus(Price::new(1, usd())), Err(error.clone()));
        assert_eq!(Cost::new(0, eur()).plus(Cost::new(0, usd())), Err(error.clone()));
        assert_eq!(error.to_string(), "EUR and USD cannot be added; amounts of one sum must be in one currency");
    }

    #[test]
    fn sums_too_large_are_refused() {
        let most = Price::new(u64::MAX, eur());
        assert_eq!(most.plus(Price::new(1, eur())), Err(MoneyError::TooLarge));
        assert_eq!(most.times(2), Err(MoneyError::TooLarge));
        assert_eq!(most.times(1), Ok(most));
        assert_eq!(most.times(0), Ok(Price::new(0, eur())));
        assert_eq!(Cost::new(i64::MAX, eur()).plus(Cost::new(1, eur())), Err(MoneyError::TooLarge));
        assert_eq!(Cost::new(i64::MIN, eur()).plus(Cost::new(-1, eur())), Err(MoneyError::TooLarge));
        assert_eq!(Cost::from(most), Cost::new(i64::MAX, eur()));
    }

    #[test]
    fn text_has_two_decimals_and_the_sign_in_front() {
        for (minor, text) in [
            (0, "0.00 EUR"),
            (5, "0.05 EUR"),
            (-5, "-0.05 EUR"),
            (-100, "-1.00 EUR"),
            (i64::MIN, "-92233720368547758.08 EUR"),
        ] {
            assert_eq!(Cost::new(minor, eur()).to_string(), text);
            assert_eq!(Cost::new(minor, Currency::NONE).to_string(), text.trim_end_matches(" EUR"));
        }
        assert_eq!(Price::new(5, Currency::NONE).to_string(), "0.05");
        assert_eq!(Price::new(12_950, eur()).to_string(), "129.50 EUR");
    }

    #[test]
    fn codes_are_three_capital_letters() {
        for code in ["", "EU", "EURO", "eur", "EU1", "\u{20ac}", "E R", "\u{c9}UR"] {
            assert_eq!(code.parse::<Currency>(), Err(MoneyError::BadCode { code: code.to_owned() }));
        }
        assert_eq!(eur().code(), "EUR");
        assert!(serde_json::from_str::<Currency>("\"eur\"").is_err());
    }

    #[test]
    fn an_amount_in_no_currency_is_written_without_one() {
        let (price, cost) = (Price::new(5, Currency::NONE), Cost::new(5, Currency::NONE));
        for document in [serde_json::to_string(&price).unwrap(), serde_json::to_string(&cost).unwrap()] {
            assert_eq!(document, r#"{"amount_minor":5}"#);
        }
        assert_eq!((read_back(&price), read_back(&cost)), (price, cost));
        let by_code = r#"{"amount_minor":5,"currency":"XXX"}"#;
        assert_eq!(serde_json::from_str::<Price>(by_code).unwrap(), price);
        let error = price.plus(Price::new(5, eur())).unwrap_err().to_string();
        assert!(error.starts_with("no currency and EUR cannot be added"), "{error}");
    }

    #[test]
    fn documents_with_other_fields_are_refused() {
        let good = r#"{"amount_minor":5,"currency":"EUR"}"#;
        assert_eq!(serde_json::from_str::<Price>(good).unwrap(), Price::new(5, eur()));
        assert_eq!(serde_json::from_str::<Cost>(good).unwrap(), Cost::new(5, eur()));
        for bad in [
            r#"{"amount_minor":5,"currency":"EUR","tax":1}"#,
            r#"{"currency":"EUR"}"#,
            r#"{"amount_minor":5.5,"currency":"EUR"}"#,
        ] {
            assert!(serde_json::from_str::<Price>(bad).is_err(), "{bad}");
            assert!(serde_json::from_str::<Cost>(bad).is_err(), "{bad}");
        }
        assert!(serde_json::from_str::<Price>(r#"{"amount_minor":-5,"currency":"EUR"}"#).is_err());
    }

    proptest! {
        #[test]
        fn documents_and_codes_read_back(price in any::<u64>(), cost in any::<i64>(), code in "[A-Z]{3}") {
            let currency: Currency = code.parse().unwrap();
            prop_assert_eq!(currency.code(), code);
            prop_assert_eq!(read_back(&currency), currency);
            prop_assert_eq!(read_back(&Price::new(price, currency)), Price::new(price, currency));
            prop_assert_eq!(read_back(&Cost::new(cost, currency)), Cost::new(cost, currency));
        }

        #[test]
        fn any_code_is_three_letters_or_an_error(code in "\\PC{0,4}") {
            let capitals = code.len() == 3 && code.chars().all(|letter| letter.is_ascii_uppercase());
            prop_assert_eq!(code.parse::<Currency>().is_ok(), capitals);
        }
    }
}
