use serde::{Deserialize, Serialize};

use crate::module::{DeviceWidth, Ecc, MemoryModule, ModuleKind, Stack};
use crate::processor::specific::{self, Specific};
use crate::processor::{MissingFact, Span};
use crate::unit::{Capacity, DataRate, Density, Name, Voltage};

/// Which modules a line of a table speaks of: those that have every fact that it names. In a document also in
/// [words](#impl-FromStr-for-ModulePattern).
///
/// ```
/// use slotwright::module::{Generation, MemoryModule, ModuleKind};
/// use slotwright::processor::ModulePattern;
/// use slotwright::unit::Capacity;
///
/// let module = MemoryModule::builder(Generation::Ddr4, ModuleKind::Registered, Capacity::from_gib(16)).build()?;
/// let registered = ModulePattern::kind(ModuleKind::Registered);
/// assert_eq!(registered.matches(&module), Ok(true));
/// assert_eq!(registered.clone().capacity_at_least(Capacity::from_gib(32)).matches(&module), Ok(false));
/// assert!(registered.ranks(2).matches(&module).is_err()); // the module's ranks are not known
/// # Ok::<(), slotwright::module::ModuleError>(())
/// ```
///
/// # Which line counts
/// Of two lines that speak of one module the more specific one counts. A line that names more facts is more specific,
/// whichever they are; a range is one fact, as a single value is. Where both name the same facts, the line whose values
/// all lie within those of the other is more specific: 16 GB within 16 to 32 GB, and that within 16 GB or more. No
/// other line is more specific than another, and a table in which two such lines could speak of one module is refused.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(from = "FieldsOrWords", deny_unknown_fields))]
#[non_exhaustive]
pub struct ModulePattern {
    /// The module's kind.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kind: Option<ModuleKind>,
    /// The height of its stack; 1 for a module that is not stacked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stack_height: Option<u32>,
    /// Its package ranks, 1 to 8.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub package_ranks: Option<u8>,
    /// The fewest package ranks, 1 to 8.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub package_ranks_at_least: Option<u8>,
    /// The most package ranks, 1 to 8.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub package_ranks_at_most: Option<u8>,
    /// The width of its devices.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub width: Option<DeviceWidth>,
    /// Its capacity.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub capacity_mib: Option<Capacity>,
    /// The least capacity.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub capacity_at_least_mib: Option<Capacity>,
    /// The largest capacity.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub capacity_at_most_mib: Option<Capacity>,
    /// The density of its dies.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub die_density_mbit: Option<Density>,
    /// Its grade.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grade_mts: Option<DataRate>,
    /// A voltage at which it may run; it may run at others as well.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub voltage_mv: Option<Voltage>,
    /// Its check bits.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ecc: Option<Ecc>,
    /// Its maker's class.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub class: Option<Name>,
    /// It has no maker's class.
    #[serde(skip_serializing_if = "core::ops::Not::not")]
    pub without_class: bool,
    /// Its maker.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub maker: Option<Name>,
    /// Its maker's part number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part_number: Option<Name>,
}

/// The fields of a [`ModulePattern`].
#[derive(Debug, Default, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(rename = "ModulePatternFields"))]
#[serde(deny_unknown_fields, default)]
pub(crate) struct PatternFields {
    /// The module's kind.
    kind: Option<ModuleKind>,
    /// The height of its stack; 1 for a module that is not stacked.
    stack_height: Option<u32>,
    /// Its package ranks, 1 to 8.
    package_ranks: Option<u8>,
    /// The fewest package ranks, 1 to 8.
    package_ranks_at_least: Option<u8>,
    /// The most package ranks, 1 to 8.
    package_ranks_at_most: Option<u8>,
    /// The width of its devices.
    width: Option<DeviceWidth>,
    /// Its capacity.
    capacity_mib: Option<Capacity>,
    /// The least capacity.
    capacity_at_least_mib: Option<Capacity>,
    /// The largest capacity.
    capacity_at_most_mib: Option<Capacity>,
    /// The density of its dies.
    die_density_mbit: Option<Density>,
    /// Its grade.
    grade_mts: Option<DataRate>,
    /// A voltage at which it may run; it may run at others as well.
    voltage_mv: Option<Voltage>,
    /// Its check bits.
    ecc: Option<Ecc>,
    /// Its maker's class.
    class: Option<Name>,
    /// It has no maker's class.
    without_class: bool,
    /// Its maker.
    maker: Option<Name>,
    /// Its maker's part number.
    part_number: Option<Name>,
}

/// What is read as a pattern, for its schema.
#[cfg(feature = "schemars")]
#[derive(schemars::JsonSchema)]
#[schemars(untagged)]
#[expect(dead_code, reason = "only its schema is used; reading tells fields and words apart by itself")]
enum FieldsOrWords {
    Fields(PatternFields),
    Words(String),
}

