use core::fmt;

use serde::{Deserialize, Serialize};

use crate::module::{DeviceWidth, FormFactor, Generation, Label, ModuleKind, Stack};
use crate::unit::{Capacity, DataRate, Voltage};

/// A piece of a title that is understood.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Claim {
    /// The first of its bytes in the title.
    pub start: usize,
    /// The byte behind its last.
    pub end: usize,
    /// Its text.
    pub text: String,
    /// The ways to read it, nearly always one. Each is a list of all that is said.
    pub ways: Vec<Vec<Says>>,
}

/// What a claim says.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum Says {
    /// So many modules.
    Count(u32),
    /// A set of so many modules: "kit of 4".
    SetOf(u32),
    /// So many sets: "2 kits".
    Sets(u32),
    /// A size in MiB, of one module or of all: the title does not say.
    Size(Capacity),
    /// The size of one module in MiB: "16 GB each".
    Each(Capacity),
    /// The size of all modules together in MiB: "64 GB total".
    Together(Capacity),
    /// The fewest that are sold.
    AtLeast(u32),
    /// So many modules of a size: "4x16GB".
    #[non_exhaustive]
    Modules {
        /// How many.
        count: u32,
        /// The size of each, in MiB.
        capacity_mib: Capacity,
    },
    /// So many times so many, without a unit: "4x16" beside "64GB".
    #[non_exhaustive]
    Times {
        /// How many.
        count: u32,
        /// The size of each, were it GB, in MiB.
        capacity_mib: Capacity,
    },
    /// A standard label, whole.
    Label(Label),
    /// The generation.
    Generation(Generation),
    /// The rate that the modules are rated for, in MT/s, by either name.
    Rate(DataRate),
    /// A rate in MT/s of which it is not known that any standard has it.
    OtherRate(u32),
    /// The kind is one of these.
    Kinds(Vec<ModuleKind>),
    /// Whether there are check bits.
    CheckBits(bool),
    /// The mechanical form.
    Form(FormFactor),
    /// A number of ranks; what it counts, people do not say.
    Ranks(u8),
    /// Package ranks, with a stack that says so: "2S4R".
    PackageRanks(u8),
    /// What a package holds.
    Stack(Stack),
    /// Data bits of one device.
    Width(DeviceWidth),
    /// A supply voltage, in mV.
    Voltage(Voltage),
    /// What state the modules are in.
    Condition(LotCondition),
    /// Something understood that says nothing of the modules.
    Aside(Aside),
}

/// What state modules are in, as sellers say it (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum LotCondition {
    /// Never used.
    New,
    /// Used; whether tested since, is not said.
    Used,
    /// Used, and tested since.
    Tested,
    /// Brought back into order by a trader.
    Refurbished,
    /// Taken out of a machine that ran.
    Pulled,
    /// Not tested.
    Untested,
    /// Does not work, or is sold for parts.
    Broken,
}

/// Something in a title that says nothing of the modules.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Aside {
    /// An amount of money.
    Money,
    /// A number to call.
    Phone,
    /// A date.
    Date,
    /// Contacts of a module: "288-pin".
    Pins,
    /// That it is memory.
    Memory,
    /// What the thing is for: "server", "not for desktops".
    Use,
    /// How it is sold: "free shipping".
    Sale,
    /// That it is not for sale, or is no module: "wanted", "sold", "heat sink".
    NotForSale,
    /// That it is no plain memory: "NVDIMM".
    NoPlainMemory,
    /// That something about it is not certain: "probably", "up to", "?".
    Hedge,
    /// That a price is that of all together.
    WholePrice,
    /// A denial of something that is not understood: "not".
    Denial,
}

/// What a title may speak of, and contradict itself about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum LotFact {
    /// How many, of what size each and together.
    Amount,
    /// The generation.
    Generation,
    /// The rated rate.
    Rate,
    /// The kind.
    Kind,
    /// The check bits.
    CheckBits,
    /// The mechanical form.
    Form,
    /// The ranks.
    Ranks,
    /// The device width.
    Width,
    /// The voltage.
    Voltage,
    /// The state of the modules.
    Condition,
}

