use core::fmt;
use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::module::MemoryModule;
use crate::population::{Medium, ModuleFact, PlaceState, Placement, SeenModule, SeenTotal};
use crate::stated::Schema;
use crate::unit::{DataRate, Name, Voltage};

/// Reports laid on a board: what is in each slot, with all that is open or disputed.
///
/// ```
/// use slotwright::population::{Medium, Observed, PlaceState, Report, SeenModule, SeenPlace};
/// use slotwright::{Label, Name, reference};
///
/// let label: Label = "16GB 2Rx4 PC4-2400T-RA1-11".parse()?;
/// let place = SeenPlace::new(Name::new("0x0040")?, PlaceState::InUse)
///     .locator(Name::new("dimm a01")?)
///     .module(SeenModule::of(label.module()));
/// let report = Report::new(Name::new("dump")?, Medium::Machine).place(place);
///
/// let sited = Observed::from(report).on(&reference::ddr4_2s_4ch_3spc())?;
/// assert_eq!(sited.slot("A1").unwrap().state, PlaceState::InUse);
/// assert_eq!(sited.population()?.modules().next().unwrap().1.module, label.to_module());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Sited {
    /// The version of the document's form.
    pub schema: Schema,
    /// The board's name.
    pub platform: Name,
    /// The slots of which something is said, as the board's description has them.
    pub slots: Vec<SitedSlot>,
    /// The modules of which it is to be found out what they are: modules of one part are one. By their first slots.
    pub modules: Vec<SitedModule>,
    /// The sockets of which something is said.
    pub processors: Vec<SitedProcessor>,
    /// Amounts of memory that machine reports state.
    pub totals: Vec<SeenTotal>,
    /// The redundancy mode that a machine report says is on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mode: Option<Name>,
    /// How the places of each report were laid on slots.
    pub placements: Vec<Placement>,
    /// Slots of which nothing is known: no complete report of the machine names its places. They may be filled.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub untold: Vec<Name>,
    /// Places that are not laid on any slot. They are shown and never counted.
    pub unplaced: Vec<UnplacedPlace>,
    /// Where reports contradict each other.
    pub disagreements: Vec<Disagreement>,
    /// What was taken for granted on the way.
    pub assumed: Vec<Assumed>,
}

/// What is said of one slot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SitedSlot {
    /// Its label.
    pub slot: Name,
    /// What is there and whether it works.
    pub state: PlaceState,
    /// Whose module it is of [`Sited::modules`]; nothing where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub module: Option<usize>,
    /// The serial number of the module.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial: Option<Name>,
    /// The rate at which it runs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub running_rate_mts: Option<DataRate>,
    /// The voltage at which it runs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub running_voltage_mv: Option<Voltage>,
    /// Whether SPD, label and the caller contradict each other so much that the module is held back: it stays where it is, and
    /// is not moved, pulled or credited.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub is_held_back: bool,
}

/// One unknown: what is said of modules that are taken to be alike, and what they can be.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SitedModule {
    /// Where they are.
    pub slots: Vec<Name>,
    /// What is said of them.
    pub seen: SeenModule,
    /// Which report each fact is from.
    pub said_by: BTreeMap<ModuleFact, Name>,
    /// Everything that they can be. None where the size is not known, or they are no plain memory.
    pub readings: Vec<MemoryModule>,
    /// What narrowed the readings beside the capacity formula.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub leans_on: BTreeSet<LeansOn>,
}

/// What narrows the readings of a module, beside what is said of it and the capacity formula.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum LeansOn {
    /// A number of ranks of which it is not known what it counts.
    RankNumber,
    /// What the board and its processors take: the module is in use there.
    InUse,
    /// What the caller knows of its part number.
    PartNumber,
    /// Something that only a newer version knows; never written by this one.
    Other,
}

impl fmt::Display for LeansOn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::RankNumber => "the reported number of ranks",
            Self::InUse => "the machine using it",
            Self::PartNumber => "what is known of its part number",
            Self::Other => "something that a newer version knows",
        })
    }
}

/// What is said of one socket.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SitedProcessor {
    /// The socket's label.
    pub socket: Name,
    /// Whether a processor is there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub is_present: Option<bool>,
    /// What it is called.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<Name>,
}

/// A place that is on no slot.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct UnplacedPlace {
    /// The report.
    pub report: Name,
    /// The place's id in it.
    pub id: Name,
    /// The texts of the place.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub texts: Vec<Name>,
    /// What is there.
    pub state: PlaceState,
    /// The module.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub module: Option<SeenModule>,
}

