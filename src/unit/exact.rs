//! Fractions of two whole numbers, brought to 64 bits.

use serde::Serialize;
use thiserror::Error;

/// A fraction of nothing: its denominator is 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error, Serialize)]
#[error("the denominator of a fraction is 0; it must be 1 or more")]
pub struct NoDenominator;

/// The greatest common part of two numbers; 1 where both are 0.
pub(crate) const fn common_part(mut a: u128, mut b: u128) -> u128 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    if a == 0 { 1 } else { a }
}

/// The same of numbers of 64 bits; 0 where both are 0.
pub(crate) const fn gcd(mut a: u64, mut b: u64) -> u64 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

/// A fraction in lowest terms. Where these need more than 64 bits, the nearest one below that does not.
pub(super) fn lowest_terms(numerator: u128, denominator: u128) -> (u64, u64) {
    let part = common_part(numerator, denominator);
    let (mut n, mut d) = (numerator / part, denominator / part);
    loop {
        match (u64::try_from(n), u64::try_from(d)) {
            (Ok(n), Ok(d)) => return (n, d.max(1)),
            // a number of more than 64 bits over 1
            (Err(_), Ok(1)) => return (u64::MAX, 1),
            _ => (n, d) = (n / 2, d.div_ceil(2)),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn edges() {
        assert_eq!(lowest_terms(0, 7), (0, 1));
        assert_eq!(lowest_terms(6, 4), (3, 2));
        assert_eq!(lowest_terms(u128::MAX, 1), (u64::MAX, 1));
        assert_eq!(lowest_terms(1, u128::MAX), (0, u64::MAX / 2 + 1));
    }

    proptest! {
        #[test]
        fn what_fits_is_exact_and_the_rest_is_not_above(n in any::<u128>(), d in 1..=u128::MAX, shift in 0_u32..127) {
            let (n, d) = (n >> shift, (d >> shift).max(1));
            let (low_n, low_d) = lowest_terms(n, d);
            if n <= u128::from(u64::MAX) && d <= u128::from(u64::MAX) {
                prop_assert_eq!(u128::from(low_n) * d, n * u128::from(low_d));
            }
        }
    }
}
