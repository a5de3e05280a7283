use core::fmt;

use serde::{Deserialize, Serialize};

/// Why a search ended before it was through. Three ends are told apart: its nodes are used up, the caller cancelled it, or
/// something is too large to be searched, whatever the nodes. That nothing meets a wish is never among them.
///
/// ```
/// use slotwright::StopReason;
///
/// let text = StopReason::NodesUsedUp { nodes: 5_000_000 }.to_string();
/// assert_eq!(text, "used up its 5000000 nodes; allow it more, or ask for less at once");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum StopReason {
    /// It has visited as many nodes as it may: those of the request, where it says so (`nodes` of a plan's request, five
    /// millions unless said, or of a request to arrange), else a number that the verb's documentation gives.
    NodesUsedUp {
        /// How many these are.
        nodes: u64,
    },
    /// It was told to stop.
    Cancelled,
    /// Something is larger than what is searched at all. More nodes do not help.
    TooLarge {
        /// What.
        what: SearchSize,
        /// How large it is: so much, or more.
        found: u64,
        /// How large it may be.
        limit: u64,
    },
    /// The library contradicts itself: a fault of its own, which is worth reporting.
    Internal {
        /// What went wrong.
        fault: InternalFault,
    },
    /// Something that only a newer version knows; never written by this one.
    Other,
}

/// What can be too large to be searched.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum SearchSize {
    /// How many sorts of module there are to be placed together.
    SortsOfModule,
    /// In how many ways so many modules of each sort can be split.
    SplitsOfModules,
    /// In how many ways the channels of a processor can be filled.
    WaysToFill,
    /// How many units of one sort of module are asked for.
    UnitsOfASort,
    /// Something that only a newer version knows; never written by this one.
    Other,
}

/// How the library can contradict itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum InternalFault {
    /// A plan that the search found was refused by the rules when it was checked again.
    RefusedOnRecheck,
    /// A plan that the search found names slots that the board lacks.
    NotOnTheBoard,
    /// The parts of a plan's cost do not sum to what the search reckoned.
    CostPartsDiffer,
    /// A number left the range in which it is kept.
    OutOfRange,
    /// Something that only a newer version knows; never written by this one.
    Other,
}

impl StopReason {
    pub(crate) const INTERNAL_RANGE: Self = Self::Internal { fault: InternalFault::OutOfRange };
}

impl fmt::Display for StopReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NodesUsedUp { nodes } => {
                let s = if *nodes == 1 { "" } else { "s" };
                write!(f, "used up its {nodes} node{s}; allow it more, or ask for less at once")
            }
            Self::Cancelled => f.write_str("was cancelled"),
            Self::Other => f.write_str("ended for a reason that a newer version knows"),
            Self::TooLarge { what, found, limit } => {
                let (size, help) = match what {
                    SearchSize::SortsOfModule => ("sorts of module together", "take fewer sorts"),
                    SearchSize::SplitsOfModules => {
                        ("ways to split the modules by sort", "take fewer sorts, or fewer modules of each")
                    }
                    SearchSize::WaysToFill => {
                        ("ways to fill the channels of a processor", "refuse warnings, or take fewer sizes of module")
                    }
                    SearchSize::Other => ("of something that a newer version counts", "ask for less at once"),
                    SearchSize::UnitsOfASort => {
                        ("units of one sort of module", "plan fewer machines or spares together")
                    }
                };
                write!(f, "is too large: {found} or more {size}, and at most {limit} are looked at; {help}")
            }
            Self::Internal { fault } => {
                f.write_str("met a fault of the library itself: ")?;
                f.write_str(match fault {
                    InternalFault::RefusedOnRecheck => "its plan was refused when it was checked again",
                    InternalFault::NotOnTheBoard => "its plan names slots that the board lacks",
                    InternalFault::CostPartsDiffer => "the parts of its cost do not sum to the whole",
                    InternalFault::OutOfRange => "a number left its range",
                    InternalFault::Other => "one that a newer version knows",
                })
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_end_says_what_helps() {
        let size = StopReason::TooLarge { what: SearchSize::SortsOfModule, found: 63, limit: 62 };
        assert_eq!(
            size.to_string(),
            "is too large: 63 or more sorts of module together, and at most 62 are looked at; take fewer sorts"
        );
        assert_eq!(StopReason::Cancelled.to_string(), "was cancelled");
        let fault = StopReason::Internal { fault: InternalFault::CostPartsDiffer };
        assert!(fault.to_string().starts_with("met a fault of the library itself: "));
    }

    #[test]
    fn documents_read_back() {
        let reasons = [
            StopReason::NodesUsedUp { nodes: 7 },
            StopReason::Cancelled,
            StopReason::TooLarge { what: SearchSize::WaysToFill, found: 1 << 20, limit: 1 << 18 },
            StopReason::INTERNAL_RANGE,
        ];
        for reason in reasons {
            let text = serde_json::to_string(&reason).unwrap();
            assert_eq!(serde_json::from_str::<StopReason>(&text).unwrap(), reason);
        }
    }
}