/// Reports that contradict each other.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Disagreement {
    /// The slot.
    pub slot: Name,
    /// About what.
    pub about: About,
    /// Who says what, the most trusted first.
    pub said: Vec<Said>,
    /// What is taken; nothing where the matter stays open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken: Option<Name>,
    /// Whether it is no more than a note: a machine report against better sources, another part number under one serial number.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub is_note: bool,
}

/// What reports contradict each other about.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum About {
    /// A fact of the module.
    Fact(ModuleFact),
    /// What is in the slot and whether it works.
    State,
    /// At which rate it runs.
    RunningRate,
    /// Facts that no module has together, by the capacity formula; the least trusted is dropped.
    CapacityFormula(ModuleFact),
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

impl fmt::Display for About {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Fact(fact) => fact.fmt(f),
            Self::Other(name) => name.fmt(f),
            Self::State => f.write_str("what is there"),
            Self::RunningRate => f.write_str("running rate"),
            Self::CapacityFormula(fact) => write!(f, "{fact}, against the capacity formula"),
        }
    }
}

/// What one report says.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Said {
    /// The report.
    pub report: Name,
    /// What sort of source it is.
    pub medium: Medium,
    /// What it says.
    pub value: Name,
}

/// Something that was taken for granted.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum Assumed {
    /// The modules in these slots are alike: the caller says so.
    Alike {
        /// Their labels.
        slots: Vec<Name>,
    },
    /// An answer of the caller.
    Answered {
        /// The slots of the modules meant.
        slots: Vec<Name>,
        /// What was answered.
        answer: Name,
    },
    /// Machine reports are not known to be of one start: only serial numbers join what they say.
    UnlikeStarts {
        /// The report that was taken for where modules sit.
        taken: Name,
        /// The others.
        others: Vec<Name>,
    },
    /// Slots that a complete report does not name, or names as empty without telling them apart, are empty.
    Empty {
        /// The report.
        report: Name,
        /// How many slots.
        slots: usize,
    },
    /// The rank number of modules is left out: nothing of their size has so many.
    RankNumberDropped {
        /// Their slots.
        slots: Vec<Name>,
        /// The number.
        number: u8,
    },
    /// A report has left out places: what it does not name may be filled.
    Incomplete {
        /// The report.
        report: Name,
    },
    /// The machine uses modules that its description refuses, whatever they are: the description or the report is wrong.
    RefusedInUse {
        /// Their slots.
        slots: Vec<Name>,
        /// What refuses them.
        why: String,
    },
    /// No report tells whether a socket holds a processor, and no module is at it: it is taken to be empty.
    NoProcessor {
        /// The socket.
        socket: Name,
    },
    /// Options and settings are those of the board's description: no report tells them.
    Settings,
    /// A processor is taken to be of a sort, from the text by which the report names it.
    Processor {
        /// The socket.
        socket: Name,
        /// The processor taken.
        processor: Name,
        /// What the report says; nothing where absent.
        text: Option<Name>,
    },
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

/// "slot A1", or "slots A1 to C2" by their list.
fn slots_text(slots: &[Name]) -> String {
    let list = slots.iter().map(Name::as_str).collect::<Vec<_>>().join(", ");
    if slots.len() == 1 { format!("slot {list}") } else { format!("slots {list}") }
}

impl fmt::Display for Assumed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Other(name) => name.fmt(f),
            Self::Alike { slots } => write!(f, "the modules in {} are taken to be alike: so said", slots_text(slots)),
            Self::Answered { slots, answer } => write!(f, "{}: {answer}, as answered", slots_text(slots)),
            Self::UnlikeStarts { taken, others } => write!(
                f,
                "{} may be of another start of the machine than {taken}: only serial numbers join what they say",
                others.iter().map(Name::as_str).collect::<Vec<_>>().join(", ")
            ),
            Self::Empty { report, slots } => {
                write!(f, "{slots} slots are taken to be empty: {report} is complete and names no module there")
            }
            Self::RankNumberDropped { slots, number } => {
                write!(f, "{}: {number} ranks are left out, for nothing of this size has so many", slots_text(slots))
            }
            Self::Incomplete { report } => {
                write!(f, "{report} has left out places: what it does not name may be filled all the same")
            }
            Self::RefusedInUse { slots, why } => write!(
                f,
                "{}: the machine uses what its description refuses ({why}); the description or the report is wrong, and nothing is pulled for it",
                slots_text(slots)
            ),
            Self::NoProcessor { socket } => {
                write!(f, "socket {socket} is taken to hold no processor: none is reported, and no module is there")
            }
            Self::Settings => {
                f.write_str("options and settings are those of the board's description: no report tells them")
            }
            Self::Processor { socket, processor, text: Some(text) } => {
                write!(f, "the processor in socket {socket}, reported as {text}, is taken for {processor}")
            }
            Self::Processor { socket, processor, text: None } => {
                write!(f, "the processor in socket {socket} is taken for {processor}, for the board takes no other")
            }
        }
    }
}

