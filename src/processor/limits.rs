//! The forms of limit that processors and platforms share.

use core::fmt;

use serde::{Deserialize, Serialize};

use crate::module::{MemoryModule, ModuleKind};
use crate::processor::specific::{self, Specific};
use crate::processor::{MissingFact, ModulePattern};
use crate::stated::Scope;
use crate::unit::Capacity;

/// What a limit on ranks counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum RankCounting {
    /// Chip selects.
    Package,
    /// Package ranks times the height of the stack.
    Stacked,
    /// What the controller counts: [`CountedRanks`], package ranks where no line says otherwise.
    Counted,
}

impl fmt::Display for RankCounting {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Package => "package ranks",
            Self::Stacked => "stacked ranks",
            Self::Counted => "counted ranks",
        })
    }
}

/// At most so many ranks in one channel.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct RankLimit {
    /// What is counted.
    pub counting: RankCounting,
    /// The most that one channel may hold.
    pub at_most: u32,
    /// Kinds that do not count at all.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub exempt: Vec<ModuleKind>,
}

impl RankLimit {
    /// At most so many ranks a channel.
    #[must_use]
    pub fn new(counting: RankCounting, at_most: u32) -> Self {
        Self { counting, at_most, exempt: Vec::new() }
    }

    setters! {
        each exempt(exempt: ModuleKind);
    }
}

/// How many ranks a controller counts for modules like these.
///
/// Load-reduced modules are counted with fewer ranks than they have; how many may depend on the load.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct CountedRanks {
    /// The modules.
    pub module: ModulePattern,
    /// How many modules the channel holds; any number where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub modules_in_channel: Option<u8>,
    /// Ranks counted for each of them.
    pub ranks: u32,
}

impl CountedRanks {
    /// How many ranks these modules count, whatever is beside them.
    #[must_use]
    pub fn new(module: ModulePattern, ranks: u32) -> Self {
        Self { module, modules_in_channel: None, ranks }
    }

    setters! {
        some modules_in_channel(modules_in_channel: u8);
    }
}

impl Specific for CountedRanks {
    fn facts(&self) -> usize {
        self.module.facts() + usize::from(self.modules_in_channel.is_some())
    }

    fn lies_within(&self, other: &Self) -> bool {
        self.modules_in_channel == other.modules_in_channel && self.module.lies_within(&other.module)
    }
}

impl CountedRanks {
    /// What a controller with these lines counts for a module: the first line than which no other that speaks of the
    /// module is more specific, else the package ranks.
    ///
    /// # Errors
    /// The fact of the module that is needed and not known.
    pub fn of(lines: &[Self], module: &MemoryModule, modules_in_channel: usize) -> Result<u32, MissingFact> {
        let mut own: Vec<&Self> = Vec::new();
        for line in lines {
            let is_for = line.modules_in_channel.is_none_or(|count| usize::from(count) == modules_in_channel);
            if is_for && line.module.matches(module)? {
                own.push(line);
            }
        }
        let counts = |line: &&&Self| !own.iter().any(|other| specific::is_more_specific(*other, **line));
        match own.iter().find(counts) {
            Some(line) => Ok(line.ranks),
            None => module.package_ranks().map(u32::from).ok_or(MissingFact::PackageRanks),
        }
    }
}

/// At most so much memory at one processor.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct CapacityCap {
    /// The most.
    pub capacity_mib: Capacity,
    /// Whether the capacity of other devices counts as well.
    #[serde(default)]
    pub counts_other_devices: bool,
}

impl CapacityCap {
    /// At most so much memory.
    #[must_use]
    pub fn new(capacity: Capacity) -> Self {
        Self { capacity_mib: capacity, counts_other_devices: false }
    }

    setters! {
        value counts_other_devices(counts_other_devices: bool);
    }
}

/// A fact of modules whose different values are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum MixProperty {
    /// The kind.
    Kind,
    /// Whether it is stacked at all.
    Stacked,
    /// The height of the stack.
    StackHeight,
    /// The check bits.
    Ecc,
    /// The width of the devices.
    Width,
    /// The capacity.
    Capacity,
    /// The package ranks.
    PackageRanks,
    /// The density of the dies.
    DieDensity,
    /// The density of the dies among modules of one width: densities may mix only where widths do not.
    DieDensityUnlessOneWidth,
    /// The maker's class; modules without one do not take part.
    Class,
    /// The maker's class; having none is one more value.
    ClassOrNone,
    /// The maker.
    Maker,
}

impl fmt::Display for MixProperty {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Kind => "kinds",
            Self::Stacked => "stacked and plain modules",
            Self::StackHeight => "stack heights",
            Self::Ecc => "error correction widths",
            Self::Width => "device widths",
            Self::Capacity => "capacities",
            Self::PackageRanks => "rank counts",
            Self::DieDensity => "die densities",
            Self::DieDensityUnlessOneWidth => "die densities across device widths",
            Self::Class => "maker's classes",
            Self::ClassOrNone => "maker's classes, none as one of them",
            Self::Maker => "makers",
        })
    }
}

/// At most so many different values of a property within a scope.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct MixLimit {
    /// The property.
    pub property: MixProperty,
    /// Where the values are counted.
    pub within: Scope,
    /// How many different ones may be there.
    pub at_most: u8,
}

impl MixLimit {
    /// At most so many different ones.
    #[must_use]
    pub fn new(property: MixProperty, within: Scope, at_most: u8) -> Self {
        Self { property, within, at_most }
    }
}
