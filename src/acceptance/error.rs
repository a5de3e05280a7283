use serde::Serialize;
use thiserror::Error;

use crate::acceptance::WorkFault;
use crate::population::{PopulationError, PopulationProblem, SitingError};
use crate::unit::{Name, Names, listed};

/// Why it cannot be told whether work is to be accepted.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum AcceptanceError {
    /// What was planned names slots that the board does not have.
    #[error("what was planned: {}", lacking(.0))]
    Planned(PopulationError),
    /// What was there before names slots that the board does not have.
    #[error("what was there before: {}", lacking(.0))]
    Before(PopulationError),
    /// One individual in several slots of one population.
    #[error("{population} has the module {id} in the slots {slots}; one module sits in one slot")]
    IndividualTwice {
        /// "before" or "planned".
        population: &'static str,
        /// Its id.
        id: Name,
        /// The slots.
        slots: Names,
    },
    /// An individual that is of one sort before the work and of another after it: the two are not of one piece of work.
    #[error("the module {id} is {before} before and {planned} as planned; the two do not belong together")]
    UnlikeIndividual {
        /// Its id.
        id: Name,
        /// What it is before.
        before: String,
        /// What it is as planned.
        planned: String,
    },
    /// No report of the machine itself.
    #[error(
        "{found}; only a report of the machine itself accepts work, for SPD, labels and typed rows do not tell what runs"
    )]
    NoMachineReport {
        /// What there is.
        found: String,
    },
    /// A report that is not laid on the board.
    #[error("{0}")]
    Siting(Box<SitingError>),
    /// A slot that the board lacks, or that holds no module where one is needed.
    #[error("slot {slot}: {why}; {allowed} would do")]
    Slot {
        /// The label given.
        slot: Name,
        /// What is wrong.
        why: &'static str,
        /// Slots that would do.
        allowed: Names,
    },
    /// A fault that cannot be, given what was planned.
    #[error("{fault}: this cannot be here: {why}")]
    UnsuitedFault {
        /// The fault.
        fault: Box<WorkFault>,
        /// Why not.
        why: &'static str,
    },
}

/// All slots that a board lacks in one sentence, and once those that it has.
fn lacking(error: &PopulationError) -> String {
    let lacks = |problem: &PopulationProblem| match problem {
        PopulationProblem::UnknownSlot { slot, .. } => slot.clone(),
    };
    let slots: Vec<Name> = error.problems.iter().map(lacks).collect();
    let s = if slots.len() == 1 { "" } else { "s" };
    let allowed = error.problems.first().map(|PopulationProblem::UnknownSlot { allowed, .. }| allowed.to_string());
    let allowed = allowed.unwrap_or_default();
    format!("the board {} has no slot{s} {}; its slots are {allowed}", error.platform, listed(&slots))
}

impl From<SitingError> for AcceptanceError {
    fn from(error: SitingError) -> Self {
        Self::Siting(Box::new(error))
    }
}
