//! Quantities that are one whole number of a small unit.

use core::fmt;
use core::iter::Sum;

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
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
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
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
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

/// Saturates at 4,294,967.295 W, far beyond any machine.
impl Sum for Power {
    fn sum<I: Iterator<Item = Self>>(parts: I) -> Self {
        parts.fold(Self(0), |sum, part| Self(sum.0.saturating_add(part.0)))
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
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn text_has_the_decimals_that_it_needs() {
        for (um, text) in [(0, "0 mm"), (1, "0.001 mm"), (31_250, "31.25 mm"), (18_750, "18.75 mm"), (30_000, "30 mm")]
        {
            assert_eq!(Height::from_um(um).to_string(), text);
        }
        assert_eq!(Power::from_mw(u32::MAX).to_string(), "4294967.295 W");
    }

    // JESD21-C 4.20.28 (DDR4), JESD400-5C tables 33 to 35 (DDR5), server manuals (DDR3).
    #[test]
    fn supply_voltages() {
        for (voltage, text) in [
            (Voltage::V1_5, "1.5 V"),
            (Voltage::V1_35, "1.35 V"),
            (Voltage::V1_25, "1.25 V"),
            (Voltage::V1_2, "1.2 V"),
            (Voltage::V1_1, "1.1 V"),
        ] {
            assert_eq!(voltage.to_string(), text);
        }
    }

    proptest! {
        #[test]
        fn documents_read_back(mv in any::<u16>(), other in any::<u32>()) {
            let (voltage, power, height) = (Voltage::from_mv(mv), Power::from_mw(other), Height::from_um(other));
            let document = serde_json::to_string(&(voltage, power, height)).unwrap();
            prop_assert_eq!(&document, &format!("[{mv},{other},{other}]"));
            prop_assert_eq!((voltage.mv(), power.mw(), height.um()), (mv, other, other));
            prop_assert_eq!(serde_json::from_str::<(Voltage, Power, Height)>(&document).unwrap(), (voltage, power, height));
        }

        #[test]
        fn text_states_the_exact_value(um in any::<u32>()) {
            let text = Height::from_um(um).to_string();
            let number = text.strip_suffix(" mm").unwrap();
            let (whole, decimals) = number.split_once('.').unwrap_or((number, ""));
            let thousandths: u32 = format!("{decimals:0<3}").parse().unwrap();
            prop_assert_eq!(whole.parse::<u32>().unwrap() * 1000 + thousandths, um);
        }
    }
}
