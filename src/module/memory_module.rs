use core::fmt;
use std::sync::Arc;

use serde::de::value::MapAccessDeserializer;
use serde::de::{self, MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};
use thiserror::Error;

use crate::module::{DeviceWidth, Ecc, FormFactor, Generation, Label, ModuleKind, Organization, Stack, Voltages};
use crate::unit::{Capacity, DataRate, Density, Height, Name, Power};

/// The facts of a memory module. Modules with equal facts are interchangeable.
///
/// Generation, kind and capacity are always known; any other fact may be missing, and a rule that
/// needs a missing one answers "unknown" rather than guess.
///
/// ```
/// use slotwright::module::{DeviceWidth, Generation, MemoryModule, ModuleKind, Organization, Stack};
/// use slotwright::unit::{Capacity, DataRate, Density};
///
/// let module = MemoryModule::builder(Generation::Ddr4, ModuleKind::Registered, Capacity::from_gib(32))
///     .organization(Organization::new(2, Stack::Single, DeviceWidth::X4))
///     .grade(DataRate::DDR4_2400)
///     .build()?;
/// assert_eq!(module.die_density(), Some(Density::from_gbit(8)));
/// assert_eq!(module.voltages(), None); // nobody said
/// assert_eq!(module.to_string(), "32GB 2Rx4 DDR4-2400 registered");
/// # Ok::<(), slotwright::module::ModuleError>(())
/// ```
///
/// In documents it is an object of facts; a [`Label`] text is read as well.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(from = "FactsOrLabel"))]
#[serde(into = "MemoryModuleBuilder")]
pub struct MemoryModule {
    // many slots hold the same
    facts: Arc<MemoryModuleBuilder>,
    /// The slot in which it runs, as the number of the first one that is like it: what runs is evidence. A planner sets it
    /// while it works; nobody else sees it.
    runs_at: Option<u16>,
}

/// Collects the facts of a [`MemoryModule`]; also its form in documents.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema), schemars(rename = "MemoryModuleFacts"))]
#[serde(deny_unknown_fields)]
pub struct MemoryModuleBuilder {
    /// The memory generation.
    generation: Generation,
    /// How it buffers its signals.
    kind: ModuleKind,
    /// What it holds in MiB, check bits not counted; more than 0.
    capacity_mib: Capacity,
    /// Its mechanical form.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    form_factor: Option<FormFactor>,
    /// How tall it is, in micrometres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    height_um: Option<Height>,
    /// Its check bits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    ecc: Option<Ecc>,
    /// Its chip selects, 1 to 8; for DDR5 those of one sub-channel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schemars", schemars(range(min = 1, max = 8)))]
    package_ranks: Option<u8>,
    /// What one of its packages holds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    stack: Option<Stack>,
    /// Data bits of one of its devices.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    width: Option<DeviceWidth>,
    /// The density of its dies in megabits; worked out where ranks, stack and width are given and this is not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    die_density_mbit: Option<Density>,
    /// The highest rate that it is rated for, in MT/s.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    grade_mts: Option<DataRate>,
    /// The supply voltages at which it may run, in millivolts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    voltages_mv: Option<Voltages>,
    /// The maker's class.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    class: Option<Name>,
    /// What it draws at most, in milliwatts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    power_mw: Option<Power>,
    /// The maker's part number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    part_number: Option<Name>,
    /// The maker.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    maker: Option<Name>,
}

/// What is read as a [`MemoryModule`], for its schema.
#[cfg(feature = "schemars")]
#[derive(schemars::JsonSchema)]
#[schemars(untagged)]
#[expect(dead_code, reason = "only its schema is used; reading tells facts and labels apart by itself")]
enum FactsOrLabel {
    Facts(MemoryModuleBuilder),
    Label(Label),
}

