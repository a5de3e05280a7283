use core::fmt;

use serde::{Deserialize, Serialize};

use crate::unit::{Capacity, Name, listed};

/// What is said with the verdict, before anything else, and kept in the record.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum CheckNote {
    /// Slots that were to change and of which the report tells nothing: the verdict is open.
    Untold {
        /// Their labels.
        slots: Vec<Name>,
    },
    /// Slots of which reports of the machine contradict each other, and none is trusted more: the verdict is open.
    ReportsDisagree {
        /// Their labels.
        slots: Vec<Name>,
    },
    /// Slots in which, by its serial number, a module is still reported that was to come out: the work was not done there.
    NotDone {
        /// Their labels.
        slots: Vec<Name>,
    },
    /// One serial number that is read in several slots: a module is read twice or a number is wrong, and the verdict is open.
    SerialTwice {
        /// The number.
        serial: Name,
        /// The slots.
        slots: Vec<Name>,
    },
    /// The operating system counts so much less than the modules give that one may be missing, and nobody says how much firmware and devices keep, or it
    /// is said to be less: the verdict is open.
    SystemTotalShort {
        /// By how much, in MiB.
        short_mib: Capacity,
        /// What is said to be kept at most, in MiB.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reserve_mib: Option<Capacity>,
    },
    /// Slots of which another way of buffering than planned is reported, which the machine's own report does not prove.
    OtherKind {
        /// Their labels.
        slots: Vec<Name>,
    },
    /// Slots of which a lower rated rate than planned is reported, the same as the running rate, by a report that nowhere tells the two apart: it may give
    /// the running rate for both, and the module is none the worse for it.
    LowerRated {
        /// Their labels.
        slots: Vec<Name>,
    },
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

impl CheckNote {
    /// Whether it leaves the verdict open where nothing else is against the machine.
    #[must_use]
    pub fn is_open(&self) -> bool {
        matches!(
            self,
            Self::Untold { .. }
                | Self::ReportsDisagree { .. }
                | Self::SerialTwice { .. }
                | Self::SystemTotalShort { .. }
        )
    }
}

/// One sentence without its full stop.
impl fmt::Display for CheckNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Untold { slots } => {
                write!(f, "the report tells nothing of slots that were to change: {}", listed(slots))
            }
            Self::ReportsDisagree { slots } => write!(f, "open: reports disagree about {}", listed(slots)),
            Self::NotDone { slots } => {
                write!(
                    f,
                    "what was to come out is still reported, by its serial number, in {}: the work was not done there",
                    listed(slots)
                )
            }
            Self::SerialTwice { serial, slots } => {
                let often = if slots.len() == 2 { "twice".to_owned() } else { format!("{} times", slots.len()) };
                write!(f, "serial number {serial} comes {often}: {}", listed(slots))
            }
            Self::SystemTotalShort { short_mib, reserve_mib: None } => write!(
                f,
                "open: the operating system counts {short_mib} less than the modules give; \
                 give the reserve (memory kept by firmware and devices)"
            ),
            Self::SystemTotalShort { short_mib, reserve_mib: Some(reserve) } => write!(
                f,
                "open: the operating system counts {short_mib} less than the modules give; \
                 the reserve that was given, {reserve}, does not explain it"
            ),
            Self::OtherKind { slots } => {
                let s = if slots.len() == 1 { "" } else { "s" };
                write!(
                    f,
                    "other kind reported in {} slot{s}: a report's kind bit is not trusted alone; read one label",
                    slots.len()
                )
            }
            Self::LowerRated { slots } => write!(
                f,
                "a lower rated rate than planned is reported in {}, and it is the running rate: this report may give the running rate for both; \
                 read the label of one module of each part",
                listed(slots)
            ),
            Self::Other(name) => name.fmt(f),
        }
    }
}