impl From<PatternFields> for ModulePattern {
    fn from(fields: PatternFields) -> Self {
        let PatternFields {
            kind,
            stack_height,
            package_ranks,
            package_ranks_at_least,
            package_ranks_at_most,
            width,
            capacity_mib,
            capacity_at_least_mib,
            capacity_at_most_mib,
            die_density_mbit,
            grade_mts,
            voltage_mv,
            ecc,
            class,
            without_class,
            maker,
            part_number,
        } = fields;
        Self {
            kind,
            stack_height,
            package_ranks,
            package_ranks_at_least,
            package_ranks_at_most,
            width,
            capacity_mib,
            capacity_at_least_mib,
            capacity_at_most_mib,
            die_density_mbit,
            grade_mts,
            voltage_mv,
            ecc,
            class,
            without_class,
            maker,
            part_number,
        }
    }
}

/// Whether a wanted value is there: `Ok(true)` where none is wanted.
fn has<T>(wanted: Option<T>, found: Option<T>, fact: MissingFact) -> Result<bool, MissingFact>
where
    T: PartialEq,
{
    wanted.map_or(Ok(true), |wanted| found.map(|found| wanted == found).ok_or(fact))
}

macro_rules! these {
    ($($(#[$meta:meta])* $name:ident($field:ident: $type:ty);)*) => {
        $(
            $(#[$meta])*
            #[must_use]
            pub fn $name(mut self, $name: impl Into<Option<$type>>) -> Self {
                self.$field = $name.into();
                self
            }
        )*
    };
}

impl ModulePattern {
    /// All modules of a kind.
    #[must_use]
    pub fn kind(kind: ModuleKind) -> Self {
        Self { kind: Some(kind), ..Self::default() }
    }

    /// Of these, the ones that are not stacked and have so many package ranks.
    #[must_use]
    pub fn ranks(self, package_ranks: u8) -> Self {
        self.package_ranks(package_ranks).stacked(1)
    }

    these! {
        /// Of these, the ones with stacks of this height; 1 for those that are not stacked.
        stacked(stack_height: u32);
        /// Of these, the ones with so many package ranks, stacked or not.
        package_ranks(package_ranks: u8);
        /// Of these, the ones with so many package ranks or more.
        package_ranks_at_least(package_ranks_at_least: u8);
        /// Of these, the ones with so many package ranks or fewer.
        package_ranks_at_most(package_ranks_at_most: u8);
        /// Of these, the ones with devices of this width.
        width(width: DeviceWidth);
        /// Of these, the ones of this capacity.
        capacity(capacity_mib: Capacity);
        /// Of these, the ones of this capacity or more.
        capacity_at_least(capacity_at_least_mib: Capacity);
        /// Of these, the ones of this capacity or less.
        capacity_at_most(capacity_at_most_mib: Capacity);
        /// Of these, the ones with dies of this density.
        die_density(die_density_mbit: Density);
        /// Of these, the ones of this grade.
        grade(grade_mts: DataRate);
        /// Of these, the ones that may run at this voltage, whatever others they may run at.
        voltage(voltage_mv: Voltage);
        /// Of these, the ones with these check bits.
        ecc(ecc: Ecc);
        /// Of these, the ones of this maker's class.
        class(class: Name);
        /// Of these, the ones of this maker.
        maker(maker: Name);
        /// Of these, the ones with this part number.
        part_number(part_number: Name);
    }

    /// Of these, the ones without a maker's class.
    #[must_use]
    pub fn without_class(mut self) -> Self {
        self.without_class = true;
        self
    }

    /// Whether a module has every fact named.
    ///
    /// # Errors
    /// The first fact that is named and not known of the module, where nothing else rules it out.
    pub fn matches(&self, module: &MemoryModule) -> Result<bool, MissingFact> {
        let capacity = self.capacities().is_none_or(|span| span.contains(module.capacity()));
        if self.kind.is_some_and(|kind| kind != module.kind())
            || !capacity
            || self.class.as_ref().is_some_and(|class| Some(class) != module.class())
            || (self.without_class && module.class().is_some())
        {
            return Ok(false);
        }
        let ranks = self.rank_counts().map_or(Ok(true), |span| {
            module.package_ranks().map(|ranks| span.contains(ranks)).ok_or(MissingFact::PackageRanks)
        });
        let voltage = self.voltage_mv.map_or(Ok(true), |voltage| {
            module.voltages().map(|known| known.contains(voltage)).ok_or(MissingFact::Voltages)
        });
        let checks = [
            has(self.stack_height, module.stack().map(Stack::height), MissingFact::Stack),
            ranks,
            has(self.width, module.width(), MissingFact::Width),
            has(self.die_density_mbit, module.die_density(), MissingFact::DieDensity),
            has(self.grade_mts, module.grade(), MissingFact::Grade),
            voltage,
            has(self.ecc, module.ecc(), MissingFact::Ecc),
            has(self.maker.as_ref(), module.maker(), MissingFact::Maker),
            has(self.part_number.as_ref(), module.part_number(), MissingFact::PartNumber),
        ];
        if checks.contains(&Ok(false)) {
            return Ok(false);
        }
        checks.into_iter().find(Result::is_err).unwrap_or(Ok(true))
    }

    /// Whether it counts before another where both speak of a module, as described [above](Self#which-line-counts).
    #[must_use]
    pub fn is_more_specific_than(&self, other: &Self) -> bool {
        specific::is_more_specific(self, other)
    }

    /// Whether some module could match both.
    #[must_use]
    pub fn overlaps(&self, other: &Self) -> bool {
        fn compatible<T: PartialEq>(a: Option<&T>, b: Option<&T>) -> bool {
            a.is_none() || b.is_none() || a == b
        }
        fn meet<T: Copy + Ord>(a: Option<Span<T>>, b: Option<Span<T>>) -> bool {
            a.is_none_or(|a| b.is_none_or(|b| a.meets(b)))
        }
        // a module may run at both of two voltages
        compatible(self.kind.as_ref(), other.kind.as_ref())
            && compatible(self.stack_height.as_ref(), other.stack_height.as_ref())
            && meet(self.rank_counts(), other.rank_counts())
            && compatible(self.width.as_ref(), other.width.as_ref())
            && meet(self.capacities(), other.capacities())
            && compatible(self.die_density_mbit.as_ref(), other.die_density_mbit.as_ref())
            && compatible(self.grade_mts.as_ref(), other.grade_mts.as_ref())
            && compatible(self.ecc.as_ref(), other.ecc.as_ref())
            && compatible(self.class.as_ref(), other.class.as_ref())
            && !(self.without_class && other.class.is_some())
            && !(other.without_class && self.class.is_some())
            && compatible(self.maker.as_ref(), other.maker.as_ref())
            && compatible(self.part_number.as_ref(), other.part_number.as_ref())
    }

    /// Whether it names a maker or a part number: what modules that work alike may differ in.
    #[must_use]
    pub fn names_identity(&self) -> bool {
        self.maker.is_some() || self.part_number.is_some()
    }

    /// Whether all modules that match are of one capacity.
    pub(crate) fn names_a_size(&self) -> bool {
        self.capacities().is_some_and(Span::is_single)
    }

    /// The capacities asked for, where some are.
    pub(crate) fn capacities(&self) -> Option<Span<Capacity>> {
        let all = Span { least: Capacity::from_mib(1), most: Capacity::from_mib(u64::MAX) };
        all.narrowed(self.capacity_mib, self.capacity_at_least_mib, self.capacity_at_most_mib)
    }

    /// The numbers of package ranks asked for, where some are.
    pub(crate) fn rank_counts(&self) -> Option<Span<u8>> {
        let all = Span { least: 1, most: 8 };
        all.narrowed(self.package_ranks, self.package_ranks_at_least, self.package_ranks_at_most)
    }

    /// Which facts it names, a range as one.
    fn facts_named(&self) -> [bool; 13] {
        [
            self.kind.is_some(),
            self.stack_height.is_some(),
            self.rank_counts().is_some(),
            self.width.is_some(),
            self.capacities().is_some(),
            self.die_density_mbit.is_some(),
            self.grade_mts.is_some(),
            self.voltage_mv.is_some(),
            self.ecc.is_some(),
            self.class.is_some(),
            self.without_class,
            self.maker.is_some(),
            self.part_number.is_some(),
        ]
    }
}

impl Specific for ModulePattern {
    fn facts(&self) -> usize {
        self.facts_named().into_iter().filter(|&named| named).count()
    }

    fn lies_within(&self, other: &Self) -> bool {
        fn within<T: Copy + Ord>(a: Option<Span<T>>, b: Option<Span<T>>) -> bool {
            a.is_none_or(|a| b.is_none_or(|b| a.lies_within(b)))
        }
        let plain = |pattern: &Self| Self {
            capacity_mib: None,
            capacity_at_least_mib: None,
            capacity_at_most_mib: None,
            package_ranks: None,
            package_ranks_at_least: None,
            package_ranks_at_most: None,
            ..pattern.clone()
        };
        self.facts_named() == other.facts_named()
            && within(self.capacities(), other.capacities())
            && within(self.rank_counts(), other.rank_counts())
            && plain(self) == plain(other)
    }
}
