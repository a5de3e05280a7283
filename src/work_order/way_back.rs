use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::population::Population;
use crate::stated::Schema;
use crate::unit::{Name, Names};
use crate::work_order::{HaltAt, OrderError, OrderLine, SimulationError, Step, Without, WithoutError, WorkState};

/// The way back from a halt: to what was there before, less modules that were found bad since or had failed before.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct WayBack {
    /// The version of the document's form.
    pub schema: Schema,
    /// From which halt.
    pub from: HaltAt,
    /// How many steps of the order were done, where work stopped between two halts; `from` is then the halt reached last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub steps_done: Option<usize>,
    /// What was found bad.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub bad: Vec<FoundBad>,
    /// What is done.
    pub lines: Vec<OrderLine>,
    /// Modules taken out or put in.
    pub handlings: usize,
    /// How many blanks must be brought, beside those at hand.
    pub blanks_to_bring: usize,
    /// What is in each slot then.
    pub population: Population,
    /// Where modules of before do not go back: how the machine goes on without them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub without: Option<Without>,
}

/// Where a module was found bad.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum FoundBad {
    /// It is in a slot.
    InSlot {
        /// The slot's label.
        slot: Name,
    },
    /// It is in the bag of a slot.
    InBag {
        /// The slot's label.
        slot: Name,
    },
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

/// Why there is no way back.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum WayBackError {
    /// The order has no such halt.
    #[error("the order has no such halt ({at})")]
    NoSuchHalt {
        /// The halt given.
        at: HaltAt,
    },
    /// The order has fewer steps.
    #[error("the order has {count} steps, and {steps} were said to be done")]
    NoSuchStep {
        /// The number given.
        steps: usize,
        /// How many there are.
        count: usize,
    },
    /// A slot that the board does not have: the order is of another machine.
    #[error("the order names a slot {slot}, which the board does not have; its slots are {allowed}")]
    UnknownSlot {
        /// The label.
        slot: Name,
        /// The labels that exist.
        allowed: Names,
    },
    /// Where a module was found bad there is none at that halt.
    #[error("there is no module {} at that point", describe(found))]
    NothingThere {
        /// Where it was said to be.
        found: FoundBad,
    },
    /// The order, or the way back, cannot be carried out: never in an order that a planner made.
    #[error("it cannot be carried out: {0}")]
    Simulation(#[from] SimulationError),
    /// What is left without the bad modules cannot be said: never seen.
    #[error(transparent)]
    Without(#[from] WithoutError),
    /// The way back that was made ends elsewhere: never seen.
    #[error("the way back leaves another content of slot {slot} than was there before")]
    EndsElsewhere {
        /// The first slot.
        slot: Name,
    },
}

fn describe(found: &FoundBad) -> String {
    match found {
        FoundBad::InSlot { slot } => format!("in slot {slot}"),
        FoundBad::InBag { slot } => format!("in the bag of {slot}"),
        FoundBad::Other(name) => name.to_string(),
    }
}

impl From<WayBackError> for OrderError {
    fn from(error: WayBackError) -> Self {
        Self::WayBack(Box::new(error))
    }
}

impl WayBack {
    /// The steps, in order.
    pub fn steps(&self) -> impl Iterator<Item = &Step> {
        self.lines.iter().filter_map(OrderLine::step)
    }

    /// Carries the way back out from where everything is at its halt ([`WorkOrder::state_at`](crate::work_order::WorkOrder::state_at)).
    ///
    /// # Errors
    /// The first step that cannot be done.
    pub fn simulate(&self, at_halt: &WorkState) -> Result<Population, SimulationError> {
        let mut state = at_halt.clone();
        state.blanks += self.blanks_to_bring;
        state.carry_out(&self.lines)?;
        Ok(state.slots)
    }
}
