use core::fmt;

use serde::Serialize;

use crate::unit::{Capacity, Cost, DataRate};

/// What a field of a table holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Cell {
    /// Nothing.
    Empty,
    /// A text; numbers that name something (ids, serial numbers) are texts.
    Text(String),
    /// A whole number.
    Count(u64),
    /// An amount of memory.
    Size(Capacity),
    /// A data rate.
    Rate(DataRate),
    /// An amount of money.
    Money(Cost),
    /// A box to be ticked by hand.
    Box,
    /// The number of a step, in a box to be ticked by hand.
    Step(u64),
}

impl Cell {
    /// A text.
    #[must_use]
    pub fn text(text: impl ToString) -> Self {
        Self::Text(text.to_string())
    }

    /// A text, or nothing.
    #[must_use]
    pub fn maybe(text: Option<impl ToString>) -> Self {
        text.map_or(Self::Empty, |text| Self::Text(text.to_string()))
    }

    /// The number of a step.
    #[must_use]
    pub fn step(number: usize) -> Self {
        Self::Step(u64::try_from(number).unwrap_or(u64::MAX))
    }

    /// A count.
    #[must_use]
    pub fn count(count: usize) -> Self {
        Self::Count(u64::try_from(count).unwrap_or(u64::MAX))
    }
}

/// As people read it, with its unit.
impl fmt::Display for Cell {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => Ok(()),
            Self::Text(text) => f.write_str(text),
            Self::Count(count) => write!(f, "{count}"),
            Self::Size(size) => write!(f, "{size}"),
            Self::Rate(rate) => write!(f, "{rate}"),
            Self::Money(money) => write!(f, "{money}"),
            Self::Box => f.write_str("[ ]"),
            Self::Step(number) => write!(f, "[{number:>2}]"),
        }
    }
}