impl Sited {
    /// What is said of a slot.
    #[must_use]
    pub fn slot(&self, label: &str) -> Option<&SitedSlot> {
        self.slots.iter().find(|slot| slot.slot == *label)
    }

    /// The module of a slot, with its like.
    #[must_use]
    pub fn module_in(&self, label: &str) -> Option<&SitedModule> {
        self.modules.get(self.slot(label)?.module?)
    }

    /// The slots whose modules are held back.
    pub fn held_back(&self) -> impl Iterator<Item = &Name> {
        self.slots.iter().filter(|slot| slot.is_held_back).map(|slot| &slot.slot)
    }
}

/// Calls a macro with every fact of a seen module that a [`MemoryModule`] has too.
macro_rules! for_each_fact {
    ($call:ident) => {
        $call! {
            FormFactor form_factor(form_factor);
            Height height_um(height);
            Ecc ecc(ecc);
            PackageRanks package_ranks(package_ranks);
            Stack stack(stack);
            Width width(width);
            DieDensity die_density_mbit(die_density);
            Grade grade_mts(grade);
        }
    };
}

impl SitedModule {
    /// Whether generation, kind and size are the same in all readings, and there is one.
    #[must_use]
    pub fn is_settled(&self) -> bool {
        self.open_facts()
            .iter()
            .all(|fact| !matches!(fact, ModuleFact::Generation | ModuleFact::Kind | ModuleFact::Capacity))
    }

    /// The facts that are not the same in all readings; generation, kind and size first.
    #[must_use]
    pub fn open_facts(&self) -> Vec<ModuleFact> {
        if self.seen.device.is_some() { Vec::new() } else { open_facts_of(&self.readings) }
    }

    /// The facts that all readings have in common, as a module; `None` where generation, kind or size are open.
    #[must_use]
    pub fn common(&self) -> Option<MemoryModule> {
        if self.is_settled() { alike(&self.readings) } else { None }
    }
}

/// The facts that are not the same in all of some modules; generation, kind and size first. Size alone where there is none.
pub(crate) fn open_facts_of(modules: &[MemoryModule]) -> Vec<ModuleFact> {
    let mut open = Vec::new();
    let Some(first) = modules.first() else { return vec![ModuleFact::Capacity] };
    if modules.iter().any(|module| module.generation() != first.generation()) {
        open.push(ModuleFact::Generation);
    }
    if modules.iter().any(|module| module.kind() != first.kind()) {
        open.push(ModuleFact::Kind);
    }
    if modules.iter().any(|module| module.capacity() != first.capacity()) {
        open.push(ModuleFact::Capacity);
    }
    macro_rules! compare {
        ($($fact:ident $field:ident($get:ident);)*) => {
            $(if modules.iter().any(|module| module.$get() != first.$get()) {
                open.push(ModuleFact::$fact);
            })*
        };
    }
    for_each_fact!(compare);
    if modules.iter().any(|module| module.voltages() != first.voltages()) {
        open.push(ModuleFact::Voltages);
    }
    open
}

/// The facts that all of some modules have in common; `None` where generation, kind or size are open.
pub(crate) fn common_of(modules: &[MemoryModule]) -> Option<MemoryModule> {
    let firm = [ModuleFact::Generation, ModuleFact::Kind, ModuleFact::Capacity];
    let is_firm = !open_facts_of(modules).iter().any(|fact| firm.contains(fact));
    if is_firm { alike(modules) } else { None }
}

/// The first of some modules with the facts that all have alike.
fn alike(modules: &[MemoryModule]) -> Option<MemoryModule> {
    let first = modules.first()?;
    let mut common = first.to_builder();
    macro_rules! clear {
        ($($fact:ident $field:ident($get:ident);)*) => {
            $(if modules.iter().any(|module| module.$get() != first.$get()) {
                common = common.$get(None);
            })*
        };
    }
    for_each_fact!(clear);
    if modules.iter().any(|module| module.voltages() != first.voltages()) {
        common = common.voltages(None);
    }
    common.build().ok()
}
