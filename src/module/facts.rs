//! The small vocabularies of a module's facts.

use core::fmt;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::unit::{DataRate, Names, Voltage};

/// A text that is none of the words of a vocabulary.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error("{found:?} is no {what}; allowed: {allowed}")]
#[non_exhaustive]
pub struct UnknownWord {
    /// What was asked for.
    pub what: &'static str,
    /// The text as given.
    pub found: String,
    /// The words allowed.
    pub allowed: Names,
}

/// An enumeration of unit variants, each with its word (on the wire and in documents) and its text.
macro_rules! vocabulary {
    ($(#[$meta:meta])* $name:ident, $what:literal { $($(#[$vmeta:meta])* $variant:ident = $word:literal, $text:literal;)* }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
        #[non_exhaustive]
        pub enum $name {
            $($(#[$vmeta])* #[serde(rename = $word)] $variant,)*
        }

        impl $name {
            /// Every value, in order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// The word that documents use.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),* }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.pad(match self { $(Self::$variant => $text),* })
            }
        }

        impl core::str::FromStr for $name {
            type Err = UnknownWord;

            fn from_str(text: &str) -> Result<Self, UnknownWord> {
                // as documents or as texts write it; case is no matter to people
                let is_meant = |value: &Self| value.word().eq_ignore_ascii_case(text) || value.to_string().eq_ignore_ascii_case(text);
                Self::ALL.iter().copied().find(is_meant).ok_or_else(|| UnknownWord {
                    what: $what,
                    found: text.to_owned(),
                    allowed: Self::ALL.iter().map(|value| value.word()).collect(),
                })
            }
        }
    };
}

vocabulary! {
    /// The memory generation.
    Generation, "memory generation" {
        /// DDR3.
        Ddr3 = "ddr3", "DDR3";
        /// DDR4.
        Ddr4 = "ddr4", "DDR4";
        /// DDR5.
        Ddr5 = "ddr5", "DDR5";
    }
}

impl Generation {
    /// The generation's standard data rates, lowest first.
    #[must_use]
    pub const fn rates(self) -> &'static [DataRate] {
        match self {
            Self::Ddr3 => &DataRate::DDR3,
            Self::Ddr4 => &DataRate::DDR4,
            Self::Ddr5 => &DataRate::DDR5,
        }
    }

    /// The generation's standard supply voltage.
    ///
    /// Source: JESD21-C 4.20.28 (DDR4), JESD400-5C tables 33 to 35 (DDR5).
    #[must_use]
    pub const fn voltage(self) -> Voltage {
        match self {
            Self::Ddr3 => Voltage::V1_5,
            Self::Ddr4 => Voltage::V1_2,
            Self::Ddr5 => Voltage::V1_1,
        }
    }

    /// The supply voltages at which modules of the generation may run, the standard one first.
    ///
    /// Source: as for [`Generation::voltage`]; the low voltages of DDR3 by SPD byte 6 of its annex K.
    #[must_use]
    pub const fn voltages(self) -> &'static [Voltage] {
        match self {
            Self::Ddr3 => &[Voltage::V1_5, Voltage::V1_35, Voltage::V1_25],
            Self::Ddr4 => &[Voltage::V1_2],
            Self::Ddr5 => &[Voltage::V1_1],
        }
    }

    /// The check bits with which modules of the generation come.
    #[must_use]
    pub const fn check_bits(self) -> &'static [Ecc] {
        match self {
            Self::Ddr3 | Self::Ddr4 => &[Ecc::None, Ecc::Ecc],
            Self::Ddr5 => &[Ecc::None, Ecc::Ec4, Ecc::Ec8],
        }
    }
}

vocabulary! {
    /// How a module buffers its signals. The last four are recognised so that they can be refused by
    /// name; no platform of this crate takes them unless its description says so.
    ModuleKind, "module kind" {
        /// Unbuffered.
        Unbuffered = "unbuffered", "unbuffered";
        /// Registered: commands and addresses are buffered.
        Registered = "registered", "registered";
        /// Load-reduced: data are buffered as well.
        LoadReduced = "load-reduced", "load-reduced";
        /// Unbuffered with a clock driver.
        ClockedUnbuffered = "clocked-unbuffered", "clocked unbuffered";
        /// Multiplexed ranks.
        MultiplexedRank = "multiplexed-rank", "multiplexed-rank";
        /// Compression-attached.
        CompressionAttached = "compression-attached", "compression-attached";
        /// Soldered to the board.
        Soldered = "soldered", "soldered";
    }
}