/// Why facts make no module.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum ModuleError {
    /// A capacity of nothing.
    #[error("a module has a capacity of 0; it must be at least 1 MB")]
    NoCapacity,
    /// Package ranks outside 1 to 8.
    #[error("{found} package ranks; a module has 1 to 8")]
    PackageRanks {
        /// The number given.
        found: u8,
    },
    /// No standard die gives this capacity with this organization.
    #[error("{capacity} as {organization} needs a die density that no standard has")]
    ImpossibleCapacity {
        /// The capacity given.
        capacity: Capacity,
        /// The organization given.
        organization: Organization,
    },
    /// A stated die density that does not give the stated capacity.
    #[error("{organization} of {density} dies holds {holds}, not {capacity}")]
    Contradiction {
        /// The organization given.
        organization: Organization,
        /// The density given.
        density: Density,
        /// What they give together.
        holds: Capacity,
        /// The capacity given.
        capacity: Capacity,
    },
    /// A die density that no standard has.
    #[error("no standard has a die of {density}")]
    UnknownDensity {
        /// The density given.
        density: Density,
    },
    /// A stack that no module of the generation has, or of which it is not settled what it holds.
    #[error("{generation} modules do not come with {stack} packages")]
    StackOfAnotherGeneration {
        /// The generation given.
        generation: Generation,
        /// The stack given.
        stack: Stack,
    },
    /// Check bits of another generation.
    #[error("{generation} modules do not come with {ecc}")]
    EccOfAnotherGeneration {
        /// The generation given.
        generation: Generation,
        /// The check bits given.
        ecc: Ecc,
    },
}

impl MemoryModule {
    /// Starts a module of the three facts that are always known; nothing else is taken for granted.
    #[must_use]
    pub fn builder(generation: Generation, kind: ModuleKind, capacity: Capacity) -> MemoryModuleBuilder {
        MemoryModuleBuilder {
            generation,
            kind,
            capacity_mib: capacity,
            form_factor: None,
            height_um: None,
            ecc: None,
            package_ranks: None,
            stack: None,
            width: None,
            die_density_mbit: None,
            grade_mts: None,
            voltages_mv: None,
            class: None,
            power_mw: None,
            part_number: None,
            maker: None,
        }
    }

    /// Whether its form factor, ranks, stack, width, grade, check bits and voltages are all known.
    pub(crate) fn is_known(&self) -> bool {
        let electrical = self.grade().is_some() && self.ecc().is_some() && self.voltages().is_some();
        electrical && self.organization().is_some() && self.form_factor().is_some()
    }

    /// The same module as far as it works: without part number, maker and power.
    #[must_use]
    pub fn without_identity(&self) -> Self {
        let facts = MemoryModuleBuilder { part_number: None, maker: None, power_mw: None, ..self.to_builder() };
        Self { facts: Arc::new(facts), runs_at: self.runs_at }
    }

    /// The same facts without the grade.
    pub(crate) fn without_grade(&self) -> Self {
        let facts = MemoryModuleBuilder { grade_mts: None, ..self.to_builder() };
        Self { facts: Arc::new(facts), runs_at: self.runs_at }
    }

    /// Whether form factor, ranks, stack, width, density, grade, check bits and voltages are known, all of them.
    pub(crate) fn is_described(&self) -> bool {
        self.is_known() && self.die_density().is_some()
    }

    /// The same module, known to run in a slot.
    pub(crate) fn running_at(&self, slot: u16) -> Self {
        Self { facts: Arc::clone(&self.facts), runs_at: Some(slot) }
    }

    /// The same module, of which no more is said than its facts.
    pub(crate) fn by_facts(mut self) -> Self {
        self.runs_at = None;
        self
    }

    /// In which slot it is known to run.
    pub(crate) const fn runs_at(&self) -> Option<u16> {
        self.runs_at
    }

    /// Whether two modules have the same facts.
    pub(crate) fn is_like(&self, other: &Self) -> bool {
        self.facts == other.facts
    }

    /// A builder that starts from this module's facts.
    #[must_use]
    pub fn to_builder(&self) -> MemoryModuleBuilder {
        MemoryModuleBuilder::clone(&self.facts)
    }

    /// The memory generation.
    #[must_use]
    pub fn generation(&self) -> Generation {
        self.facts.generation
    }

    /// How it buffers its signals.
    #[must_use]
    pub fn kind(&self) -> ModuleKind {
        self.facts.kind
    }

    /// What it holds, check bits not counted.
    #[must_use]
    pub fn capacity(&self) -> Capacity {
        self.facts.capacity_mib
    }

