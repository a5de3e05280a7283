use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::population::{Observed, Population, ReportDate};
use crate::stated::Schema;
use crate::unit::{Capacity, Name};

/// What is to be accepted: what was planned, and what the machine reports since; also its document.
///
/// ```
/// use slotwright::acceptance::{AcceptanceRequest, WorkDone};
/// use slotwright::population::{Observed, Population};
/// use slotwright::{Capacity, Name};
///
/// let request = AcceptanceRequest::new(Population::new(), Observed::default())
///     .serial(Name::new("GW-0417")?)
///     .work(WorkDone::On("2026-11-27".parse()?))
///     .system_reserve(Capacity::from_gib(2));
/// assert_eq!(request.alternatives, AcceptanceRequest::ALTERNATIVES);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct AcceptanceRequest {
    /// Schema number of the document.
    #[serde(default)]
    pub schema: Schema,
    /// What was to be in each slot after the work. The id of an individual is its serial number.
    pub planned: Population,
    /// What was in each slot before the work, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<Population>,
    /// What was reported since. Only the machine's own reports accept; SPD and labels can speak against a module; typed rows are passed over.
    pub observed: Observed,
    /// What the machine is called.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub product: Option<Name>,
    /// The serial number of the machine.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial: Option<Name>,
    /// The serial number that a person read on the machine itself, where its report was taken: it says which machine that is where the report does not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial_read: Option<Name>,
    /// When the work was done.
    #[serde(default, skip_serializing_if = "is_unknown")]
    pub work: WorkDone,
    /// How much of the usable memory the operating system keeps from its own total, at most, in MiB. Where this is not below the smallest module and
    /// the smallest rank that a mode may spare, or not said, the operating system's total tells nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub system_reserve_mib: Option<Capacity>,
    /// Ids of individuals that are no serial numbers but the owner's own: they are compared with nothing.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub own_ids: BTreeSet<Name>,
    /// How many explanations of each group are listed; the rest are counted.
    #[serde(default = "alternatives", skip_serializing_if = "is_alternatives")]
    pub alternatives: usize,
    /// How many nodes the search for causes may visit.
    #[serde(default = "nodes", skip_serializing_if = "is_nodes")]
    pub nodes: u64,
}

/// When the work was done, in the caller's word.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum WorkDone {
    /// Nobody says.
    #[default]
    Unknown,
    /// At this date.
    On(ReportDate),
    /// Before the report was made: the caller knows that it is later.
    BeforeReport,
}

fn is_unknown(work: &WorkDone) -> bool {
    *work == WorkDone::Unknown
}

fn alternatives() -> usize {
    AcceptanceRequest::ALTERNATIVES
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands a reference")]
fn is_alternatives(count: &usize) -> bool {
    *count == AcceptanceRequest::ALTERNATIVES
}

fn nodes() -> u64 {
    AcceptanceRequest::NODES
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands a reference")]
fn is_nodes(count: &u64) -> bool {
    *count == AcceptanceRequest::NODES
}

impl AcceptanceRequest {
    /// How many explanations of a group are listed unless said otherwise.
    pub const ALTERNATIVES: usize = 8;
    /// How many nodes the search for causes visits at most unless said otherwise.
    pub const NODES: u64 = 200_000;

    /// Whether what is observed is what was planned.
    #[must_use]
    pub fn new(planned: Population, observed: Observed) -> Self {
        Self {
            schema: Schema,
            planned,
            before: None,
            observed,
            product: None,
            serial: None,
            serial_read: None,
            work: WorkDone::Unknown,
            system_reserve_mib: None,
            own_ids: BTreeSet::new(),
            alternatives: Self::ALTERNATIVES,
            nodes: Self::NODES,
        }
    }

    setters! {
        some before(before: Population);
        some product(product: Name);
        some serial(serial: Name);
        some serial_read(serial_read: Name);
        value work(work: WorkDone);
        some system_reserve(system_reserve_mib: Capacity);
        each own_ids(own_ids: Name);
        value alternatives(alternatives: usize);
        value nodes(nodes: u64);
    }
}