vocabulary! {
    /// The mechanical form.
    FormFactor, "form factor" {
        /// Full-length DIMM.
        Dimm = "dimm", "DIMM";
        /// Small-outline DIMM.
        SoDimm = "so-dimm", "SO-DIMM";
        /// Mini DIMM.
        MiniDimm = "mini-dimm", "Mini-DIMM";
        /// Any other form.
        Other = "other", "another form factor";
    }
}

vocabulary! {
    /// The check bits that a module carries beside its 64 data bits.
    Ecc, "error correction width" {
        /// None: 64 bits wide.
        None = "none", "no error correction";
        /// DDR3, DDR4: 8 check bits, 72 wide.
        Ecc = "ecc", "ECC (72 bits)";
        /// DDR5: 4 check bits for each sub-channel, 72 wide.
        Ec4 = "ec4", "EC4 (72 bits)";
        /// DDR5: 8 check bits for each sub-channel, 80 wide.
        Ec8 = "ec8", "EC8 (80 bits)";
    }
}

impl Ecc {
    /// Whether there are any check bits.
    #[must_use]
    pub const fn corrects(self) -> bool {
        !matches!(self, Self::None)
    }
}

vocabulary! {
    /// How many data bits one memory device has.
    DeviceWidth, "device width" {
        /// 4 bits.
        X4 = "x4", "x4";
        /// 8 bits.
        X8 = "x8", "x8";
        /// 16 bits.
        X16 = "x16", "x16";
    }
}

impl DeviceWidth {
    /// In bits.
    #[must_use]
    pub const fn bits(self) -> u32 {
        match self {
            Self::X4 => 4,
            Self::X8 => 8,
            Self::X16 => 16,
        }
    }
}

vocabulary! {
    /// What sits in one memory package. Only single-load stacks (3DS) multiply the ranks.
    ///
    /// Source: JESD21-C 4.1.2.L-6 section 8.1 (SPD byte 6), JESD400-5C (SPD byte 4).
    Stack, "stack" {
        /// One die.
        Single = "single-die", "single-die";
        /// Two dies, each a load of its own.
        DualDie = "dual-die", "dual-die";
        /// Four dies, each a load of its own.
        QuadDie = "quad-die", "quad-die";
        /// 3DS, two high.
        Stacked2 = "3ds-2h", "3DS 2 high";
        /// 3DS, four high.
        Stacked4 = "3ds-4h", "3DS 4 high";
        /// 3DS, eight high.
        Stacked8 = "3ds-8h", "3DS 8 high";
        /// 3DS, sixteen high.
        Stacked16 = "3ds-16h", "3DS 16 high";
    }
}

impl Stack {
    /// Ranks for each package rank: the height of a 3DS stack, else 1.
    #[must_use]
    pub const fn height(self) -> u32 {
        match self {
            Self::Single | Self::DualDie | Self::QuadDie => 1,
            Self::Stacked2 => 2,
            Self::Stacked4 => 4,
            Self::Stacked8 => 8,
            Self::Stacked16 => 16,
        }
    }

    /// Whether modules of a generation may come with it: stacks of 16 with DDR5 alone, dual-die and quad-die packages before
    /// it (JESD400-5C leaves open what the first hold and does not have the second).
    #[must_use]
    pub const fn is_of(self, generation: Generation) -> bool {
        match self {
            Self::DualDie | Self::QuadDie => !matches!(generation, Generation::Ddr5),
            Self::Stacked16 => matches!(generation, Generation::Ddr5),
            Self::Single | Self::Stacked2 | Self::Stacked4 | Self::Stacked8 => true,
        }
    }

    /// Whether it is a single-load stack (3DS).
    #[must_use]
    pub const fn is_stacked(self) -> bool {
        self.height() > 1
    }
}

vocabulary! {
    /// The temperatures at which a DDR5 module may run, as its label states them.
    ///
    /// Source: JESD400-5C, SPD byte 233. The crate knows the limits of two only and needs none.
    TemperatureRange, "temperature range" {
        /// 0 to 95 degrees Celsius.
        Xt = "XT", "XT";
        /// 0 to 85 degrees Celsius.
        Nt = "NT", "NT";
        /// IT.
        It = "IT", "IT";
        /// ET.
        Et = "ET", "ET";
        /// RT.
        Rt = "RT", "RT";
        /// ST.
        St = "ST", "ST";
        /// A1T.
        A1t = "A1T", "A1T";
        /// A2T.
        A2t = "A2T", "A2T";
        /// A3T.
        A3t = "A3T", "A3T";
    }
}

/// The supply voltages at which something may run: sorted, without repeats, at least one.
///
/// ```
/// use slotwright::module::Voltages;
/// use slotwright::unit::Voltage;
///
/// let low = Voltages::new([Voltage::V1_5, Voltage::V1_35]).unwrap();
/// assert_eq!(low.to_string(), "1.35 V or 1.5 V");
/// assert!(Voltages::new([]).is_none());
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(extend("minItems" = 1)))]
#[serde(try_from = "Vec<Voltage>", into = "Vec<Voltage>")]
pub struct Voltages(Vec<Voltage>);