    /// Its mechanical form.
    #[must_use]
    pub fn form_factor(&self) -> Option<FormFactor> {
        self.facts.form_factor
    }

    /// How tall it is.
    #[must_use]
    pub fn height(&self) -> Option<Height> {
        self.facts.height_um
    }

    /// Its check bits.
    #[must_use]
    pub fn ecc(&self) -> Option<Ecc> {
        self.facts.ecc
    }

    /// Its chip selects; for DDR5 those of one sub-channel.
    #[must_use]
    pub fn package_ranks(&self) -> Option<u8> {
        self.facts.package_ranks
    }

    /// What one of its packages holds.
    #[must_use]
    pub fn stack(&self) -> Option<Stack> {
        self.facts.stack
    }

    /// Package ranks times the height of the stack.
    #[must_use]
    pub fn stacked_ranks(&self) -> Option<u32> {
        Some(u32::from(self.facts.package_ranks?) * self.facts.stack?.height())
    }

    /// Data bits of one of its devices.
    #[must_use]
    pub fn width(&self) -> Option<DeviceWidth> {
        self.facts.width
    }

    /// Package ranks, stack and width together, where all three are known.
    #[must_use]
    pub fn organization(&self) -> Option<Organization> {
        let facts = &self.facts;
        Some(Organization { package_ranks: facts.package_ranks?, stack: facts.stack?, width: facts.width? })
    }

    /// The density of its dies, stated or worked out from capacity and organization.
    #[must_use]
    pub fn die_density(&self) -> Option<Density> {
        self.facts.die_density_mbit
    }

    /// The highest rate that it is rated for.
    #[must_use]
    pub fn grade(&self) -> Option<DataRate> {
        self.facts.grade_mts
    }

    /// The supply voltages at which it may run.
    #[must_use]
    pub fn voltages(&self) -> Option<&Voltages> {
        self.facts.voltages_mv.as_ref()
    }

    /// The maker's class, a free tag that platforms may name in their tables.
    #[must_use]
    pub fn class(&self) -> Option<&Name> {
        self.facts.class.as_ref()
    }

    /// What it draws at most.
    #[must_use]
    pub fn power(&self) -> Option<Power> {
        self.facts.power_mw
    }

    /// The maker's part number.
    #[must_use]
    pub fn part_number(&self) -> Option<&Name> {
        self.facts.part_number.as_ref()
    }

    /// The maker.
    #[must_use]
    pub fn maker(&self) -> Option<&Name> {
        self.facts.maker.as_ref()
    }
}

