use core::fmt;

use crate::module::{DeviceWidth, Organization};
use crate::unit::DataRate;

/// CL, tRCD and tRP in clocks.
type Latencies = (u8, u8, u8);

/// What a label says of a module's latencies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum SpeedBin {
    /// DDR3: the CAS latency.
    CasLatency {
        /// In clocks at the module's rate, 4 to 18.
        clocks: u8,
        /// Whether it is printed with a leading zero: `09`.
        padded: bool,
    },
    /// DDR4: the letters of a speed bin.
    Ddr4(Ddr4Bin),
    /// DDR5: the letters of a speed bin.
    Ddr5(Ddr5Bin),
}

/// An enumeration of the letters of speed bins.
macro_rules! bins {
    ($(#[$meta:meta])* $name:ident { $($(#[$vmeta:meta])* $variant:ident = $letters:literal;)* }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[non_exhaustive]
        pub enum $name {
            $($(#[$vmeta])* $variant,)*
        }

        impl $name {
            /// Every bin, in order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// As a label prints it.
            #[must_use]
            pub const fn letters(self) -> &'static str {
                match self { $(Self::$variant => $letters),* }
            }

            pub(crate) fn from_letters(letters: &str) -> Option<Self> {
                match letters {
                    $($letters => Some(Self::$variant),)*
                    _ => None,
                }
            }
        }
    };
}

bins! {
    /// A speed bin of DDR4. But for stacked packages a letter means one latency at every rate.
    ///
    /// Source: JESD21-C 4.19.4, page 2.
    Ddr4Bin {
        /// 10 clocks.
        J = "J";
        /// 11 clocks.
        K = "K";
        /// 12 clocks.
        L = "L";
        /// 13 clocks.
        M = "M";
        /// 14 clocks.
        N = "N";
        /// 15 clocks.
        P = "P";
        /// 16 clocks.
        R = "R";
        /// 17 clocks.
        T = "T";
        /// 18 clocks.
        U = "U";
        /// 19 clocks.
        V = "V";
        /// 20 clocks.
        W = "W";
        /// 21 clocks.
        Y = "Y";
        /// 22 clocks.
        Aa = "AA";
        /// 24 clocks.
        Ac = "AC";
    }
}

bins! {
    /// A speed bin of DDR5.
    ///
    /// Source: JESD400-5C tables 73 to 77 and 82 to 86.
    Ddr5Bin {
        /// The fastest.
        An = "AN";
        /// The usual one of servers.
        B = "B";
        /// As B, of times that are whole clocks.
        Bn = "BN";
        /// The slowest.
        C = "C";
    }
}

impl Ddr4Bin {
    /// Clocks of CL, tRCD and tRP alike, where packages are not stacked.
    const fn clocks(self) -> u8 {
        match self {
            Self::J => 10,
            Self::K => 11,
            Self::L => 12,
            Self::M => 13,
            Self::N => 14,
            Self::P => 15,
            Self::R => 16,
            Self::T => 17,
            Self::U => 18,
            Self::V => 19,
            Self::W => 20,
            Self::Y => 21,
            Self::Aa => 22,
            Self::Ac => 24,
        }
    }

    /// The bins of stacked packages of x4 devices that have one latency. P at 2133 and U at 2400 are two
    /// bins each; N at 2133 occurs on a label in JESD21-C 4.19.4, with two different latencies.
    ///
    /// Source: JESD79-4-1B tables 22 to 28.
    const fn stacked(self, rate: u32) -> Option<Latencies> {
        Some(match (rate, self) {
            (1600, Self::J) => (12, 11, 10),
            (1600, Self::K) => (13, 12, 11),
            (1600 | 1866, Self::L) => (14, 13, 12),
            (1866, Self::M) => (15, 14, 13),
            (1866, Self::N) => (16, 15, 14),
            (2133, Self::R) => (20, 16, 16),
            (2400, Self::P) => (18, 16, 15),
            (2400, Self::T) => (19, 17, 17),
            (2666, Self::T) => (20, 17, 17),
            (2666, Self::V) => (22, 19, 19),
            (2666 | 3200, Self::W) => (24, 20, 20),
            (2933, Self::W) => (23, 20, 20),
            (2933, Self::Y) => (24, 21, 21),
            (2933, Self::Aa) => (25, 22, 22),
            (3200, Self::Aa) => (26, 22, 22),
            (3200, Self::Ac) => (28, 24, 24),
            _ => return None,
        })
    }
}

/// Clocks of DDR5: rate, then for AN, B, BN and C the CL of single dies, the CL of stacked packages, and
/// tRCD = tRP of both.
///
/// Source: the times of JESD400-5C tables 73 to 77 and 82 to 86, in clocks by its section 8.1.20.
type Ddr5Row = (u32, [(u8, u8, u8); 4]);

#[rustfmt::skip]
const DDR5: [Ddr5Row; 16] = [
    (3200, [(24, 26, 24), (26, 30, 26), (26, 30, 26), (28, 32, 28)]),
    (3600, [(26, 30, 26), (30, 34, 30), (30, 34, 30), (32, 36, 32)]),
    (4000, [(28, 32, 28), (32, 38, 32), (32, 38, 32), (36, 40, 35)]),
    (4400, [(32, 36, 32), (36, 42, 36), (36, 42, 36), (40, 44, 39)]),
    (4800, [(34, 40, 34), (40, 46, 39), (40, 46, 40), (42, 48, 42)]),
    (5200, [(38, 42, 38), (42, 50, 42), (42, 50, 42), (46, 52, 46)]),
    (5600, [(40, 46, 40), (46, 52, 45), (46, 52, 46), (50, 56, 49)]),
    (6000, [(42, 48, 42), (48, 56, 48), (48, 56, 48), (54, 60, 53)]),
    (6400, [(46, 52, 46), (52, 60, 52), (52, 60, 52), (56, 64, 56)]),
    (6800, [(48, 56, 48), (56, 64, 55), (56, 64, 56), (60, 68, 60)]),
    (7200, [(52, 58, 52), (58, 68, 58), (58, 68, 58), (64, 72, 63)]),
    (7600, [(54, 62, 54), (62, 72, 61), (62, 72, 62), (68, 76, 67)]),
    (8000, [(56, 64, 56), (64, 74, 64), (64, 74, 64), (70, 80, 70)]),
    (8400, [(60, 68, 60), (68, 78, 68), (68, 78, 68), (74, 84, 74)]),
    (8800, [(62, 72, 62), (72, 82, 71), (72, 82, 72), (78, 88, 77)]),
    (9200, [(66, 74, 66), (74, 86, 74), (74, 86, 74), (82, 92, 81)]),
];

impl SpeedBin {
    /// CL (from a column address to data), tRCD (from a row address to a column address) and tRP (of a
    /// precharge), in clocks at `rate`, for a module of this organization; `None` where the tables
    /// know no such bin, or two: a stacked DDR4-2400U has CL 20 or 22.
    ///
    /// The bins of stacked DDR4 hold for x4 devices; those of others are left to their makers. A DDR3
    /// label prints CL alone; every DDR3 bin has three equal figures. The bins of DDR3 are those of public
    /// timing tables; CL 14 at 2133 is from memory.
    #[must_use]
    pub fn latencies(self, rate: DataRate, organization: Organization) -> Option<(u8, u8, u8)> {
        let stacked = organization.stack.is_stacked();
        match self {
            Self::CasLatency { clocks, .. } => {
                let bins = match rate.name_mts() {
                    800 => 5..=6,
                    1066 => 6..=8,
                    1333 => 8..=9,
                    1600 => 9..=11,
                    1866 => 11..=13,
                    2133 => 12..=14,
                    _ => return None,
                };
                bins.contains(&clocks).then_some((clocks, clocks, clocks))
            }
            Self::Ddr4(bin) if !stacked => Some((bin.clocks(), bin.clocks(), bin.clocks())),
            Self::Ddr4(bin) if organization.width == DeviceWidth::X4 => bin.stacked(rate.name_mts()),
            Self::Ddr4(_) => None,
            Self::Ddr5(bin) => {
                let (_, row) = DDR5.iter().find(|(name, _)| *name == rate.name_mts())?;
                let [an, b, bn, c] = *row;
                let (single, high, trcd) = match bin {
                    Ddr5Bin::An => an,
                    Ddr5Bin::B => b,
                    Ddr5Bin::Bn => bn,
                    Ddr5Bin::C => c,
                };
                Some((if stacked { high } else { single }, trcd, trcd))
            }
        }
    }
}

/// As a label prints it.
impl fmt::Display for SpeedBin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::CasLatency { clocks, padded: true } => write!(f, "{clocks:02}"),
            Self::CasLatency { clocks, padded: false } => write!(f, "{clocks}"),
            Self::Ddr4(bin) => f.write_str(bin.letters()),
            Self::Ddr5(bin) => f.write_str(bin.letters()),
        }
    }
}
