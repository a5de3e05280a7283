use serde::Serialize;
use thiserror::Error;

use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::{SlotId, SocketId};
use crate::population::{ChannelLoad, Fault, Fitted, ModuleSite, Occupant, OtherDevice, Population, SocketLoad};
use crate::stated::{FieldPath, Located};
use crate::unit::{Name, Names};

/// What sits in a slot of a [`Layout`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Content<'a> {
    /// Nothing.
    Empty,
    /// A module.
    Module(&'a MemoryModule),
    /// A module that has failed or is suspect: it is there, and counts for nothing.
    Faulty(&'a MemoryModule, Fault),
    /// Another device.
    Other(&'a OtherDevice),
    /// A blank.
    Blank,
}

impl<'a> Content<'a> {
    /// The module, where it is one that counts.
    #[must_use]
    pub const fn module(self) -> Option<&'a MemoryModule> {
        match self {
            Self::Module(module) => Some(module),
            Self::Empty | Self::Faulty(..) | Self::Other(_) | Self::Blank => None,
        }
    }
}

/// A population laid on a machine: contents by slot.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// use slotwright::{Layout, Population};
///
/// let population = Population::new().with("A1".parse()?, module);
/// let layout = Layout::new(&machine, &population)?;
/// assert_eq!(layout.channels().filter(|channel| !channel.is_empty()).count(), 1);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Layout<'a> {
    machine: &'a Machine,
    contents: Vec<Content<'a>>,
}

/// Why a population cannot be laid on a machine: every problem found.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error("population on {platform}: {}", problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
#[non_exhaustive]
pub struct PopulationError {
    /// The platform's name.
    pub platform: Name,
    /// What is wrong; never empty.
    pub problems: Vec<PopulationProblem>,
}

/// One problem of a population.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum PopulationProblem {
    /// A slot that the platform does not have.
    #[error("the board has no slot {slot}; its slots are {allowed}")]
    UnknownSlot {
        /// The label given.
        slot: Name,
        /// The labels that exist.
        allowed: Names,
    },
}

impl Located for PopulationProblem {
    fn place(&self) -> FieldPath {
        match self {
            Self::UnknownSlot { slot, .. } => FieldPath::of("slots").named(slot),
        }
    }
}

impl<'a> Layout<'a> {
    /// An empty machine.
    #[must_use]
    pub fn empty(machine: &'a Machine) -> Self {
        Self { machine, contents: vec![Content::Empty; machine.platform().slots().len()] }
    }

    /// Lays a population on a machine.
    ///
    /// # Errors
    /// All slot labels of the population that the machine's board does not have.
    pub fn new(machine: &'a Machine, population: &'a Population) -> Result<Self, PopulationError> {
        let mut layout = Self::empty(machine);
        let mut problems = Vec::new();
        let platform = machine.platform();
        for (label, occupant) in population.iter() {
            let content = match occupant {
                Occupant::Module(Fitted { module, fault: None, .. }) => Content::Module(module),
                Occupant::Module(Fitted { module, fault: Some(fault), .. }) => Content::Faulty(module, *fault),
                Occupant::OtherDevice(device) => Content::Other(device),
                Occupant::Blank => Content::Blank,
            };
            match platform.slot_named(label.as_str()) {
                Some(slot) => layout.set(slot, content),
                None => problems
                    .push(PopulationProblem::UnknownSlot { slot: label.clone(), allowed: platform.slot_labels() }),
            }
        }
        if problems.is_empty() {
            Ok(layout)
        } else {
            Err(PopulationError { platform: platform.name().clone(), problems })
        }
    }

    /// The machine.
    #[must_use]
    pub fn machine(&self) -> &'a Machine {
        self.machine
    }

    /// What sits in a slot.
    #[must_use]
    pub fn get(&self, slot: SlotId) -> Content<'a> {
        self.contents.get(slot.index()).copied().unwrap_or(Content::Empty)
    }

    /// Puts something in a slot. A slot of another platform is passed over.
    pub fn set(&mut self, slot: SlotId, content: Content<'a>) {
        if let Some(place) = self.contents.get_mut(slot.index()) {
            *place = content;
        }
    }

    /// The modules with their slots, in the platform's slot order.
    pub fn modules(&self) -> impl Iterator<Item = ModuleSite<'_>> + Clone {
        self.machine
            .platform()
            .slot_ids()
            .zip(&self.contents)
            .filter_map(|(slot, content)| Some(ModuleSite { machine: self.machine, slot, module: content.module()? }))
    }

    /// The same without its modules: other devices and blanks.
    pub(crate) fn without_modules(&self) -> Self {
        let mut rest = self.clone();
        for content in &mut rest.contents {
            if matches!(content, Content::Module(_) | Content::Faulty(..)) {
                *content = Content::Empty;
            }
        }
        rest
    }

    /// Whether a slot holds a module that is faulty.
    pub(crate) fn has_faulty(&self) -> bool {
        self.contents.iter().any(|content| matches!(content, Content::Faulty(..)))
    }

    /// The other devices with their slots.
    pub fn other_devices(&self) -> impl Iterator<Item = (SlotId, &'a OtherDevice)> + '_ {
        self.machine.platform().slot_ids().zip(&self.contents).filter_map(|(slot, content)| match content {
            Content::Other(device) => Some((slot, *device)),
            Content::Empty | Content::Module(_) | Content::Faulty(..) | Content::Blank => None,
        })
    }

    /// What sits on each processor that is present.
    pub fn sockets(&self) -> impl Iterator<Item = SocketLoad<'_>> + Clone {
        self.machine.processors().map(|(socket, _)| self.socket(socket))
    }

    /// What sits on one processor.
    #[must_use]
    pub fn socket(&self, socket: SocketId) -> SocketLoad<'_> {
        SocketLoad::new(self, socket)
    }

    /// What sits in each channel of the processors that are present.
    pub fn channels(&self) -> impl Iterator<Item = ChannelLoad<'_>> + Clone {
        self.sockets().flat_map(|socket| socket.channels())
    }
}
