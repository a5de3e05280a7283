//! The standard module label.

mod candidates;
mod correction;
mod cursor;
mod error;
mod found;
mod found_error;
mod glyphs;
mod misread;
mod module_type;
mod parse;
mod parts;
mod raw_card;
mod size;
mod speed_bin;
#[cfg(test)]
mod tests;

use core::fmt;
use core::str::FromStr;

use serde::{Deserialize, Serialize};

pub use self::correction::{CorrectionSort, LabelCorrection};
pub use self::error::{LabelError, LabelField};
pub use self::found::FoundLabel;
pub use self::found_error::FoundLabelError;
pub(crate) use self::glyphs::is_dash;
pub use self::module_type::ModuleType;
use self::parts::Tail;
pub use self::parts::{SpdRevision, VariantLetter};
pub use self::raw_card::{CardRevision, RawCard};
pub use self::speed_bin::{Ddr4Bin, Ddr5Bin, SpeedBin};
use crate::module::{Generation, MemoryModule, Organization, TemperatureRange};
use crate::unit::{Capacity, DataRate, Density};

/// A standard module label of DDR3, DDR4 or DDR5, read and written.
///
/// | generation | form | example |
/// |---|---|---|
/// | DDR3 | capacity, ranks x width, `PC3` voltage `-` bandwidth, type `-` CL `-` SPD `-` card | `8GB 2Rx4 PC3L-10600R-09-11-E2` |
/// | DDR4 | capacity, ranks x width, `PC4-` rate, bin `-` type, card `-` SPD | `32GB 2Rx4 PC4-2400T-RB2-11` |
/// | DDR5 | as DDR4, `PC5`, two SPD revisions, `-` temperature range | `64GB 2Rx4 PC5-4800B-RA0-1010-XT` |
///
/// A maker's tail of up to 15 capital letters, digits and hyphens may follow each. Only this order and
/// this spelling are read; whatever is read prints back as the same text.
///
/// A DDR4 label that gives its bandwidth in the place of its rate (`PC4-19200T`), as some manuals print it,
/// is read too and printed back so. A rate that the standards do not have is refused.
///
/// A DDR5 label with dual-die packages (`2DRx4`) is refused: the standard's capacity formula counts both
/// dies, its tables of ranks know no such package, and no module of the kind is known. So are DDR4's
/// placeholders for 16-bit and 32-bit modules (A, B), to which the capacity formula does not apply.
///
/// Sources: JESD21-C 4.19.4 (DDR4); server manuals (DDR3); for DDR5, labels compared with the SPD content
/// (JESD400-5C) of the same modules.
///
/// ```
/// use slotwright::module::{Ecc, Label, ModuleKind};
/// use slotwright::unit::{Capacity, DataRate, Density};
///
/// let label: Label = "32GB 2Rx4 PC4-2400T-RB2-11".parse()?;
/// assert_eq!(label.capacity(), Capacity::from_gib(32));
/// assert_eq!(label.data_rate(), DataRate::DDR4_2400);
/// assert_eq!(label.latencies(), Some((17, 17, 17)));
/// assert_eq!(label.raw_card().to_string(), "B2");
/// assert_eq!(label.to_string(), "32GB 2Rx4 PC4-2400T-RB2-11");
///
/// let module = label.module();
/// assert_eq!(module.kind(), ModuleKind::Registered);
/// assert_eq!(module.ecc(), Some(Ecc::Ecc));
/// assert_eq!(module.die_density(), Some(Density::from_gbit(8)));
/// # Ok::<(), slotwright::module::LabelError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(try_from = "String", into = "String")]
pub struct Label {
    /// Everything that the label says of the module as such; the other fields say how it is printed, and
    /// the rest.
    module: MemoryModule,
    organization: Organization,
    unit: CapacityUnit,
    variant: Option<VariantLetter>,
    data_rate: DataRate,
    rate_style: RateStyle,
    speed_bin: SpeedBin,
    module_type: ModuleType,
    raw_card: RawCard,
    spd_revision: SpdRevision,
    module_spd_revision: Option<SpdRevision>,
    temperature_range: Option<TemperatureRange>,
    tail: Option<Tail>,
}

/// The unit in which a capacity is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum CapacityUnit {
    Mb,
    Gb,
}

/// How a data rate is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum RateStyle {
    /// In MT/s.
    Rate,
    /// As the bandwidth's name in MB/s.
    Bandwidth,
}

impl Label {
    /// The module that the label describes.
    #[must_use]
    pub const fn module(&self) -> &MemoryModule {
        &self.module
    }

    /// The module that the label describes, as a value of its own.
    #[must_use]
    pub fn to_module(&self) -> MemoryModule {
        self.module.clone()
    }

