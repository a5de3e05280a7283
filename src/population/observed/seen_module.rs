use core::fmt;
use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::module::{
    DeviceWidth, Ecc, FormFactor, Generation, MemoryModule, ModuleKind, Organization, Stack, Voltages,
};
use crate::population::{DeviceSort, MakerId, Medium};
use crate::unit::{Capacity, DataRate, Density, Height, Name};

/// What one source says of a module. Every fact may be missing, generation, kind and size too.
///
/// What a module can be, given all that is said of it, is worked out where it sits
/// (`SitedModule::readings`).
///
/// ```
/// use slotwright::module::{Generation, ModuleKind};
/// use slotwright::population::SeenModule;
/// use slotwright::Capacity;
///
/// let seen = SeenModule::new().generation(Generation::Ddr4).capacity(Capacity::from_gib(16)).rank_number(2);
/// assert_eq!(seen.kind, None);
/// assert_eq!(seen.to_string(), "16 GB DDR4, rank number 2");
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SeenModule {
    /// What it is where it is no plain memory.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub device: Option<DeviceSort>,
    /// The memory generation.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub generation: Option<Generation>,
    /// How it buffers its signals.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kind: Option<ModuleKind>,
    /// What it holds in MiB, check bits not counted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capacity_mib: Option<Capacity>,
    /// What it holds at least, in MiB, where the source tells no more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capacity_at_least_mib: Option<Capacity>,
    /// Its mechanical form.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub form_factor: Option<FormFactor>,
    /// How tall it is, in micrometres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_um: Option<Height>,
    /// Its check bits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ecc: Option<Ecc>,
    /// Its chip selects, where the source is known to count these.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub package_ranks: Option<u8>,
    /// A number of ranks of which it is not known what it counts: package ranks, or package ranks times the height of
    /// the stack.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rank_number: Option<u8>,
    /// What one of its packages holds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stack: Option<Stack>,
    /// Data bits of one of its devices.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub width: Option<DeviceWidth>,
    /// The density of its dies in megabits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub die_density_mbit: Option<Density>,
    /// The highest rate that it is rated for, in MT/s.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub grade_mts: Option<DataRate>,
    /// The supply voltages at which it may run, in millivolts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub voltages_mv: Option<Voltages>,
    /// Who made it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maker: Option<Name>,
    /// Who made it, by the number of the standard's list.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maker_id: Option<MakerId>,
    /// Its part number, without the blanks around it; placeholders are left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub part_number: Option<Name>,
    /// Its serial number as reported; placeholders are left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial: Option<Name>,
    /// Which of the facts are not stated by the source, and inferred from others.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub inferred: BTreeSet<ModuleFact>,
}

impl SeenModule {
    /// Of which nothing is known.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// All that is known of a module: what a label says, or a stock list.
    #[must_use]
    pub fn of(module: &MemoryModule) -> Self {
        Self {
            device: None,
            generation: Some(module.generation()),
            kind: Some(module.kind()),
            capacity_mib: Some(module.capacity()),
            capacity_at_least_mib: None,
            form_factor: module.form_factor(),
            height_um: module.height(),
            ecc: module.ecc(),
            package_ranks: module.package_ranks(),
            rank_number: None,
            stack: module.stack(),
            width: module.width(),
            die_density_mbit: module.die_density(),
            grade_mts: module.grade(),
            voltages_mv: module.voltages().cloned(),
            maker: module.maker().cloned(),
            maker_id: None,
            part_number: module.part_number().cloned(),
            serial: None,
            inferred: BTreeSet::new(),
        }
    }

    setters! {
        some device(device: DeviceSort);
        some generation(generation: Generation);
        some kind(kind: ModuleKind);
        some capacity(capacity_mib: Capacity);
        some capacity_at_least(capacity_at_least_mib: Capacity);
        some form_factor(form_factor: FormFactor);
        some height(height_um: Height);
        some ecc(ecc: Ecc);
        some package_ranks(package_ranks: u8);
        some rank_number(rank_number: u8);
        some stack(stack: Stack);
        some width(width: DeviceWidth);
        some die_density(die_density_mbit: Density);
        some grade(grade_mts: DataRate);
        some voltages(voltages_mv: Voltages);
        some maker(maker: Name);
        some maker_id(maker_id: MakerId);
        some part_number(part_number: Name);
        some serial(serial: Name);
        each inferred(inferred: ModuleFact);
    }

    /// Package ranks, stack and width together, where all three are known.
    #[must_use]
    pub fn organization(&self) -> Option<Organization> {
        Some(Organization::new(self.package_ranks?, self.stack?, self.width?))
    }
}

/// A fact that a source may state of a module.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum ModuleFact {
    /// Whether it is plain memory.
    Device,
    /// Its generation.
    Generation,
    /// How it buffers its signals.
    Kind,
    /// What it holds.
    Capacity,
    /// Its mechanical form.
    FormFactor,
    /// How tall it is.
    Height,
    /// Its check bits.
    Ecc,
    /// Its package ranks.
    PackageRanks,
    /// A number of ranks of which it is not known what it counts.
    RankNumber,
    /// What one of its packages holds.
    Stack,
    /// The width of its devices.
    Width,
    /// The density of its dies.
    DieDensity,
    /// The rate that it is rated for.
    Grade,
    /// Its voltages.
    Voltages,
    /// Its maker.
    Maker,
    /// Its part number.
    PartNumber,
    /// Its serial number.
    Serial,
}

