//! Numbers as documents write them.

use serde_json::Value;

/// `scale` times a number of JSON, or one in a text, rounded to the nearest whole; `None` where it is negative, has an exponent, or is out of range.
/// The decimal digits are read as they are: no binary fraction comes in between.
pub(crate) fn scaled(value: &Value, scale: u64) -> Option<u64> {
    let (doubled, divisor) = exact(value, scale)?;
    u64::try_from((doubled + divisor / 2) / divisor).ok()
}

/// A whole number of JSON, or one in a text; `16384.0` is one.
pub(crate) fn whole(value: &Value) -> Option<u64> {
    let (number, divisor) = exact(value, 1)?;
    if number % divisor == 0 { u64::try_from(number / divisor).ok() } else { None }
}

/// `scale` times a number as a fraction.
fn exact(value: &Value, scale: u64) -> Option<(u128, u128)> {
    let text = match value {
        Value::Number(number) => number.to_string(),
        Value::String(text) => text.trim().to_owned(),
        _ => return None,
    };
    let (whole, fraction) = text.split_once('.').unwrap_or((&text, "0"));
    let is_digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    if !is_digits(whole) || !is_digits(fraction) {
        return None;
    }
    // further digits are far below anything that is counted
    let fraction = fraction.get(..12).unwrap_or(fraction);
    let divisor = 10_u128.checked_pow(u32::try_from(fraction.len()).ok()?)?;
    let whole = u128::from(whole.parse::<u64>().ok()?);
    let number = whole.checked_mul(divisor)?.checked_add(fraction.parse().ok()?)?;
    Some((number.checked_mul(scale.into())?, divisor))
}
