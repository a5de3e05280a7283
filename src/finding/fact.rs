use core::fmt;

use serde::{Deserialize, Serialize};

use crate::module::{DeviceWidth, Ecc, FormFactor, Generation, ModuleKind, Voltages};
use crate::processor::MissingFact;
use crate::unit::{Capacity, DataRate, Density, Height, Name, Power, Voltage};

/// What a fact of a finding is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum FactName {
    /// The module concerned.
    Module,
    /// What was found.
    Found,
    /// What else was found that does not go with it.
    With,
    /// What is found in other places of the kind.
    Elsewhere,
    /// What is allowed.
    Allowed,
    /// The most that is allowed.
    AtMost,
    /// The least that is needed.
    AtLeast,
    /// What was expected.
    Expected,
    /// What is not known.
    Missing,
    /// What it is counted in.
    Counting,
    /// The option, mode or policy that asks for it.
    AskedBy,
    /// What rules it out.
    RuledOut,
    /// Something that only a newer version knows; never written by this one.
    Other,
}

impl fmt::Display for FactName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Module => "module",
            Self::Found => "found",
            Self::With => "with",
            Self::Elsewhere => "elsewhere",
            Self::Allowed => "allowed",
            Self::AtMost => "at most",
            Self::AtLeast => "at least",
            Self::Expected => "expected",
            Self::Missing => "not known",
            Self::Counting => "counted in",
            Self::AskedBy => "asked by",
            Self::RuledOut => "ruled out",
            Self::Other => "of something that a newer version names",
        })
    }
}

/// A typed value. Also the key by which rules on unlike things tell them apart.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum FactValue {
    /// A number of things.
    Count(u64),
    /// A name or a phrase.
    Text(Name),
    /// What a module is to the load of its channel: "32 GB 2Rx4", with a question mark for what is not known.
    ModuleLoad {
        /// Its capacity.
        capacity_mib: Capacity,
        /// Its package ranks.
        package_ranks: Option<u8>,
        /// The height of its stack; 1 is not stacked.
        stack_height: Option<u32>,
        /// The width of its devices.
        width: Option<DeviceWidth>,
    },
    /// A capacity.
    CapacityMib(Capacity),
    /// A die density.
    DensityMbit(Density),
    /// A data rate.
    RateMts(DataRate),
    /// A voltage.
    VoltageMv(Voltage),
    /// Several voltages.
    VoltagesMv(Voltages),
    /// A power.
    PowerMw(Power),
    /// A height.
    HeightUm(Height),
    /// A module kind.
    Kind(ModuleKind),
    /// A memory generation.
    Generation(Generation),
    /// A form factor.
    FormFactor(FormFactor),
    /// Check bits.
    Ecc(Ecc),
    /// A device width.
    Width(DeviceWidth),
    /// A number of package ranks.
    PackageRanks(u8),
    /// The height of a stack; 1 is not stacked.
    StackHeight(u32),
    /// Whether something is so.
    Flag(bool),
    /// A fact that is not known.
    Missing(MissingFact),
    /// A slot that holds no module, by its label.
    EmptySlot(Name),
    /// Several values.
    List(Vec<FactValue>),
    /// A value that is there several times.
    Times {
        /// How many times.
        count: u64,
        /// The value.
        of: Box<FactValue>,
    },
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

impl FactValue {
    /// A text, made printable where it is not.
    #[must_use]
    pub fn text(text: &str) -> Self {
        Self::Text(Name::lossy(text))
    }

    /// A number of things; saturates.
    #[must_use]
    pub fn count(count: usize) -> Self {
        Self::Count(u64::try_from(count).unwrap_or(u64::MAX))
    }

    /// Several values as one.
    #[must_use]
    pub fn list(values: impl IntoIterator<Item = Self>) -> Self {
        Self::List(values.into_iter().collect())
    }

    /// A value that is there several times; the number saturates.
    #[must_use]
    pub fn times(count: usize, of: Self) -> Self {
        Self::Times { count: u64::try_from(count).unwrap_or(u64::MAX), of: Box::new(of) }
    }

    /// The value as part of another: in brackets where it is not one word.
    fn fmt_part(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::List(_) | Self::Times { .. } => write!(f, "({self})"),
            _ => write!(f, "{self}"),
        }
    }
}

/// A value, or a question mark where it is not known.
fn known<T: fmt::Display>(f: &mut fmt::Formatter<'_>, value: Option<&T>) -> fmt::Result {
    match value {
        Some(value) => value.fmt(f),
        None => f.write_str("?"),
    }
}

impl fmt::Display for FactValue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Count(count) => count.fmt(f),
            Self::Other(name) => name.fmt(f),
            Self::Text(text) => text.fmt(f),
            Self::ModuleLoad { capacity_mib, package_ranks, stack_height, width } => {
                write!(f, "{capacity_mib} ")?;
                known(f, package_ranks.as_ref())?;
                if *stack_height != Some(1) {
                    f.write_str("S")?;
                    known(f, stack_height.as_ref())?;
                }
                f.write_str("R")?;
                known(f, width.as_ref())
            }
            Self::CapacityMib(capacity) => capacity.fmt(f),
            Self::DensityMbit(density) => density.fmt(f),
            Self::RateMts(rate) => rate.fmt(f),
            Self::VoltageMv(voltage) => voltage.fmt(f),
            Self::VoltagesMv(voltages) => voltages.fmt(f),
            Self::PowerMw(power) => power.fmt(f),
            Self::HeightUm(height) => height.fmt(f),
            Self::Kind(kind) => kind.fmt(f),
            Self::Generation(generation) => generation.fmt(f),
            Self::FormFactor(form) => form.fmt(f),
            Self::Ecc(ecc) => ecc.fmt(f),
            Self::Width(width) => width.fmt(f),
            Self::PackageRanks(1) => f.write_str("1 rank"),
            Self::PackageRanks(ranks) => write!(f, "{ranks} ranks"),
            Self::StackHeight(1) => f.write_str("not stacked"),
            Self::StackHeight(height) => write!(f, "{height} high"),
            Self::Flag(flag) => f.write_str(if *flag { "yes" } else { "no" }),
            Self::Missing(fact) => fact.fmt(f),
            Self::EmptySlot(slot) => write!(f, "no module in slot {slot}"),
            Self::List(values) => {
                for (index, value) in values.iter().enumerate() {
                    f.write_str(if index == 0 { "" } else { ", " })?;
                    // a list of one is read as that one
                    if values.len() == 1 { value.fmt(f)? } else { value.fmt_part(f)? }
                }
                Ok(())
            }
            Self::Times { count, of } => {
                write!(f, "{count} x ")?;
                of.fmt_part(f)
            }
        }
    }
}

/// One typed fact of a finding.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Fact {
    /// What it is about.
    pub name: FactName,
    /// The value.
    pub value: FactValue,
}