impl ModuleFact {
    /// Every fact.
    pub const ALL: [Self; 17] = [
        Self::Device,
        Self::Generation,
        Self::Kind,
        Self::Capacity,
        Self::FormFactor,
        Self::Height,
        Self::Ecc,
        Self::PackageRanks,
        Self::RankNumber,
        Self::Stack,
        Self::Width,
        Self::DieDensity,
        Self::Grade,
        Self::Voltages,
        Self::Maker,
        Self::PartNumber,
        Self::Serial,
    ];

    /// The sorts of source that can show it. What is written on a module or in it all of them can; a machine's report gives a number of ranks of
    /// which it is not known what it counts, and says nothing of stacks and dies.
    ///
    /// ```
    /// use slotwright::population::{Medium, ModuleFact};
    ///
    /// assert!(ModuleFact::Grade.shown_by().contains(&Medium::Machine));
    /// assert!(!ModuleFact::PackageRanks.shown_by().contains(&Medium::Machine));
    /// assert!(!ModuleFact::RankNumber.shown_by().contains(&Medium::Spd));
    /// ```
    #[must_use]
    pub const fn shown_by(self) -> &'static [Medium] {
        match self {
            Self::RankNumber => &[Medium::Machine],
            Self::PackageRanks | Self::Stack | Self::DieDensity => &[Medium::Spd, Medium::Label, Medium::Rows],
            _ => &[Medium::Spd, Medium::Label, Medium::Machine, Medium::Rows],
        }
    }
}

impl fmt::Display for ModuleFact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Device => "sort of device",
            Self::Generation => "generation",
            Self::Kind => "kind",
            Self::Capacity => "size",
            Self::FormFactor => "form factor",
            Self::Height => "height",
            Self::Ecc => "check bits",
            Self::PackageRanks => "package ranks",
            Self::RankNumber => "rank number",
            Self::Stack => "stack",
            Self::Width => "device width",
            Self::DieDensity => "die density",
            Self::Grade => "rated rate",
            Self::Voltages => "voltages",
            Self::Maker => "maker",
            Self::PartNumber => "part number",
            Self::Serial => "serial number",
        })
    }
}

impl SeenModule {
    /// The text of a fact, where it is known.
    #[must_use]
    pub fn text(&self, fact: ModuleFact) -> Option<String> {
        fn of<T: fmt::Display>(value: Option<&T>) -> Option<String> {
            value.map(ToString::to_string)
        }
        match fact {
            ModuleFact::Device => self.device.map(|sort| format!("no plain memory ({sort:?})").to_lowercase()),
            ModuleFact::Generation => of(self.generation.as_ref()),
            ModuleFact::Kind => of(self.kind.as_ref()),
            ModuleFact::Capacity => of(self.capacity_mib.as_ref())
                .or_else(|| self.capacity_at_least_mib.map(|least| format!("at least {least} (size unknown)"))),
            ModuleFact::FormFactor => of(self.form_factor.as_ref()),
            ModuleFact::Height => of(self.height_um.as_ref()),
            ModuleFact::Ecc => of(self.ecc.as_ref()),
            ModuleFact::PackageRanks => of(self.package_ranks.as_ref()),
            ModuleFact::RankNumber => of(self.rank_number.as_ref()),
            ModuleFact::Stack => of(self.stack.as_ref()),
            ModuleFact::Width => of(self.width.as_ref()),
            ModuleFact::DieDensity => of(self.die_density_mbit.as_ref()),
            ModuleFact::Grade => of(self.grade_mts.as_ref()),
            ModuleFact::Voltages => of(self.voltages_mv.as_ref()),
            ModuleFact::Maker => of(self.maker.as_ref()).or_else(|| of(self.maker_id.as_ref())),
            ModuleFact::PartNumber => of(self.part_number.as_ref()),
            ModuleFact::Serial => of(self.serial.as_ref()),
        }
    }
}

/// What is known, in a line.
impl fmt::Display for SeenModule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut first: Vec<String> = Vec::new();
        for fact in [ModuleFact::Device, ModuleFact::Capacity] {
            first.extend(self.text(fact));
        }
        first.extend(self.organization().map(|organization| organization.to_string()));
        for fact in [ModuleFact::Generation, ModuleFact::Kind] {
            first.extend(self.text(fact));
        }
        let mut parts = vec![if first.is_empty() { "a module".to_owned() } else { first.join(" ") }];
        let known = self.organization().is_some();
        let named = |fact: ModuleFact| self.text(fact).map(|text| (fact, text));
        for (fact, text) in ModuleFact::ALL.into_iter().filter_map(named) {
            parts.push(match fact {
                ModuleFact::Device | ModuleFact::Capacity | ModuleFact::Generation | ModuleFact::Kind => continue,
                ModuleFact::PackageRanks | ModuleFact::Stack | ModuleFact::Width if known => continue,
                ModuleFact::PackageRanks => format!("package ranks {text}"),
                ModuleFact::RankNumber => format!("rank number {text}"),
                ModuleFact::DieDensity => format!("{text} dies"),
                ModuleFact::Grade => format!("rated {text}"),
                ModuleFact::Height => format!("{text} high"),
                ModuleFact::Maker => format!("made by {text}"),
                ModuleFact::PartNumber => format!("part {text}"),
                ModuleFact::Serial => format!("serial {text}"),
                ModuleFact::FormFactor
                | ModuleFact::Ecc
                | ModuleFact::Stack
                | ModuleFact::Width
                | ModuleFact::Voltages => text,
            });
        }
        f.write_str(&parts.join(", "))?;
        if self.inferred.is_empty() {
            return Ok(());
        }
        let inferred: Vec<String> = self.inferred.iter().map(ToString::to_string).collect();
        write!(f, " (inferred: {})", inferred.join(", "))
    }
}