impl Says {
    /// What it speaks of; nothing where it is an aside. A label speaks of many things.
    #[must_use]
    pub const fn fact(&self) -> Option<LotFact> {
        Some(match self {
            Self::Count(_)
            | Self::SetOf(_)
            | Self::Sets(_)
            | Self::Size(_)
            | Self::Each(_)
            | Self::Together(_)
            | Self::Modules { .. }
            | Self::Times { .. } => LotFact::Amount,
            Self::Generation(_) => LotFact::Generation,
            Self::Rate(_) | Self::OtherRate(_) => LotFact::Rate,
            Self::Kinds(_) => LotFact::Kind,
            Self::CheckBits(_) => LotFact::CheckBits,
            Self::Form(_) => LotFact::Form,
            Self::Ranks(_) | Self::PackageRanks(_) | Self::Stack(_) => LotFact::Ranks,
            Self::Width(_) => LotFact::Width,
            Self::Voltage(_) => LotFact::Voltage,
            Self::Condition(_) => LotFact::Condition,
            Self::Label(_) | Self::Aside(_) | Self::AtLeast(_) => return None,
        })
    }
}

impl fmt::Display for Says {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Count(1) => f.write_str("1 module"),
            Self::Count(count) => write!(f, "{count} modules"),
            Self::SetOf(count) => write!(f, "a set of {count}"),
            Self::Sets(1) => f.write_str("1 set"),
            Self::Sets(count) => write!(f, "{count} sets"),
            Self::AtLeast(count) => write!(f, "at least {count}"),
            Self::Size(size) => write!(f, "{size}"),
            Self::Each(size) => write!(f, "{size} each"),
            Self::Together(size) => write!(f, "{size} together"),
            Self::Modules { count, capacity_mib } | Self::Times { count, capacity_mib } => {
                write!(f, "{count} of {capacity_mib}")
            }
            Self::Label(label) => write!(f, "label {label}"),
            Self::Generation(generation) => write!(f, "{generation}"),
            Self::Rate(rate) => write!(f, "rated {rate}"),
            Self::OtherRate(mts) => write!(f, "rated {mts} MT/s"),
            Self::Kinds(kinds) => {
                for (at, kind) in kinds.iter().enumerate() {
                    write!(f, "{}{kind}", if at == 0 { "" } else { " or " })?;
                }
                Ok(())
            }
            Self::CheckBits(true) => f.write_str("with check bits"),
            Self::CheckBits(false) => f.write_str("no check bits"),
            Self::Form(form) => write!(f, "{form}"),
            Self::Ranks(ranks) => write!(f, "rank number {ranks}"),
            Self::PackageRanks(ranks) => write!(f, "package ranks {ranks}"),
            Self::Stack(stack) => write!(f, "{stack}"),
            Self::Width(width) => write!(f, "{width}"),
            Self::Voltage(voltage) => write!(f, "{voltage}"),
            Self::Condition(condition) => write!(f, "{condition}"),
            Self::Aside(aside) => write!(f, "{aside}"),
        }
    }
}

impl fmt::Display for LotCondition {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::New => "new",
            Self::Used => "used",
            Self::Tested => "tested",
            Self::Refurbished => "refurbished",
            Self::Pulled => "pulled",
            Self::Untested => "untested",
            Self::Broken => "broken, or for parts",
        })
    }
}

impl fmt::Display for Aside {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Money => "money",
            Self::Phone => "a number to call",
            Self::Date => "a date",
            Self::Pins => "a number of contacts",
            Self::Memory => "that it is memory",
            Self::Use => "what it is for",
            Self::Sale => "how it is sold",
            Self::NotForSale => "not for sale, or no module",
            Self::NoPlainMemory => "no plain memory",
            Self::Hedge => "something is not certain",
            Self::WholePrice => "a price for all",
            Self::Denial => "a denial",
        })
    }
}

impl fmt::Display for LotFact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Amount => "how many and how large",
            Self::Generation => "generation",
            Self::Rate => "rated rate",
            Self::Kind => "kind",
            Self::CheckBits => "check bits",
            Self::Form => "form factor",
            Self::Ranks => "ranks",
            Self::Width => "device width",
            Self::Voltage => "voltage",
            Self::Condition => "state",
        })
    }
}
