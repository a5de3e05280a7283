use core::ops::Range;

use itertools::Itertools;
use serde::Serialize;
use thiserror::Error;

use crate::module::{LabelError, LabelField};

/// Why a text, as found, is not read as a label. All places are in bytes of the text as given.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum FoundLabelError {
    /// It is no label, and nothing that may be corrected makes it one.
    #[error(transparent)]
    NoLabel(#[from] LabelError),
    /// It would be a label if a character that decides what the module is, or how fast, were another one that looks
    /// like it. That is for a person to decide, with the module in hand.
    #[error(
        "{found:?} at byte {} of the label decides its {field}, and is not corrected; it may be meant as {}",
        .span.start, quoted(.readings)
    )]
    Doubtful {
        /// What it decides.
        field: LabelField,
        /// Where it is.
        span: Range<usize>,
        /// What stands there.
        found: String,
        /// The labels that it may be, in the order of their texts.
        readings: Vec<String>,
    },
    /// It can be read as more than one label.
    #[error("the label can be read in more than one way: {}", quoted(.readings))]
    TwoReadings {
        /// The labels that it may be, in the order of their texts.
        readings: Vec<String>,
    },
}

fn quoted(readings: &[String]) -> String {
    readings.iter().map(|reading| format!("{reading:?}")).join(" or ")
}
