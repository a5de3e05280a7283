use core::fmt;
use core::ops::Range;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::module::ModuleError;

/// A field of a module label.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum LabelField {
    /// How much the module holds: `32GB`.
    Capacity,
    /// Package ranks: the `2` of `2Rx4`.
    Ranks,
    /// What a package holds: the `S4` of `2S4Rx4`.
    Stack,
    /// Data bits of a device: the `x4` of `2Rx4`.
    Width,
    /// `PC3`, `PC4` or `PC5`.
    Generation,
    /// The letter behind `PC3` or `PC4`.
    Variant,
    /// Data rate, for DDR3 the bandwidth: the `2400` of `PC4-2400T`.
    DataRate,
    /// Speed bin, for DDR3 the CAS latency: the `T` of `PC4-2400T`.
    SpeedBin,
    /// The letter of the module type: the `R` of `RB2`.
    ModuleType,
    /// The letters of the raw card: the `B` of `RB2`.
    RawCard,
    /// The revision of the raw card: the `2` of `RB2`.
    CardRevision,
    /// The SPD revision, for DDR5 that of the base section: `11`.
    SpdRevision,
    /// The SPD revision of a DDR5 module's own section.
    ModuleSpdRevision,
    /// A DDR5 module's temperature range: `XT`.
    TemperatureRange,
    /// What a maker prints behind the standard's label: `DC0`.
    Tail,
}

impl fmt::Display for LabelField {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Capacity => "capacity",
            Self::Ranks => "number of package ranks",
            Self::Stack => "package stack",
            Self::Width => "device width",
            Self::Generation => "generation",
            Self::Variant => "variant letter",
            Self::DataRate => "data rate",
            Self::SpeedBin => "speed bin",
            Self::ModuleType => "module type",
            Self::RawCard => "raw card",
            Self::CardRevision => "raw card revision",
            Self::SpdRevision => "SPD revision",
            Self::ModuleSpdRevision => "SPD revision of the module section",
            Self::TemperatureRange => "temperature range",
            Self::Tail => "maker's tail",
        })
    }
}

/// Why a text is no standard module label.
///
/// ```
/// use slotwright::module::{Label, LabelField};
///
/// let error = "32GB 2RX4 PC4-2400T-RB2-11".parse::<Label>().unwrap_err();
/// assert_eq!((error.field(), error.span()), (LabelField::Width, 7..8));
/// assert_eq!(
///     error.to_string(),
///     "\"X\" at byte 7 of the label cannot stand for the device width; allowed: x (the x before the width is a small letter)"
/// );
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum LabelError {
    /// A text that cannot stand at its place in the label, or an early end of the label.
    #[error("{}{}", Place(*.field, .span, .found, .allowed), Hint(*.hint))]
    Unexpected {
        /// The field that should be there.
        field: LabelField,
        /// Where, in bytes.
        span: Range<usize>,
        /// What is there; empty at the end of the label.
        found: String,
        /// What may be there.
        allowed: &'static str,
        /// What the writer may have meant.
        hint: Option<&'static str>,
    },
    /// A capacity that the organization gives with no standard die.
    #[error("{reason} (bytes {} to {} of the label)", .span.start, .span.end)]
    Impossible {
        /// Where the capacity is, in bytes.
        span: Range<usize>,
        /// The capacity as printed.
        found: String,
        /// What is wrong with it.
        reason: ModuleError,
    },
    /// The label of a module with non-volatile memory (`NN4`, `NH4`, `NP4`).
    #[error(
        "{found:?} at byte {} of the label marks a non-volatile hybrid module; \
         such a module is no plain memory and is entered as another device",
        .span.start
    )]
    Hybrid {
        /// Where the mark is, in bytes.
        span: Range<usize>,
        /// The mark.
        found: String,
    },
}

impl LabelError {
    /// The field that is wrong.
    #[must_use]
    pub const fn field(&self) -> LabelField {
        match self {
            Self::Unexpected { field, .. } => *field,
            Self::Impossible { .. } => LabelField::Capacity,
            Self::Hybrid { .. } => LabelField::Generation,
        }
    }

    /// Where it is, in bytes of the text given; empty where the label ends too early. Both ends are
    /// boundaries of characters.
    #[must_use]
    pub fn span(&self) -> Range<usize> {
        match self {
            Self::Unexpected { span, .. } | Self::Impossible { span, .. } | Self::Hybrid { span, .. } => span.clone(),
        }
    }

    /// The text at [`span`](Self::span).
    #[must_use]
    pub fn found(&self) -> &str {
        match self {
            Self::Unexpected { found, .. } | Self::Impossible { found, .. } | Self::Hybrid { found, .. } => found,
        }
    }

    /// What may stand there instead.
    #[must_use]
    pub const fn allowed(&self) -> &'static str {
        match self {
            Self::Unexpected { allowed, .. } => allowed,
            Self::Impossible { .. } => "a capacity that a standard die density gives with the organization",
            Self::Hybrid { .. } => "PC3, PC4 or PC5",
        }
    }

    /// What the writer may have meant.
    #[must_use]
    pub const fn hint(&self) -> Option<&'static str> {
        match self {
            Self::Unexpected { hint, .. } => *hint,
            Self::Impossible { .. } | Self::Hybrid { .. } => None,
        }
    }
}

/// Writes what is wrong at a place of the label.
struct Place<'a>(LabelField, &'a Range<usize>, &'a str, &'static str);

impl fmt::Display for Place<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self(field, span, found, allowed) = self;
        if found.is_empty() {
            write!(f, "the label ends at byte {} without its {field}; allowed: {allowed}", span.start)
        } else {
            write!(f, "{found:?} at byte {} of the label cannot stand for the {field}; allowed: {allowed}", span.start)
        }
    }
}

/// Writes a hint in parentheses.
struct Hint(Option<&'static str>);

impl fmt::Display for Hint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.map_or(Ok(()), |hint| write!(f, " ({hint})"))
    }
}
