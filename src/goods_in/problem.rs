use serde::Serialize;
use thiserror::Error;

use crate::goods_in::OrderLine;
use crate::stated::{FieldPath, Located};
use crate::unit::Name;

/// Why a delivery cannot be judged: every problem found.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error("delivery: {}", problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
#[non_exhaustive]
pub struct DeliveryError {
    /// What is wrong; never empty.
    pub problems: Vec<DeliveryProblem>,
}

/// One problem of a delivery.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum DeliveryProblem {
    /// Two pieces of one number, or two lines of one id.
    #[error("{what} {id} is given twice: {first} and {second}; ids must be unique")]
    GivenTwice {
        /// A piece or a line.
        what: &'static str,
        /// The id.
        id: Name,
        /// Where it stands first.
        first: FieldPath,
        /// Where it stands again.
        second: FieldPath,
    },
    /// A line of none.
    #[error("the line {line} orders 0 modules; at least 1 is needed")]
    NoQuantity {
        /// The line.
        line: Name,
    },
    /// A line of more than anyone orders.
    #[error("the line {line} orders {quantity} modules; at most {} are allowed", OrderLine::MAX_QUANTITY)]
    TooMany {
        /// The line.
        line: Name,
        /// How many.
        quantity: usize,
    },
    /// A line that every module would be right for.
    #[error("the line {line} states no fact of its modules; at least one is needed to judge by")]
    NothingStated {
        /// The line.
        line: Name,
    },
    /// A piece without any source.
    #[error("of the piece {piece} nothing is said; it needs its SPD, its label or a row")]
    NothingSaid {
        /// The piece.
        piece: Name,
    },
    /// No line at all.
    #[error("there is no order line to judge the pieces by; without an order they can be sorted into bins")]
    NoLine,
}

impl Located for DeliveryProblem {
    fn place(&self) -> FieldPath {
        match self {
            Self::GivenTwice { second, .. } => second.clone(),
            Self::NoQuantity { line } | Self::TooMany { line, .. } => {
                FieldPath::of("lines").named(line).field("quantity")
            }
            Self::NothingStated { line } => FieldPath::of("lines").named(line).field("wanted"),
            Self::NothingSaid { piece } => FieldPath::of("pieces").named(piece).field("said"),
            Self::NoLine => FieldPath::of("lines"),
        }
    }
}
