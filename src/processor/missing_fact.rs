use core::fmt;

use serde::{Deserialize, Serialize};

/// A fact of a module that is needed and not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum MissingFact {
    /// Its form factor.
    FormFactor,
    /// Its package ranks.
    PackageRanks,
    /// Its stack.
    Stack,
    /// The width of its devices.
    Width,
    /// The density of its dies.
    DieDensity,
    /// Its grade.
    Grade,
    /// Its voltages.
    Voltages,
    /// Its check bits.
    Ecc,
    /// Its height.
    Height,
    /// Its part number.
    PartNumber,
    /// Its maker.
    Maker,
    /// What it draws.
    Power,
}

impl fmt::Display for MissingFact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::FormFactor => "form factor",
            Self::PackageRanks => "package ranks",
            Self::Stack => "stack",
            Self::Width => "device width",
            Self::DieDensity => "die density",
            Self::Grade => "grade",
            Self::Voltages => "voltages",
            Self::Ecc => "error correction width",
            Self::Height => "height",
            Self::PartNumber => "part number",
            Self::Maker => "maker",
            Self::Power => "power draw",
        })
    }
}