macro_rules! setters {
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

/// Each fact is set by a value, and cleared by `None`: it is not known then.
///
/// ```
/// use slotwright::module::{Label, MemoryModule};
///
/// let module = "32GB 2Rx4 PC4-2666V-RB2-12".parse::<Label>()?.to_module();
/// let vague = module.to_builder().width(None).die_density(None).build()?;
/// assert_eq!((vague.package_ranks(), vague.width()), (Some(2), None));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
impl MemoryModuleBuilder {
    setters! {
        /// Its mechanical form.
        form_factor(form_factor: FormFactor);
        /// How tall it is.
        height(height_um: Height);
        /// Its check bits.
        ecc(ecc: Ecc);
        /// Its chip selects, 1 to 8; for DDR5 those of one sub-channel.
        package_ranks(package_ranks: u8);
        /// What one of its packages holds.
        stack(stack: Stack);
        /// Data bits of one of its devices.
        width(width: DeviceWidth);
        /// The density of its dies.
        die_density(die_density_mbit: Density);
        /// The highest rate that it is rated for.
        grade(grade_mts: DataRate);
        /// The supply voltages at which it may run.
        voltages(voltages_mv: Voltages);
        /// The maker's class.
        class(class: Name);
        /// What it draws at most.
        power(power_mw: Power);
        /// The maker's part number.
        part_number(part_number: Name);
        /// The maker.
        maker(maker: Name);
    }

    /// Package ranks, stack and width together, as a label prints them.
    #[must_use]
    pub fn organization(self, organization: Organization) -> Self {
        let Organization { package_ranks, stack, width } = organization;
        self.package_ranks(package_ranks).stack(stack).width(width)
    }

    /// Checks the facts against each other and works out the die density where it follows.
    ///
    /// # Errors
    /// When the capacity is 0, when package ranks are not 1 to 8, when no standard die density gives
    /// the capacity with the organization (100 GB as 2Rx4), when no standard has the stated density or it
    /// contradicts them, or when the check bits or the stack belong to another generation: EC8 on DDR4,
    /// stacks of 16 before DDR5, dual-die and quad-die packages on DDR5 (JESD400-5C leaves open what the
    /// first hold and does not have the second).
    pub fn build(mut self) -> Result<MemoryModule, ModuleError> {
        if self.capacity_mib.is_zero() {
            return Err(ModuleError::NoCapacity);
        }
        if let Some(found) = self.package_ranks.filter(|ranks| !(1..=8).contains(ranks)) {
            return Err(ModuleError::PackageRanks { found });
        }
        if let Some(ecc) = self.ecc.filter(|ecc| !self.generation.check_bits().contains(ecc)) {
            return Err(ModuleError::EccOfAnotherGeneration { generation: self.generation, ecc });
        }
        if let Some(stack) = self.stack.filter(|stack| !stack.is_of(self.generation)) {
            return Err(ModuleError::StackOfAnotherGeneration { generation: self.generation, stack });
        }
        if let Some(density) = self.die_density_mbit.filter(|density| !density.is_standard()) {
            return Err(ModuleError::UnknownDensity { density });
        }
        if let (Some(package_ranks), Some(stack), Some(width)) = (self.package_ranks, self.stack, self.width) {
            let organization = Organization { package_ranks, stack, width };
            let capacity = self.capacity_mib;
            match self.die_density_mbit {
                None => {
                    let density = organization.density(capacity);
                    self.die_density_mbit =
                        Some(density.ok_or(ModuleError::ImpossibleCapacity { capacity, organization })?);
                }
                Some(density) => {
                    let holds = organization.capacity(density);
                    if holds != capacity {
                        return Err(ModuleError::Contradiction { organization, density, holds, capacity });
                    }
                }
            }
        }
        Ok(MemoryModule { facts: Arc::new(self), runs_at: None })
    }
}

impl TryFrom<MemoryModuleBuilder> for MemoryModule {
    type Error = ModuleError;

    fn try_from(facts: MemoryModuleBuilder) -> Result<Self, ModuleError> {
        facts.build()
    }
}

impl<'de> Deserialize<'de> for MemoryModule {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct FactsOrLabel;

        impl<'de> Visitor<'de> for FactsOrLabel {
            type Value = MemoryModule;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a module's facts or the text of its label")
            }

            fn visit_newtype_struct<D: Deserializer<'de>>(self, inner: D) -> Result<MemoryModule, D::Error> {
                inner.deserialize_any(self)
            }

            fn visit_str<E: de::Error>(self, text: &str) -> Result<MemoryModule, E> {
                text.parse::<Label>().map(|label| label.to_module()).map_err(E::custom)
            }

            fn visit_map<A: MapAccess<'de>>(self, facts: A) -> Result<MemoryModule, A::Error> {
                let builder = MemoryModuleBuilder::deserialize(MapAccessDeserializer::new(facts))?;
                builder.build().map_err(de::Error::custom)
            }
        }

        // the name tells a reader which fields there are
        deserializer.deserialize_newtype_struct("MemoryModule", FactsOrLabel)
    }
}

impl From<MemoryModule> for MemoryModuleBuilder {
    fn from(module: MemoryModule) -> Self {
        Arc::unwrap_or_clone(module.facts)
    }
}

