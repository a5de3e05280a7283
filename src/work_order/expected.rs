use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::figure::Figures;
use crate::machine::Machine;
use crate::module::{Generation, ModuleKind};
use crate::platform::SlotId;
use crate::population::{Fitted, Layout, Medium, Occupant, PlaceState, Population, PopulationError};
use crate::stated::Schema;
use crate::unit::{Capacity, DataRate, Name};

/// What a sound machine reports of a population, and which sources can show it.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, Population, RuleBook, reference};
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// use slotwright::population::{Medium, PlaceState};
///
/// let module = "32GB 2Rx4 PC4-2666V-RB2-12".parse::<Label>()?.to_module();
/// let expected = planner.expected_report(&Population::new().with("A1".parse()?, module))?;
/// let slot = expected.slot("A1").unwrap();
/// assert_eq!(slot.state.value, PlaceState::InUse);
/// // rated for more than it runs at; only the machine can tell the second
/// let (rated, running) = (slot.rated_mts.as_ref().unwrap(), slot.running_mts.as_ref().unwrap());
/// assert_eq!((rated.value.name_mts(), running.value.name_mts()), (2666, 2400));
/// assert!(rated.shown_by.contains(&Medium::Spd) && !running.shown_by.contains(&Medium::Spd));
/// assert_eq!(expected.slot("A2").unwrap().state.value, PlaceState::Absent);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ExpectedReport {
    /// The version of the document's form.
    pub schema: Schema,
    /// The platform's name.
    pub platform: Name,
    /// The redundancy mode.
    pub mode: Shown<Name>,
    /// The sockets.
    pub processors: Vec<ExpectedProcessor>,
    /// The slots of the processors that are there, and any other that holds something, in the platform's order.
    pub slots: Vec<ExpectedSlot>,
    /// What the firmware counts: what is usable in the mode, exactly.
    pub firmware_total_mib: Shown<Capacity>,
    /// What an operating system counts at most; it keeps a little of it for itself.
    pub system_total_at_most_mib: Shown<Capacity>,
}

/// A value, and which sources can show it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Shown<T> {
    /// The value.
    pub value: T,
    /// The sorts of source that can show it.
    pub shown_by: BTreeSet<Medium>,
}

/// A socket.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ExpectedProcessor {
    /// The socket's label.
    pub socket: Name,
    /// Whether a processor is there.
    pub is_present: Shown<bool>,
}

/// A slot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ExpectedSlot {
    /// The slot's label.
    pub slot: Name,
    /// What is reported of it. Nobody can tell how a faulty module, another device or a module in a slot that is not live is reported.
    pub state: Shown<PlaceState>,
    /// The generation.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub generation: Option<Shown<Generation>>,
    /// What the module holds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size_mib: Option<Shown<Capacity>>,
    /// How it buffers its signals.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kind: Option<Shown<ModuleKind>>,
    /// Its package ranks. A machine's report gives a number of ranks of which it is not known what it counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub package_ranks: Option<Shown<u8>>,
    /// The rate for which it is rated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rated_mts: Option<Shown<DataRate>>,
    /// The rate at which it runs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub running_mts: Option<Shown<DataRate>>,
    /// Its part number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub part_number: Option<Shown<Name>>,
    /// Its serial number, where just this one is meant.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial: Option<Shown<Name>>,
}

/// What only the machine itself can show: where a module sits, whether it works and how fast it runs, and what it all comes to.
const BY_MACHINE: [Medium; 1] = [Medium::Machine];
/// What is written on a module or in it too.
const BY_MODULE: [Medium; 4] = [Medium::Spd, Medium::Label, Medium::Machine, Medium::Rows];
/// What a machine's report counts in a way that is not known.
const NOT_BY_MACHINE: [Medium; 3] = [Medium::Spd, Medium::Label, Medium::Rows];

