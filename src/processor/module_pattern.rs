use core::fmt;

use serde::{Deserialize, Serialize};

use crate::module::{DeviceWidth, MemoryModule, ModuleKind};
use crate::unit::{Capacity, DataRate, Density, Name};

/// Which modules a line of a table speaks of: those that have every fact that it names.
///
/// ```
/// use slotwright::module::{Generation, MemoryModule, ModuleKind};
/// use slotwright::processor::ModulePattern;
/// use slotwright::unit::Capacity;
///
/// let module = MemoryModule::builder(Generation::Ddr4, ModuleKind::Registered, Capacity::from_gib(16)).build()?;
/// let registered = ModulePattern::kind(ModuleKind::Registered);
/// assert_eq!(registered.matches(&module), Ok(true));
/// assert!(registered.ranks(2).matches(&module).is_err()); // the module's ranks are not known
/// # Ok::<(), slotwright::module::ModuleError>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
pub struct ModulePattern {
    /// The module's kind.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kind: Option<ModuleKind>,
    /// The height of its stack; 1 for a module that is not stacked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stack_height: Option<u32>,
    /// Its package ranks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub package_ranks: Option<u8>,
    /// The width of its devices.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub width: Option<DeviceWidth>,
    /// Its capacity.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub capacity_mib: Option<Capacity>,
    /// The density of its dies.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub die_density_mbit: Option<Density>,
    /// Its grade.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grade_mts: Option<DataRate>,
    /// Its maker's class.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub class: Option<Name>,
}

/// A fact of a module that is needed and not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum MissingFact {
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
    /// What it draws.
    Power,
}

impl fmt::Display for MissingFact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::PackageRanks => "package ranks",
            Self::Stack => "stack",
            Self::Width => "device width",
            Self::DieDensity => "die density",
            Self::Grade => "grade",
            Self::Voltages => "voltages",
            Self::Ecc => "error correction width",
            Self::Height => "height",
            Self::PartNumber => "part number",
            Self::Power => "power draw",
        })
    }
}

/// Whether a wanted value is there: `Ok(true)` where none is wanted.
fn has<T: PartialEq>(wanted: Option<T>, found: Option<T>, fact: MissingFact) -> Result<bool, MissingFact> {
    match (wanted, found) {
        (None, _) => Ok(true),
        (Some(wanted), Some(found)) => Ok(wanted == found),
        (Some(_), None) => Err(fact),
    }
}

impl ModulePattern {
    /// All modules of a kind.
    #[must_use]
    pub fn kind(kind: ModuleKind) -> Self {
        Self { kind: Some(kind), ..Self::default() }
    }

    /// Of these, the ones that are not stacked and have so many package ranks.
    #[must_use]
    pub fn ranks(mut self, package_ranks: u8) -> Self {
        self.package_ranks = Some(package_ranks);
        self.stack_height = Some(1);
        self
    }

    /// Of these, the ones with stacks of this height.
    #[must_use]
    pub fn stacked(mut self, height: u32) -> Self {
        self.stack_height = Some(height);
        self
    }

    /// Whether a module has every fact named.
    ///
    /// # Errors
    /// The first fact that is named and not known of the module, where nothing else rules it out.
    pub fn matches(&self, module: &MemoryModule) -> Result<bool, MissingFact> {
        if self.kind.is_some_and(|kind| kind != module.kind())
            || self.capacity_mib.is_some_and(|capacity| capacity != module.capacity())
            || self.class.as_ref().is_some_and(|class| Some(class) != module.class())
        {
            return Ok(false);
        }
        let checks = [
            has(self.stack_height, module.stack().map(crate::module::Stack::height), MissingFact::Stack),
            has(self.package_ranks, module.package_ranks(), MissingFact::PackageRanks),
            has(self.width, module.width(), MissingFact::Width),
            has(self.die_density_mbit, module.die_density(), MissingFact::DieDensity),
            has(self.grade_mts, module.grade(), MissingFact::Grade),
        ];
        if checks.contains(&Ok(false)) {
            return Ok(false);
        }
        checks.into_iter().find(Result::is_err).unwrap_or(Ok(true))
    }

    /// How many facts it names.
    #[must_use]
    pub fn specificity(&self) -> usize {
        [
            self.kind.is_some(),
            self.stack_height.is_some(),
            self.package_ranks.is_some(),
            self.width.is_some(),
            self.capacity_mib.is_some(),
            self.die_density_mbit.is_some(),
            self.grade_mts.is_some(),
            self.class.is_some(),
        ]
        .into_iter()
        .filter(|&named| named)
        .count()
    }

    /// Whether some module could match both.
    #[must_use]
    pub fn overlaps(&self, other: &Self) -> bool {
        fn compatible<T: PartialEq>(a: Option<&T>, b: Option<&T>) -> bool {
            a.is_none() || b.is_none() || a == b
        }
        compatible(self.kind.as_ref(), other.kind.as_ref())
            && compatible(self.stack_height.as_ref(), other.stack_height.as_ref())
            && compatible(self.package_ranks.as_ref(), other.package_ranks.as_ref())
            && compatible(self.width.as_ref(), other.width.as_ref())
            && compatible(self.capacity_mib.as_ref(), other.capacity_mib.as_ref())
            && compatible(self.die_density_mbit.as_ref(), other.die_density_mbit.as_ref())
            && compatible(self.grade_mts.as_ref(), other.grade_mts.as_ref())
            && compatible(self.class.as_ref(), other.class.as_ref())
    }
}

/// "registered 2-rank modules", "stacked load-reduced modules"; "modules" where nothing is named.
impl fmt::Display for ModulePattern {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(capacity) = self.capacity_mib {
            write!(f, "{capacity} ")?;
        }
        if let Some(height) = self.stack_height.filter(|&height| height > 1) {
            write!(f, "{height}-high stacked ")?;
        }
        if let Some(kind) = self.kind {
            write!(f, "{kind} ")?;
        }
        if let Some(ranks) = self.package_ranks {
            write!(f, "{ranks}-rank ")?;
        }
        if let Some(width) = self.width {
            write!(f, "{width} ")?;
        }
        if let Some(density) = self.die_density_mbit {
            write!(f, "{density}-die ")?;
        }
        if let Some(grade) = self.grade_mts {
            write!(f, "grade-{} ", grade.name())?;
        }
        f.write_str("modules")?;
        self.class.as_ref().map_or(Ok(()), |class| write!(f, " of class {class}"))
    }
}