    /// The memory generation.
    #[must_use]
    pub fn generation(&self) -> Generation {
        self.module.generation()
    }

    /// What the module holds, check bits not counted.
    #[must_use]
    pub fn capacity(&self) -> Capacity {
        self.module.capacity()
    }

    /// Package ranks, stack and device width.
    #[must_use]
    pub const fn organization(&self) -> Organization {
        self.organization
    }

    /// The density of the dies; it follows from capacity and organization.
    #[must_use]
    pub fn die_density(&self) -> Option<Density> {
        self.module.die_density()
    }

    /// The letter behind `PC3` or `PC4`.
    #[must_use]
    pub const fn variant(&self) -> Option<VariantLetter> {
        self.variant
    }

    /// The data rate that the module is rated for.
    #[must_use]
    pub const fn data_rate(&self) -> DataRate {
        self.data_rate
    }

    /// The speed bin or, for DDR3, the CAS latency.
    #[must_use]
    pub const fn speed_bin(&self) -> SpeedBin {
        self.speed_bin
    }

    /// CL, tRCD and tRP in clocks at the module's own rate; `None` where the standards' tables know no such
    /// bin, or two. See [`SpeedBin::latencies`].
    #[must_use]
    pub fn latencies(&self) -> Option<(u8, u8, u8)> {
        self.speed_bin.latencies(self.data_rate, self.organization)
    }

    /// The type: its letter, and the kind, form and check bits that it stands for.
    #[must_use]
    pub const fn module_type(&self) -> ModuleType {
        self.module_type
    }

    /// The raw card and its revision.
    #[must_use]
    pub const fn raw_card(&self) -> RawCard {
        self.raw_card
    }

    /// The SPD revision, for DDR5 that of the base section.
    #[must_use]
    pub const fn spd_revision(&self) -> SpdRevision {
        self.spd_revision
    }

    /// The SPD revision of a DDR5 module's own section.
    #[must_use]
    pub const fn module_spd_revision(&self) -> Option<SpdRevision> {
        self.module_spd_revision
    }

    /// A DDR5 module's temperature range.
    #[must_use]
    pub const fn temperature_range(&self) -> Option<TemperatureRange> {
        self.temperature_range
    }

    /// What the maker prints behind the standard's label, without its hyphen: `DC0`.
    #[must_use]
    pub fn tail(&self) -> Option<&str> {
        self.tail.as_ref().map(Tail::as_str)
    }
}

impl FromStr for Label {
    type Err = LabelError;

    /// Reads a label.
    ///
    /// # Errors
    /// Says which field is wrong, where, and what may stand there:
    /// `4DRX4` (capital X), `PC4-2400T-R` (cut off), `PC4-2400T-U82-11` (a misread raw card), `100GB 2Rx4`
    /// (no die gives it), `NN4-2133N` (a non-volatile hybrid).
    fn from_str(text: &str) -> Result<Self, LabelError> {
        parse::label(text)
    }
}

impl TryFrom<String> for Label {
    type Error = LabelError;

    fn try_from(text: String) -> Result<Self, LabelError> {
        text.parse()
    }
}

impl From<Label> for String {
    fn from(label: Label) -> Self {
        label.to_string()
    }
}

impl From<Label> for MemoryModule {
    fn from(label: Label) -> Self {
        label.module
    }
}

/// The label's text.
impl fmt::Display for Label {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mib = self.capacity().mib();
        match self.unit {
            CapacityUnit::Mb => write!(f, "{mib}MB")?,
            CapacityUnit::Gb => write!(f, "{}GB", mib / 1024)?,
        }
        let generation = match self.generation() {
            Generation::Ddr3 => 3,
            Generation::Ddr4 => 4,
            Generation::Ddr5 => 5,
        };
        write!(f, " {} PC{generation}", self.organization)?;
        if let Some(variant) = self.variant {
            write!(f, "{variant}")?;
        }
        match self.rate_style {
            RateStyle::Rate => write!(f, "-{}", self.data_rate.name_mts())?,
            RateStyle::Bandwidth => write!(f, "-{}", self.data_rate.bandwidth_name())?,
        }
        let (bin, module_type, card) = (self.speed_bin, self.module_type, self.raw_card);
        let SpdRevision { major, minor } = self.spd_revision;
        if self.generation() == Generation::Ddr3 {
            write!(f, "{module_type}-{bin}-{major}{minor}-{card}")?;
        } else {
            write!(f, "{bin}-{module_type}{card}-{major}{minor}")?;
        }
        if let Some(SpdRevision { major, minor }) = self.module_spd_revision {
            write!(f, "{major}{minor}")?;
        }
        if let Some(range) = self.temperature_range {
            write!(f, "-{range}")?;
        }
        self.tail().map_or(Ok(()), |tail| write!(f, "-{tail}"))
    }
}