impl<T> Shown<T> {
    fn by(value: T, media: impl IntoIterator<Item = Medium>) -> Self {
        Self { value, shown_by: media.into_iter().collect() }
    }
}

impl ExpectedReport {
    /// What is expected of a slot; `None` where it is not there, or its processor is not.
    #[must_use]
    pub fn slot(&self, label: &str) -> Option<&ExpectedSlot> {
        self.slots.iter().find(|slot| slot.slot == *label)
    }

    pub(crate) fn of(machine: &Machine, population: &Population, figures: &Figures) -> Self {
        let platform = machine.platform();
        let is_there = |&slot: &SlotId| {
            let own = platform.slot(slot);
            machine.processor(own.socket).is_some() || population.get(own.label().as_str()).is_some()
        };
        let processor = |socket| ExpectedProcessor {
            socket: platform.socket(socket).label.clone(),
            is_present: Shown::by(machine.processor(socket).is_some(), BY_MACHINE),
        };
        let usable = figures.usable.total_mib;
        Self {
            schema: Schema,
            platform: platform.name().clone(),
            mode: Shown::by(machine.mode_name().clone(), BY_MACHINE),
            processors: platform.socket_ids().map(processor).collect(),
            slots: platform
                .slot_ids()
                .filter(is_there)
                .map(|slot| ExpectedSlot::of(machine, population, figures, slot))
                .collect(),
            firmware_total_mib: Shown::by(usable, BY_MACHINE),
            system_total_at_most_mib: Shown::by(usable, BY_MACHINE),
        }
    }
}

impl ExpectedSlot {
    fn of(machine: &Machine, population: &Population, figures: &Figures, id: SlotId) -> Self {
        let slot = machine.platform().slot(id);
        let empty = |state| Self {
            slot: slot.label().clone(),
            state: Shown::by(state, BY_MACHINE),
            generation: None,
            size_mib: None,
            kind: None,
            package_ranks: None,
            rated_mts: None,
            running_mts: None,
            part_number: None,
            serial: None,
        };
        let fitted = match population.get(slot.label().as_str()) {
            None | Some(Occupant::Blank) => return empty(PlaceState::Absent),
            Some(Occupant::OtherDevice(_)) => return empty(PlaceState::Unknown),
            Some(Occupant::Module(fitted)) => fitted,
        };
        let Fitted { module, individual, fault } = fitted;
        let works = machine.is_live(id) && fault.is_none();
        let socket = &machine.platform().socket(slot.socket).label;
        let mut domains = figures.running_rate.domains.iter();
        let running = domains.find(|domain| domain.sockets.contains(socket)).and_then(|domain| domain.rate_mts);
        Self {
            generation: Some(Shown::by(module.generation(), BY_MODULE)),
            size_mib: Some(Shown::by(module.capacity(), BY_MODULE)),
            kind: Some(Shown::by(module.kind(), BY_MODULE)),
            package_ranks: module.package_ranks().map(|ranks| Shown::by(ranks, NOT_BY_MACHINE)),
            rated_mts: module.grade().map(|grade| Shown::by(grade, BY_MODULE)),
            running_mts: running.filter(|_| works).map(|rate| Shown::by(rate, BY_MACHINE)),
            part_number: module.part_number().map(|part| Shown::by(part.clone(), BY_MODULE)),
            serial: individual.as_ref().map(|one| Shown::by(one.id.clone(), BY_MODULE)),
            ..empty(if works { PlaceState::InUse } else { PlaceState::Unknown })
        }
    }
}

impl Planner<'_> {
    /// What a sound machine reports of a population: slot by slot, its total by mode, its processors.
    ///
    /// # Errors
    /// All slot labels of the population that the machine's board does not have.
    pub fn expected_report(&self, population: &Population) -> Result<ExpectedReport, PopulationError> {
        let figures = Figures::of(&Layout::new(self.machine(), population)?);
        Ok(ExpectedReport::of(self.machine(), population, &figures))
    }
}
