use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::assess::Planner;
use crate::fill::Arrangement;
use crate::fill::job::Job;
use crate::module::MemoryModule;
use crate::platform::SlotId;
use crate::population::{Content, Layout, Population, PopulationError};
use crate::stated::{FieldPath, Located, Schema};
use crate::unit::{Name, Names};

/// Equal modules and how many there are.
pub type Pieces = (MemoryModule, usize);

/// What to arrange, and around what.
///
/// ```
/// use slotwright::fill::ArrangeRequest;
/// use slotwright::module::Label;
/// use slotwright::population::Population;
///
/// let module = "16GB 2Rx4 PC4-2133P-RA0-10".parse::<Label>()?.to_module();
/// let fitted = Population::new().with("A1".parse()?, module.clone());
/// // add these four, touch nothing
/// let request = ArrangeRequest::new().piece(module, 4).around(fitted);
/// # let _ = request;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
#[non_exhaustive]
pub struct ArrangeRequest {
    /// The version of the document's form.
    pub schema: Schema,
    /// The modules, and how many of each.
    pub pieces: Vec<Pieces>,
    /// What is there and stays where it is.
    pub around: Population,
    /// Slots that stay empty.
    pub keep_empty: BTreeSet<Name>,
    /// How many nodes the search may visit.
    pub nodes: u64,
}

/// Why a request to arrange, or to even out, makes no sense on a machine.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum ArrangeError {
    /// The population, or the one to arrange around, names slots that the machine lacks.
    #[error(transparent)]
    Population(#[from] PopulationError),
    /// A slot to keep empty that the machine lacks.
    #[error("the board has no slot {slot} to keep empty; its slots are {allowed}")]
    UnknownSlot {
        /// The label given.
        slot: Name,
        /// The labels that exist.
        allowed: Names,
    },
    /// A slot to keep empty that a module or another device stays in.
    #[error("slot {slot} is to be kept empty, but a module or another device stays there")]
    Occupied {
        /// The slot.
        slot: Name,
    },
}

impl Located for ArrangeError {
    fn place(&self) -> FieldPath {
        match self {
            // of more problems than one, the list that they are in
            Self::Population(error) => match error.problems.as_slice() {
                [one] => one.place(),
                _ => FieldPath::of("slots"),
            },
            Self::UnknownSlot { slot, .. } | Self::Occupied { slot } => FieldPath::of("keep_empty").named(slot),
        }
    }
}

/// The slots that are to be kept empty where this is fitted.
pub(crate) fn kept_empty<'n>(
    around: &Layout<'_>,
    slots: impl IntoIterator<Item = &'n Name>,
) -> Result<Vec<SlotId>, ArrangeError> {
    let platform = around.machine().platform();
    let kept = slots.into_iter().map(|slot| match platform.slot_named(slot.as_str()) {
        None => Err(ArrangeError::UnknownSlot { slot: slot.clone(), allowed: platform.slot_labels() }),
        Some(id) => match around.get(id) {
            Content::Module(_) | Content::Other(_) => Err(ArrangeError::Occupied { slot: slot.clone() }),
            // what is faulty goes
            Content::Faulty(..) | Content::Blank | Content::Empty => Ok(id),
        },
    });
    kept.collect()
}

impl Default for ArrangeRequest {
    fn default() -> Self {
        Self {
            schema: Schema,
            pieces: Vec::new(),
            around: Population::new(),
            keep_empty: BTreeSet::new(),
            nodes: Self::NODES,
        }
    }
}

impl ArrangeRequest {
    /// How many nodes a search may visit unless the request says otherwise.
    pub const NODES: u64 = 1_000_000;

    /// Nothing to arrange yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    setters! {
        each pieces(pieces: Pieces);
        value around(around: Population);
        each keep_empty(keep_empty: Name);
        value nodes(nodes: u64);
    }

    /// Adds so many modules of equal facts.
    #[must_use]
    pub fn piece(mut self, module: MemoryModule, count: usize) -> Self {
        self.pieces.push((module, count));
        self
    }
}

impl Planner<'_> {
    /// The best legal arrangement of modules in an empty machine. *All* of them are placed.
    ///
    /// Best in this order: fewer processors without memory; higher running rate; smaller largest difference of capacity
    /// between processors, relative to their live slots; higher bandwidth (spread, then swept); more free slots; fill order
    /// (slots by turn, occupied before empty, module of higher priority first). Parts that work alike are shared out so
    /// that few different ones sit in a channel, then in a processor. Where the platform has population rows for
    /// the number of modules, mode and number of processors, it chooses inside them. Warnings never decide.
    ///
    /// # Errors
    /// Never for plain pieces; see [`Planner::arrange_with`].
    pub fn arrange(&self, pieces: impl IntoIterator<Item = Pieces>) -> Result<Arrangement, ArrangeError> {
        self.arrange_with(&ArrangeRequest { pieces: pieces.into_iter().collect(), ..ArrangeRequest::default() })
    }

    /// The same, without asking which rules stand in the way where nothing is legal.
    pub(crate) fn arrange_unexplained(
        &self,
        pieces: impl IntoIterator<Item = Pieces>,
    ) -> Result<Arrangement, ArrangeError> {
        let request = ArrangeRequest { pieces: pieces.into_iter().collect(), ..ArrangeRequest::default() };
        let job = Job::new(self, &request)?.unexplained();
        Ok(job.answer(self, &mut self.budget(request.nodes)).unwrap_or_else(|reason| job.stopped(self, reason)))
    }

    /// The best legal arrangement around what stays where it is.
    ///
    /// # Errors
    /// When the population to arrange around, or a slot to keep empty, is not of this machine's board, or a
    /// slot to keep empty is occupied.
    pub fn arrange_with(&self, request: &ArrangeRequest) -> Result<Arrangement, ArrangeError> {
        let job = Job::new(self, request)?;
        let mut budget = self.budget(request.nodes);
        Ok(job.answer(self, &mut budget).unwrap_or_else(|reason| job.stopped(self, reason)))
    }
}
