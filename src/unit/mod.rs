//! Exact quantities: nothing in this layer rounds unless its name or its documentation says how.
//!
//! | type | holds | on the wire |
//! |---|---|---|
//! | [`Capacity`] | whole MiB | integer, field names end in `_mib` |
//! | [`Density`] | whole megabits per die | integer, `_mbit` |
//! | [`DataRate`] | exact rational MT/s | the standard's name as an integer, `_mts` |
//! | [`Bandwidth`] | exact rational MB/s (decimal) | `[numerator, denominator]`, `_mbps` |
//! | [`Share`], [`Efficiency`] | exact rational | `[numerator, denominator]` |
//! | [`Voltage`] | whole millivolts | integer, `_mv` |
//! | [`Power`] | whole milliwatts | integer, `_mw` |
//! | [`Height`] | whole micrometres | integer, `_um` |
//! | [`Price`], [`Cost`] | whole minor units and a currency code | object |

mod bandwidth;
mod capacity;
mod data_rate;
mod density;
pub(crate) mod exact;
mod money;
mod name;
mod name_pattern;
mod scalar;
mod share;
mod words;

pub use bandwidth::Bandwidth;
pub use capacity::Capacity;
pub use data_rate::{DataRate, DataRateError};
pub use density::Density;
pub use exact::NoDenominator;
pub use money::{Cost, Currency, MoneyError, Price};
pub use name::{Name, NameError, Names};
pub use name_pattern::{NamePattern, NamePatternError};
pub use scalar::{Height, Power, Voltage};
pub use share::{Efficiency, EfficiencyError, Share};
pub(crate) use words::{counted, listed};
