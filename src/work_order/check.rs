use serde::{Deserialize, Serialize};

use crate::platform::{Latches, NeededBy};
use crate::population::MachineIdentity;
use crate::unit::Name;

/// What must be true, to be looked at and ticked. Each has one sentence.
///
/// ```
/// use slotwright::work_order::Check;
///
/// assert_eq!(Check::WorkloadOff.to_string(), "The owner has said that the workload is off.");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum Check {
    /// The owner says that the workload is off.
    WorkloadOff,
    /// It is the machine that is meant.
    Machine {
        /// What it is.
        identity: MachineIdentity,
        /// Where it stands.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        place: Option<Name>,
    },
    /// The firmware is new enough.
    Firmware {
        /// What needs it.
        needed_by: NeededBy,
        /// The first version that will do, as the maker writes it.
        needed: Name,
        /// The version that was found, where the caller says it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        found: Option<Name>,
    },
    /// A report of the machine as it is was kept.
    ReportKept,
    /// What was brought is at hand.
    PiecesAtHand {
        /// How many modules.
        modules: usize,
        /// How many blanks, beside those that come out.
        blanks: usize,
    },
    /// There is a labelled bag for each slot that is emptied.
    BagsAtHand {
        /// The slots' labels.
        slots: Vec<Name>,
    },
    /// The machine is shut down and switched off.
    ShutDown,
    /// The cords are in, and the machine is switched on.
    SwitchedOn,
    /// No power reaches the machine.
    PowerOut,
    /// So long was waited.
    Waited {
        /// How long, in seconds; as the maker says where absent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        seconds: Option<u32>,
    },
    /// The lid is off, and this is lifted out.
    LiftedOut {
        /// What, in order.
        what: Vec<Name>,
    },
    /// So many modules are out.
    ModulesOut {
        /// How many.
        count: usize,
        /// How many blanks beside them.
        #[serde(default, skip_serializing_if = "is_zero")]
        blanks: usize,
    },
    /// These slots are empty.
    SlotsEmpty {
        /// Their labels.
        slots: Vec<Name>,
    },
    /// Each bag has a label, and one module in it.
    BagsLabelled {
        /// The labels.
        slots: Vec<Name>,
    },
    /// So many modules were put in.
    ModulesIn {
        /// How many.
        count: usize,
        /// Into which slots.
        slots: Vec<Name>,
        /// How many blanks beside them.
        #[serde(default, skip_serializing_if = "is_zero")]
        blanks: usize,
    },
    /// Every module is seated.
    Seated {
        /// How many latches a slot has, where that is known.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        latches: Option<Latches>,
    },
    /// This is back in, and the lid is on.
    LiftedBack {
        /// What, in order.
        what: Vec<Name>,
    },
    /// It has started into its set-up, and goes no further.
    StoppedInSetUp,
    /// The report shows the parts on trial.
    TrialShown {
        /// The slots of the parts that are tried.
        slots: Vec<Name>,
    },
    /// The report is as expected.
    ReportAsExpected,
    /// There is no module in the machine, so that it cannot start.
    StaysOff,
    /// The report is as the one that was kept.
    ReportAsBefore,
    /// All bags are kept until the work is accepted.
    BagsKept,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

// serde hands over a reference
#[allow(clippy::trivially_copy_pass_by_ref)]
const fn is_zero(count: &usize) -> bool {
    *count == 0
}
