//! Quantities that are one whole number of a small unit.

use core::fmt;

use serde::{Deserialize, Serialize};

/// Writes `value` thousandths with as many decimals as it needs, then the unit.
fn thousandths(f: &mut fmt::Formatter<'_>, value: u32, unit: &str) -> fmt::Result {
    let (whole, rest) = (value / 1000, value % 1000);
    if rest == 0 {
        write!(f, "{whole} {unit}")
    } else {
        write!(f, "{whole}.{} {unit}", format!("{rest:03}").trim_end_matches('0'))
    }
}

/// A supply voltage in whole millivolts.
///
/// ```
/// use slotwright::unit::Voltage;
///
/// assert_eq!(Voltage::from_mv(1350).to_string(), "1.35 V");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Voltage(u16);

impl Voltage {
    /// DDR3 at its standard voltage.
    pub const V1_5: Self = Self(1500);
    /// Low-voltage DDR3.
    pub const V1_35: Self = Self(1350);
    /// Ultra-low-voltage DDR3.
    pub const V1_25: Self = Self(1250);
    /// DDR4.
    pub const V1_2: Self = Self(1200);
    /// DDR5.
    pub const V1_1: Self = Self(1100);

    /// So many millivolts.
    #[must_use]
    pub const fn from_mv(millivolts: u16) -> Self {
        Self(millivolts)
    }

    /// In millivolts.
    #[must_use]
    pub const fn mv(self) -> u16 {
        self.0
    }
}

impl fmt::Display for Voltage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        thousandths(f, u32::from(self.0), "V")
    }
}

/// A power in whole milliwatts.
///
/// ```
/// use slotwright::unit::Power;
///
/// assert_eq!(Power::from_mw(8500).to_string(), "8.5 W");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Power(u32);

impl Power {
    /// So many milliwatts.
    #[must_use]
    pub const fn from_mw(milliwatts: u32) -> Self {
        Self(milliwatts)
    }

    /// In milliwatts.
    #[must_use]
    pub const fn mw(self) -> u32 {
        self.0
    }
}

impl fmt::Display for Power {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        thousandths(f, self.0, "W")
    }
}

/// A height in whole micrometres, as a module's and a slot's free height are given.
///
/// ```
/// use slotwright::unit::Height;
///
/// assert_eq!(Height::from_um(31_250).to_string(), "31.25 mm");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Height(u32);

impl Height {
    /// So many micrometres.
    #[must_use]
    pub const fn from_um(micrometres: u32) -> Self {
        Self(micrometres)
    }

    /// In micrometres.
    #[must_use]
    pub const fn um(self) -> u32 {
        self.0
    }
}

impl fmt::Display for Height {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        thousandths(f, self.0, "mm")
    }
}
