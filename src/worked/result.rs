use core::fmt;

use crate::fill::ArrangeError;
use crate::machine::MachineError;
use crate::search::StopReason;
use crate::unit::{Name, Names};
use crate::worked::Difference;

/// What came of one worked row.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct WorkedResult {
    /// The row's name.
    pub row: Name,
    /// What came of it.
    pub outcome: WorkedOutcome,
}

/// Whether a description does what a worked row says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WorkedOutcome {
    /// It does, in everything that the row states.
    Holds,
    /// It does not.
    Differs {
        /// In what; never empty.
        differences: Vec<Difference>,
    },
    /// That could not be found out.
    NotJudged(NotJudged),
}

/// Why a worked row could not be judged.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum NotJudged {
    /// The row's processors, options and mode make no machine.
    Machine(MachineError),
    /// Its modules make no request.
    Request(ArrangeError),
    /// No standard rule has the code that should refuse its modules.
    UnknownRule {
        /// The code that the row states.
        stated: Name,
        /// The codes that there are.
        allowed: Names,
    },
    /// The search for an arrangement ended before it was through.
    Stopped(StopReason),
}

impl WorkedResult {
    /// Whether the description does what the row says.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.outcome == WorkedOutcome::Holds
    }
}

/// "8 registered: holds"; "8 registered: the row says 2400 MT/s, the description gives 2133 MT/s".
impl fmt::Display for WorkedResult {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.row, self.outcome)
    }
}

impl fmt::Display for WorkedOutcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Holds => f.write_str("holds"),
            Self::Differs { differences } => differences.iter().enumerate().try_for_each(|(index, difference)| {
                let between = if index == 0 { "" } else { "; " };
                write!(f, "{between}{difference}")
            }),
            Self::NotJudged(why) => write!(f, "cannot be judged: {why}"),
        }
    }
}

impl fmt::Display for NotJudged {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Machine(error) => error.fmt(f),
            Self::Request(error) => error.fmt(f),
            Self::UnknownRule { stated, allowed } => write!(f, "no rule has the code {stated}; allowed are {allowed}"),
            Self::Stopped(reason) => write!(f, "the search for an arrangement {reason}"),
        }
    }
}