/// Capacity, organization, generation and grade, kind; the form factor where it is known and no DIMM.
impl fmt::Display for MemoryModule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.capacity().to_string().replace(' ', ""))?;
        match (self.organization(), self.package_ranks()) {
            (Some(organization), _) => write!(f, " {organization}")?,
            (None, Some(ranks)) => write!(f, " {ranks}R")?,
            (None, None) => {}
        }
        write!(f, " {}", self.generation())?;
        if let Some(grade) = self.grade() {
            write!(f, "-{}", grade.name_mts())?;
        }
        write!(f, " {}", self.kind())?;
        if let Some(other) = self.form_factor().filter(|form_factor| *form_factor != FormFactor::Dimm) {
            write!(f, " {other}")?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use proptest::option;
    use proptest::prelude::*;
    use proptest::sample::select;

    use super::*;
    use crate::unit::Voltage;

    fn ddr4(gib: u32) -> MemoryModuleBuilder {
        MemoryModule::builder(Generation::Ddr4, ModuleKind::Registered, Capacity::from_gib(gib))
    }

    fn laid_out(gib: u32, package_ranks: u8, stack: Stack, width: DeviceWidth) -> MemoryModuleBuilder {
        ddr4(gib).package_ranks(package_ranks).stack(stack).width(width)
    }

    #[test]
    fn contradictions_are_refused_by_name() {
        let two_by_four = Organization { package_ranks: 2, stack: Stack::Single, width: DeviceWidth::X4 };
        let (width, stack) = (DeviceWidth::X4, Stack::Single);
        let capacity = Capacity::from_gib(100);
        for (builder, error) in [
            (ddr4(0), ModuleError::NoCapacity),
            (ddr4(32).package_ranks(0), ModuleError::PackageRanks { found: 0 }),
            (ddr4(32).package_ranks(9), ModuleError::PackageRanks { found: 9 }),
            (laid_out(100, 2, stack, width), ModuleError::ImpossibleCapacity { capacity, organization: two_by_four }),
            (
                laid_out(32, 2, stack, width).die_density(Density::from_gbit(16)),
                ModuleError::Contradiction {
                    organization: two_by_four,
                    density: Density::from_gbit(16),
                    holds: Capacity::from_gib(64),
                    capacity: Capacity::from_gib(32),
                },
            ),
            (
                ddr4(32).die_density(Density::from_gbit(20)),
                ModuleError::UnknownDensity { density: Density::from_gbit(20) },
            ),
            (
                ddr4(32).ecc(Ecc::Ec8),
                ModuleError::EccOfAnotherGeneration { generation: Generation::Ddr4, ecc: Ecc::Ec8 },
            ),
            (
                laid_out(512, 1, Stack::Stacked16, width),
                ModuleError::StackOfAnotherGeneration { generation: Generation::Ddr4, stack: Stack::Stacked16 },
            ),
        ] {
            assert_eq!(builder.build(), Err(error));
        }
        let ddr5 = || MemoryModule::builder(Generation::Ddr5, ModuleKind::Registered, Capacity::from_gib(64));
        for stack in [Stack::DualDie, Stack::QuadDie] {
            let error = ModuleError::StackOfAnotherGeneration { generation: Generation::Ddr5, stack };
            assert_eq!(ddr5().stack(stack).build(), Err(error));
        }
        assert!(ddr5().ecc(Ecc::Ecc).build().is_err());
        assert!(ddr5().ecc(Ecc::Ec4).build().is_ok() && ddr4(32).ecc(Ecc::Ecc).build().is_ok());
    }

    #[test]
    fn what_follows_is_filled_in() {
        let two_by_four = || ddr4(32).package_ranks(2).width(DeviceWidth::X4);
        let module = two_by_four().stack(Stack::Single).build().unwrap();
        assert_eq!((module.stacked_ranks(), module.die_density()), (Some(2), Some(Density::from_gbit(8))));
        // two dies of 4 Gb a package, or one of 8: nobody said
        let open = two_by_four().build().unwrap();
        assert_eq!((open.stack(), open.organization(), open.die_density()), (None, None, None));
        let bare = ddr4(32).build().unwrap();
        assert_eq!((bare.organization(), bare.stacked_ranks(), bare.die_density()), (None, None, None));
        assert_eq!(bare.to_string(), "32GB DDR4 registered");
        let mini = laid_out(16, 2, Stack::Single, DeviceWidth::X8).form_factor(FormFactor::MiniDimm).build().unwrap();
        assert_eq!(mini.to_string(), "16GB 2Rx8 DDR4 registered Mini-DIMM");
    }

    #[test]
    fn documents_with_other_or_contradictory_fields_are_refused() {
        let read = |more: &str| {
            let document = format!(r#"{{"generation":"ddr4","kind":"registered","capacity_mib":32768{more}}}"#);
            serde_json::from_str::<MemoryModule>(&document).map_err(|error| error.to_string())
        };
        assert_eq!(read("").unwrap().capacity(), Capacity::from_gib(32));
        for (more, text) in [
            (r#","colour":"green""#, "unknown field `colour`"),
            (r#","package_ranks":3,"stack":"single-die","width":"x4""#, "needs a die density that no standard has"),
            (
                r#","package_ranks":2,"stack":"single-die","width":"x4","die_density_mbit":4096"#,
                "holds 16 GB, not 32 GB",
            ),
            (r#","package_ranks":12"#, "12 package ranks; a module has 1 to 8"),
            (r#","ecc":"ec4""#, "DDR4 modules do not come with EC4"),
            (r#","voltages_mv":[]"#, "a list of voltages is empty"),
            (r#","width":"x5""#, "unknown variant `x5`"),
        ] {
            let error = read(more).unwrap_err();
            assert!(error.contains(text), "{more}: {error}");
        }
    }

    fn text() -> impl Strategy<Value = Option<Name>> {
        option::of("[A-Z0-9]([ -~]{0,8}[A-Z0-9])?".prop_map(|text| Name::new(&text).unwrap()))
    }

    fn facts() -> impl Strategy<Value = MemoryModuleBuilder> {
        let known = (select(Generation::ALL), select(ModuleKind::ALL), option::of(select(FormFactor::ALL)), 0_u32..12);
        let layout = (
            option::of(1_u8..=8),
            option::of(select(Stack::ALL)),
            option::of(select(DeviceWidth::ALL)),
            option::of(select(Density::STANDARD.as_slice())),
            option::of(select(Ecc::ALL)),
        );
        let rates = option::of((1_u32..=300_000, 1_u32..=3));
        let rest = (
            rates,
            option::of(proptest::collection::vec(any::<u16>(), 1..3)),
            option::of(any::<u32>()),
            option::of(any::<u32>()),
        );
        (known, layout, rest, text(), text(), text()).prop_map(|(known, layout, rest, class, part_number, maker)| {
            let capacity = Capacity::from_mib(512 << known.3);
            let mut facts = MemoryModule::builder(known.0, known.1, capacity).form_factor(known.2);
            (facts.package_ranks, facts.stack, facts.width, facts.die_density_mbit, facts.ecc) = layout;
            facts.grade_mts = rest.0.and_then(|(mts, of)| DataRate::from_fraction(mts, of).ok());
            facts.voltages_mv = rest.1.and_then(|mv| Voltages::new(mv.into_iter().map(Voltage::from_mv)));
            facts.height_um = rest.2.map(Height::from_um);
            facts.power_mw = rest.3.map(Power::from_mw);
            (facts.class, facts.part_number, facts.maker) = (class, part_number, maker);
            facts
        })
    }

    proptest! {
        #[test]
        fn modules_read_back(facts in facts()) {
            let document = serde_json::to_string(&facts).unwrap();
            match facts.build() {
                Ok(module) => {
                    prop_assert_eq!(serde_json::from_str::<MemoryModule>(&document).unwrap(), module.clone());
                    let document = serde_json::to_string(&module).unwrap();
                    prop_assert_eq!(serde_json::from_str::<MemoryModule>(&document).unwrap(), module.clone());
                    prop_assert_eq!(module.to_builder().build(), Ok(module));
                }
                Err(error) => {
                    let refused = serde_json::from_str::<MemoryModule>(&document).unwrap_err();
                    prop_assert!(refused.to_string().starts_with(&error.to_string()));
                }
            }
        }

        #[test]
        fn a_module_agrees_with_its_organization(facts in facts()) {
            if let Ok(module) = facts.build() {
                if let (Some(organization), Some(die)) = (module.organization(), module.die_density()) {
                    prop_assert_eq!(organization.capacity(die), module.capacity());
                } else {
                    prop_assert!(module.organization().is_none());
                }
            }
        }
    }
}