impl Voltages {
    /// These voltages, or `None` for no voltage.
    #[must_use]
    pub fn new(voltages: impl IntoIterator<Item = Voltage>) -> Option<Self> {
        let mut sorted: Vec<_> = voltages.into_iter().collect();
        sorted.sort_unstable();
        sorted.dedup();
        (!sorted.is_empty()).then_some(Self(sorted))
    }

    /// One voltage.
    #[must_use]
    pub fn only(voltage: Voltage) -> Self {
        Self(vec![voltage])
    }

    /// Whether `voltage` is one of them.
    #[must_use]
    pub fn contains(&self, voltage: Voltage) -> bool {
        self.0.contains(&voltage)
    }

    /// Lowest first.
    pub fn iter(&self) -> impl Iterator<Item = Voltage> + '_ {
        self.0.iter().copied()
    }
}

/// A list of voltages that has none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error, Serialize)]
#[error("a list of voltages is empty; it needs at least one")]
pub struct NoVoltages;

impl TryFrom<Vec<Voltage>> for Voltages {
    type Error = NoVoltages;

    fn try_from(voltages: Vec<Voltage>) -> Result<Self, Self::Error> {
        Self::new(voltages).ok_or(NoVoltages)
    }
}

impl From<Voltages> for Vec<Voltage> {
    fn from(voltages: Voltages) -> Self {
        voltages.0
    }
}

impl fmt::Display for Voltages {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, voltage) in self.iter().enumerate() {
            write!(f, "{}{voltage}", if index == 0 { "" } else { " or " })?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use core::str::FromStr;

    use proptest::prelude::*;
    use serde::de::DeserializeOwned;

    use super::*;

    fn words<T>(all: &[T], word: impl Fn(T) -> &'static str)
    where
        T: Copy + PartialEq + fmt::Debug + FromStr<Err = UnknownWord> + Serialize + DeserializeOwned,
    {
        for &value in all {
            assert_eq!(word(value).parse(), Ok(value));
            assert_eq!(serde_json::to_value(value).unwrap(), word(value));
            assert_eq!(serde_json::from_value::<T>(word(value).into()).unwrap(), value);
        }
        let error = "no such word".parse::<T>().unwrap_err();
        assert_eq!(error.allowed.iter().count(), all.len());
        assert!(serde_json::from_str::<T>("\"no such word\"").is_err());
    }

    #[test]
    fn words_read_back() {
        words(Generation::ALL, Generation::word);
        words(ModuleKind::ALL, ModuleKind::word);
        words(FormFactor::ALL, FormFactor::word);
        words(Ecc::ALL, Ecc::word);
        words(DeviceWidth::ALL, DeviceWidth::word);
        words(Stack::ALL, Stack::word);
        words(TemperatureRange::ALL, TemperatureRange::word);
        assert_eq!(
            "ddr2".parse::<Generation>().unwrap_err().to_string(),
            "\"ddr2\" is no memory generation; allowed: ddr3, ddr4, ddr5"
        );
    }

    // JESD21-C 4.1.2.L-6: only single-load stacks multiply the ranks.
    #[test]
    fn heights_of_stacks() {
        let heights: Vec<_> = Stack::ALL.iter().map(|stack| (stack.height(), stack.is_stacked())).collect();
        assert_eq!(heights, [(1, false), (1, false), (1, false), (2, true), (4, true), (8, true), (16, true)]);
    }

    #[test]
    fn no_voltage_is_refused() {
        let error = serde_json::from_str::<Voltages>("[]").unwrap_err().to_string();
        assert!(error.starts_with("a list of voltages is empty"), "{error}");
        assert_eq!(serde_json::from_str::<Voltages>("[1500,1350,1500]").unwrap().to_string(), "1.35 V or 1.5 V");
    }

    proptest! {
        #[test]
        fn voltages_read_back(millivolts in proptest::collection::vec(any::<u16>(), 1..6)) {
            let voltages = Voltages::new(millivolts.iter().copied().map(Voltage::from_mv)).unwrap();
            let sorted: Vec<_> = voltages.iter().collect();
            prop_assert!(sorted.windows(2).all(|pair| pair[0] < pair[1]));
            prop_assert!(millivolts.iter().all(|&mv| voltages.contains(Voltage::from_mv(mv))));
            let document = serde_json::to_string(&voltages).unwrap();
            prop_assert_eq!(serde_json::from_str::<Voltages>(&document).unwrap(), voltages);
        }
    }
}
